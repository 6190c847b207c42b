"""The second opinion: textbook code and general libraries, nothing shared with models."""
