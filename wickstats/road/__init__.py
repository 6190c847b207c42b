"""One season composed: read, analyzed, sized, and computed twice."""
