"""The smallest p that re-randomization can give in a layout, by stratum.

Leans on schemes and core.words.
"""

from wickstats.core.numbers import number
from wickstats.core.words import say
from wickstats.layout.plots import Layout
from wickstats.layout.schemes import schemes_of

P_LIMIT = 0.05


def smallest_p_by_stratum(layout: Layout) -> dict[str, float]:
    """Stratum -> smallest possible p of its treatments taken together."""
    if layout.drawn == "not at random" or layout.has_one_treatment:
        return {}
    found = {held.name: held.smallest_p() for held in schemes_of(layout)}
    return {name: p for name, p in found.items() if p is not None}


def few_lines(layout: Layout) -> list[str]:
    """A sentence for every stratum whose smallest possible p lies above 0.05."""
    return few_sentences(smallest_p_by_stratum(layout))


def few_sentences(found: dict[str, float]) -> list[str]:
    """The same of smallest p by stratum."""
    several = len(found) > 1
    return [
        say("few layouts stratum", p=number(p, 2), stratum=name)
        if several
        else say("few layouts", p=number(p, 2))
        for name, p in found.items()
        if p > P_LIMIT
    ]
