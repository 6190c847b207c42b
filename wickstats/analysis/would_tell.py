"""What would tell, where this season cannot: blocks for a true difference that matters.

For a true difference of the smallest important size, never the observed one, at the
scatter seen here and at its one-sided 80 % upper limit. Leans on models.power.
"""

from math import sqrt

from wickstats.analysis.families import Judged
from wickstats.analysis.sentences import Told, matters_words
from wickstats.analysis.summary import Summary
from wickstats.analysis.units import Units
from wickstats.analysis.verdict import CANNOT_TELL
from wickstats.core.numbers import fixed, number
from wickstats.core.responses import Comparison
from wickstats.core.words import say
from wickstats.models.linear.contrasts import interaction_df
from wickstats.models.power import blocks_needed, sd_upper_limit

MOST = 1000
FEW_DF = 6.0


def would_tell(judged: Judged, summary: Summary, told: Told, units: Units) -> str:
    """The sentences behind "cannot tell"."""
    if told.matters is None:
        return ""  # said once for the response, see without_matters
    se, df = judged.estimate.se, judged.estimate.df
    if se is None or df is None or se <= 0:
        return ""
    whole = bool(units.n_blocks) and units.n >= units.n_blocks * units.n_cells
    each = max(1.0, units.n / max(units.n_cells, 1))
    now = units.n_blocks if whole else each  # incomplete blocks are counted in replicates
    spread = se * sqrt(float(now))
    alpha = (1.0 - told.confidence) / max(judged.size, 1)
    alpha *= 2.0 if judged.side else 1.0
    here = _needed(told.matters, spread, units, alpha)
    if judged.side and here is not None and here <= now:
        return ""  # the season could have told; the difference lies on the other side
    upper = _needed(told.matters, sd_upper_limit(spread, df), units, alpha)
    several = any(name == "replicate" for name, _ in units.grounds)
    what = say(
        "blocks" if whole else "whole replicates" if several else "units of each treatment"
    )
    words = matters_words(told.matters, summary, told.unit)
    if here is None:
        text = say("would tell many", matters=words, most=fixed(float(MOST), 0), what=what)
    else:
        limit = (
            say("would tell upper many", most=fixed(float(MOST), 0))
            if upper is None
            else fixed(float(upper), 0)
        )
        text = say(
            "would tell",
            matters=words,
            blocks=fixed(float(here), 0),
            what=what,
            upper=limit,
        )
    if df < FEW_DF:
        text = f"{text} {say('says little of variance', df=number(df, 2))}"
    return text


def without_matters(
    matters: float | None, comparisons: tuple[Comparison, ...]
) -> tuple[str, ...]:
    """What would tell where the plan names no difference that matters, once a response."""
    if matters is not None or all(row.verdict != CANNOT_TELL for row in comparisons):
        return ()
    return (say("would tell without matters"),)


def _needed(matters: float, spread: float, units: Units, alpha: float) -> int | None:
    """Blocks for a contrast with variance spread^2 / blocks."""
    additive = units.main_effects and not units.is_split
    return blocks_needed(
        matters,
        spread,
        max(units.n_cells, 2),
        variance_factor=1.0,
        more_df=interaction_df(units.shape) if additive else 0,
        alpha=alpha,
        most=MOST,
    )
