"""Assumptions in words become seasons: arrays for power and studies, tables for the crew."""
