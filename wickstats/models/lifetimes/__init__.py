"""Lifetimes: curves, intervals from units, log-rank scores, restricted means, ranks."""
