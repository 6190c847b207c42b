"""Two error strata: whole plots in blocks (or completely randomized), subplots inside.

Every whole plot that is left holds every subplot treatment equally often. Then the two
strata are separate least-squares fits, exact under normality (Yates 1935, Suppl. J. R.
Stat. Soc. 2:181; Cochran & Cox 1957, chapter 7):

    whole-plot stratum   means of whole plots ~ whole-plot levels + blocks
    subplot stratum      unit values ~ cells + whole plots

A contrast of cells c splits into row sums M_i = sum_j c_ij (whole-plot stratum) and
c_ij - M_i/s (subplot stratum); its variance is the sum of both, its df Satterthwaite's
where both are there. Mean squares are given per subplot, as the textbooks print them.
Whole plots may be lost as a whole; a whole plot with gaps is refused, with the reason.

Cells are whole level * n_sub + sub level. Leans on ``strata``.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wickstats.core.words import say
from wickstats.models.linear.contrasts import term_rows
from wickstats.models.linear.estimates import (
    Array,
    Estimate,
    IntArray,
    Part,
    TermTest,
    combine_parts,
    only_estimate,
    widest,
)
from wickstats.models.linear.strata import (
    UnitFit,
    finite_values,
    fit_units,
    residual_part,
)


@dataclass(frozen=True, slots=True, eq=False)
class SplitPlotFit:
    """Both strata of a split-plot; complete when returned.

    Attributes
    ----------
    whole
        The fit of whole-plot means (its mean square times ``subplots`` is the textbook's).
    sub
        The fit inside whole plots.
    subplots
        Subplots of a whole plot.
    whole_plots
        (n,) code of each unit's whole plot, in the order of ``whole.values``.
    fitted, residuals
        (n,) on the units: cells and blocks, and what is left of both strata together.
    """

    whole: UnitFit
    sub: UnitFit
    n_whole: int
    n_sub: int
    subplots: int
    whole_plots: IntArray
    fitted: Array
    residuals: Array
    confidence: float

    @property
    def whole_ms(self) -> float | None:
        """Mean square of the whole-plot error, per subplot."""
        ms = self.whole.residual_ms
        return None if ms is None else ms * self.subplots

    def contrast(self, weights: ArrayLike) -> Estimate:
        """Contrast of cells (n_whole * n_sub,), each part in its stratum."""
        given = self._weights(weights)
        if abs(float(given.sum())) > 1e-9 * float(np.abs(given).max()):
            raise ValueError("the weights of a contrast must sum to zero")
        return self._estimate(given, is_mean=False)

    def mean(self, weights: ArrayLike) -> Estimate:
        """Mean of cells with weights that sum to one, block stratum included."""
        given = self._weights(weights)
        if abs(float(given.sum()) - 1.0) > 1e-9:
            raise ValueError("the weights of a mean must sum to one")
        return self._estimate(given, is_mean=True)

    def covariance(self, contrasts: ArrayLike) -> Array:
        """Covariance (k, k) of contrasts (k, cells) under equal variances.

        Raises
        ------
        ValueError
            Where a contrast or its variance cannot be estimated.
        """
        stack = np.atleast_2d(np.asarray(contrasts, dtype=float))
        total = np.zeros((stack.shape[0], stack.shape[0]))
        for fit, rows in zip((self.whole, self.sub), self._split_rows(stack), strict=True):
            if not np.abs(rows).any():
                continue
            if fit.no_inference:
                raise ValueError(fit.no_inference)
            scale = fit.scales[0]
            total += scale.phi * (rows * scale.d) @ rows.T
        return total

    def test_whole(self) -> TermTest:
        """The whole-plot factor in the whole-plot stratum."""
        test = self.whole.test(term_rows((self.n_whole,), (0,)))
        if test.sum_of_squares is None:
            return test
        squares = test.sum_of_squares * self.subplots
        return TermTest(
            test.f, test.df_num, test.df_den, test.p, squares, test.basis, test.not_estimable
        )

    def test_sub(self) -> TermTest:
        """The subplot factor in the subplot stratum."""
        return self.sub.test(term_rows((self.n_whole, self.n_sub), (1,)))

    def test_interaction(self) -> TermTest:
        """The interaction in the subplot stratum."""
        return self.sub.test(term_rows((self.n_whole, self.n_sub), (0, 1)))

    def test(self, contrasts: ArrayLike) -> TermTest:
        """Contrasts that all lie in one stratum.

        Raises
        ------
        ValueError
            Where they lie in both.
        """
        stack = np.atleast_2d(np.asarray(contrasts, dtype=float))
        sums, inside = self._split(stack)
        if not np.abs(inside).max() > 1e-12:
            return self.whole.test(sums)
        if np.abs(sums).max() > 1e-12:
            raise ValueError("these contrasts mix the strata: no exact F exists")
        return self.sub.test(inside)

    def _weights(self, weights: ArrayLike) -> Array:
        given = np.asarray(weights, dtype=float)
        if given.shape != (self.n_whole * self.n_sub,):
            raise ValueError(f"expected {self.n_whole * self.n_sub} weights")
        if not np.abs(given).any():
            raise ValueError("all weights are zero")
        return given

    def _split(self, stack: Array) -> tuple[Array, Array]:
        cells = stack.reshape(-1, self.n_whole, self.n_sub)
        sums = cells.sum(axis=2)
        inside = (cells - sums[:, :, None] / self.n_sub).reshape(stack.shape)
        size = np.abs(stack).max()
        sums = np.where(np.abs(sums) > 1e-12 * size, sums, 0.0)
        inside = np.where(np.abs(inside) > 1e-12 * size, inside, 0.0)
        return sums, inside

    def _split_rows(self, stack: Array) -> tuple[Array, Array]:
        sums, inside = self._split(stack)
        out = []
        for fit, part in ((self.whole, sums), (self.sub, inside)):
            rows = np.zeros((stack.shape[0], fit.values.size))
            for k, weights in enumerate(part):
                if np.abs(weights).any():
                    row, reason = fit.contrast_row(weights)
                    if row is None:
                        raise ValueError(reason)
                    rows[k] = row
            out.append(rows)
        return out[0], out[1]

    def _estimate(self, weights: Array, *, is_mean: bool) -> Estimate:
        sums, inside = self._split(weights[None, :])
        total = 0.0
        reason: str | None = None
        parts: list[list[Part]] = [[] for _ in self._bases()]
        for fit, part, mean in ((self.whole, sums[0], is_mean), (self.sub, inside[0], False)):
            if not np.abs(part).any():
                continue
            row, missing = fit.mean_row(part) if mean else fit.contrast_row(part)
            if row is None:
                return only_estimate(None, missing or "")
            total += float(row @ fit.values)
            if fit.no_inference:
                reason = fit.no_inference
                continue
            for k, into in enumerate(parts):
                scale = fit.scales[min(k, len(fit.scales) - 1)]
                into.extend(fit.mean_parts(row, scale) if mean else [residual_part(row, scale)])
        if reason:
            return only_estimate(total, reason)
        candidates = [
            (basis, whole)
            for basis, found in zip(self._bases(), parts, strict=True)
            if (whole := combine_parts(found))[0] > 0.0
        ]
        return widest(total, candidates, self.confidence)

    def _bases(self) -> tuple[str, ...]:
        longest = max((self.whole.scales, self.sub.scales), key=len)
        return tuple(scale.basis for scale in longest) or ("none",)


def fit_split_plot(
    values: ArrayLike,
    whole: ArrayLike,
    sub: ArrayLike,
    whole_plots: ArrayLike,
    *,
    n_whole: int,
    n_sub: int,
    blocks: ArrayLike | None = None,
    plants: ArrayLike | None = None,
    confidence: float = 0.95,
) -> SplitPlotFit | str:
    """Fit both strata, or return in words why they cannot be separated.

    Parameters
    ----------
    values
        (n,) one finite number a subplot.
    whole, sub, whole_plots, blocks
        (n,) integer codes; ``blocks`` None where whole plots are completely randomized.
    plants
        (n,) plants behind each value: the guard of ``strata.fit_units`` in both strata.

    Raises
    ------
    ValueError
        For shapes that do not fit or numbers that are not finite.
    """
    y = finite_values(values)
    codes = [np.asarray(part, dtype=np.int64) for part in (whole, sub, whole_plots)]
    if blocks is not None:
        codes.append(np.asarray(blocks, dtype=np.int64))
    if any(code.shape != y.shape for code in codes):
        raise ValueError("every code needs one entry a unit")
    if y.size == 0:
        return say("linear no whole plots")
    wholes, subs = codes[0], codes[1]
    _, first, plot = np.unique(codes[2], return_index=True, return_inverse=True)
    if any((code != code[first][plot]).any() for code in (wholes, *codes[3:])):
        return say("linear split-plot nesting")
    held = np.zeros((first.size, n_sub), dtype=np.int64)
    np.add.at(held, (plot, subs), 1)
    if (held != held[0, 0]).any() or held[0, 0] == 0:
        return say("linear split-plot gaps")
    size = int(held[0].sum())
    means = np.bincount(plot, weights=y) / size
    whole_plants = sub_plants = None
    if plants is not None:
        sub_plants = finite_values(plants)
        if sub_plants.shape != y.shape or (sub_plants <= 0).any():
            raise ValueError("plants must be one number above zero a unit")
        whole_plants = size / np.bincount(plot, weights=1.0 / sub_plants)
        if np.ptp(whole_plants) <= 1e-12 * whole_plants.max():
            whole_plants = None
    whole_fit = fit_units(
        means,
        wholes[first],
        n_whole,
        blocks=None if blocks is None else codes[3][first],
        plants=whole_plants,
        confidence=confidence,
    )
    sub_fit = fit_units(
        y,
        wholes * n_sub + subs,
        n_whole * n_sub,
        blocks=plot,
        plants=sub_plants,
        confidence=confidence,
    )
    residuals = sub_fit.residuals + whole_fit.residuals[plot]
    return SplitPlotFit(
        whole=whole_fit,
        sub=sub_fit,
        n_whole=n_whole,
        n_sub=n_sub,
        subplots=size,
        whole_plots=plot.astype(np.int64),
        fitted=y - residuals,
        residuals=residuals,
        confidence=confidence,
    )
