"""Statistical analysis for irrigation comparison trials."""
