"""Many seasons on one layout at once: the single-season rules on arrays."""
