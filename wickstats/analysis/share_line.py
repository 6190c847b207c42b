"""A logit mixed model of shares beside the first line: described, never judged by.

Whatever counts so many of so many (survival: plants alive at the last date). Fitted twice:
with blocks (and whole plots or strips) at random, as textbooks have it, and with the units
at random besides. A unit is one row of counts; with its variance at zero the second fit is
the first. Where blocks hold nothing in common (no blocks), the second alone is given: the
first would take plants as replicates. Treatments of which all or none lived have no finite
logit: words say so and the others are fitted without them, which is where the likelihood
goes as their logits run away.

No interval, p or verdict: in 600 simulated seasons a cell without a true difference (3, 4 and
6 blocks of 2 treatments, 8 plants a plot, SD 0.5 between blocks) a 5 % z test from the
likelihood's own curvature rejected in 0.18 to 0.21 with blocks alone and in 0.10 to 0.14 with
plots at random as well where plots had an SD of 0.9, and in 0.03 to 0.06 where they had none.
Leans on models.shares and mixed_line.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.special import expit

from wickstats.analysis.context import Context
from wickstats.analysis.mixed_line import random_terms, spans
from wickstats.analysis.plan import Contrast, Family
from wickstats.analysis.summary import PlantRows, Summary
from wickstats.analysis.units import Array, IntArray, Units
from wickstats.core.errors import AnalysisError
from wickstats.core.numbers import place
from wickstats.core.share_models import (
    ShareArm,
    ShareComponent,
    ShareContrast,
    ShareFit,
    ShareModel,
)
from wickstats.core.words import say
from wickstats.models.shares.fit import fit_shares

MOST_PIECES = 100  # levels of all random terms but the units


@dataclass(frozen=True, slots=True, eq=False)
class _Counted:
    """Rows that are fitted, and what became of every cell.

    ``logit_of`` (t, p): weights of the fixed columns in each cell's logit, the covariate at
    its mean; ``reasons`` why a cell has no logit.
    """

    alive: Array
    plants: Array
    fixed: Array
    groups: Mapping[str, IntArray]
    logit_of: Array
    reasons: tuple[str | None, ...]


def share_model(context: Context, summary: Summary) -> ShareModel | None:
    """The model of a share, or why it is not given; None where nothing is a share."""
    if not summary.is_share:
        return None
    try:
        data = _counted(context.units, summary)
    except AnalysisError as error:
        return ShareModel(summary.estimand, summary.at, (), str(error))
    unit = context.units.unit_word
    fits = [_fit(context, summary, data, None)] if data.groups else []
    fits.append(_fit(context, summary, data, unit))
    return ShareModel(summary.estimand, summary.at, tuple(fits))


def _counted(units: Units, summary: Summary) -> _Counted:
    if summary.alive is None:
        raise AnalysisError(say("shares in parts"))
    if spans(units):
        raise AnalysisError(say("shares spans blocks"))
    if units.grounds and not units.random_grounds:
        raise AnalysisError(say("shares blocks fixed"))
    used = summary.used
    reasons = _reasons(units, summary.alive, summary.plants, used)
    there = np.array([reason is None for reason in reasons])
    where = np.flatnonzero(used & there[units.cells]).astype(np.int64)
    if not where.size:
        raise AnalysisError(say("shares nothing left"))
    cells = np.eye(units.n_cells)
    columns = cells[:, there] if units.basis is None else units.basis
    fixed = columns[units.cells[where]]
    if summary.covariate is not None:
        own = summary.covariate[where]
        fixed = np.hstack([fixed, (own - own.mean())[:, None]])
        columns = np.hstack([columns, np.zeros((units.n_cells, 1))])
    if not np.isfinite(fixed).all() or np.linalg.matrix_rank(fixed) < fixed.shape[1]:
        raise AnalysisError(say("shares not apart"))
    groups = random_terms(PlantRows(summary.values[where], where, where), units)
    if sum(np.unique(code).size for code in groups.values()) > MOST_PIECES:
        raise AnalysisError(say("shares too many", most=MOST_PIECES))
    plants = summary.plants[where]  # in parts where some were not found: to the last digit
    alive = np.clip(summary.alive[where], 0.0, plants)
    return _Counted(alive, plants, fixed, groups, columns, reasons)


def _reasons(
    units: Units, alive: Array, plants: Array, used: "np.ndarray"
) -> tuple[str | None, ...]:
    out: list[str | None] = []
    for cell in range(units.n_cells):
        mine = used & (units.cells == cell)
        lived, total = float(alive[mine].sum()), float(plants[mine].sum())
        if not mine.any():
            out.append(say("shares no units"))
        elif units.basis is None and lived <= 0.0:
            out.append(say("shares none lived", n=place(total)))
        elif units.basis is None and lived >= total * (1.0 - 1e-12):
            out.append(say("shares all lived", n=place(total)))
        else:
            out.append(None)
    return tuple(out)


def _fit(context: Context, summary: Summary, data: _Counted, unit: str | None) -> ShareFit:
    random = (*data.groups, *(() if unit is None else (unit,)))
    try:
        if unit is not None:
            _told_apart(data, unit)
        found = fit_shares(data.alive, data.plants, data.fixed, data.groups, unit)
    except AnalysisError as error:
        return ShareFit(random, (), (), (), None, None, str(error))
    logits = data.logit_of @ found.fixed
    return ShareFit(
        random=random,
        components=tuple(ShareComponent(name, sd) for name, sd in found.sd.items()),
        arms=_arms(context.units, summary, data, logits),
        comparisons=tuple(
            _contrast(family, contrast, data, logits)
            for family in context.families
            for contrast in family.contrasts
        ),
        log_likelihood=found.log_likelihood,
        by_quadrature=found.by_quadrature,
    )


def _told_apart(data: _Counted, unit: str) -> None:
    """Whether units can be told apart from single plants, and from all else.

    Raises
    ------
    AnalysisError
        In words, where they cannot.
    """
    if float(data.plants.max()) <= 1.0:
        raise AnalysisError(say("shares one plant", unit=unit))
    spent = [data.fixed]
    spent.extend(
        (code[:, None] == np.unique(code)).astype(float) for code in data.groups.values()
    )
    if np.linalg.matrix_rank(np.hstack(spent)) >= data.alive.size:
        raise AnalysisError(say("shares few units", unit=unit))


def _arms(
    units: Units, summary: Summary, data: _Counted, logits: Array
) -> tuple[ShareArm, ...]:
    out = []
    alive = np.zeros(units.n) if summary.alive is None else summary.alive
    for cell, name in enumerate(units.cell_names):
        mine = summary.used & (units.cells == cell)
        reason = data.reasons[cell]
        logit = None if reason else float(logits[cell])
        out.append(
            ShareArm(
                treatment=name,
                units=int(mine.sum()),
                alive=float(alive[mine].sum()),
                plants=float(summary.plants[mine].sum()),
                logit=logit,
                share=None if logit is None else float(expit(logit)),
                not_estimable=reason,
            )
        )
    return tuple(out)


def _contrast(
    family: Family, contrast: Contrast, data: _Counted, logits: Array
) -> ShareContrast:
    held = np.flatnonzero(contrast.weights)
    reason = say("shares no odds") if any(data.reasons[k] for k in held) else None
    size = None if reason else float(contrast.weights[held] @ logits[held])
    return ShareContrast(
        term=family.term,
        name=contrast.name,
        treatment=contrast.treatment,
        versus=contrast.versus,
        within=family.within,
        logit_difference=size,
        odds_ratio=None if size is None else float(np.exp(size)),
        not_estimable=reason,
    )
