"""Numbers become text here and nowhere else: sentences, tables and pictures agree.

Full precision travels until this point. Leans on the standard library only.
"""

import math

MINUS = "\N{MINUS SIGN}"
MISSING = "\N{EM DASH}"


def number(value: float | None, digits: int = 3) -> str:
    """Round to ``digits`` significant digits, without exponents for everyday sizes.

    None gives a dash; a value that rounds to zero gives "0".
    """
    if value is None:
        return MISSING
    if not math.isfinite(value):
        raise ValueError("a number that is not finite has no text")
    if value == 0:
        return "0"
    places = digits - 1 - math.floor(math.log10(abs(value)))
    if places > 9 or places < -12:
        return f"{value:.{digits - 1}e}".replace("-", MINUS)
    return fixed(value, max(places, 0)) if places >= 0 else fixed(round(value, places), 0)


def fixed(value: float | None, places: int) -> str:
    """Fixed decimals with a true minus sign; never "-0"."""
    if value is None:
        return MISSING
    text = f"{value:,.{places}f}".replace(",", "\N{NARROW NO-BREAK SPACE}")
    if text.startswith("-"):
        bare = text[1:]
        return bare if not any(c in "123456789" for c in bare) else MINUS + bare
    return text


def p_value(value: float | None) -> str:
    """Three decimals, or "below 0.001"."""
    if value is None:
        return MISSING
    return "below 0.001" if value < 0.001 else f"{value:.3f}"


def percent(share: float | None, places: int = 0) -> str:
    """A share as percent, e.g. "85 %"."""
    if share is None:
        return MISSING
    return f"{fixed(100 * share, places)}\N{NO-BREAK SPACE}%"


def interval(low: float | None, high: float | None, digits: int = 3) -> str:
    """Two limits as "low to high"."""
    return f"{number(low, digits)} to {number(high, digits)}"
