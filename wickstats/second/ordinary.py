"""Contrasts of unit values and of counts, by statsmodels.

Ordinary least squares of blocking + treatment; split-plots as two such fits (Yates 1935:
means of whole plots, then units inside whole plots); a log-linear Poisson model with the
Pearson dispersion (McCullagh & Nelder 1989, chapter 6), beside least squares on
log(count + 0.5). Leans on ``columns`` and statsmodels.
"""

import warnings
from collections.abc import Hashable, Mapping, Sequence

import numpy as np
from numpy.typing import ArrayLike

from wickstats.second.answers import ContrastAnswer, TestAnswer, wider
from wickstats.second.columns import columns_of

ENGINE = "statsmodels OLS"
COUNTS = "statsmodels GLM (Poisson)"
Cell = tuple[Hashable, Hashable]


def ordinary_contrast(
    values: ArrayLike,
    treatments: ArrayLike,
    weights: Mapping[object, float],
    blockings: Sequence[ArrayLike] = (),
    covariate: ArrayLike | None = None,
) -> ContrastAnswer:
    """Contrast of treatments by ordinary least squares, blocks (rows, columns) fixed.

    Parameters
    ----------
    values, treatments, covariate
        (n,) by unit; treatments are labels.
    weights
        Treatment label -> weight.
    blockings
        As in ``columns_of``.
    """
    from statsmodels.regression.linear_model import OLS

    model = columns_of(treatments, blockings, covariate)
    row = model.row(weights)
    fit = OLS(np.asarray(values, dtype=float), model.lean).fit()
    estimate = float(row @ np.asarray(fit.params))
    if len(model.x) <= model.rank:
        return ContrastAnswer(estimate, None, None, ENGINE)
    test = fit.t_test(row)
    return ContrastAnswer(
        float(np.squeeze(test.effect)),
        float(np.squeeze(test.sd)),
        float(fit.df_resid),
        ENGINE,
    )


def ordinary_test(
    values: ArrayLike,
    treatments: ArrayLike,
    rows: Sequence[Mapping[object, float]],
    blockings: Sequence[ArrayLike] = (),
    covariate: ArrayLike | None = None,
) -> TestAnswer:
    """F test that all contrasts are zero, by ordinary least squares.

    Raises
    ------
    ValueError
        Where nothing is left for the error.
    """
    from statsmodels.regression.linear_model import OLS

    model = columns_of(treatments, blockings, covariate)
    if len(model.x) <= model.rank:
        raise ValueError("no degrees of freedom for error")
    fit = OLS(np.asarray(values, dtype=float), model.lean).fit()
    test = fit.f_test(np.array([model.row(row) for row in rows]))
    return TestAnswer(
        float(np.squeeze(test.fvalue)), float(fit.df_resid), float(test.pvalue), ENGINE
    )


def split_contrast(
    values: Sequence[float],
    cells: Sequence[Cell],
    whole_plots: Sequence[Hashable],
    weights: Mapping[Cell, float],
    blocks: Sequence[Hashable] | None = None,
    *,
    crossed: bool = False,
) -> ContrastAnswer:
    """Contrast of a split-plot whose whole plots hold every subplot treatment equally often.

    The row sums of the weights stand in the whole-plot stratum, the rest inside whole
    plots; where both are there, df by Satterthwaite (1946).

    Parameters
    ----------
    cells
        (n,) (whole-plot level, subplot level) of each unit.
    weights
        Cell -> weight.
    crossed
        Every whole plot stands in every block alike (coils cut for every run): blocks
        cancel between whole plots and are fixed inside them.

    Raises
    ------
    ValueError
        For whole plots with gaps, or contrasts that cannot be estimated.
    """
    subs = list(dict.fromkeys(sub for _, sub in cells))
    plots: dict[Hashable, list[int]] = {}
    for place, plot in enumerate(whole_plots):
        plots.setdefault(plot, []).append(place)
    held = {tuple(sorted(str(cells[k][1]) for k in mine)) for mine in plots.values()}
    if len(held) != 1 or {str(s) for s in subs} != set(next(iter(held))):
        raise ValueError("whole plots have gaps")
    sums: dict[object, float] = {}
    for (whole, _), weight in weights.items():
        sums[str(whole)] = sums.get(str(whole), 0.0) + weight
    parts: list[ContrastAnswer] = []
    if any(abs(total) > 1e-12 for total in sums.values()):
        first = [mine[0] for mine in plots.values()]
        parts.append(
            ordinary_contrast(
                [float(np.mean([values[k] for k in mine])) for mine in plots.values()],
                [str(cells[k][0]) for k in first],
                sums,
                () if blocks is None or crossed else ([str(blocks[k]) for k in first],),
            )
        )
    rest: dict[object, float] = {
        f"{whole}|{sub}": weights.get((whole, sub), 0.0) - sums[str(whole)] / len(subs)
        for whole in dict.fromkeys(whole for whole, _ in weights)
        for sub in subs
    }
    if any(abs(weight) > 1e-12 for weight in rest.values()):
        labels = [f"{whole}|{sub}" for whole, sub in cells]
        inside = [[str(p) for p in whole_plots]]
        if crossed and blocks is not None:
            inside.append([str(b) for b in blocks])
        parts.append(ordinary_contrast(values, labels, rest, inside))
    return _added(parts)


