"""Numbers become text here and nowhere else: sentences, tables and pictures agree.

Full precision travels until this point. The decimal sign and the words between limits are
those of the language spoken. Leans on core.language and core.words.
"""

import math
from collections.abc import Sequence

from wickstats.core.language import decimal_sign
from wickstats.core.words import say

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
        return f"{value:.{digits - 1}e}".replace("-", MINUS).replace(".", decimal_sign())
    return fixed(value, max(places, 0)) if places >= 0 else fixed(round(value, places), 0)


def said(value: float, digits: int = 3) -> str:
    """A number as people say it: ``digits`` significant digits at most, no zeros behind."""
    text = number(value, digits)
    if decimal_sign() in text and "e" not in text:
        text = text.rstrip("0").rstrip(decimal_sign())
    return text


def said_liters(liters: float) -> str:
    """Liters with their unit as people say them: below one in milliliters."""
    if 0.0 < abs(liters) < 0.9995:
        return f"{said(1000.0 * liters)} mL"
    return f"{said(liters)} L"


def fixed(value: float | None, places: int) -> str:
    """Fixed decimals with a true minus sign; never "-0"."""
    if value is None:
        return MISSING
    text = f"{value:,.{places}f}".replace(",", "\N{NARROW NO-BREAK SPACE}")
    text = text.replace(".", decimal_sign())
    if text.startswith("-"):
        bare = text[1:]
        return bare if not any(c in "123456789" for c in bare) else MINUS + bare
    return text


def place(value: float | None) -> str:
    """A position: whole where it is whole, else three digits."""
    if value is None:
        return MISSING
    return fixed(value, 0) if float(value).is_integer() else number(value)


def p_value(value: float | None) -> str:
    """Three decimals, or "below 0.001"."""
    if value is None:
        return MISSING
    return say("p below") if value < 0.001 else f"{value:.3f}"


def percent(share: float | None, places: int = 0) -> str:
    """A share as percent, e.g. "85 %"; "100 %" and "0 %" only where it is exactly that.

    A share so near to all or none that it would round there reads ">99 %" or "<1 %".
    """
    if share is None:
        return MISSING
    smallest = 10.0**-places
    told = round(100.0 * share, places)
    if 0.0 < share < 1.0 and told >= 100.0:
        return f">{fixed(100.0 - smallest, places)}\N{NO-BREAK SPACE}%"
    if 0.0 < share < 1.0 and told <= 0.0:
        return f"<{fixed(smallest, places)}\N{NO-BREAK SPACE}%"
    return f"{fixed(100 * share, places)}\N{NO-BREAK SPACE}%"


def confidence_level(share: float) -> str:
    """A chosen confidence as percent with the digits it was chosen with, e.g. "99.9 %"."""
    text = f"{100.0 * share:.6f}".rstrip("0").rstrip(".").replace(".", decimal_sign())
    return f"{text}\N{NO-BREAK SPACE}%"


def interval(low: float | None, high: float | None, digits: int = 3) -> str:
    """Two limits as "low to high"."""
    return say("range", low=number(low, digits), high=number(high, digits))


def places_for(low: float | None, high: float | None, estimate: float | None = None) -> int:
    """Decimals at which an interval's half-width shows two significant digits.

    Without an interval: three significant digits of the estimate.
    """
    if low is not None and high is not None and high > low:
        return _places((high - low) / 2.0, 2)
    largest = max((abs(v) for v in (low, high, estimate) if v is not None), default=0.0)
    return _places(largest, 3)


def _places(size: float, digits: int) -> int:
    if size == 0:
        return 0
    return min(max(digits - 1 - math.floor(math.log10(size)), 0), 9)


def with_interval(
    estimate: float | None,
    low: float | None,
    high: float | None,
    places: int | None = None,
) -> tuple[str, str]:
    """Estimate and "low to high" with the same decimals, fitting the interval's width.

    ``places`` sets the decimals, for columns that should agree. A missing limit reads
    "no lower limit" or "no upper limit"; both missing, a dash.
    """
    if places is None:
        places = places_for(low, high, estimate)
    if low is None and high is None:
        return fixed(estimate, places), MISSING
    low_text = say("no lower limit") if low is None else fixed(low, places)
    high_text = say("no upper limit") if high is None else fixed(high, places)
    return fixed(estimate, places), say("range", low=low_text, high=high_text)


def degrees(value: float | None) -> str:
    """Degrees of freedom: whole where whole, else one decimal."""
    if value is None:
        return MISSING
    return fixed(value, 0 if abs(value - round(value)) < 1e-6 else 1)


def column_with_intervals(
    rows: Sequence[tuple[float | None, float | None, float | None]],
) -> list[tuple[str, str]]:
    """Estimates with their limits for one column, all with the same decimals.

    The decimals fit the middle of the intervals' widths, so that no row shows many more
    digits than its neighbors.
    """
    wanted = sorted(
        places_for(low, high, estimate)
        for estimate, low, high in rows
        if (estimate, low, high) != (None, None, None)
    )
    places = wanted[len(wanted) // 2] if wanted else 0
    return [with_interval(*row, places) for row in rows]
