"""Power where several strata hold treatments: split-plots and strip-plots.

A contrast's estimate is a sum over the units; its part in stratum k (whole plots, strips,
what lies in them) has the variance of that stratum's expected mean square,

    Var = sum over k of lambda_k c'P_k c,   lambda_k = s^2 + sum over j of m_j s_j^2,

s^2 the variance of a unit's summary, s_j^2 of larger pieces of kind j with m_j units each,
j running over the kinds whose pieces lie inside those of stratum k (Yates 1935; Nelder
1965). One stratum has its own degrees of freedom; where a contrast lies in several they are
Satterthwaite's (1946). A trial of n times the blocks has n times the information and degrees
of freedom. Leans on analysis.units, layout.structure; numpy.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickstats.analysis.units import Units, lay_out_units
from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout
from wickstats.layout.structure import degrees

Array = NDArray[np.float64]
SEVERAL_STRATA = ("split-plot", "strip-plot")
NONE = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Pieces:
    """What a balanced layout knows of its strata.

    Attributes
    ----------
    count
        Blocks, or replicates of the whole plots where there are none.
    word
        "blocks" or "replicates".
    units
        (t,) units of each treatment.
    names
        Of the strata, from the largest pieces down.
    parts
        (s, t, t) covariance of the treatments in each stratum, in its mean squares.
    inside
        (s, s) m_j where pieces of kind j lie inside those of stratum k; 0 for the units.
    error, total
        (s,) degrees of freedom of each stratum for error, and in all.
    fixed
        (s,) degrees of freedom that do not grow with the trial: the mean, where the largest
        pieces lie in no block; runs, where every coil was cut for every run.
    """

    count: int
    word: str
    units: NDArray[np.int64]
    names: tuple[str, ...]
    parts: Array
    inside: Array
    error: Array
    total: Array
    fixed: Array

    def mean_squares(self, unit: float, larger: float) -> Array:
        """(s,) expected mean squares, with ``larger`` the variance of each larger piece."""
        out: Array = unit + self.inside.sum(axis=1) * larger
        return out

    def shares(self, weights: Array, count: int) -> Array:
        """(s,) factors of the mean squares in a contrast's variance."""
        found = np.einsum("i,sij,j->s", weights, self.parts, weights)
        found[found < NONE * found.max()] = 0.0
        out: Array = found * (self.count / count)
        return out

    def covariance(self, rows: Array, squares: Array, count: int) -> Array:
        """(k, k) of contrasts (k, t) under mean squares (s,)."""
        whole = np.tensordot(squares, self.parts, axes=1) * (self.count / count)
        return np.asarray(rows @ whole @ rows.T)

    def units_at(self, count: int) -> NDArray[np.int64]:
        """(t,) units of each treatment with so many blocks."""
        return np.ceil(self.units * count / self.count - 1e-9).astype(np.int64)

    def error_at(self, count: int) -> Array:
        """(s,) degrees of freedom for error with so many blocks."""
        terms = self.total - self.error
        out: Array = (self.total + self.fixed) * (count / self.count) - self.fixed - terms
        return out

    def needs_larger(self, weights: Array) -> bool:
        """Whether a contrast's variance rests on how much larger pieces differ."""
        held = self.shares(weights, self.count) > 0.0
        return bool((self.inside.sum(axis=1)[held] > 0.0).any())


def pieces_of(trial: Trial, layout: Layout, cells: tuple[str, ...]) -> Pieces | None:
    """Read them off a layout; None where its pieces are not filled evenly."""
    units = lay_out_units(trial, layout)
    if tuple(units.cell_names) != cells or len(np.unique(units.cells)) != len(cells):
        return None
    spans = _spans(units)
    estimator = _estimator(units)
    parts = [basis.T @ estimator for basis in spans]
    left = estimator - sum(basis @ part for basis, part in zip(spans, parts, strict=True))
    if np.abs(left).max() > NONE * np.abs(estimator).max():
        return None
    inside = _inside(units)
    for basis, part, row in zip(spans, parts, inside, strict=True):
        for stratum, held in zip(units.strata[:-1], row, strict=False):
            if not _even(stratum.codes, basis @ part, held):
                return None
    names = tuple(stratum.name for stratum in units.strata)
    rows = degrees(layout)
    error = [sum(r.df for r in rows if r.stratum == n and r.term == "residual") for n in names]
    total = [sum(r.df for r in rows if r.stratum == n) for n in names]
    # more runs cut from the same coils are no more coils: such a trial grows by its coils
    blocks = 0 if units.coils_in_runs else units.n_blocks
    fixed = np.zeros(len(names))
    fixed[0] = 1.0 if units.coils_in_runs or not units.grounds else 0.0
    if units.coils_in_runs:
        fixed[-1] = units.n_blocks - 1.0
    design = trial.design
    replicates = design.replicates if isinstance(design.replicates, int) else None
    count = blocks or replicates or int(np.bincount(units.cells).min())
    return Pieces(
        count=count,
        word="blocks" if blocks else "replicates",
        units=np.bincount(units.cells, minlength=len(cells)).astype(np.int64),
        names=names,
        parts=np.array([part.T @ part for part in parts]),
        inside=inside,
        error=np.array(error, dtype=float),
        total=np.array(total, dtype=float),
        fixed=fixed,
    )


def _marks(codes: NDArray[np.int64]) -> Array:
    return np.asarray(codes[:, None] == np.unique(codes), dtype=float)


def _ground(units: Units) -> Array:
    return np.hstack([np.ones((units.n, 1)), *(shares for _, shares in units.grounds)])


def _basis(columns: Array, taken: Array) -> Array:
    """Orthonormal basis of columns beyond those of an orthonormal ``taken``."""
    rest = columns - taken @ (taken.T @ columns)
    u, s, _ = np.linalg.svd(rest, full_matrices=False)
    return np.asarray(u[:, s > 1e-8 * max(1.0, float(s.max(initial=0.0)))])


def _spans(units: Units) -> list[Array]:
    """Orthonormal bases (n, .) of the strata, what larger pieces hold taken out."""
    taken = _basis(_ground(units), np.zeros((units.n, 0)))
    out = []
    for stratum in units.strata:
        own = _basis(_marks(stratum.codes), taken)
        out.append(own)
        taken = np.hstack([taken, own])
    return out


def _estimator(units: Units) -> Array:
    """(n, t) weights of the units in the treatments' effects, the ground fixed."""
    x = (units.cells[:, None] == np.arange(units.n_cells)).astype(float)
    ground = _basis(_ground(units), np.zeros((units.n, 0)))
    centered = x - ground @ (ground.T @ x)
    return np.asarray(centered @ np.linalg.pinv(centered.T @ x, rcond=1e-10, hermitian=True))


def _inside(units: Units) -> Array:
    size = len(units.strata)
    out = np.zeros((size, size))
    for k, outer in enumerate(units.strata):
        for j, inner in enumerate(units.strata[:-1]):
            pairs = len(set(zip(inner.codes.tolist(), outer.codes.tolist(), strict=True)))
            if pairs == len(np.unique(inner.codes)):
                out[k, j] = units.n / pairs
    return out


def _even(codes: NDArray[np.int64], part: Array, held: float) -> bool:
    """Whether summing over pieces multiplies the part by their size (or makes it zero)."""
    marks = _marks(codes)
    off = marks @ (marks.T @ part) - held * part
    return float(np.abs(off).max()) <= 1e-7 * max(1.0, held) * float(
        np.abs(part).max() + 1e-300
    )
