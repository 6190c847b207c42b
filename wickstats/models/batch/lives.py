"""Log-rank scores of many seasons from deaths by unit and visit, and shared redraws.

All seasons share the units, their blocks and the visits. With d and r the deaths and the
plants at risk of a block at a visit, its hazard is d / r; with H the hazards summed up to a
visit a plant that died there scores 1 - H and one last seen alive there -H (Mantel 1966;
Sun 1996, Stat. Med. 15:1387), as in ``models.lifetimes.scores``. A unit's number is the
sum over its plants, the sign turned so that more means longer lives. Aligned scores, with
the hazards of the whole trial and each block's mean taken off, stand beside.

Re-randomization of the arms: with blocks fixed and an orthonormal basis Q of what a
layout's arms add to its blocks, the sum of squares of arms is |Q'y|^2. Scores are linear
in labels, so that one matrix product serves all seasons and all layouts, which the seasons
share. A test holds both equal to the single-season code. Leans on numpy,
models.lifetimes.scores and models.redraw.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wickstats.models.lifetimes.scores import ROUNDING
from wickstats.models.redraw.scheme import (
    DRAWS,
    EXACT_LIMIT,
    IntArray,
    all_layouts,
    count_layouts,
    generator,
    group_codes,
    sample_layouts,
)
from wickstats.models.redraw.statistic import EXACT_FIT
from wickstats.models.redraw.terms import TIE

Array = NDArray[np.float64]
RANK = 1e-9
HELD = 8_000_000  # numbers held at once


@dataclass(frozen=True, slots=True, eq=False)
class SeasonScores:
    """Scores of S seasons on n units.

    Attributes
    ----------
    scores
        (S, n) sums by unit; above zero: longer lives than expected.
    plant_variance
        (S, n) plants of the unit times the variance of plants' scores in its block.
    plants
        (S, n) plants of each unit.
    aligned, aligned_variance
        (S, n) the same of aligned scores.
    """

    scores: Array
    plant_variance: Array
    plants: Array
    aligned: Array
    aligned_variance: Array


@dataclass(frozen=True, slots=True, eq=False)
class SharedRedraws:
    """Layouts that all seasons share; the first is the observed one.

    Attributes
    ----------
    basis
        (n, (R + 1) q) orthonormal columns, q a layout; zero where the layout spends less.
    df_num, df_den
        (R + 1,) degrees of freedom of arms and of error.
    estimable
        (R + 1,) whether all differences of arms can be estimated.
    within
        (n, n) what takes the block means away.
    exact
        Whether these are all layouts of the scheme, the observed one among them.
    """

    basis: Array
    df_num: IntArray
    df_den: IntArray
    estimable: NDArray[np.bool_]
    within: Array
    exact: bool

    @property
    def total(self) -> int:
        """Number of layouts redrawn."""
        return int(self.df_den.size) - 1


def score_seasons(
    deaths: ArrayLike,
    plants: ArrayLike,
    blocks: ArrayLike | None = None,
    *,
    lost: ArrayLike | None = None,
) -> SeasonScores:
    """Score all seasons.

    Parameters
    ----------
    deaths
        (S, n, K) plants of each unit first seen dead at each of K visits.
    plants
        (n,) or (S, n) plants of each unit, above zero.
    blocks
        (n,) block codes; None for one stratum.
    lost
        (S, n, K) plants of each unit last seen alive at each visit but the last; None:
        all others were followed to the last visit.

    Raises
    ------
    ValueError
        For shapes that do not fit, numbers below zero, or more deaths than plants.
    """
    d = np.asarray(deaths, dtype=float)
    if d.ndim != 3:
        raise ValueError(f"deaths must be seasons x units x visits, found {d.shape}")
    seasons, n, _ = d.shape
    m = np.broadcast_to(np.asarray(plants, dtype=float), (seasons, n))
    gone = np.zeros_like(d) if lost is None else np.asarray(lost, dtype=float)
    if gone.shape != d.shape:
        raise ValueError(f"lost must be {d.shape}, found {gone.shape}")
    left = m - d.sum(axis=2) - gone.sum(axis=2)
    if d.min(initial=0.0) < 0.0 or gone.min(initial=0.0) < 0.0 or left.min(initial=0.0) < 0.0:
        raise ValueError("deaths and lost must be at least 0 and no more than the plants")
    if m.min(initial=1.0) <= 0.0:
        raise ValueError("every unit needs plants")
    incidence = np.eye(int(group_codes(blocks, n).max()) + 1)[group_codes(blocks, n)]
    # plants that leave at each visit, so that at risk before it are those that leave later
    out = d if lost is None else d + gone
    before = np.cumsum(out, axis=2)
    before -= out
    risk = m[:, :, None] - before
    held = m @ incidence
    rest = np.maximum(held - 1.0, 1.0)
    lives = (d, None if lost is None else gone, left, risk)
    values, squares, _ = _on_curves(*lives, incidence)
    own = m * ((squares @ incidence / rest) @ incidence.T)
    common, squares, end = _on_curves(*lives, np.ones((n, 1)))
    mean, whole = (common @ incidence) / held, squares @ incidence
    about = whole - held * mean**2
    # a block in which all fared alike tells nothing: what rounding leaves there is none
    about[about <= ROUNDING * whole] = 0.0
    aligned = common - m * (mean @ incidence.T)
    aligned[np.abs(aligned) <= ROUNDING * m * np.maximum(1.0, end)] = 0.0
    return SeasonScores(values, own, m, aligned, m * ((about / rest) @ incidence.T))


def _on_curves(
    d: Array, gone: Array | None, left: Array, risk: Array, incidence: Array
) -> tuple[Array, Array, Array]:
    """(S, n) sums of scores on the curves of groups, of their squares, and the last H."""
    hazard = np.matmul(incidence.T, d) / np.maximum(np.matmul(incidence.T, risk), 1.0)
    total = np.matmul(incidence, np.cumsum(hazard, axis=2))
    values = np.einsum("snk,snk->sn", risk, np.matmul(incidence, hazard)) - d.sum(axis=2)
    end = total[:, :, -1]
    squares = np.einsum("snk,snk->sn", d, (1.0 - total) ** 2) + left * end**2
    if gone is not None:
        squares += np.einsum("snk,snk->sn", gone, total**2)
    return values, squares, end


def lay_redraws(
    cells: ArrayLike,
    blocks: ArrayLike | None = None,
    *,
    seed: int | str,
    stream: str,
    draws: int = DRAWS,
) -> SharedRedraws:
    """All layouts of the scheme, or ``draws`` seeded ones, as ``redraw.terms`` has them.

    Parameters
    ----------
    cells, blocks
        (n,) codes; labels move inside blocks.
    seed, stream, draws
        The stream and the number of layouts where there are more than 65,536.

    Raises
    ------
    ValueError
        For shapes that do not fit, or a design without another layout or without error.
    """
    codes = np.asarray(cells, dtype=np.int64)
    group = group_codes(blocks, codes.size)
    exact = count_layouts(codes, group) <= EXACT_LIMIT
    if exact:
        layouts = all_layouts(codes, group)
    else:
        layouts = sample_layouts(codes, group, draws, generator(seed, stream))
    if len(layouts) < 2:
        raise ValueError("the scheme allows no other layout")
    sizes = np.bincount(group)
    within = np.eye(codes.size) - (group[:, None] == group) / sizes[group]
    t, kept = int(codes.max()) + 1, codes.size - sizes.size
    everything = np.concatenate([codes[None, :], layouts])
    step = max(1, HELD // (codes.size * t))
    parts = [
        _bases(everything[i : i + step], t, within) for i in range(0, len(everything), step)
    ]
    df_num = np.concatenate([part[1] for part in parts])
    q = max(part[0].shape[2] for part in parts)
    columns = np.zeros((codes.size, len(everything), q))
    at = 0
    for basis, _ in parts:
        columns[:, at : at + len(basis), : basis.shape[2]] = basis.transpose(1, 0, 2)
        at += len(basis)
    df_den = kept - df_num
    if df_den[0] <= 0:
        raise ValueError("no degrees of freedom are left for the error")
    full = df_num == np.unique(codes).size - 1
    return SharedRedraws(
        columns.reshape(codes.size, -1), df_num, df_den, full & (df_den > 0), within, exact
    )


def redraw_seasons(redraws: SharedRedraws, values: ArrayLike) -> Array:
    """(S,) re-randomization p of the arms in seasons with unit values (S, n).

    Raises
    ------
    ValueError
        For another shape or values that are not finite.
    """
    y = np.asarray(values, dtype=float)
    if y.ndim != 2 or y.shape[1] != redraws.within.shape[0] or not np.isfinite(y).all():
        raise ValueError("values must be finite, seasons x units")
    step = max(1, HELD // redraws.basis.shape[1])
    found = [_chances(redraws, y[i : i + step]) for i in range(0, len(y), step)]
    return np.concatenate(found) if found else np.zeros(0)


def _chances(redraws: SharedRedraws, values: Array) -> Array:
    y = values @ redraws.within
    total = np.einsum("sn,sn->s", y, y)[:, None]
    parts = y @ redraws.basis
    parts *= parts
    size = redraws.df_num.size
    explained = parts.reshape(len(y), size, -1).sum(axis=2)
    residual = np.maximum(total - explained, 0.0)
    # what rounding leaves of nothing is nothing, as in the single-season code
    residual[residual <= EXACT_FIT * total] = 0.0
    explained[explained <= EXACT_FIT * total] = 0.0
    rate = redraws.df_den / np.maximum(redraws.df_num, 1)
    f = np.zeros_like(explained)
    np.divide(explained * rate, residual, out=f, where=residual > 0.0)
    f[(residual == 0.0) & (explained > 0.0)] = np.inf
    f[:, ~redraws.estimable] = np.inf
    count = (f[:, 1:] >= f[:, :1] * (1.0 - TIE)).sum(axis=1)
    if redraws.exact:
        return np.asarray(count / redraws.total)
    return np.asarray((1.0 + count) / (1.0 + redraws.total))


def _bases(layouts: IntArray, t: int, within: Array) -> tuple[Array, IntArray]:
    """(R, n, q) orthonormal bases of arms within blocks, and their ranks."""
    arms = (layouts[:, :, None] == np.arange(t)).astype(float)
    inside = np.matmul(within, arms)
    # eigenvectors of the arms' cross products: one small problem a layout
    values, vectors = np.linalg.eigh(np.matmul(arms.transpose(0, 2, 1), inside))
    good = values > RANK * np.maximum(values[:, -1:], 1e-300)
    scale = np.where(good, 1.0 / np.sqrt(np.where(good, values, 1.0)), 0.0)
    rank = good.sum(axis=1).astype(np.int64)
    q = int(rank.max())
    basis = np.matmul(inside, vectors * scale[:, None, :])[:, :, t - q :]
    return basis, rank
