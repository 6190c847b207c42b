"""Several error strata at once: split-plots, split-split-plots, strip-plots.

Every restriction on randomization is a grouping of the units with an error of its own, and
the analysis falls apart into one least-squares fit a stratum (Yates 1935, Suppl. J. R.
Stat. Soc. 2:181; Nelder 1965, Proc. R. Soc. A 283:147, 163). A stratum k has units, the
factors that do not vary inside its units, and what is fixed in its fit:

    split-plot        whole plots (blocks fixed); units (whole plots fixed)
    split-split-plot  the same one step further down
    strip-plot        row strips (blocks), column strips (blocks), plots (both strips)

    stratum k   means of its units ~ cells of its factors + what is fixed

A treatment term (main effect or interaction) belongs to the first stratum that holds all
its factors. A contrast of cells c splits into its terms, c = sum_T c_T; the part of
stratum k is the sum of its terms. Estimate and variance are the sums over strata, df
Satterthwaite's (1946) where several take part. Mean squares are given per smallest unit,
as the textbooks print them. With every unit of a stratum holding the hidden factors' cells
equally often the fits are independent and exact under normality; stratum units may be lost
as a whole. Otherwise the data are refused, with the reason.

The grand mean lies in the first stratum, whose fixed classes (blocks) give it their
variance; where nothing is fixed in several strata (strips without blocks) each adds its
own, which is a little more than needed.

A covariate of the units enters each stratum as the mean over its pieces, with a slope of its
own there (Cochran 1957, Biometrics 13:261; Cochran & Cox 1957, section 7.15 from memory: the
regression in main plots and that in subplots are estimated apart). Where it does not vary
beside what is fixed, a stratum has none and loses no degree of freedom.

Leans on ``strata``, ``geometry`` and ``contrasts``.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wickstats.core.words import say
from wickstats.models.linear.contrasts import cell_codes, main_effects_space
from wickstats.models.linear.estimates import (
    Array,
    Estimate,
    IntArray,
    Part,
    TermTest,
    combine_mean,
    combine_parts,
    only_estimate,
    widest,
)
from wickstats.models.linear.geometry import classifications, lay_units, piece_means
from wickstats.models.linear.splits import first_holding, split_matrices
from wickstats.models.linear.strata import UnitFit, finite_values, fit_units, residual_part


@dataclass(frozen=True, slots=True, eq=False)
class ErrorStratum:
    """One stratum before any value.

    Attributes
    ----------
    name
        E.g. "whole plot".
    units
        (n,) code of the stratum's unit of each smallest unit.
    factors
        Indices of the factors that do not vary inside its units.
    within
        Classifications fixed in its fit: (n,) codes or (n, B) shares each.
    """

    name: str
    units: IntArray
    factors: tuple[int, ...]
    within: tuple[ArrayLike, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class ErrorStrataFit:
    """All strata fitted; complete when returned.

    Attributes
    ----------
    shape
        Numbers of levels of the factors.
    names, factors
        Of the strata.
    fits
        Least squares of the means of each stratum's units.
    sizes
        Smallest units in a unit of each stratum; its mean square times this is the
        textbook's.
    splits
        (t_k, t) of each stratum: from weights of cells to its part.
    fitted, residuals
        (n,) on the smallest units: what is left of all strata together.
    main_effects
        Interactions are left out: they are part of the errors of their strata.
    """

    shape: tuple[int, ...]
    names: tuple[str, ...]
    factors: tuple[tuple[int, ...], ...]
    fits: tuple[UnitFit, ...]
    sizes: tuple[int, ...]
    splits: tuple[Array, ...]
    fitted: Array
    residuals: Array
    confidence: float
    main_effects: bool = False

    def stratum_of(self, term: Sequence[int]) -> int:
        """Position of the stratum in which a term is tested."""
        return first_holding(self.factors, tuple(term))

    def mean_square(self, k: int) -> float | None:
        """Error mean square of stratum k, per smallest unit."""
        ms = self.fits[k].residual_ms
        return None if ms is None else ms * self.sizes[k]

    def contrast(self, weights: ArrayLike) -> Estimate:
        """Contrast of cells (t,), each part in its stratum."""
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
        """Covariance (k, k) of contrasts (k, t) under equal variances.

        Raises
        ------
        ValueError
            Where a contrast or its variance cannot be estimated.
        """
        stack = np.atleast_2d(np.asarray(contrasts, dtype=float))
        total = np.zeros((stack.shape[0], stack.shape[0]))
        for k, fit in enumerate(self.fits):
            rows = np.zeros((stack.shape[0], fit.values.size))
            for i, part in enumerate(self._part(k, stack)):
                if not np.abs(part).any():
                    continue
                row, reason = fit.contrast_row(part)
                if row is None:
                    raise ValueError(reason)
                rows[i] = row
            if not np.abs(rows).any():
                continue
            if fit.no_inference:
                raise ValueError(fit.no_inference)
            scale = fit.scales[0]
            total += scale.phi * (rows * scale.d) @ rows.T
        return total

    def test(self, contrasts: ArrayLike) -> TermTest:
        """Contrasts that all lie in one stratum; sums of squares per smallest unit.

        Raises
        ------
        ValueError
            Where they lie in several.
        """
        stack = np.atleast_2d(np.asarray(contrasts, dtype=float))
        parts = [self._part(k, stack) for k in range(len(self.fits))]
        there = [k for k, part in enumerate(parts) if np.abs(part).any()]
        if len(there) != 1:
            raise ValueError("these contrasts mix the strata: no exact F exists")
        k = there[0]
        found = self.fits[k].test(parts[k])
        if found.sum_of_squares is None:
            return found
        return TermTest(
            found.f,
            found.df_num,
            found.df_den,
            found.p,
            found.sum_of_squares * self.sizes[k],
            found.basis,
            found.not_estimable,
        )

    def _weights(self, weights: ArrayLike) -> Array:
        given = np.asarray(weights, dtype=float)
        size = int(np.prod(self.shape))
        if given.shape != (size,):
            raise ValueError(f"expected {size} weights")
        if not np.abs(given).any():
            raise ValueError("all weights are zero")
        return given

    def _part(self, k: int, stack: Array) -> Array:
        part = stack @ self.splits[k].T
        part[np.abs(part) <= 1e-12 * np.abs(stack).max()] = 0.0
        return part

    def _estimate(self, weights: Array, *, is_mean: bool) -> Estimate:
        total = 0.0
        reason: str | None = None
        parts: list[list[Part]] = [[] for _ in self._bases()]
        for k, fit in enumerate(self.fits):
            part = self._part(k, weights[None, :])[0]
            mean = is_mean and k == 0
            if is_mean and k > 0 and not fit.geometry.classes:
                self._add_level(fit, parts)
            if not np.abs(part).any():
                continue
            row, missing = fit.mean_row(part) if mean else fit.contrast_row(part)
            if row is None:
                return only_estimate(None, missing or "")
            total += float(row @ fit.values)
            if fit.no_inference:
                reason = fit.no_inference
                continue
            for j, into in enumerate(parts):
                scale = fit.scales[min(j, len(fit.scales) - 1)]
                into.extend(fit.mean_parts(row, scale) if mean else [residual_part(row, scale)])
        if reason:
            return only_estimate(total, reason)
        combine = combine_mean if is_mean else combine_parts
        candidates = [
            (basis, whole)
            for basis, found in zip(self._bases(), parts, strict=True)
            if (whole := combine(found))[0] > 0.0
        ]
        if not candidates:
            return only_estimate(total, say("linear no scatter"))
        return widest(total, candidates, self.confidence)

    def _add_level(self, fit: UnitFit, parts: list[list[Part]]) -> None:
        """Variance of the grand mean from a stratum in whose fit nothing is fixed."""
        row, _ = fit.mean_row(np.full(fit.geometry.n_cells, 1.0 / fit.geometry.n_cells))
        for j, into in enumerate(parts):
            if row is not None and fit.scales:
                into.append(residual_part(row, fit.scales[min(j, len(fit.scales) - 1)]))

    def _bases(self) -> tuple[str, ...]:
        longest = max((fit.scales for fit in self.fits), key=len)
        return tuple(scale.basis for scale in longest) or ("none",)


def fit_error_strata(
    values: ArrayLike,
    cells: ArrayLike,
    shape: Sequence[int],
    strata: Sequence[ErrorStratum],
    *,
    plants: ArrayLike | None = None,
    covariate: ArrayLike | None = None,
    main_effects: bool = False,
    confidence: float = 0.95,
) -> ErrorStrataFit | str:
    """Fit all strata, or return in words why they cannot be separated.

    Parameters
    ----------
    values
        (n,) one finite number a smallest unit.
    cells
        (n,) cell codes in row-major order of ``shape`` (the last factor fastest).
    strata
        From the coarsest to the units themselves.
    plants
        (n,) plants behind each value: the guard of ``strata.fit_units`` in every stratum.
    covariate
        (n,) one finite number a smallest unit, or None; means are given at its average.
    main_effects
        Leave out the interactions of the factors.

    Raises
    ------
    ValueError
        For shapes that do not fit or numbers that are not finite.
    """
    y = finite_values(values)
    codes = np.asarray(cells, dtype=np.int64)
    if codes.shape != y.shape or any(np.shape(s.units) != y.shape for s in strata):
        raise ValueError("every code needs one entry a unit")
    count = None if plants is None else finite_values(plants)
    if count is not None and (count.shape != y.shape or (count <= 0).any()):
        raise ValueError("plants must be one number above zero a unit")
    beside = None if covariate is None else np.asarray(covariate, dtype=float)
    if beside is not None and (beside.shape != y.shape or not np.isfinite(beside).all()):
        raise ValueError("the covariate must be one finite number a unit")
    if y.size == 0:
        return say("linear no whole plots")
    fits, sizes = [], []
    residuals = np.zeros(y.size)
    for stratum in strata:
        space = None
        if main_effects:
            space = main_effects_space([shape[k] for k in stratum.factors])
        made = _fit_stratum(y, codes, shape, stratum, count, beside, confidence, space)
        if isinstance(made, str):
            return made
        fit, size, unit = made
        fits.append(fit)
        sizes.append(size)
        residuals += fit.residuals[unit]
    held = tuple(stratum.factors for stratum in strata)
    return ErrorStrataFit(
        shape=tuple(shape),
        names=tuple(stratum.name for stratum in strata),
        factors=held,
        fits=tuple(fits),
        sizes=tuple(sizes),
        splits=split_matrices(shape, held, main_effects=main_effects),
        fitted=y - residuals,
        residuals=residuals,
        confidence=confidence,
        main_effects=main_effects,
    )


def _fit_stratum(
    y: Array,
    cells: IntArray,
    shape: Sequence[int],
    stratum: ErrorStratum,
    plants: Array | None,
    covariate: Array | None,
    confidence: float,
    space: Array | None,
) -> tuple[UnitFit, int, IntArray] | str:
    """The fit of one stratum, smallest units in its units, and each unit's place in it."""
    _, first, unit = np.unique(stratum.units, return_index=True, return_inverse=True)
    unit = unit.reshape(-1)
    own = cell_codes(cells, shape, stratum.factors)
    within = [np.asarray(part) for part in classifications(list(stratum.within))]
    if any((part != part[first][unit]).any() for part in (own, *within)):
        return say("linear split-plot nesting")
    hidden = tuple(k for k in range(len(shape)) if k not in stratum.factors)
    size = y.size // first.size
    if hidden or first.size < y.size:
        n_hidden = int(np.prod([shape[k] for k in hidden]))
        held = np.zeros((first.size, n_hidden), dtype=np.int64)
        np.add.at(held, (unit, cell_codes(cells, shape, hidden)), 1)
        if (held != held[0, 0]).any() or held[0, 0] == 0:
            return say("linear split-plot gaps")
        size = int(held[0].sum())
    behind = None
    if plants is not None:
        behind = size / np.bincount(unit, weights=1.0 / plants)
        if np.ptp(behind) <= 1e-12 * behind.max():
            behind = None
    n_cells = int(np.prod([shape[k] for k in stratum.factors]))
    fit = fit_units(
        np.bincount(unit, weights=y) / size,
        own[first],
        n_cells,
        plants=behind,
        confidence=confidence,
        geometry=lay_units(
            own[first],
            n_cells,
            blocks=[part[first] for part in within],
            covariate=None if covariate is None else piece_means(covariate, unit),
            space=space,
        ),
    )
    return fit, size, unit
