"""One place where a row of comparisons is built, whatever the line behind it.

Leans on core.responses.
"""

from dataclasses import dataclass

from wickstats.analysis.plan import Contrast, Family
from wickstats.core.responses import Absolute, Comparison, Redraws, Relative


@dataclass(frozen=True, slots=True)
class What:
    """What is compared, and how it was judged."""

    estimand: str
    at: str | None
    measure: str
    rule: str
    unit_of_replication: str
    denominator: str | None = None


@dataclass(frozen=True, slots=True)
class Numbers:
    """Estimate and limits on the reported scale; ``se, df`` on the model's."""

    estimate: float | None
    se: float | None
    df: float | None
    low: float | None
    high: float | None
    p: float | None
    not_estimable: str | None = None


@dataclass(frozen=True, slots=True)
class Joint:
    """Adjusted for the family, on the reported scale."""

    adjustment: str = "none"
    p: float | None = None
    low: float | None = None
    high: float | None = None
    error: float | None = None  # bound on that of p


@dataclass(frozen=True, slots=True)
class Verdict:
    """What only the first line says."""

    p_equivalence: float | None = None
    matters: float | None = None
    verdict: str | None = None
    sentence: str | None = None
    redraws: Redraws | None = None
    absolute: Absolute | None = None
    relative: Relative | None = None
    unbounded: str | None = None
    bound: str | None = None


def comparison_row(
    family: Family,
    contrast: Contrast,
    what: What,
    numbers: Numbers,
    joint: Joint,
    told: Verdict | None = None,
    *,
    label: str | None = None,
) -> Comparison:
    """Return the row; ``label`` stands behind the name (sensitivity runs)."""
    told = told or Verdict()
    return Comparison(
        term=family.term,
        name=contrast.name if label is None else f"{contrast.name} ({label})",
        treatment=contrast.treatment,
        versus=contrast.versus,
        within=family.within,
        estimand=what.estimand,
        at=what.at,
        measure=what.measure,
        rule=what.rule,
        unit_of_replication=what.unit_of_replication,
        estimate=numbers.estimate,
        se=numbers.se,
        df=numbers.df,
        low=numbers.low,
        high=numbers.high,
        p=numbers.p,
        adjustment=joint.adjustment,
        p_adjusted=joint.p,
        low_adjusted=joint.low,
        high_adjusted=joint.high,
        p_equivalence=told.p_equivalence,
        matters=told.matters,
        verdict=told.verdict,
        sentence=told.sentence,
        redraws=told.redraws,
        absolute=told.absolute,
        relative=told.relative,
        denominator=what.denominator,
        unbounded=told.unbounded,
        not_estimable=numbers.not_estimable,
        bound=told.bound,
        p_adjusted_error=joint.error,
    )
