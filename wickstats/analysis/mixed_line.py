"""Second line: the mixed model beside the first line, on plants where there are plants.

Block, whole plot and unit random where they have more than one row; treatments fixed; the
response on its model scale; Kenward-Roger; where the plan says so, a residual variance for
each arm. Not for shares, counts and ratios of sums,
where normal errors with one variance do not apply. Leans on models.linear.reml, degrees
and profile.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from wickstats.analysis.context import Context
from wickstats.analysis.effects import reported
from wickstats.analysis.families import replication_word, stated_error
from wickstats.analysis.plan import Family
from wickstats.analysis.rows import Joint, Numbers, Verdict, What, comparison_row
from wickstats.analysis.summary import PlantRows, Summary
from wickstats.analysis.units import Array, IntArray, Units
from wickstats.analysis.verdict import one_sided_word
from wickstats.core.errors import AnalysisError
from wickstats.core.responses import (
    Comparison,
    MixedModel,
    TestRow,
    VarianceComponent,
)
from wickstats.core.words import say
from wickstats.design.defaults import side_of
from wickstats.models.linear.contrasts import term_rows
from wickstats.models.linear.degrees import (
    contrast_covariance,
    mixed_contrasts,
    mixed_test,
)
from wickstats.models.linear.estimates import Estimate
from wickstats.models.linear.growth import fit_terms
from wickstats.models.linear.multiplicity import JOINT, Adjusted, adjust, own_p
from wickstats.models.linear.profile import profile_components
from wickstats.models.linear.reml import MixedFit, fit_mixed
from wickstats.models.linear.terms import Intercept, Residual

METHOD = "kenward-roger"
FITS = ("strata", "paired")


@dataclass(frozen=True, slots=True, eq=False)
class MixedRows:
    """What the mixed model is fitted to: (n,) values, (n, p) fixed columns, random terms.

    ``arms`` (n,) and their names, for residuals that vary by arm.
    """

    values: Array
    fixed: Array
    groups: Mapping[str, IntArray]
    arms: IntArray
    arm_names: tuple[str, ...]

    def fit(self, *, by_arm: bool) -> MixedFit:
        """Plain random intercepts, or with a residual variance of each arm's own."""
        if not by_arm:
            return fit_mixed(self.values, self.fixed, self.groups)
        terms = [Intercept(name, code) for name, code in self.groups.items()]
        return fit_terms(self.values, self.fixed, [*terms, Residual(self.arms, self.arm_names)])


def mixed_rows(units: Units, summary: Summary) -> MixedRows:
    """Rows of plants, or of units where the records hold one number a unit."""
    rows = summary.rows or _unit_rows(summary)
    met, arms = np.unique(units.cells[rows.units], return_inverse=True)
    return MixedRows(
        rows.values,
        _fixed(rows, summary, units),
        random_terms(rows, units),
        arms.reshape(-1),
        tuple(units.cell_names[k] for k in met),
    )


def mixed_model(context: Context, summary: Summary) -> MixedModel:
    """Fit the second line, or say in words why it does not apply."""
    if summary.rule not in FITS:
        return no_model(say("mixed does not apply"))
    units = context.units
    if spans(units):
        return no_model(say("mixed spans blocks"))
    data = mixed_rows(units, summary)
    fixed = data.fixed
    if not data.groups:
        fixed_ground = units.grounds and not units.random_grounds
        return no_model(say("mixed blocks fixed" if fixed_ground else "mixed no random term"))
    try:
        fit = data.fit(by_arm=context.by_arm)
    except AnalysisError as error:
        return no_model(str(error))
    return model_of(context, summary, fit, fixed.shape[1])


def model_of(context: Context, summary: Summary, fit: MixedFit, width: int) -> MixedModel:
    """Components, tests and comparisons of a fit whose first columns are the cells."""
    components = tuple(
        VarianceComponent(c.term, c.estimate, c.low, c.high, c.not_estimable)
        for c in profile_components(fit, level=context.confidence)
    )
    comparisons: list[Comparison] = []
    for family in context.families:
        comparisons.extend(_family(context, summary, fit, family, width))
    return MixedModel(
        terms=fit.names,
        variance_components=components,
        tests=tuple(_tests(context, fit, width)),
        comparisons=tuple(comparisons),
        df_method=METHOD,
        converged=fit.converged,
        objective=fit.objective,
        diary=_diary(fit),
        not_estimable=fit.reason,
    )


def no_model(reason: str) -> MixedModel:
    """A second line without numbers, in words."""
    return MixedModel(
        terms=(),
        variance_components=(),
        tests=(),
        comparisons=(),
        df_method=METHOD,
        converged=False,
        objective=None,
        diary={},
        not_estimable=reason,
    )


def _unit_rows(summary: Summary) -> PlantRows:
    where = np.flatnonzero(summary.used).astype(np.int64)
    return PlantRows(summary.values[where], where, where)


