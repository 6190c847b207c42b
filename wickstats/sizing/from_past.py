"""Power of a planned trial with the variances of a past season.

Always for a true difference of what matters, never for the one observed. At the past
variance, at its one-sided 80 % upper limit, and averaged over what is known of the variance
(assurance: Spiegelhalter & Freedman 1986, Stat. Med. 5:1; scaled inverse chi-square on the
past stratum's degrees of freedom). Leans on ``past``, ``reckon``, ``assumed`` and models.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from wickstats.analysis.plan import Family, matters_for
from wickstats.core.errors import Problem, ReportError
from wickstats.core.numbers import number
from wickstats.core.words import say
from wickstats.design.defaults import measured_in_of, plan_of, role_of
from wickstats.design.trial import Response, Trial
from wickstats.models.power import assurance, sd_upper_limit
from wickstats.sizing.adapted import judged_as
from wickstats.sizing.assumed import Expected
from wickstats.sizing.events import Events
from wickstats.sizing.past import (
    Array,
    PastSeason,
    PastVariance,
    matching,
    past_variance,
    unit_factor,
)
from wickstats.sizing.plots import Sizes
from wickstats.sizing.reckon import (
    MOST_BLOCKS,
    Precision,
    blocks_for,
    detectable,
    power_of_size,
    precision,
)
from wickstats.sizing.season import UPPER, WEAK_DF


@dataclass(frozen=True, slots=True)
class PastRow:
    """One planned comparison with a past season's variance.

    ``difference`` is what matters, on the reported scale. ``sd`` is that of one unit's
    summary on the model's scale, known with ``df``; every name with ``_upper`` is at its
    one-sided 80 % upper limit. ``assurance`` is the power averaged over what is known of
    the variance.
    """

    response: str
    comparison: str
    measure: str
    difference: float | None
    sd: float | None
    sd_upper: float | None
    df: float | None
    blocks: float | None
    power: float | None
    power_upper: float | None
    assurance: float | None
    detectable: float | None
    detectable_upper: float | None
    blocks_needed: float | None
    blocks_needed_upper: float | None
    note: str
    not_estimable: str | None = None


@dataclass(frozen=True, slots=True)
class PastPower:
    """Power from a past season: which one, and the rows."""

    trial: str
    sha256: str
    wickstats: str
    rows: tuple[PastRow, ...]
    notes: tuple[str, ...]


def past_power(
    trial: Trial, past: PastSeason, sizes: Sizes, families: list[Family], target: float
) -> PastPower:
    """Reckon every planned comparison of the responses that the past season knows.

    Raises
    ------
    ReportError
        Where no response of the trial can be sized from the past season.
    """
    rows: list[PastRow] = []
    notes = list(past.notes)
    problems: list[Problem] = []
    told = [r for r in trial.responses if role_of(trial, r) != "exploratory"]
    for response in told or trial.responses:
        own = response.measured_in is not None or response.column is not None
        unit = measured_in_of(response) if own else None
        try:
            found = matching(
                past.results, response.name, response.kind, response.model_scale, unit
            )
        except ReportError as error:
            problems.extend(error.problems)
            continue
        known = past_variance(found)
        if isinstance(known, str):
            notes.append(known)
            continue
        factor = 1.0
        if unit and response.model_scale != "log" and response.kind != "count":
            factor = unit_factor(found.measured_in, unit, response.name)
        rows.extend(_rows(trial, response, known, factor, sizes, families, target))
        if known.df < WEAK_DF:
            weak = say("next weak", df=number(known.df, 2))
            notes.append(f"{response.name}: {weak}")
    if problems and (not rows or any(p.code != "response missing" for p in problems)):
        raise ReportError(problems)
    notes.extend(f"{p.found}" for p in problems)
    return PastPower(
        trial=past.results.trial.id,
        sha256=past.sha256,
        wickstats=past.results.wickstats,
        rows=tuple(rows),
        notes=tuple(dict.fromkeys(notes)),
    )


def _rows(
    trial: Trial,
    response: Response,
    known: PastVariance,
    factor: float,
    sizes: Sizes,
    families: list[Family],
    target: float,
) -> list[PastRow]:
    wide = sd_upper_limit(1.0, known.df, confidence=UPPER) ** 2
    log = response.model_scale == "log" or response.kind == "count"
    by_arm = plan_of(trial).variance.get(response.name) == "by arm"
    paired = response.kind == "water used" or by_arm or bool(np.ptp(sizes.plots) > 0)
    rule = "paired" if paired else "strata"
    if known.shares or known.counts:
        rule = "dispersion" if known.shares else "counts"

    def at(scale: float) -> Expected:
        return _expected(known, factor, sizes, scale, rule=rule, log=log)

    matters = matters_for(trial, response.name, log=log)
    out = []
    for family in families:
        judged = judged_as(trial, family, response, target)
        weights = [c.weights for c in family.contrasts]
        here = precision(sizes, sizes.count, at(1.0), weights, judged)
        upper = precision(sizes, sizes.count, at(wide), weights, judged)
        for k, contrast in enumerate(family.contrasts):
            within = "" if family.within is None else f" ({family.within})"
            needed: list[int | None] = [None, None]
            if matters is not None:
                needed = [
                    blocks_for(sizes, at(scale), weights, k, matters, judged)
                    for scale in (1.0, wide)
                ]
            out.append(
                _row(
                    response.name,
                    contrast.name + within,
                    known,
                    at,
                    sizes.shares(contrast.weights),
                    wide,
                    (here[k], upper[k]),
                    matters,
                    needed,
                    sizes,
                    target,
                )
            )
    return out


def _expected(
    known: PastVariance, factor: float, sizes: Sizes, scale: float, *, rule: str, log: bool
) -> Expected:
    """Unit variances of the planned trial when the past variance is ``scale`` times itself."""
    t = len(sizes.cells)
    drawn = replace(known, variance=known.variance * scale)
    plants = [None] * t if sizes.plants is None else [float(m) for m in sizes.plants]
    values = np.zeros(t)
    if known.shares:
        m = np.array([known.plants or 1.0 if n is None else n for n in plants])
        p = np.array([known.shares.get(c, known.shares[""]) for c in sizes.cells])
        # plots never agree more than plants that live and die on their own
        phi = np.array([max(drawn.with_plants(n), 1.0) for n in plants])
        variances = phi * p * (1.0 - p) / m
        return Expected(values, variances, ratio=False, rule=rule, note="", events=Events(p, m))
    if known.counts:
        means = np.array([known.counts.get(c, known.counts[""]) for c in sizes.cells])
        single = 1.0 / np.maximum(means, 0.5)
        # nor do plots agree more than single fruits; what plots add is the same for all
        variances = max(drawn.variance - float(single.mean()), 0.0) + single
        return Expected(values, variances, ratio=log, rule=rule, note="", events=Events(means))
    variances = factor**2 * np.array([drawn.with_plants(n) for n in plants])
    return Expected(values, variances, ratio=log, rule=rule, note="")


def _row(
    response: str,
    comparison: str,
    known: PastVariance,
    at_scale: Callable[[float], Expected],
    used: Array,
    wide: float,
    at: tuple[Precision | None, Precision | None],
    matters: float | None,
    needed: list[int | None],
    sizes: Sizes,
    target: float,
) -> PastRow:
    here = at[0]
    expected = [at_scale(1.0), at_scale(wide)]
    sds = [float(np.sqrt(np.mean(one.variances))) for one in expected]
    ratio = expected[0].ratio
    sure = why = None
    if here is None:
        why = say("power not judged")
    elif matters is None:
        why = say("past no matters", response=response)
    else:
        sure = _assurance(at_scale, used, here, matters, known.df)
        if needed[0] is None:
            why = say("next beyond", most=MOST_BLOCKS)

    def shown(value: float | None) -> float | None:
        return float(np.exp(value)) if ratio and value is not None else value

    powers = [None if matters is None else power_of_size(matters, one) for one in at]
    most = 1.0 if known.shares else np.inf  # no two shares lie further apart
    found = [detectable(one, target) for one in at]
    smallest = [None if one is None or one > most else one for one in found]
    return PastRow(
        response=response,
        comparison=comparison,
        measure="ratio" if ratio else "difference",
        difference=shown(matters),
        sd=sds[0],
        sd_upper=sds[1],
        df=known.df,
        blocks=float(sizes.count),
        power=powers[0],
        power_upper=powers[1],
        assurance=sure,
        detectable=shown(smallest[0]),
        detectable_upper=shown(smallest[1]),
        blocks_needed=None if needed[0] is None else float(needed[0]),
        blocks_needed_upper=None if needed[1] is None else float(needed[1]),
        note=say(_note_of(known)),
        not_estimable=why,
    )


def _note_of(known: PastVariance) -> str:
    if known.shares:
        return "past note shares"
    return "past note counts" if known.counts else "past note"


def _assurance(
    at: Callable[[float], Expected], used: Array, here: Precision, matters: float, df: float
) -> float:
    """Power at ``matters`` averaged over the variances that the past season leaves open.

    ``used`` (t,) holds squared weights over units.
    """
    point = float(used @ at(1.0).variances)

    def power_at(scale: float) -> float:
        size = (float(used @ at(scale**2).variances) / point) ** 0.5
        return power_of_size(matters, here.scaled(size)) or 0.0

    return assurance(power_at, 1.0, df)