def _added(parts: Sequence[ContrastAnswer]) -> ContrastAnswer:
    estimate = sum(part.estimate for part in parts)
    found = [(p.se**2, p.df) for p in parts if p.se is not None and p.df is not None]
    if len(found) < len(parts) or not found:
        return ContrastAnswer(estimate, None, None, ENGINE)
    variance = sum(v for v, _ in found)
    if not variance > 0.0:  # nothing varies: no scatter to judge by
        return ContrastAnswer(estimate, None, None, ENGINE)
    df = variance**2 / sum(v**2 / d for v, d in found)
    return ContrastAnswer(estimate, variance**0.5, df, ENGINE)


def count_contrast(
    counts: ArrayLike,
    treatments: ArrayLike,
    weights: Mapping[object, float],
    blockings: Sequence[ArrayLike] = (),
    confidence: float = 0.95,
) -> ContrastAnswer:
    """Log-linear contrast of counts, the wider of two intervals.

    The scale is Pearson chi-square / df with the design's df, or 1 with df = the number
    counted less the number of units.
    """
    from statsmodels.genmod.families import Poisson
    from statsmodels.genmod.generalized_linear_model import GLM
    from statsmodels.tools.sm_exceptions import PerfectSeparationWarning

    x = np.asarray(counts, dtype=float)
    model = columns_of(treatments, blockings)
    row = model.row(weights)
    alone = weights if model.factors is None else {}
    for arm, weight in alone.items():
        if weight and not any(x[k] for k, t in enumerate(np.asarray(treatments)) if t == arm):
            raise ValueError(f"no count at all under {arm}")
    with warnings.catch_warnings():
        # counts that the arms fit exactly are an answer here, not a separation
        warnings.simplefilter("ignore", PerfectSeparationWarning)
        fit = GLM(x, model.lean, family=Poisson()).fit(tol=1e-12, maxiter=200)
    if not fit.converged:
        raise ValueError("the log-linear model does not converge")
    df = float(fit.df_resid)
    estimate = float(row @ fit.params)
    if df <= 0:
        return ContrastAnswer(estimate, None, None, COUNTS)
    spread = float(row @ np.asarray(fit.normalized_cov_params) @ row)
    scale = float(fit.pearson_chi2) / df
    events = max(float(x.sum()) - x.size, df)
    answers = [ContrastAnswer(estimate, spread**0.5, events, COUNTS)]
    if scale > 1e-12:
        answers.insert(0, ContrastAnswer(estimate, (scale * spread) ** 0.5, df, COUNTS))
    return wider(answers, confidence)


def wider_count_contrast(
    counts: ArrayLike,
    treatments: ArrayLike,
    weights: Mapping[object, float],
    blockings: Sequence[ArrayLike] = (),
    confidence: float = 0.95,
) -> ContrastAnswer:
    """The log-linear estimate with the wider of its own and the logarithms' interval."""
    own = count_contrast(counts, treatments, weights, blockings, confidence)
    logs = np.log(np.asarray(counts, dtype=float) + 0.5)
    plain = ordinary_contrast(logs, treatments, weights, blockings)
    moved = ContrastAnswer(own.estimate, plain.se, plain.df, own.engine)
    return wider([own, moved], confidence)
