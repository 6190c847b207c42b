"""Ratios of sums: yield per liter, zeros, counts, extra liters; arrays in, results out."""
