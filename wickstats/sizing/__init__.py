"""Power before planting, precision reached, and what the next season needs."""
