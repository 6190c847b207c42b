"""After the season: precision reached and what the next season needs.

Never observed power. Reached: the smallest difference that this season's standard error
could show. Next season: blocks for a true difference of what matters, at this season's
variance and at its one-sided 80 % upper limit (chi-square); a standard error shrinks with
the root of the number of units and its df grow in proportion to units less one. Leans on
models.power and the results of the analysis.
"""

import numpy as np

from wickstats.core.responses import Comparison, ResponseResult
from wickstats.core.results import PowerRow
from wickstats.core.words import say
from wickstats.models.power import sd_upper_limit, t_detectable, t_power

MOST_BLOCKS = 400
WEAK_DF = 6.0
UPPER = 0.8


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
        alpha = _alpha(row, confidence)
        size = t_detectable(row.se, row.df, power=target, alpha=alpha)
        out.append(_row(row, response, size, None, target, low, high, note, None))
    return out


def next_rows(
    response: ResponseResult, *, units: int, confidence: float, target: float
) -> list[PowerRow]:
    """Blocks for the next season, for every comparison with a difference that matters.

    Parameters
    ----------
    units
        This season's blocks, or units an arm where there are no blocks.
    """
    out = []
    for row in response.comparisons:
        if row.se is None or row.df is None or row.se <= 0 or row.matters is None:
            continue
        matters = np.log(row.matters) if row.measure == "ratio" else row.matters
        alpha = _alpha(row, confidence)
        blocks = blocks_for(float(matters), row.se, row.df, units, alpha, target)
        upper_se = sd_upper_limit(row.se, row.df, confidence=UPPER)
        upper = blocks_for(float(matters), upper_se, row.df, units, alpha, target)
        note = say("next upper")
        if row.df < WEAK_DF:
            note += "; " + say("next weak", df=f"{row.df:.0f}")
        why = None if blocks is not None else say("next beyond", most=MOST_BLOCKS)
        low = None if blocks is None else float(blocks)
        high = None if upper is None else float(upper)
        out.append(_row(row, response, float(matters), low, target, low, high, note, why))
    return out


def blocks_for(
    difference: float, se: float, df: float, units: int, alpha: float, target: float
) -> int | None:
    """Fewest blocks for a true difference, when ``units`` blocks gave ``se`` and ``df``.

    None beyond ``MOST_BLOCKS``. The comparison's own error rate is kept as it was.
    """
    if units < 2 or difference <= 0:
        return None

    def reached(blocks: int) -> bool:
        df_then = max(df * (blocks - 1) / (units - 1), 1.0)
        se_then = se * float(np.sqrt(units / blocks))
        chance: float = t_power(difference, se_then, df_then, alpha=alpha)
        return chance >= target

    if not reached(MOST_BLOCKS):
        return None
    low, high = 1, MOST_BLOCKS
    while high - low > 1:
        middle = (low + high) // 2
        if reached(middle):
            high = middle
        else:
            low = middle
    return high


def _alpha(row: Comparison, confidence: float) -> float:
    """Error rate of one comparison under its family's adjustment, from its own interval."""
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


def _interval(row: Comparison) -> tuple[float | None, float | None]:
    if row.low_adjusted is not None:
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
    parts = [row.name, row.within, row.at]
    return PowerRow(
        response=response.name,
        comparison=", ".join(p for p in parts if p),
        difference=shown,
        blocks=blocks,
        power=power,
        low=low,
        high=high,
        measure=row.measure,
        note=note,
        not_estimable=why,
    )
