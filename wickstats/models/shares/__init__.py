"""Shares: so many of so many, with random intercepts on the logit scale."""
