"""Shares, restricted means and log-rank scores in many seasons.

The rules of ``models.linear.dispersion`` and ``models.linear.scores`` on (S, n) arrays: the
wider of the units' interval (phi from the unit stratum) and the plants' (phi 1, their own
df), p the larger. A test holds these numbers equal to the single-season code. Leans on
``strata`` and ``between``.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from wickstats.models.batch.between import combine, mean_parts
from wickstats.models.batch.layout import BatchLayout, season_values, unit_plants
from wickstats.models.batch.results import Answers, Judged
from wickstats.models.batch.strata import answer, joint_p, t_tails
from wickstats.models.linear.dispersion import PlantScatter, guarded_variances, likeness
from wickstats.models.linear.estimates import Array


@dataclass(frozen=True, slots=True, eq=False)
class _Scale:
    """Unit variances phi d (S, n); df (S,) or, of each cell's own plants, (S, t)."""

    d: Array
    phi: Array
    df: Array
    own: bool

    def df_of(self, squares: Array, indicators: Array) -> Array:
        """(S, k) df of the rows whose squared unit weights are ``squares`` (k, n)."""
        if not self.own:
            return np.broadcast_to(self.df[:, None], (len(self.df), len(squares)))
        out = np.empty((len(self.d), len(squares)))
        for k, square in enumerate(squares):
            parts = (self.d * square) @ indicators
            below = (parts**2 / self.df).sum(axis=1)
            # a row of nothing (not estimable) has no df
            out[:, k] = np.where(
                below > 0.0, parts.sum(axis=1) ** 2 / np.where(below > 0.0, below, 1.0), 1.0
            )
        return out


def judge_shares(
    layout: BatchLayout, alive: ArrayLike, plants: ArrayLike, *, confidence: float = 0.95
) -> Judged:
    """Judge shares: ``alive`` (S, n) of ``plants`` (n,) or (S, n), all above zero.

    Raises
    ------
    ValueError
        Where more are alive than there were, or a unit has no plants.
    """
    x = season_values(alive, layout.n, "alive")
    m = unit_plants(plants, x.shape[0], layout.n)
    if (x < 0.0).any() or (x > m).any():
        raise ValueError("alive must lie between 0 and plants")
    cells = np.eye(layout.geometry.n_cells)[layout.geometry.cells]
    n = m @ cells
    p = (x @ cells) / np.maximum(n, 1.0)
    return judge_dispersion(
        layout, x / m, m, PlantScatter(n, p, p * (1.0 - p), 1.0), confidence=confidence
    )


def judge_restricted_means(
    layout: BatchLayout,
    counts: ArrayLike,
    times: ArrayLike,
    full_time: float,
    *,
    confidence: float = 0.95,
) -> Judged:
    """Judge restricted means from ``counts`` (S, n, K) of plants that lived ``times`` (K,).

    Raises
    ------
    ValueError
        For shapes that do not fit, a unit without plants, a full time not above zero.
    """
    y, m, scatter = _restricted(layout, counts, times, full_time)
    return judge_dispersion(layout, y, m, scatter, confidence=confidence)


def _restricted(
    layout: BatchLayout, counts: ArrayLike, times: ArrayLike, full_time: float
) -> tuple[Array, Array, PlantScatter]:
    """Units' restricted means (S, n), their plants, and how the cells' plants scatter."""
    held, lived = np.asarray(counts, dtype=float), np.asarray(times, dtype=float)
    if held.ndim != 3 or held.shape[1:] != (layout.n, lived.size):
        raise ValueError("counts must be seasons x units x times")
    m = held.sum(axis=2)
    if not full_time > 0.0 or (m <= 0.0).any():
        raise ValueError("every unit needs plants, and the full time must be above zero")
    cells = np.eye(layout.geometry.n_cells)[layout.geometry.cells]
    by_cell = np.einsum("snk,nt->stk", held, cells, optimize=True)
    n = by_cell.sum(axis=2)
    mean = (by_cell @ lived) / np.maximum(n, 1.0)
    squares = ((lived - mean[:, :, None]) ** 2 * by_cell).sum(axis=2)
    variance = squares / np.maximum(n, 1.0)
    variance[variance <= (1e-12 * full_time) ** 2] = 0.0
    return (held @ lived) / m, m, PlantScatter(n, mean, variance, full_time)


