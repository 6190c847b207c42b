"""A second year: the number of blocks corrected by the first year's variance, blind.

Within every block of the first year the values of its units scatter about the block's mean
by error and treatments together; that total mean square

    s^2 = sum over blocks of sum (y - block mean)^2 / sum of (units - 1)

is read without knowing which unit had which treatment (one-sample variance: Gould & Shih
1992; Kieser & Friede 2003). It errs upward where treatments differ. The number of blocks is
then that of a planned trial with variance s^2; both years are analyzed together, blocks
within years. Leans on ``past``, ``reckon``, ``plots``; numpy.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wickstats.analysis.plan import Family, matters_for
from wickstats.core.errors import AnalysisError
from wickstats.core.numbers import fixed, number, percent
from wickstats.core.responses import UnitValue
from wickstats.core.words import say
from wickstats.design.defaults import measured_in_of, role_of
from wickstats.design.trial import Response, Trial
from wickstats.sizing.adapted import judged_as
from wickstats.sizing.assumed import Expected
from wickstats.sizing.past import PastSeason, matching, unit_factor
from wickstats.sizing.plots import Sizes
from wickstats.sizing.questions_told import columns
from wickstats.sizing.reckon import blocks_for


@dataclass(frozen=True, slots=True)
class SecondRow:
    """One comparison: blocks in all and in the second year for what matters."""

    response: str
    comparison: str
    measure: str
    difference: float
    sd: float
    df: float
    first: int
    whole: int | None
    second: int | None


@dataclass(frozen=True, slots=True)
class SecondYear:
    """Blocks corrected after a first year, and what could not be."""

    trial: str
    rows: tuple[SecondRow, ...]
    notes: tuple[str, ...]


def blind_variance(units: Sequence[UnitValue]) -> tuple[float, float, int]:
    """Within-block total mean square, its df, and the number of blocks; labels unread.

    Raises
    ------
    ValueError
        Where no block holds two units.
    """
    groups: dict[str, list[float]] = {}
    for unit in units:
        if unit.value is not None:
            groups.setdefault(str(unit.block or ""), []).append(float(unit.value))
    squares = sum(float(np.sum((np.array(g) - np.mean(g)) ** 2)) for g in groups.values())
    df = sum(len(g) - 1 for g in groups.values())
    if df < 1:
        raise ValueError("no block holds two units")
    return squares / df, float(df), len(groups)


def second_year(
    trial: Trial, past: PastSeason, sizes: Sizes, families: Sequence[Family], target: float
) -> SecondYear:
    """Correct the number of blocks of every response that the first year holds.

    Raises
    ------
    AnalysisError
        Where the design has no complete blocks or replicates, or nothing can be corrected.
    ReportError
        Where a response was another one in the first year.
    """
    if (sizes.ground is not None and not sizes.additive) or sizes.pieces is not None:
        raise AnalysisError(say("second design"))
    rows: list[SecondRow] = []
    notes: list[str] = []
    names = {r.name for r in past.results.responses}
    for response in trial.responses:
        if role_of(trial, response) == "exploratory" or response.name not in names:
            continue
        found = _rows(trial, response, past, sizes, families, target)
        if isinstance(found, str):
            notes.append(found)
        else:
            rows.extend(found)
    if not rows:
        raise AnalysisError(" ".join(notes) or say("second nothing"))
    return SecondYear(past.results.trial.id, tuple(rows), tuple(notes))


def _rows(
    trial: Trial,
    response: Response,
    past: PastSeason,
    sizes: Sizes,
    families: Sequence[Family],
    target: float,
) -> list[SecondRow] | str:
    own = response.measured_in is not None or response.column is not None
    unit = measured_in_of(response) if own else None
    name, kind, scale = response.name, response.kind, response.model_scale
    found = matching(past.results, name, kind, scale, unit)
    log = scale == "log" or kind == "count"
    matters = matters_for(trial, name, log=log)
    if matters is None:
        return say("past no matters", response=name)
    units = [u for u in found.unit_summary.values if u.value is not None]
    if kind == "count":
        return say("second counts", response=name)
    try:
        variance, df, blocks = blind_variance(units)
    except ValueError:
        return say("past no units", response=name)
    if variance <= 0.0:
        return say("past no error", response=name)
    factor = unit_factor(found.measured_in, unit, name) if unit and not log else 1.0
    t = len(sizes.cells)
    spread = np.full(t, factor**2 * variance)
    what = Expected(np.zeros(t), spread, ratio=log, rule="strata", note="")
    first = blocks if sizes.word == "blocks" else len(units) // t
    out = []
    for family in families:
        judged = judged_as(trial, family, trial.response(name), target)
        weights = [c.weights for c in family.contrasts]
        for k, contrast in enumerate(family.contrasts):
            whole = blocks_for(sizes, what, weights, k, matters, judged)
            within = "" if family.within is None else f" ({family.within})"
            out.append(
                SecondRow(
                    response=name,
                    comparison=contrast.name + within,
                    measure="ratio" if log else "difference",
                    difference=float(np.exp(matters)) if log else matters,
                    sd=float(np.sqrt(spread[0])),
                    df=df,
                    first=first,
                    whole=whole,
                    second=None if whole is None else max(whole - first, 0),
                )
            )
    return out


def second_lines(found: SecondYear, word: str, target: float) -> list[str]:
    """A sentence for the first comparison, then the table."""
    row = found.rows[0]
    sign = "x " if row.measure == "ratio" else ""
    key = "second told" if row.second else "second enough"
    if row.whole is None:
        key = "second beyond"
    out = [
        say(
            key,
            trial=found.trial,
            first=row.first,
            second=row.second,
            whole=row.whole,
            word=word,
            target=percent(target),
            comparison=row.comparison,
            response=row.response,
            matters=sign + number(row.difference),
        )
    ]
    heads = (
        "response", "comparison", "what matters", "SD, blind", "df", "first year", "in all",
        "second year",
    )  # fmt: skip
    rows = []
    for r in found.rows:
        sign = "x " if r.measure == "ratio" else ""
        counts = ["too many" if n is None else fixed(n, 0) for n in (r.whole, r.second)]
        spread = (number(r.sd), fixed(r.df, 0), str(r.first))
        rows.append((r.response, r.comparison, sign + number(r.difference), *spread, *counts))
    return [*out, *columns([heads, *rows], left=2), "  " + say("second legend"), *found.notes]
