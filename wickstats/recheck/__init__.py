"""The audit of a report's folder: everything recomputed, nothing written there."""
