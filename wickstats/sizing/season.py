"""After the season: precision reached and what the next season needs.

Never observed power. Reached: the smallest difference that this season's standard error
could show. Next season: blocks for a true difference of what matters, at this season's
variance and at its one-sided 80 % upper limit (chi-square). Leans on
models.power and the results of the analysis.
"""

import numpy as np

from wickstats.core.numbers import percent
from wickstats.core.responses import Comparison, ResponseResult
from wickstats.core.results import PowerRow
from wickstats.core.words import say
from wickstats.models.power import blocks_needed, sd_upper_limit, t_detectable

MOST_BLOCKS = 1000
WEAK_DF = 6.0
UPPER = 0.8
SHARE = "share alive"


def reached_rows(
    response: ResponseResult, *, confidence: float, target: float
) -> list[PowerRow]:
    """One row a comparison: the smallest difference shown with the target's chance."""
    out = []
    for row in response.comparisons:
        note = say("reached width", target=f"{100 * target:.0f} %")
        low, high = _interval(row)
        if row.se is None or row.df is None or row.se <= 0:
            why = row.not_estimable or say("reached none")
            out.append(_row(row, response, None, None, target, None, None, note, why))
            continue
        alpha = alpha_of(row, confidence)
        size = t_detectable(row.se, row.df, power=target, alpha=alpha)
        if row.estimand == SHARE and size > 1.0:  # no two shares lie that far apart
            why = say("power no smallest", target=percent(target))
            out.append(_row(row, response, None, None, target, low, high, note, why))
            continue
        out.append(_row(row, response, size, None, target, low, high, note, None))
    return out


def next_rows(
    response: ResponseResult,
    *,
    units: int,
    treatments: int,
    confidence: float,
    target: float,
    more_df: int = 0,
) -> list[PowerRow]:
    """Blocks for the next season, for every judged comparison with a difference that matters.

    The same reckoning as in the sentence of a comparison that cannot tell.

    Parameters
    ----------
    units
        This season's blocks, or units an arm where there are no blocks.
    treatments
        Treatments in the trial.
    more_df
        As in ``models.power.blocks_needed``.
    """
    out = []
    for row in response.comparisons:
        if row.matters is None:
            continue
        matters = float(np.log(row.matters)) if row.measure == "ratio" else row.matters
        if is_bounded(response, row):
            told = say("next bounded")
            out.append(_row(row, response, matters, None, target, None, None, "", told))
            continue
        if row.se is None or row.df is None or row.se <= 0:
            continue
        sides = 2.0 if is_one_sided(row) else 1.0
        alpha = sides * (1.0 - confidence) / _family_size(response, row)
        needed = [
            blocks_needed(
                matters,
                scatter * float(np.sqrt(units)),
                max(treatments, 2),
                variance_factor=1.0,
                more_df=more_df,
                power=target,
                alpha=alpha,
                most=MOST_BLOCKS,
            )
            for scatter in (row.se, sd_upper_limit(row.se, row.df, confidence=UPPER))
        ]
        here, upper = (None if n is None else float(n) for n in needed)
        note = say("next upper")
        if row.df < WEAK_DF:
            note += "; " + say("next weak", df=f"{row.df:.0f}")
        why = None if here is not None else say("next beyond", most=MOST_BLOCKS)
        out.append(_row(row, response, matters, here, target, here, upper, note, why))
    return out


def is_bounded(response: ResponseResult, row: Comparison) -> bool:
    """Whether a side is one of all lived or all died, whose scatter was not seen."""
    sides = {row.treatment, row.versus}
    return any(
        m.bound is not None
        and m.treatment in sides
        and (m.term, m.within, m.estimand, m.at) == (row.term, row.within, row.estimand, row.at)
        for m in response.means
    )


def _family_size(response: ResponseResult, row: Comparison) -> int:
    """Comparisons judged together with this one; 1 where nothing is adjusted."""
    if row.adjustment == "none":
        return 1

    def family(item: Comparison) -> tuple[str | None, ...]:
        return (item.term, item.within, item.estimand, item.at, item.adjustment)

    return sum(family(item) == family(row) for item in response.comparisons)


def alpha_of(row: Comparison, confidence: float) -> float:
    """Error rate of one comparison under its family's adjustment, from its own interval."""
    if is_one_sided(row):
        return _one_sided_alpha(row, confidence)
    if row.low_adjusted is None or row.high_adjusted is None or not row.se or not row.df:
        return 1.0 - confidence
    from scipy.special import stdtr

    low, high = row.low_adjusted, row.high_adjusted
    if row.measure == "ratio":
        if low <= 0:
            return 1.0 - confidence
        low, high = float(np.log(low)), float(np.log(high))
    half = 0.5 * (high - low) / row.se
    return float(min(max(2.0 * stdtr(row.df, -half), 1e-12), 1.0 - confidence))


def is_one_sided(row: Comparison) -> bool:
    """Whether the plan asked only whether better, so that one limit is left."""
    return row.bound in ("lower", "upper") and row.se is not None


def _one_sided_alpha(row: Comparison, confidence: float) -> float:
    """Twice the error rate of the side: that of the two-sided interval with the same limit."""
    from scipy.special import stdtr

    most = 2.0 * (1.0 - confidence)
    limit = row.low_adjusted if row.low_adjusted is not None else row.high_adjusted
    center = row.estimate
    if limit is None or center is None or not row.se or not row.df:
        return most
    if row.measure == "ratio":
        if limit <= 0.0 or center <= 0.0:
            return most
        limit, center = float(np.log(limit)), float(np.log(center))
    return float(min(max(2.0 * stdtr(row.df, -abs(center - limit) / row.se), 1e-12), most))


def _interval(row: Comparison) -> tuple[float | None, float | None]:
    if row.low_adjusted is not None or row.high_adjusted is not None:
        return row.low_adjusted, row.high_adjusted
    return row.low, row.high


def _row(
    row: Comparison,
    response: ResponseResult,
    difference: float | None,
    blocks: float | None,
    power: float,
    low: float | None,
    high: float | None,
    note: str,
    why: str | None,
) -> PowerRow:
    shown = difference
    if difference is not None and row.measure == "ratio":
        shown = float(np.exp(difference))
    parts = [row.name, row.within]
    return PowerRow(
        response=response.name,
        comparison=", ".join(p for p in parts if p),
        difference=shown,
        blocks=blocks,
        power=power,
        low=low,
        high=high,
        measure=row.measure,
        note="; ".join(part for part in (row.estimand, row.at, note) if part),
        not_estimable=why,
    )