def judge_dispersion(
    layout: BatchLayout,
    values: ArrayLike,
    plants: ArrayLike,
    scatter: PlantScatter,
    *,
    confidence: float = 0.95,
) -> Judged:
    """Judge unit values (S, n) whose cells' plants scatter as ``scatter``, (S, t) each.

    Raises
    ------
    ValueError
        For shapes that do not fit, or a unit without plants.
    """
    y = season_values(values, layout.n)
    m = unit_plants(plants, y.shape[0], layout.n)
    scales = _scales(layout, y, m, scatter) if layout.geometry.df else []
    return _judge(layout, y, scales, confidence)


def judge_scores(
    layout: BatchLayout,
    values: ArrayLike,
    plants: ArrayLike,
    plant_variance: ArrayLike,
    *,
    aligned: tuple[ArrayLike, ArrayLike] | None = None,
    confidence: float = 0.95,
) -> Judged:
    """Judge log-rank scores (S, n) as ``linear.scores``; ``plant_variance`` (S, n).

    ``aligned``: aligned scores and their variance; the larger p of all arms counts.

    Raises
    ------
    ValueError
        For shapes that do not fit, or a unit without plants.
    """
    y = season_values(values, layout.n)
    m = unit_plants(plants, y.shape[0], layout.n)
    d = season_values(plant_variance, layout.n)
    scales = []
    if layout.geometry.df:
        rss = _residual_squares(layout, y)
        df = np.maximum(m.sum(axis=1) - layout.n, float(layout.geometry.df))
        there = ((d.max(axis=1) > 0.0) & (m.max(axis=1) > 1.0)).astype(float)
        equal = np.ones_like(y)
        rates = [equal, m / m.mean(axis=1, keepdims=True)]
        scales = [_Scale(d, there, df, own=False)]
        scales += [_units_scale(layout, rate, rss) for rate in rates]
    found = _judge(layout, y, scales, confidence)
    if aligned is None:
        return found
    beside = judge_scores(layout, aligned[0], m, aligned[1], confidence=confidence).p_all
    p_all = np.where(np.isfinite(found.p_all), np.fmax(found.p_all, beside), np.nan)
    return replace(found, p_all=p_all)


def _judge(layout: BatchLayout, y: Array, scales: list[_Scale], confidence: float) -> Judged:
    g = layout.geometry
    cells = np.eye(g.n_cells)[g.cells]
    judged = np.full(y.shape[0], g.df > 0)

    def of_contrast(k: int) -> tuple[Array, Array]:
        scale, squares = scales[k], layout.contrasts.rows**2
        return scale.phi[:, None] * (scale.d @ squares.T), scale.df_of(squares, cells)

    def of_mean(k: int) -> tuple[Array, Array]:
        scale = scales[k]
        df = scale.df_of(layout.means.rows**2, cells)
        found = mean_parts(layout, y, scale.d, scale.phi, df, dispersion=True)
        variance, whole = combine(*found)
        # a scale that tells nothing of a season is passed over there
        return np.where(scale.phi[:, None] > 0.0, variance, 0.0), whole

    contrasts = answer(
        y @ layout.contrasts.rows.T, layout.contrasts.estimable, judged, of_contrast,
        len(scales), confidence,
    )  # fmt: skip
    means = answer(
        y @ layout.means.rows.T, layout.means.estimable, judged, of_mean,
        len(scales) if len(layout.means.rows) else 0, confidence,
    )  # fmt: skip
    p_all = np.full(y.shape[0], np.nan)
    together = np.zeros((0, layout.n)) if layout.test_rows is None else layout.test_rows
    for scale in scales if together.size else []:
        squares = np.sum(together**2, axis=0, keepdims=True)
        phi = np.where(scale.phi > 0.0, scale.phi, np.nan)
        # what tells nothing is NaN and passed over
        with np.errstate(divide="ignore", invalid="ignore"):
            found = joint_p(layout, y, scale.d, phi, scale.df_of(squares, cells)[:, 0])
        np.fmax(p_all, found, out=p_all)
    return Judged(
        _largest_p(contrasts, [of_contrast(k) for k in range(len(scales))]),
        _largest_p(means, [of_mean(k) for k in range(len(scales) if means.p.size else 0)]),
        p_all,
    )


