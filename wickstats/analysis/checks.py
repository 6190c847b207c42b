"""Diagnostics by unit: residuals, additivity, variance by arm, each block left out.

Additivity is Tukey's one degree of freedom (1949, Biometrics 5:232): the product of block
and treatment deviations tested in the residual. Leans on line, left_out and the strata.
"""

from collections.abc import Mapping

import numpy as np
from scipy.special import fdtrc

from wickstats.analysis.context import Context
from wickstats.analysis.left_out import left_out_check
from wickstats.analysis.line import Line
from wickstats.analysis.strata_line import StrataLine
from wickstats.analysis.summary import Summary
from wickstats.analysis.units import Array
from wickstats.core.numbers import number, p_value
from wickstats.core.responses import Check, Comparison, LeftOut
from wickstats.core.words import say
from wickstats.models.linear.multiplicity import holm

FAR_OUT = 3.0
TWOFOLD = 2.0
FEWEST = 3  # units of a treatment for a standard deviation worth telling


def checks_of(
    context: Context,
    summary: Summary,
    line: Line,
    comparisons: tuple[Comparison, ...],
    paired: tuple[Comparison, ...],
    left_out: tuple[LeftOut, ...] | None,
) -> tuple[Check, ...]:
    """All checks that apply."""
    found = [
        _residuals(context, summary, line),
        _additivity(line),
        _spread(context, summary, line, comparisons, paired),
        None if context.units.is_split else _standardized(line, comparisons),
        left_out_check(left_out, comparisons),
        _redrawn_pairs(context, comparisons),
    ]
    return tuple(check for check in found if check is not None)


def _residuals(context: Context, summary: Summary, line: Line) -> Check | None:
    sd = line.residual_sd
    if sd is None or sd <= 0:
        return None
    if context.units.is_split:
        # both strata leave their residuals on the unit
        room = max(1.0, line.residuals.size - np.unique(context.units.cells).size - 1.0)
        sd = float(np.sqrt(np.sum(line.residuals**2) / room))
    where = np.flatnonzero(summary.used)
    scaled = _studentized(line, sd)
    far = [context.units.names[int(where[j])] for j in np.flatnonzero(np.abs(scaled) > FAR_OUT)]
    if far:
        text = say("residuals far", units=", ".join(far))
    else:
        text = say("residuals fine", largest=number(float(np.abs(scaled).max(initial=0.0)), 2))
    return Check(say("check residuals"), text, None)


def _studentized(line: Line, sd: float) -> Array:
    residuals = line.residuals
    if isinstance(line, StrataLine):
        room = np.sqrt(np.maximum(1.0 - line.fit.geometry.leverage, 1e-9))
        # a unit that is fitted exactly has no residual to judge
        return np.where(room > 1e-4, residuals / (sd * room), 0.0)
    product: Array = residuals / sd
    return product


def tukey_additivity(
    fit_basis: Array, fitted: Array, residuals: Array
) -> tuple[float, int] | None:
    """F of Tukey's one degree of freedom, and its denominator df; None where it has none."""
    n, rank = fit_basis.shape
    df = n - rank - 1
    if df < 1:
        return None
    product = (fitted - fitted.mean()) ** 2
    left = product - fit_basis @ (fit_basis.T @ product)
    size = float(left @ left)
    if size <= 1e-18 * float(product @ product):
        return None
    one = float(left @ residuals) ** 2 / size
    rest = float(residuals @ residuals) - one
    if rest <= 0:
        return None
    return one / (rest / df), df


def _additivity(line: Line) -> Check | None:
    if not isinstance(line, StrataLine) or line.fit.geometry.n_blocks < 2:
        return None
    found = tukey_additivity(line.fit.geometry.basis, line.fit.fitted, line.fit.residuals)
    if found is None:
        return None
    f, df = found
    p = float(fdtrc(1.0, float(df), f))
    key = "additivity doubtful" if p < 0.05 else "additivity fine"
    return Check(
        say("check additivity"), say(key, f=number(f), df=number(float(df)), p=p_value(p)), None
    )


