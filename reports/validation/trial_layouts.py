"""Units, plants and what is left of each cell's trial.

Leans on numpy, trial_cells and study_cells (the generator).
"""

from dataclasses import dataclass

import numpy as np
from study_cells import generator
from trial_cells import LEFT, PATTERN_SEED, Trial

# balanced incomplete blocks: the arms of each block, with those of the sets given
INCOMPLETE = {
    (6, 4): [(0, 1), (0, 2), (0, 3), (1, 2), (1, 3), (2, 3)],
    (10, 5): [(a, b) for a in range(5) for b in range(a + 1, 5)],
    (7, 7): [tuple((i + k) % 7 for k in (0, 1, 3)) for i in range(7)],
    (10, 6): [(0, 1, 2), (0, 1, 3), (0, 2, 4), (0, 3, 5), (0, 4, 5),
              (1, 2, 5), (1, 3, 4), (1, 4, 5), (2, 3, 4), (2, 3, 5)],
}  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Plots:
    """The units that are left, and their plants.

    Attributes
    ----------
    cells
        (n,) cell of each unit.
    n_cells
        Cells of the trial.
    classes
        Classifications of the units: blocks; rows and columns; none twice.
    whole_plots
        (n,) whole plot of each unit, or None.
    units
        (N,) unit of each plant that is left.
    """

    cells: np.ndarray
    n_cells: int
    classes: tuple[np.ndarray, ...]
    whole_plots: np.ndarray | None
    units: np.ndarray

    @property
    def n(self) -> int:
        """Number of units."""
        return int(self.cells.size)

    @property
    def plants(self) -> np.ndarray:
        """(n,) plants of each unit."""
        return np.bincount(self.units, minlength=self.n)


def lay_trial(trial: Trial) -> Plots:
    """Lay out a cell, with its own fixed pattern of what is left."""
    cells, classes, whole = _units(trial)
    n_cells = int(cells.max()) + 1
    left = _left(trial, cells, classes)
    kept = left > 0
    return Plots(
        cells=cells[kept],
        n_cells=n_cells,
        classes=tuple(np.unique(c[kept], return_inverse=True)[1] for c in classes),
        whole_plots=None if whole is None else whole[kept],
        units=np.repeat(np.arange(int(kept.sum())), left[kept]),
    )


def _units(trial: Trial) -> tuple[np.ndarray, tuple[np.ndarray, ...], np.ndarray | None]:
    b, t = trial.blocks, trial.arms
    if trial.group == "square":
        row, column = np.divmod(np.arange(t * t), t)
        return (row + column) % t, (row, column), None
    if trial.group == "incomplete":
        held = INCOMPLETE[b, t]
        block = np.repeat(np.arange(len(held)), [len(one) for one in held])
        return np.array([arm for one in held for arm in one]), (block,), None
    if trial.group == "split-plot":
        block, arm, sub = (part.ravel() for part in np.indices((b, t, 2)))
        return arm * 2 + sub, (block,), block * t + arm
    return np.tile(np.arange(t), b), (np.repeat(np.arange(b), t),), None


def _left(trial: Trial, cells: np.ndarray, classes: tuple[np.ndarray, ...]) -> np.ndarray:
    """(n,) plants left of each unit; drawn anew until the null pair can be compared."""
    n, m = cells.size, trial.plants
    if trial.pattern == "complete":
        return np.full(n, m)
    # the pattern does not depend on the truth or the variance
    size = f"{trial.group}|{trial.blocks}x{trial.arms}x{m}|{trial.pattern}"
    rng = generator(PATTERN_SEED, size)
    while True:
        alive = np.ones((n, m), dtype=bool)
        if trial.pattern == "a plot lost":
            alive[rng.integers(n)] = False
        elif trial.pattern in LEFT:
            share = 0.3 if trial.pattern == LEFT[0] else 0.5
            for first, part in ((True, share), (False, 0.95)):
                _lose(rng, alive, (cells == 0) == first, part)
        else:
            _lose(rng, alive, np.ones(n, dtype=bool), 0.85)
        left = alive.sum(axis=1)
        if _can_tell(cells[left > 0], [c[left > 0] for c in classes], int(cells.max()) + 1):
            return left


def _lose(rng: np.random.Generator, alive: np.ndarray, units: np.ndarray, share: float) -> None:
    """Keep a share of the plants of some units, any of them."""
    places = np.argwhere(alive & units[:, None])
    lost = rng.permutation(len(places))[: len(places) - round(share * len(places))]
    alive[tuple(places[lost].T)] = False


def _can_tell(cells: np.ndarray, classes: list[np.ndarray], n_cells: int) -> bool:
    """Whether every difference of cells can be estimated with an error df to spare."""
    parts = [np.eye(n_cells)[cells], *(np.eye(int(c.max()) + 1)[c] for c in classes)]
    others = np.hstack(parts[1:])
    rank = int(np.linalg.matrix_rank(np.hstack(parts)))
    full = rank - int(np.linalg.matrix_rank(others)) == n_cells - 1
    return full and cells.size - rank >= 1