def _largest_p(answers: Answers, variances: list[tuple[Array, Array]]) -> Answers:
    """The same answers with the largest p of all their intervals."""
    p = answers.p
    for variance, df in variances:
        there = answers.judged & (variance > 0.0)
        t = answers.estimate / np.sqrt(np.where(there, variance, 1.0))
        p = np.where(there, np.fmax(p, t_tails(t, np.where(there, df, 1.0))), p)
    return replace(answers, p=p)


def _scales(layout: BatchLayout, y: Array, m: Array, scatter: PlantScatter) -> list[_Scale]:
    """Plants' scales first, as for single seasons."""
    g = layout.geometry
    rates = [1.0 / m]
    if (np.ptp(m, axis=1) > 0.0).any():
        rates.append(np.broadcast_to((1.0 / m).mean(axis=1, keepdims=True), m.shape))
    rss = _residual_squares(layout, y)
    by_units = scatter.variance[:, g.cells]
    of_units = [_units_scale(layout, by_units * rate, rss) for rate in rates]
    alike = likeness(of_units[0].phi, m.mean(axis=1))
    guarded = guarded_variances(scatter, g.counts, alike[:, None])[:, g.cells]
    cell_df = np.maximum(scatter.n - 1.0, 1.0)
    one = np.ones(len(y))
    own = [_Scale(guarded * rate, one, cell_df, own=True) for rate in rates]
    return own + of_units


def _residual_squares(layout: BatchLayout, y: Array) -> Array:
    """(S,) residual sum of squares; what rounding alone leaves behind is none."""
    held = y @ layout.residual_basis
    rss = np.einsum("sj,sj->s", held, held)
    rounding = 64.0 * np.finfo(float).eps * np.abs(y).max(axis=1)
    found: Array = np.where(rss <= layout.n * rounding**2, 0.0, rss)
    return found


def _units_scale(layout: BatchLayout, d: Array, rss: Array) -> _Scale:
    g = layout.geometry
    projector = layout.residual_basis @ layout.residual_basis.T
    first = d @ np.diag(projector)
    second = np.einsum("sn,sn->s", d @ (projector * projector), d)
    equal = np.ptp(d, axis=1) == 0.0
    first = np.where(equal, g.df * d[:, 0], first)
    tells = (rss > 0.0) & (first > 1e-12 * d.max(axis=1))
    safe = np.where(tells, first, 1.0)
    df = np.where(equal | ~tells, float(g.df), safe**2 / np.where(tells, second, 1.0))
    return _Scale(d, np.where(tells, rss / safe, 0.0), df, own=False)


def first_variances(layout: BatchLayout, alive: ArrayLike, plants: ArrayLike) -> Array:
    """(S, n) unit variances of the first scale of shares: those of families' correlations."""
    x = season_values(alive, layout.n, "alive")
    m = unit_plants(plants, x.shape[0], layout.n)
    cells = np.eye(layout.geometry.n_cells)[layout.geometry.cells]
    n = m @ cells
    p = (x @ cells) / np.maximum(n, 1.0)
    return _scales(layout, x / m, m, PlantScatter(n, p, p * (1.0 - p), 1.0))[0].d


def restricted_variances(
    layout: BatchLayout, counts: ArrayLike, times: ArrayLike, full_time: float
) -> Array:
    """The same of restricted means, from ``counts`` and ``times`` of the plants' lives."""
    return _scales(layout, *_restricted(layout, counts, times, full_time))[0].d
