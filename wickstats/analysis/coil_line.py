"""First line of coils and pieces where values are counted up to a top: each cord on its own.

Cords whose pieces stood at the top do not vary, so that one variance pooled over cords is too
small for the others (a null pair beside two such cords would be called different in 18 % of
trials). Here every contrast is reduced to numbers that lie each in one coil,

    d = sum over the coil's treatments of weight times mean value

one a coil; or, where the weights sum to zero within every cord, so that coils cancel, one a
coil and run. Their means over each cord's own coils add up to the contrast; the cords'
variances add, with degrees of freedom by Welch (1947, Biometrika 34:28) and Satterthwaite.
Runs are taken out by least squares beforehand, within groups of runs that share coils;
between groups they stay in the coils' numbers, and in their scatter. Leans on line_bases,
models.linear and scipy.
"""

from dataclasses import dataclass

import numpy as np

from wickstats.analysis.line import Used
from wickstats.analysis.line_bases import UnpooledLine
from wickstats.analysis.units import Array, IntArray
from wickstats.core.words import say
from wickstats.models.linear.estimates import Estimate, combine_parts, only_estimate, widest

OWN_COILS = "own coils of each cord"
WITHIN_COILS = "differences within coils"


@dataclass(frozen=True, slots=True, eq=False)
class CoilLine(UnpooledLine):
    """Each contrast on the coils of its own cords."""

    notes: tuple[str, ...] = ()
    bonferroni: bool = True
    rule: str = "paired"

    def contrast(self, weights: Array) -> Estimate:
        """Numbers of coils, or of coils and runs where coils cancel."""
        cords = self._cord_of_cells()
        used = np.unique(cords[weights != 0.0])
        inner = all(abs(float(weights[cords == c].sum())) <= 1e-12 for c in used)
        runs = self.used.block_codes
        coils = self.used.units.strata[0].codes[self.used.where]
        if inner and runs is not None:
            pieces = np.unique(np.stack([coils, runs]), axis=1, return_inverse=True)[1]
            return self._from(weights, np.asarray(pieces, dtype=np.int64).ravel(), WITHIN_COILS)
        return self._from(weights, coils, OWN_COILS)

    def mean(self, weights: Array) -> Estimate:
        """Mean of the cords' own coils."""
        coils = self.used.units.strata[0].codes[self.used.where]
        return self._from(weights, coils, OWN_COILS)

    def _from(self, weights: Array, groups: IntArray, basis: str) -> Estimate:
        values, cells = self._without_runs(), self.used.cells
        cords = self._cord_of_cells()
        estimate, parts = 0.0, []
        for cord in np.unique(cords[weights != 0.0]):
            asked = np.flatnonzero((cords == cord) & (weights != 0.0))
            own = []
            for group in np.unique(groups[np.isin(cells, asked)]):
                held = [values[(groups == group) & (cells == cell)] for cell in asked]
                if all(part.size for part in held):
                    own.append(
                        sum(
                            float(weights[c]) * float(p.mean())
                            for c, p in zip(asked, held, strict=True)
                        )
                    )
            if not own:
                return only_estimate(None, say("linear no unit"))
            estimate += float(np.mean(own))
            parts.append(np.asarray(own))
        if any(part.size < 2 for part in parts):
            return only_estimate(estimate, say("linear one unit an arm"))
        total = combine_parts(
            (float(part.var(ddof=1)) / part.size, part.size - 1.0) for part in parts
        )
        size = float(np.abs(values).max(initial=0.0))
        if total[0] <= (64 * np.finfo(float).eps * size) ** 2:
            return only_estimate(estimate, say("linear no scatter"))
        return widest(estimate, [(basis, total)], self.used.confidence)

    def _cord_of_cells(self) -> IntArray:
        """(t,) a code of each treatment's levels of what is applied to coils."""
        units = self.used.units
        grid = np.indices(units.shape).reshape(len(units.shape), -1)
        outer = grid[list(units.strata[0].factors)]
        codes = np.unique(outer, axis=1, return_inverse=True)[1]
        return np.asarray(codes, dtype=np.int64).ravel()

    def _without_runs(self) -> Array:
        """(n used,) values less what runs do, by least squares beside coils and treatments."""
        used = self.used
        runs = used.block_codes
        if runs is None:
            return used.values
        coils = used.units.strata[0].codes[used.where]
        both = np.unique(np.stack([coils, used.cells]), axis=1, return_inverse=True)[1].ravel()
        one, other = _marks(both), _marks(runs)
        beta = np.linalg.lstsq(np.hstack([one, other]), used.values, rcond=None)[0]
        effect = beta[one.shape[1] :]
        groups = run_groups(both, runs)
        for group in np.unique(groups):  # between groups, runs cannot be told from coils
            effect[groups == group] -= effect[groups == group].mean()
        out: Array = used.values - other @ effect
        return out

    @property
    def fitted(self) -> Array:
        """Means of the treatments."""
        used = self.used
        count = np.bincount(used.cells, minlength=used.units.n_cells)
        total = np.bincount(used.cells, weights=used.values, minlength=used.units.n_cells)
        product: Array = (total / np.maximum(count, 1))[used.cells]
        return product


def run_groups(pieces: IntArray, runs: IntArray) -> IntArray:
    """(runs,) groups of runs, in the order of their codes, that share coils' treatments."""
    from scipy.sparse.csgraph import connected_components

    shared = _marks(runs).T @ _marks(pieces)
    labels = connected_components(shared @ shared.T, directed=False)[1]
    return np.asarray(labels, dtype=np.int64)


def notes_on_runs(used: Used) -> tuple[str, ...]:
    """What cannot be taken out: differences between runs that share no coil."""
    runs = used.block_codes
    if runs is None:
        return ()
    coils = used.units.strata[0].codes[used.where]
    both = np.unique(np.stack([coils, used.cells]), axis=1, return_inverse=True)[1].ravel()
    n = np.unique(run_groups(both, runs)).size
    return (say("runs apart", n=n),) if n > 1 else ()


def _marks(codes: IntArray) -> Array:
    out: Array = (codes[:, None] == np.unique(codes)).astype(float)
    return out