def _fixed(rows: PlantRows, summary: Summary, units: Units) -> Array:
    cells = units.cells[rows.units]
    columns = np.zeros((rows.n, units.n_cells))
    columns[np.arange(rows.n), cells] = 1.0
    parts = [columns if units.basis is None else columns @ units.basis]
    if summary.covariate is not None:
        own = summary.covariate[rows.units]
        parts.append((own - own.mean())[:, None])
    parts.extend(s[rows.units] for name, s in units.grounds if name not in units.random_grounds)
    return np.hstack(parts)


def spans(units: Units) -> bool:
    """Whether some unit lies in several pieces of the ground."""
    return any((shares.max(axis=1) < 1.0 - 1e-9).any() for _, shares in units.grounds)


def random_terms(rows: PlantRows, units: Units) -> dict[str, IntArray]:
    """Ground, pieces, unit and plant where they hold more than one row."""
    out: dict[str, IntArray] = {}
    for name, shares in units.grounds:
        if name in units.random_grounds:
            codes = np.asarray(shares.argmax(axis=1), dtype=np.int64)[rows.units]
            if np.unique(codes).size > 1:
                out[name] = codes
    for stratum in units.strata[:-1]:
        out[stratum.name] = stratum.codes[rows.units]
    if np.unique(rows.units).size < rows.n:
        out[units.unit_word] = rows.units
        if np.unique(rows.plants).size < rows.n:
            out["plant"] = rows.plants
    return {name: code for name, code in out.items() if _has_levels(code)}


def _has_levels(code: IntArray) -> bool:
    size = np.unique(code).size
    return 1 < size < code.size


def _tests(context: Context, fit: MixedFit, width: int) -> list[TestRow]:
    units = context.units
    out = []
    for term in context.terms:
        rows = term_rows(units.shape, term.factors)
        found = mixed_test(fit, _widened(rows, width, units))
        word = replication_word(rows[0], units)
        out.append(
            TestRow(
                term=term.name,
                stratum=word,
                unit_of_replication=word,
                statistic="F",
                value=found.f,
                df_num=found.df_num,
                df_den=found.df_den,
                p=found.p,
                redraws=None,
                not_estimable=found.not_estimable,
            )
        )
    return out


def _widened(rows: Array, width: int, units: Units) -> Array:
    """Weights of cells as weights of the fit's columns."""
    own = rows if units.basis is None else rows @ units.basis
    return np.hstack([own, np.zeros((own.shape[0], width - own.shape[1]))])


def _family(
    context: Context, summary: Summary, fit: MixedFit, family: Family, width: int
) -> list[Comparison]:
    stack = np.array([contrast.weights for contrast in family.contrasts])
    found = mixed_contrasts(
        fit, _widened(stack, width, context.units), level=context.confidence
    )
    estimates = [
        Estimate(c.estimate, c.se, c.df, c.low, c.high, c.t, c.p, METHOD, c.not_estimable)
        for c in found
    ]
    side = side_of(context.better, one_sided=family.one_sided)
    adjusted = _adjusted(context, fit, family, estimates, stack, width, side)
    estimates = own_p(estimates, side)
    out = []
    for k, (contrast, e) in enumerate(zip(family.contrasts, estimates, strict=True)):
        plain = reported(e.estimate, e.low, e.high, log=summary.log)
        wide = reported(None, adjusted.low[k], adjusted.high[k], log=summary.log)
        out.append(
            comparison_row(
                family,
                contrast,
                What(
                    summary.estimand,
                    summary.at,
                    "ratio" if summary.log else "difference",
                    "mixed",
                    replication_word(contrast.weights, context.units),
                    summary.denominator,
                ),
                Numbers(
                    plain.estimate, e.se, e.df, plain.low, plain.high, e.p, e.not_estimable
                ),
                Joint(
                    adjusted.method, adjusted.p[k], wide.low, wide.high, stated_error(adjusted)
                ),
                Verdict(bound=one_sided_word(side) if e.se is not None else None),
            )
        )
    return out


def _adjusted(
    context: Context,
    fit: MixedFit,
    family: Family,
    estimates: list[Estimate],
    stack: Array,
    width: int,
    side: int,
) -> Adjusted:
    kept = np.array([e.se is not None for e in estimates], dtype=bool)
    covariance = None
    if family.adjustment in JOINT and kept.any():
        covariance = contrast_covariance(fit, _widened(stack[kept], width, context.units))
    method = family.adjustment if covariance is not None or not kept.any() else "holm"
    if family.adjustment not in JOINT:
        method = family.adjustment
    return adjust(
        estimates,
        method,  # type: ignore[arg-type]
        covariance=covariance,
        confidence=context.confidence,
        side=side,
    )


def _diary(fit: MixedFit) -> Mapping[str, str | float | int]:
    diary = fit.diary
    out: dict[str, str | float | int] = {
        "code": diary.code,
        "iterations": diary.iterations,
        "evaluations": diary.evaluations,
        "gradient_norm": diary.gradient_norm,
        "objective_start": diary.objective_start,
        "objective_end": diary.objective_end,
        "tolerance": diary.tolerance,
        "zero_tolerance": diary.zero_tolerance,
        "rows": fit.n,
        "rank": fit.rank,
    }
    for name, start, end in zip(fit.names, diary.start, diary.end, strict=True):
        out[f"start {name}"] = start
        out[f"end {name}"] = end
    return out
