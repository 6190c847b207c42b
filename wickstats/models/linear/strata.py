"""One error stratum: least squares on unit values, complete or with any gaps.

Model: y_j = cell + block + e_j, blocks fixed, Var(e_j) = phi d_j. The estimate is the
unweighted least-squares one whatever d is; only the standard error depends on d:

    phi = residual sum of squares / tr(MD),    df = tr(MD)^2 / tr(MDMD),
    Var(a'y) = phi a'Da

(Satterthwaite 1946; Box 1954). With D = I these are the residual mean square and the
design's df: exact under normality. A fit may carry several such scales; for every
contrast the one with the widest interval counts. Here they are equal variances and,
as a guard where the plants behind the units differ, variances proportional to 1/plants.

Means of cells (over all blocks with equal weight) carry the block stratum too, and of
rows, columns and squares each its own: Var = sum_k s_k^2 sum_b (mean's weight of class b)^2
+ phi a'Da, the variances s_k^2 from the sums of squares of the classifications (Henderson
1953, Biometrics 9:226, method 3; see ``geometry``), Q_k = y'P_k y with
E Q_k = sum_j s_j^2 tr(B_j'P_k B_j) + phi tr(P_k D). That is a sum of mean squares
(complete blocks: (MS_block + (t - 1) MS_residual)/(b t); a Latin square: (MS_row +
MS_column + (t - 2) MS_residual)/t^2); its df are Satterthwaite's from three df a stratum up,
with a correction below (``estimates.combine_mean``), and never below those of the stratum
that has the fewest; no component is bounded at zero. Where unit variances differ by arm
(rule "dispersion") the variances s_k^2 are taken at or above zero, so that a mean is never
given more precision than its own units have (Satterthwaite's df).

Leans on numpy, ``geometry`` and ``estimates``.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wickstats.core.words import say
from wickstats.models.linear.estimates import (
    Array,
    Estimate,
    IntArray,
    Part,
    TermTest,
    combine_mean,
    combine_parts,
    f_tail,
    only_estimate,
    widest,
)
from wickstats.models.linear.geometry import Blocks, Geometry, lay_units

EQUAL = "equal variances"
BY_PLANTS = "variances by plants"


@dataclass(frozen=True, slots=True, eq=False)
class Scale:
    """Unit variances phi d_j with the df of phi.

    ``own`` is (code of each unit's cell, df of each cell) where every cell has its own
    variance; a row's df are then Satterthwaite's over cells, and ``df`` is their sum.
    """

    basis: str
    d: Array
    phi: float
    df: float
    own: tuple[IntArray, Array] | None = None

    def df_of(self, squares: Array) -> float:
        """Degrees of freedom of sum_j squares_j d_j."""
        if self.own is None:
            return self.df
        cells, df = self.own
        parts = np.bincount(cells, weights=squares * self.d, minlength=df.size)
        return float(parts.sum() ** 2 / np.sum(parts**2 / df))


@dataclass(frozen=True, slots=True, eq=False)
class UnitFit:
    """A fitted stratum; complete when returned.

    Attributes
    ----------
    geometry
        What the layout allows.
    values, fitted, residuals
        (n,) unit values and their parts.
    residual_ss, residual_df, residual_ms
        Of the unit stratum; ``residual_ms`` is None with 0 df.
    scales
        The variance assumptions; the wider interval counts.
    confidence
        Of every interval.
    rule
        "strata" or "dispersion".
    no_inference
        Why there are estimates only, or None.
    """

    geometry: Geometry
    values: Array
    fitted: Array
    residuals: Array
    residual_ss: float
    residual_df: int
    residual_ms: float | None
    scales: tuple[Scale, ...]
    confidence: float
    rule: str
    no_inference: str | None

    def contrast(self, weights: ArrayLike) -> Estimate:
        """Contrast of cells: ``weights`` (t,) that sum to zero.

        Raises
        ------
        ValueError
            Where the weights do not sum to zero, or their number is wrong.
        """
        row, reason = self.contrast_row(weights)
        if row is None:
            return only_estimate(None, reason or "")
        estimate = float(row @ self.values)
        if self.no_inference:
            return only_estimate(estimate, self.no_inference)
        candidates = [
            (s.basis, part) for s in self.scales if (part := residual_part(row, s))[0] > 0.0
        ]
        return widest(estimate, candidates, self.confidence, rivals=self._rivals)

    def contrast_row(self, weights: ArrayLike) -> tuple[Array | None, str | None]:
        """Unit weights (n,) of a contrast, or None and the reason."""
        given = np.asarray(weights, dtype=float)
        if abs(float(given.sum())) > 1e-9 * float(np.abs(given).max(initial=0.0)):
            raise ValueError("the weights of a contrast must sum to zero")
        return self.geometry.cell_row(given)

    def mean(self, weights: ArrayLike) -> Estimate:
        """Mean of cells, ``weights`` (t,) that sum to one, over the average block.

        Raises
        ------
        ValueError
            Where the weights do not sum to one, or their number is wrong.
        """
        row, reason = self.mean_row(weights)
        if row is None:
            return only_estimate(None, reason or "")
        estimate = float(row @ self.values)
        if self.no_inference:
            return only_estimate(estimate, self.no_inference)
        combine = combine_parts if self.rule == "dispersion" else combine_mean
        found = [(s.basis, combine(self.mean_parts(row, s))) for s in self.scales]
        candidates = [(basis, part) for basis, part in found if part[0] > 0.0]
        if not candidates:
            return only_estimate(estimate, say("linear no scatter"))
        return widest(estimate, candidates, self.confidence, rivals=self._rivals)

    @property
    def _rivals(self) -> bool:
        """Whether intervals of very different df stand beside one another."""
        return any(scale.own is not None for scale in self.scales)

    def mean_row(self, weights: ArrayLike) -> tuple[Array | None, str | None]:
        """Unit weights (n,) of a mean over the average block, or None and the reason."""
        given = np.asarray(weights, dtype=float)
        if abs(float(given.sum()) - 1.0) > 1e-9:
            raise ValueError("the weights of a mean must sum to one")
        return self.geometry.mean_row(given)

    def mean_parts(self, row: Array, scale: Scale) -> tuple[Part, ...]:
        """Independent variances of a mean: each classification's stratum and the units'."""
        own = float(row * row @ scale.d)
        layout = self.geometry
        kept = [k for k in range(len(layout.classes)) if layout.expected[k, k] > 0.0]
        if not kept:
            return ((scale.phi * own, scale.df_of(row * row)),)
        classes = [layout.classes[k] for k in kept]
        found = [held.basis.T @ self.values for held in classes]
        squares = np.array([float(inside @ inside) for inside in found])
        within = [held.basis.T @ (scale.d[:, None] * held.basis) for held in classes]
        units = np.array([float(np.trace(part)) for part in within])
        expected = layout.expected[np.ix_(kept, kept)]
        weights = np.array([float(np.sum((row @ held.shares) ** 2)) for held in classes])
        # the mean's variance as a sum of the classifications' sums of squares and phi
        shares = np.linalg.solve(expected.T, weights)
        shares[np.abs(shares) < 1e-12 * np.abs(weights / np.diag(expected)).max()] = 0.0
        variances = np.maximum(np.linalg.solve(expected, squares - scale.phi * units), 0.0)
        dfs = []
        for k, held in enumerate(classes):
            spread = scale.phi * within[k]
            for variance, other in zip(variances, classes, strict=True):
                between = held.basis.T @ other.shares
                spread = spread + variance * (between @ between.T)
            dfs.append(float(np.trace(spread)) ** 2 / max(float(np.sum(spread**2)), 1e-300))
        left = own - float(shares @ units)
        if self.rule == "dispersion" or left < -1e-9 * own or (shares < 0.0).any():
            # unequal unit variances: the parts no longer split the mean squares
            parts = [(w * v, df) for w, v, df in zip(weights, variances, dfs, strict=True)]
            return (*parts, (scale.phi * own, scale.df_of(row * row)))
        parts = [(w * ss, df) for w, ss, df in zip(shares, squares, dfs, strict=True)]
        return (*parts, (scale.phi * max(left, 0.0), scale.df))

    def covariance(self, contrasts: ArrayLike) -> Array:
        """Covariance (k, k) of estimable contrasts (k, t) under the first scale.

        Raises
        ------
        ValueError
            For a contrast that is not estimable, or a fit without inference.
        """
        if self.no_inference:
            raise ValueError(self.no_inference)
        rows = []
        for weights in np.atleast_2d(np.asarray(contrasts, dtype=float)):
            row, reason = self.contrast_row(weights)
            if row is None:
                raise ValueError(reason)
            rows.append(row)
        stack = np.array(rows)
        scale = self.scales[0]
        product: Array = scale.phi * (stack * scale.d) @ stack.T
        return product

    def test(self, contrasts: ArrayLike) -> TermTest:
        """All contrasts (q, t) at once are zero; each adjusted for blocks and the rest.

        Rows may depend on one another; their rank is the numerator's df under equal
        variances, and an effective one otherwise. With several scales the larger p counts.
        """
        given = np.atleast_2d(np.asarray(contrasts, dtype=float))
        _, s, vt = np.linalg.svd(given, full_matrices=False)
        q = int(np.sum(s > 1e-9 * s[0])) if s.size and s[0] > 0 else 0
        if q == 0:
            raise ValueError("all contrasts are zero")
        rows = []
        for weights in vt[:q]:
            row, reason = self.contrast_row(weights - weights.mean())
            if row is None:
                return TermTest(None, q, None, None, None, "none", reason)
            rows.append(row)
        stack = np.array(rows)
        effects = stack @ self.values
        squares = float(effects @ np.linalg.solve(stack @ stack.T, effects))
        if self.no_inference:
            return TermTest(None, q, None, None, squares, "none", self.no_inference)
        best: TermTest | None = None
        for scale in self.scales:
            spread = scale.phi * (stack * scale.d) @ stack.T
            if float(np.trace(spread)) == 0.0:
                continue
            f, df_num = _statistic(effects, spread, exact=float(np.ptp(scale.d)) == 0.0)
            df = scale.df_of(np.sum(stack * stack, axis=0))
            p = f_tail(f, df_num, df)
            if best is None or best.p is None or p > best.p * (1.0 + 1e-12):
                best = TermTest(f, df_num, df, p, squares, scale.basis)
        if best is None:
            raise ValueError("a fit needs a scale")
        return best


def _statistic(effects: Array, spread: Array, *, exact: bool) -> tuple[float, float]:
    """F and its numerator df for effects with covariance ``spread``.

    Exact under equal variances; otherwise the ANOVA-type statistic (Brunner, Dette & Munk
    1997, J. Am. Stat. Assoc. 92:1494), which does not weigh by estimated variances.
    """
    q = effects.size
    if exact or q == 1:
        return float(effects @ np.linalg.solve(spread, effects)) / q, float(q)
    trace = float(np.trace(spread))
    return float(effects @ effects) / trace, trace**2 / float(np.sum(spread * spread))


def residual_part(row: Array, scale: Scale) -> Part:
    """Variance of a'y within the unit stratum, and its df."""
    squares = row * row
    return scale.phi * float(squares @ scale.d), scale.df_of(squares)


def fit_units(
    values: ArrayLike,
    cells: ArrayLike,
    n_cells: int,
    *,
    blocks: Blocks = None,
    plants: ArrayLike | None = None,
    covariate: ArrayLike | None = None,
    confidence: float = 0.95,
    geometry: Geometry | None = None,
) -> UnitFit:
    """Fit one stratum by least squares on unit values.

    Parameters
    ----------
    values
        (n,) one number a unit, all finite.
    cells, n_cells, blocks, covariate
        As in ``geometry.lay_units``.
    plants
        (n,) plants behind each value, above zero; the guard where they differ.
    geometry
        Of the same units, if already laid out (then ``blocks`` and ``covariate`` are
        not read).

    Raises
    ------
    ValueError
        For shapes that do not fit or numbers that are not finite.
    """
    y = finite_values(values)
    layout = geometry or lay_units(cells, n_cells, blocks=blocks, covariate=covariate)
    if layout.cells.size != y.size:
        raise ValueError(f"{y.size} values for {layout.cells.size} units")
    bases = [(EQUAL, np.ones(y.size))]
    if plants is not None:
        count = finite_values(plants)
        if count.shape != y.shape or (count <= 0).any():
            raise ValueError("plants must be one number above zero a unit")
        if np.ptp(count) > 0:
            bases.append((BY_PLANTS, count.mean() / count))
    return fit_scales(y, layout, bases, confidence=confidence, rule="strata")


def fit_scales(
    y: Array,
    layout: Geometry,
    bases: Sequence[tuple[str, Array]],
    *,
    confidence: float,
    rule: str,
    known: Sequence[Scale] = (),
) -> UnitFit:
    """Fit with unit variances (basis, d) up to phi, beside scales that are ``known``.

    Known scales come first; where they stand, a d that leaves nothing to compare with the
    residuals is passed over.
    """
    if not 0.0 < confidence < 1.0:
        raise ValueError("confidence must lie between 0 and 1")
    fitted = layout.basis @ (layout.basis.T @ y)
    rss = residual_squares(y, y - fitted)
    residuals = y - fitted if rss > 0.0 else np.zeros_like(y)
    reason = None
    scales: list[Scale] = []
    if y.size == 0:
        reason = say("linear no whole plots")
    elif layout.df == 0:
        reason = say("linear no df")
    elif rss == 0.0 and not known:
        reason = say("linear no scatter")
    else:
        scales += known
        for basis, d in bases if rss > 0.0 else ():
            if known and float(d.max()) == 0.0:
                continue
            if np.ptp(d) == 0.0:  # the exact df, free of rounding
                df, first = float(layout.df), float(layout.df) * float(d[0])
            else:
                first, second = layout.traces(d)
                if known and first <= 1e-12 * float(np.abs(d).max()):
                    continue
                df = first**2 / second
            scales.append(Scale(basis, d, rss / first, df))
    return UnitFit(
        geometry=layout,
        values=y,
        fitted=fitted,
        residuals=residuals,
        residual_ss=rss,
        residual_df=layout.df,
        residual_ms=rss / layout.df if layout.df else None,
        scales=tuple(scales),
        confidence=confidence,
        rule=rule,
        no_inference=reason,
    )


def residual_squares(y: Array, residuals: Array) -> float:
    """Sum of squares; what rounding alone leaves behind counts as no scatter."""
    rss = float(residuals @ residuals)
    size = float(np.abs(y).max(initial=0.0))
    return 0.0 if rss <= y.size * (64.0 * np.finfo(float).eps * size) ** 2 else rss


def finite_values(values: ArrayLike) -> Array:
    """One-dimensional floats, all finite.

    Raises
    ------
    ValueError
        For another shape, NaN or infinity.
    """
    y = np.asarray(values, dtype=float)
    if y.ndim != 1:
        raise ValueError("values must be one number a unit")
    if not np.isfinite(y).all():
        raise ValueError("a unit value is not a finite number")
    return y
