"""Re-randomization: the scheme's own layouts, all of them or a seeded sample."""
