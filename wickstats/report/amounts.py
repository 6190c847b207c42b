"""Small amounts in a unit that people read: grams for each liter, kg a cubic meter.

For sentences and pictures only; results and tables keep the unit that they were measured in.
Leans on core and the extra liters' sentence.
"""

from collections.abc import Sequence

from wickstats.analysis.extra_liters import extra_sentence
from wickstats.core.responses import Extra, Mean, ResponseResult

CUBIC_METER = "m\N{SUPERSCRIPT THREE}"
SMALL = 0.1  # below this many kg for each liter
THOUSAND = 1000.0


def cubic_scale(response: ResponseResult, means: Sequence[Mean]) -> tuple[float, str]:
    """What a mean is told times, and its unit: kg/m3 where all are small parts of kg/L."""
    told = [abs(m.estimate) for m in means if m.estimate is not None]
    small = bool(told) and max(told) < SMALL
    if response.kind == "yield per liter" and response.measured_in == "kg/L" and small:
        return THOUSAND, f"kg/{CUBIC_METER}"
    return 1.0, ""


def extra_words(rows: Sequence[Extra], confidence: str) -> list[str]:
    """The sentences on extra liters, all in grams where each is a small part of a kg."""
    told = [r for r in rows if r.not_estimable is None]
    sizes = [abs(r.estimate) for r in told if r.estimate is not None]
    if not sizes or max(sizes) >= SMALL:
        return [r.sentence for r in told]
    return [
        extra_sentence(r, confidence, mass="g", scale=THOUSAND)
        if r.measured_in == "kg/L"
        else r.sentence
        for r in told
    ]
