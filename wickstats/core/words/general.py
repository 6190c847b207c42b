"""Sentences that stand on every page."""

ENGLISH = {
    "not advice": "This report is not engineering or safety advice.",
    "invented": "This trial and all its data are invented, for demonstration.",
}