def arm_sds(context: Context, summary: Summary, line: Line) -> Mapping[str, float]:
    """SD of each treatment's residuals, for treatments with three units or more.

    Residuals shrink by leverage; the arm's sum of squares is divided by what is left of
    its df.
    """
    cells = context.units.cells[summary.used]
    residuals = line.residuals
    if isinstance(line, StrataLine):
        room = 1.0 - line.fit.geometry.leverage
    else:
        count = np.bincount(cells, minlength=context.units.n_cells)
        room = 1.0 - 1.0 / np.maximum(count, 1)[cells]
    out = {}
    for code, name in enumerate(context.units.cell_names):
        mine = cells == code
        left = float(room[mine].sum())
        if mine.sum() >= FEWEST and left > 1e-6:
            out[name] = float(np.sqrt(np.sum(residuals[mine] ** 2) / left))
    return out


def _spread(
    context: Context,
    summary: Summary,
    line: Line,
    comparisons: tuple[Comparison, ...],
    paired: tuple[Comparison, ...],
) -> Check | None:
    sds = arm_sds(context, summary, line)
    mirrored = context.units.n_cells == 2 and context.units.blocks is not None
    if len(sds) < 2 or (mirrored and isinstance(line, StrataLine)):
        return None
    low, high = min(sds, key=sds.__getitem__), max(sds, key=sds.__getitem__)
    if sds[high] <= 0:
        return None
    ratio = sds[high] / sds[low] if sds[low] > 0 else None
    cells = context.units.cells[summary.used]
    fewest = min(int((cells == context.units.cell_names.index(k)).sum()) for k in (low, high))
    words = {"most": high, "least": low, "ratio": number(ratio), "n": str(fewest)}
    if ratio is not None and ratio < TWOFOLD:
        return Check(say("check spread"), say("spread alike", **words), None)
    if line.rule != "strata" and ratio is not None:
        return Check(say("check spread"), say("spread allowed for", **words), None)
    beside = _disagreements(comparisons, paired)
    key = "spread twofold" if ratio is not None else "spread none in one"
    text = say(key, **words)
    if line.rule == "strata" and paired:
        more = say("paired differs", names=beside) if beside else say("paired agrees")
        text = f"{text} {more}"
    return Check(say("check spread"), text, None)


def _disagreements(first: tuple[Comparison, ...], paired: tuple[Comparison, ...]) -> str:
    """Comparisons whose adjusted interval excludes no effect under one rule only."""
    by_name = {(c.term, c.within, c.treatment, c.versus): c for c in paired}
    out = []
    for c in first:
        other = by_name.get((c.term, c.within, c.treatment, c.versus))
        if other is None or c.p_adjusted is None or other.p_adjusted is None:
            continue
        if (c.p_adjusted < 0.05) != (other.p_adjusted < 0.05):
            out.append(c.name)
    return ", ".join(dict.fromkeys(out))


def _standardized(line: Line, comparisons: tuple[Comparison, ...]) -> Check | None:
    """Effects over the SD between units: last, for those who ask."""
    sd = line.residual_sd
    if sd is None or sd <= 0 or line.rule != "strata":
        return None
    parts = []
    for c in comparisons:
        if c.estimate is None or c.within is not None or (c.verdict is None):
            continue
        value = np.log(c.estimate) if c.measure == "ratio" and c.estimate > 0 else c.estimate
        parts.append(say("one standardized", name=c.name, value=number(float(value) / sd)))
    if not parts:
        return None
    return Check(say("check standardized"), "; ".join(dict.fromkeys(parts)), None)


def _redrawn_pairs(context: Context, comparisons: tuple[Comparison, ...]) -> Check | None:
    """Re-randomization p of planned pairs, adjusted by Holm within each family."""
    parts: list[str] = []
    for family in context.families:
        names = {contrast.name for contrast in family.contrasts}
        rows = [
            (c.name, c.redraws.p)
            for c in comparisons
            if c.name in names
            and (c.term, c.within) == (family.term, family.within)
            and c.redraws is not None
            and c.redraws.p is not None
        ]
        if not family.planned or len(rows) < 2:
            continue
        adjusted = holm([p for _, p in rows if p is not None])
        parts.extend(
            say("one redrawn", name=name, p=p_value(p))
            for (name, _), p in zip(rows, adjusted, strict=True)
        )
    if not parts:
        return None
    return Check(say("check redrawn"), "; ".join(dict.fromkeys(parts)), None)
