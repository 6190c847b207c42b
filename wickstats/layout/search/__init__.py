"""Plans for incomplete blocks and row-column arrays: which label stands in which block."""
