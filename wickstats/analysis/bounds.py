"""Arms in which every plant lived or every plant died: one-sided bounds and verdicts.

Such a pair's verdict is better, worse or cannot tell, from the bound of the difference:
the one-sided limit of the extreme arm at n / (1 + (m - 1) rho) plants beside the one-sided
limit of the other, each at the family's Bonferroni share, their distances added as squares
(Newcombe 1998, Stat. Med. 17:873; Zou & Donner 2008, Stat. Med. 27:1693). Leans on
models.lifetimes.intervals.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wickstats.analysis.line import Line
from wickstats.analysis.sentences import plants_words, share_key, subject_words
from wickstats.analysis.strata_line import StrataLine
from wickstats.analysis.summary import Summary
from wickstats.analysis.units import Array, IntArray, Units
from wickstats.analysis.verdict import Better, one_sided_word, verdict_of_bound
from wickstats.core.fates import fates_words
from wickstats.core.numbers import confidence_level, number, percent
from wickstats.core.words import say
from wickstats.models.lifetimes.intervals import (
    ShareBound,
    plot_correlation,
    share_bound,
    share_interval,
)
from wickstats.models.linear.dispersion import OWN

BOTH = "both"  # a bound on either side


@dataclass(frozen=True, slots=True)
class Arm:
    """Counts of one side by unit, and its limits."""

    share: float
    low: float
    high: float
    extreme: str | None  # lived | died
    bound: ShareBound | None


@dataclass(frozen=True, slots=True)
class PairBound:
    """The bound of one comparison: difference of the arms' shares, limits within -1 to 1.

    Each limit alone holds at the confidence; ``fates`` says which arms lived or died.
    ``side``: 1 or -1 where the plan asks only whether better, and one limit is told.
    """

    verdict: str
    difference: float
    low: float
    high: float
    fates: str
    rho: float
    side: int = 0

    @property
    def ends(self) -> tuple[float | None, float | None]:
        """The limits that are told."""
        return None if self.side < 0 else self.low, None if self.side > 0 else self.high

    @property
    def which(self) -> str:
        """On which sides there is a limit."""
        return one_sided_word(self.side) or BOTH

    @property
    def words(self) -> str:
        """The bound in plants of 100."""
        low, high = of_hundred(self.low), of_hundred(self.high)
        if self.side:
            return (
                say("bound above", low=low) if self.side > 0 else say("bound below", high=high)
            )
        return say("bound range", low=low, high=high)


def of_hundred(difference: float) -> str:
    """As plants of 100; no difference is "as many", never "no more alive"."""
    same = round(100.0 * abs(difference)) == 0
    return say("as many") if same else plants_words(difference)


def rho_of(summary: Summary, line: Line, planned: float | None) -> float:
    """Plot correlation for the bounds: the largest of plan, dispersion and 0.1."""
    used = summary.plants[summary.used]
    m = float(used.mean()) if used.size else 1.0
    phi = None
    if isinstance(line, StrataLine) and line.fit.rule == "dispersion" and line.fit.scales:
        phi = next((scale.phi for scale in line.fit.scales if scale.basis == OWN), None)
    return plot_correlation(planned, phi, m)


def is_extreme(summary: Summary, units: Units, cells: IntArray) -> str | None:
    """``lived`` or ``died`` where all plants of those cells did; None otherwise."""
    if summary.alive is None:
        return None
    held = np.isin(units.cells, cells) & summary.used
    total = float(summary.plants[held].sum())
    alive = float(summary.alive[held].sum())
    if total == 0.0:
        return None
    return "lived" if alive == total else "died" if alive == 0.0 else None


def side_of(
    summary: Summary, units: Units, cells: IntArray, rho: float, confidence: float
) -> Arm | None:
    """One side with one-sided limits at ``confidence``; None without plants or interval."""
    held = np.isin(units.cells, cells) & summary.used
    if summary.alive is None or not held.any():
        return None
    alive, plants = summary.alive[held], summary.plants[held]
    extreme = is_extreme(summary, units, cells)
    if extreme is not None:
        bound = share_bound(alive, plants, rho, confidence)
        low, high = (bound.limit, 1.0) if extreme == "lived" else (0.0, bound.limit)
        return Arm(1.0 if extreme == "lived" else 0.0, low, high, extreme, bound)
    found = share_interval(alive, plants, 2.0 * confidence - 1.0)
    if found.share is None or found.low is None or found.high is None:
        return None
    return Arm(found.share, found.low, found.high, None, None)


def pair_bound(
    weights: Array,
    names: tuple[str, str],
    estimate: float,
    summary: Summary,
    units: Units,
    *,
    rho: float,
    confidence: float,
    family_size: int,
    better: Better,
) -> PairBound | None:
    """The bound of a comparison in which an arm is extreme; None where none is.

    ``estimate`` is the line's own, the mean over units that every other row shows.
    """
    sides = tuple(np.flatnonzero(side).astype(np.int64) for side in (weights > 0, weights < 0))
    if not any(is_extreme(summary, units, cells) for cells in sides):
        return None
    if any(int((np.isin(units.cells, cells) & summary.used).sum()) < 2 for cells in sides):
        return None  # one unit of a side says nothing of others
    level = 1.0 - (1.0 - confidence) / max(family_size, 1)
    up, down = (side_of(summary, units, cells, rho, level) for cells in sides)
    if up is None or down is None:
        return None
    if up.extreme is not None and down.extreme is not None:
        estimate = up.share - down.share  # exactly, as every unit has its arm's share
    low = estimate - float(np.hypot(up.share - up.low, down.high - down.share))
    high = estimate + float(np.hypot(up.high - up.share, down.share - down.low))
    return PairBound(
        verdict=verdict_of_bound(low, high, better),
        difference=estimate,
        low=min(max(low, -1.0), estimate),
        high=max(min(high, 1.0), estimate),
        fates=_fates(
            summary,
            names,
            (up.extreme, down.extreme),
            [all_seen(summary, units, cells) for cells in sides],
        ),
        rho=rho,
    )


def _fates(
    summary: Summary,
    names: tuple[str, str],
    extremes: tuple[str | None, str | None],
    seen: Sequence[bool],
) -> str:
    """Which arms all lived or all died, both named where both did."""
    one = subject_words(summary)["one"]
    told = []
    for name, extreme, whole in zip(names, extremes, seen, strict=True):
        if extreme is not None:
            fate = say(share_key(summary, f"fate {extreme}"))
            told.append((name, fate if whole else say("fate known", fate=fate)))
    return fates_words(one, told)


def all_seen(summary: Summary, units: Units, cells: IntArray) -> bool:
    """Whether it is known of every plant of those cells what became of it."""
    if summary.unseen is None:
        return True
    return not bool((summary.unseen[np.isin(units.cells, cells)] > 0).any())


def bound_notes(
    summary: Summary, units: Units, *, rho: float, confidence: float
) -> tuple[str, ...]:
    """One sentence for each treatment in which all lived or all died."""
    out = []
    for code, name in enumerate(units.cell_names):
        if int((units.cells == code).sum()) < 2:
            continue
        cells = np.array([code], dtype=np.int64)
        arm = side_of(summary, units, cells, rho, confidence)
        if arm is None or arm.bound is None:
            continue
        key = "all lived bound" if arm.extreme == "lived" else "all died bound"
        whole = all_seen(summary, units, cells)
        if not whole:
            out.append(say("bound not all known", name=name, **subject_words(summary)))
        out.append(
            say(
                share_key(summary, key),
                name=name if whole else say("bound name known", name=name),
                limit=percent(arm.bound.limit, 0),
                plots=percent(arm.bound.by_plots, 0),
                rho=number(rho),
                plants=number(arm.bound.n_eff),
                confidence=confidence_level(confidence),
                **subject_words(summary),
            )
        )
    return tuple(out)
