"""Users' text made safe to show: no control and no direction-changing characters.

Escaping for HTML is the template's work. Leans on the standard library.
"""

import unicodedata

_KEPT = "\n\t"
_REFUSED = {"Cc", "Cf", "Cs", "Co", "Cn"}


def clean(text: str) -> str:
    """Take out control, format (bidirectional, zero-width) and unassigned characters."""
    return "".join(c for c in text if c in _KEPT or unicodedata.category(c) not in _REFUSED)


def one_line(text: str, longest: int = 60) -> str:
    """Cleaned text on one line, cut with an ellipsis."""
    flat = " ".join(clean(text).split())
    return (
        flat
        if len(flat) <= longest
        else flat[: longest - 1].rstrip() + "\N{HORIZONTAL ELLIPSIS}"
    )


def anchor(text: str) -> str:
    """Identifier for a heading: lower-case letters, digits and hyphens."""
    kept = "".join(c if c.isascii() and c.isalnum() else "-" for c in text.lower())
    return "-".join(part for part in kept.split("-") if part) or "part"
