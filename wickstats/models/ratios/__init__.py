"""Ratios of sums: yield per liter, zeros, counts, extra liters; arrays in, frozen results out."""
