"""Reservoirs and visits of every treatment that has reservoirs, in numbers and words.

The loss of a reservoir is what its plants would use (demand), what was seen to leave
reservoirs (loss seen), and what its wicks gave at the bench (bench flow); each is reckoned
with. Leans on reservoirs and core.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickstats.core.numbers import fixed, number, said_liters
from wickstats.core.supply import DryChance, ReservoirPlan, VisitNeed
from wickstats.core.words import say
from wickstats.demand.reservoirs import DRAWS, chance_dry, needed, sizes_around

FloatArray = NDArray[np.float64]
BENCH_FLOW = "bench flow"
ENOUGH = 0.05  # a chance below it is called enough: as the upper quantile between wicks
MOST_SIZES = 8


@dataclass(frozen=True, slots=True, eq=False)
class Losses:
    """What one treatment's reservoir loses, L/d by day (no gaps), and how wicks differ."""

    treatment: str
    loss_from: str  # demand | loss seen | bench flow
    plants: int
    by_day: FloatArray
    cv: float
    cv_from: str
    wicks: int = 1
    found_in: str | None = None  # where a flow at the bench is written


def reservoir_plan(
    losses: Sequence[Losses],
    *,
    every_d: int,
    holds_l: float | None,
    unusable_l: float,
    seed: str,
) -> ReservoirPlan | None:
    """Needs, chances by volume and interval, and sentences; None where nothing is lost."""
    intervals = tuple(sorted({every_d, 2 * every_d, 7, 14}))
    needs: list[VisitNeed] = []
    chances: list[DryChance] = []
    said: list[str] = []
    for loss in losses:
        if not len(loss.by_day) or float(loss.by_day.max()) <= 0.0:
            continue
        own = [_need(loss, d, holds_l, unusable_l) for d in intervals]
        rows = _chances(loss, own, holds_l, unusable_l, seed)
        needs += own
        chances += rows
        said += _sentences(loss, own, rows, every_d, holds_l)
    if not needs:
        return None
    return ReservoirPlan(tuple(needs), tuple(chances), tuple(said), DRAWS)


def _need(loss: Losses, every: int, holds: float | None, unusable: float) -> VisitNeed:
    found = needed(loss.by_day, every, loss.cv, unusable)
    lasts = None if holds is None else max(holds - unusable, 0.0) / found.upper_l_d
    return VisitNeed(
        treatment=loss.treatment,
        loss_from=loss.loss_from,
        plants=loss.plants,
        every_d=every,
        rate_l_d=found.rate_l_d,
        upper_l_d=found.upper_l_d,
        cv=loss.cv,
        cv_from=loss.cv_from,
        unusable_l=unusable,
        volume_l=found.volume_l,
        with_reserve_l=found.with_reserve_l,
        holds_l=holds,
        lasts_d=lasts,
    )


def _chances(
    loss: Losses,
    needs: Sequence[VisitNeed],
    holds: float | None,
    unusable: float,
    seed: str,
) -> list[DryChance]:
    sizes = sizes_around(
        min(n.volume_l for n in needs) / 2.0, max(n.volume_l for n in needs), holds
    )
    rows = []
    for volume in sizes[:MOST_SIZES]:
        for need in needs:
            chance = chance_dry(loss.by_day, need.every_d, volume - unusable, loss.cv, seed)
            # half a count more than seen, so that none seen is not called without error
            near = (chance * DRAWS + 0.5) / (DRAWS + 1.0)
            error = math.sqrt(near * (1.0 - near) / DRAWS)
            rows.append(
                DryChance(loss.treatment, loss.loss_from, volume, need.every_d, chance, error)
            )
    return rows


def liters(volume: float) -> str:
    """A reservoir's size: whole liters without decimals."""
    return fixed(volume, 0) if volume == round(volume) else number(volume)


def of_hundred(chance: float) -> str:
    """A chance as visits of 100: "3 in 100", "fewer than 1 in 100", "all"."""
    if chance in (0.0, 1.0):
        return say("supply no visit" if chance == 0.0 else "supply every visit")
    count = 100.0 * chance
    if count < 1.0:
        return say("supply few visits")
    if count > 99.0:
        return say("supply most visits")
    return say("supply visits of 100", n=round(count))


def _sentences(
    loss: Losses,
    needs: Sequence[VisitNeed],
    rows: Sequence[DryChance],
    every: int,
    holds: float | None,
) -> list[str]:
    need = next(n for n in needs if n.every_d == every)
    if loss.loss_from == BENCH_FLOW and loss.found_in is None:
        return [_wick_sentence(need)]
    basis = say(f"supply basis {loss.loss_from}")
    at = [r for r in rows if r.every_d == every]
    told = next((r for r in at if holds is not None and r.volume_l == holds), None)
    if told is None:
        told = next((r for r in at if r.chance <= ENOUGH), at[-1])
    return [
        say(
            "supply dry sentence",
            treatment=loss.treatment,
            volume=liters(told.volume_l),
            days=every,
            visits=of_hundred(told.chance),
            basis=basis,
        ),
        say(
            _how_told(loss),
            treatment=loss.treatment,
            plants=need.plants,
            wicks=loss.wicks,
            found_in=loss.found_in,
            rate=said_liters(need.rate_l_d),
            upper=said_liters(need.upper_l_d),
            days=every,
            volume=said_liters(need.volume_l),
            reserve=said_liters(need.with_reserve_l),
            basis=basis,
        ),
    ]


def _how_told(loss: Losses) -> str:
    """Which sentence tells a need: of plants, of one wick, of several."""
    if loss.found_in is None:
        return "supply need sentence"
    return "supply own wick sentence" if loss.wicks == 1 else "supply wicks sentence"


def _wick_sentence(need: VisitNeed) -> str:
    """What one wick at the bench asks of its reservoir."""
    return say(
        "supply wick sentence",
        treatment=need.treatment,
        rate=said_liters(need.rate_l_d),
        upper=said_liters(need.upper_l_d),
        days=need.every_d,
        volume=said_liters(need.volume_l),
        reserve=said_liters(need.with_reserve_l),
    )
