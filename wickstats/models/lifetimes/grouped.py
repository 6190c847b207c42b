"""Lives between visits as deaths among those at risk, by unit and step.

Steps are the visits, joined where a death may lie on either side of one. Steps and blocks in
which no plant at risk died, or every one did, tell nothing of arms and stay out. Leans on
numpy.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wickstats.core.words import say
from wickstats.models.linear.estimates import Array, IntArray


@dataclass(frozen=True, slots=True, eq=False)
class HazardData:
    """Deaths among those at risk.

    Attributes
    ----------
    deaths, at_risk
        (n,) of each unit in each step that holds a death.
    units
        (n,) unit of each row.
    design
        (n, p) steps, then arms but the first of those left, then blocks but the first.
    arms
        (p_arms + 1,) codes of the arms with plants; the first is the one set to zero.
    first
        Position of the first arm's column.
    empty
        Arms of those that lost no plant.
    """

    deaths: Array
    at_risk: Array
    units: IntArray
    design: Array
    arms: IntArray
    first: int
    empty: tuple[int, ...]


def group_lives(
    lows: ArrayLike,
    highs: ArrayLike,
    units: ArrayLike,
    arms: ArrayLike,
    blocks: ArrayLike | None = None,
) -> HazardData | str:
    """Deaths and plants at risk by unit and step, or why there is nothing to fit.

    Parameters
    ----------
    lows, highs
        (n,) death lies in (low, high]; high inf: not seen dead.
    units
        (n,) unit codes 0..u-1.
    arms, blocks
        (u,) codes of each unit.

    Raises
    ------
    ValueError
        For shapes that do not fit.
    """
    low, high = np.asarray(lows, dtype=float), np.asarray(highs, dtype=float)
    unit, arm = np.asarray(units, dtype=np.int64), np.asarray(arms, dtype=np.int64)
    block = np.zeros(arm.size, np.int64) if blocks is None else np.asarray(blocks, np.int64)
    if not low.shape == high.shape == unit.shape or arm.shape != block.shape:
        raise ValueError("one (low, high] and unit a plant, one arm and block a unit")
    died = np.isfinite(high)
    if not died.any():
        return say("hazards no deaths")
    cuts = _cuts(low[died], high[died])
    step = np.searchsorted(cuts, high[died], side="left") - 1
    deaths = np.zeros((arm.size, cuts.size - 1))
    np.add.at(deaths, (unit[died], step), 1.0)
    # alive for certain up to low: at risk in the steps that end by then, and in the last
    survived = np.where(died, 0, np.searchsorted(cuts, low, side="right") - 1)
    at_risk = np.zeros_like(deaths)
    for k in range(deaths.shape[1]):
        passed = np.bincount(unit[~died & (survived > k)], minlength=arm.size)
        at_risk[:, k] = passed + deaths[:, k:].sum(axis=1)
    rows = _telling(deaths, at_risk, block)
    who, when = np.nonzero(rows)
    if np.unique(arm[who]).size < 2:
        there = np.unique(arm[np.nonzero(at_risk)[0]]).size
        return say("hazards all alike" if there > 1 and not who.size else "hazards one arm")
    return _data(deaths[rows], at_risk[rows], who, when, arm, block)


def _telling(deaths: Array, at_risk: Array, block: IntArray) -> NDArray[np.bool_]:
    """(u, steps) plants at risk, without steps and blocks in which none died or all did.

    The effect of such a step or block fits it exactly, whatever the arms' effects are;
    leaving one out may make another such.
    """
    rows = at_risk > 0.0
    while True:
        dead, there = np.where(rows, deaths, 0.0), np.where(rows, at_risk, 0.0)
        in_step = (dead.sum(axis=0) > 0.0) & (dead.sum(axis=0) < there.sum(axis=0))
        died = np.bincount(block, weights=dead.sum(axis=1))
        in_block = (died > 0.0) & (died < np.bincount(block, weights=there.sum(axis=1)))
        kept: NDArray[np.bool_] = rows & in_step & in_block[block][:, None]
        if np.array_equal(kept, rows):
            return kept
        rows = kept


def _cuts(low: Array, high: Array) -> Array:
    """Points that no death's interval straddles, from below the first to the last."""
    points = np.unique(np.concatenate([low, high]))
    inside = ((points[:, None] > low) & (points[:, None] < high)).any(axis=1)
    kept = points[~inside]
    # a death on a known day lies in the step that ends there
    return (
        np.concatenate([[min(float(kept[0]), 0.0) - 1.0], kept])
        if (low == high).any()
        else kept
    )


def _data(
    deaths: Array, at_risk: Array, who: IntArray, when: IntArray, arm: IntArray, block: IntArray
) -> HazardData:
    steps, step = np.unique(when, return_inverse=True)
    arms = np.unique(arm[who])
    lost = np.bincount(arm[who], weights=deaths, minlength=int(arms.max()) + 1)
    empty = tuple(int(a) for a in arms if lost[a] == 0.0)
    # the first arm with deaths is set to zero
    order = np.array(sorted(arms, key=lambda a: (int(a) in empty, int(a))), dtype=np.int64)
    blocks = np.unique(block[who])
    columns = [
        np.eye(steps.size)[step],
        (arm[who][:, None] == order[1:]).astype(float),
        (block[who][:, None] == blocks[1:]).astype(float),
    ]
    return HazardData(
        deaths, at_risk, who.astype(np.int64), np.hstack(columns), order, steps.size, empty
    )
