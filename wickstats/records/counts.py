"""Counts of a plot's plants at visits become lives of plants without a name.

Where the number alive falls between two visits, so many deaths lie between them. Counts
are states, not news: alive + dead + not found are all plants of the plot at each visit.
Planting days are those of the table of plants; where they differ in a plot, counts cannot
tell whose death it was, which is asked about. Leans on numpy and pandas.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from wickstats.records.ground import NO_DAY, Ground, day, groups
from wickstats.records.lives import COLUMNS


@dataclass(slots=True)
class _Plant:
    planted_on: Any
    last_alive: Any
    first_dead: Any = NO_DAY
    last_seen: Any = NO_DAY
    state: str = "alive"
    revived: bool = False


@dataclass(slots=True)
class _Plot:
    """The plants of one plot, sorted into states while its visits are walked through."""

    alive: list[_Plant] = field(default_factory=list)
    dead: list[_Plant] = field(default_factory=list)
    missing: list[_Plant] = field(default_factory=list)


def lives_from_counts(
    visits: pd.DataFrame, ground: Ground, listed: Mapping[str, Sequence[Any]]
) -> pd.DataFrame:
    """One row a counted plant; rows must be counts of whole plots, with a day.

    ``listed``: planting days of the plants first planted, by plot, as far as they are told.
    """
    planned = ground.planted()
    rows: list[tuple[Any, ...]] = []
    start = ground.season_start
    for plot, group in groups(visits, "plot"):
        group = group.sort_values(["date", "file", "row"], kind="stable")
        first = start if not np.isnat(start) else group["date"].to_numpy()[0]
        # who was planted first stands last, and is the first to be taken
        planted = sorted(listed.get(plot, ()), reverse=True) or [first]
        if planted[0] != planted[-1]:
            _ask_days(plot, group, planted, ground)
        plants = _walk(plot, group, planned.get(plot), planted, ground)
        for i, plant in enumerate(plants):
            fate = {"missing": "not found"}.get(plant.state, plant.state)
            rows.append(
                (
                    plot,
                    f"counted {i + 1}",
                    plant.planted_on,
                    True,
                    None,
                    plant.last_alive,
                    plant.first_dead,
                    None,
                    plant.last_seen,
                    fate,
                    NO_DAY,
                    plant.revived,
                )
            )
    lives = pd.DataFrame(rows, columns=list(COLUMNS))
    for name in ("planted_on", "last_alive", "first_dead", "last_seen", "doubtful_from"):
        place = COLUMNS.index(name)
        lives[name] = np.asarray([row[place] for row in rows], dtype="datetime64[ns]")
    return lives


def _ask_days(plot: str, group: pd.DataFrame, planted: Sequence[Any], ground: Ground) -> None:
    ground.out.query(
        str(group["file"].iloc[0]),
        "counted plants of several days",
        found=f"plants of plot {plot} planted between {day(planted[-1])} and "
        f"{day(planted[0])}, and counted together",
        expected="plants of one planting day where they are counted",
        fix="name the plants at the visits; as it stands deaths are taken to be those of the "
        "plants planted first",
        row=int(group["row"].min()),
    )


def _walk(
    plot: str,
    group: pd.DataFrame,
    planned: int | None,
    planted: Sequence[Any],
    ground: Ground,
) -> list[_Plant]:
    counts = group[["alive_n", "dead_n", "not_found_n"]].to_numpy()
    total = planned or int(np.nansum(counts, axis=1).max())
    more = [planted[-1]] * max(total - len(planted), 0)
    days = [*planted[:total], *more]
    state = _Plot(alive=[_Plant(when, when) for when in days])
    columns = [group[c] for c in ("file", "row")]
    for when, (alive, dead, missing), file, row in zip(
        group["date"].to_numpy(), counts, *columns, strict=True
    ):
        target = _target(plot, total, (alive, dead, missing), ground, (file, int(row)))
        if target is not None:
            _step(state, target, when, ground, (plot, file, int(row)))
    for plants, word in (
        (state.alive, "alive"),
        (state.dead, "dead"),
        (state.missing, "missing"),
    ):
        for plant in plants:
            plant.state = word
    everybody = state.dead + state.missing + state.alive
    return sorted(everybody, key=lambda p: (str(p.first_dead), str(p.last_alive)))


def _target(
    plot: str,
    total: int,
    counts: tuple[float, float, float],
    ground: Ground,
    place: tuple[str, int],
) -> tuple[int, int, int] | None:
    """Numbers alive, dead and not found; what was not counted follows from the rest."""
    alive, dead, missing = counts
    known = float(np.nansum(counts))
    if known > total:
        ground.out.query(
            place[0],
            "more plants than planted",
            found=f"{known:.0f} plants counted in plot {plot}",
            expected=f"at most {total}",
            fix="correct the counts or the number of plants in the layout; the row is not used",
            row=place[1],
        )
        ground.out.exclude(*place, "more plants counted than planted")
        return None
    rest = total - known
    if np.isnan(alive):
        if np.isnan(dead) or np.isnan(missing):
            ground.out.exclude(*place, "alive_n is blank and does not follow from the rest")
            return None
        return int(rest), int(dead), int(missing)
    if np.isnan(dead):
        # who is not alive is dead, unless it was noted as not found
        return int(alive), int(rest), 0 if np.isnan(missing) else int(missing)
    if rest:
        ground.out.query(
            place[0],
            "counts do not add up",
            found=f"{known:.0f} plants counted in plot {plot}",
            expected=f"{total}: alive, dead and not found together",
            fix=f"correct the counts; as they stand {rest:.0f} more count as not found",
            row=place[1],
        )
    return int(alive), int(dead), total - int(alive) - int(dead)


def _step(
    state: _Plot,
    target: tuple[int, int, int],
    when: Any,
    ground: Ground,
    place: tuple[str, str, int],
) -> None:
    """Move plants between the states; whoever changes least is moved."""
    alive, dead, _ = target
    while len(state.dead) > dead:
        _revive(state, when, ground, place)
    while len(state.alive) < alive and state.missing:
        state.alive.append(state.missing.pop())
    new = dead - len(state.dead)
    leaving = max(len(state.alive) - alive, 0)
    for _ in range(new):
        source = state.alive if leaving or not state.missing else state.missing
        leaving -= source is state.alive
        plant = source.pop()
        plant.first_dead, plant.last_seen = when, when
        state.dead.append(plant)
    while len(state.alive) > alive:
        state.missing.append(state.alive.pop())
    for plant in state.alive:
        plant.last_alive = plant.last_seen = when


def _revive(state: _Plot, when: Any, ground: Ground, place: tuple[str, str, int]) -> None:
    plot, file, row = place
    plant = state.dead.pop()
    ground.out.query(
        file,
        "alive after dead",
        found=f"fewer dead plants in plot {plot} on {day(when)} than before",
        expected="a number of dead plants that does not fall",
        fix="correct the counts; as they stand the latest death is set aside",
        row=row,
        column="dead_n",
    )
    plant.first_dead, plant.revived = NO_DAY, True
    plant.last_seen = plant.last_alive
    state.missing.append(plant)
