"""The public functions."""
