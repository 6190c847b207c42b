"""A season's files, or frames in memory, become one checked Season.

Leans on the other modules of this package, each of which checks one table.
"""

from collections.abc import Callable, Mapping

import numpy as np
import pandas as pd

from wickstats.core.errors import RecordsError
from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout
from wickstats.records.asked_dates import ask_dates_unserved
from wickstats.records.counts import lives_from_counts
from wickstats.records.coverage import ask_plots_without_records, ask_units_without_water
from wickstats.records.dry import ask_empty, dry_intervals
from wickstats.records.events import check_events, lost_plots
from wickstats.records.files import Sources, read_tables
from wickstats.records.findings import Findings
from wickstats.records.ground import Ground, in_order
from wickstats.records.ledger import Ledger, water_ledger
from wickstats.records.lifetimes import check_lifetimes, lives_from_lifetimes
from wickstats.records.lives import lives_from_visits
from wickstats.records.mark import ask_mark
from wickstats.records.measurements import check_measurements, drop_after_death
from wickstats.records.outliers import ask_out_of_line
from wickstats.records.pick_rounds import ask_picks_missing
from wickstats.records.picks import ask_pick_without_water, check_picks
from wickstats.records.plant_codes import settle_plant_codes
from wickstats.records.plants import check_plants, drop_unknown_plants, known_plants
from wickstats.records.readings import check_readings
from wickstats.records.replaced_how import ask_replacements
from wickstats.records.replacements import close_lost, close_replaced, origins_of_plants
from wickstats.records.season import Season
from wickstats.records.visits import check_visits
from wickstats.records.water import check_water
from wickstats.records.water_losses import ask_losses
from wickstats.records.water_untold import ask_less_than_nothing, attended_days
from wickstats.records.weather import check_weather

_CHECKS: dict[str, Callable[[pd.DataFrame, Ground], pd.DataFrame]] = {
    "plants": check_plants,
    "events": check_events,
    "visits": check_visits,
    "measurements": check_measurements,
    "picks": check_picks,
    "lifetimes": check_lifetimes,
    "weather": check_weather,
    "readings": check_readings,
}


def read_records(
    trial: Trial, layout: Layout, tables: Mapping[str, pd.DataFrame] | None = None
) -> Season:
    """Read, check and join the season's tables.

    Parameters
    ----------
    trial
        A checked trial; its ``records`` name the files, in its folder.
    layout
        The plots; every row must belong to one of them.
    tables
        Table name to frame, in place of all files, in our own column names and units.
        The same checks apply; the file is then called e.g. "visits (in memory)".

    Raises
    ------
    RecordsError
        Holding every problem with its file, row and column.
    """
    out = Findings()
    ground = Ground(trial, layout, out)
    sources = Sources()
    frames = read_tables(ground, tables, sources)
    settle_plant_codes(frames, out)
    log = frames.get("water")
    incomplete = _check(frames, ground)
    if out.problems:
        told = {(p.file, p.row) for p in out.problems}
        queries = out.sorted_queries(sources.order)
        raise RecordsError(
            out.sorted_problems(sources.order),
            (q for q in queries if q.row is None or (q.file, q.row) not in told),
        )
    ask_mark(frames, ground)
    ask_out_of_line(frames, ground)
    _drop_unknown(frames, ground)
    lost, lost_on = lost_plots(frames, ground)
    ask_plots_without_records(frames, lost, ground)
    lives, by_days = _lives(frames, lost_on, ground)
    if not by_days:
        ask_dates_unserved(frames.get("visits"), lives, lost, ground)
    if "measurements" in frames and not by_days:
        frames["measurements"] = drop_after_death(frames["measurements"], lives, ground)
    water, events = frames.get("water"), frames.get("events")
    ledger: Ledger | None = None
    if water is not None:
        ledger = water_ledger(water, events, frames.get("weather"), incomplete, ground)
        ask_losses(ledger.losses, ground)
        ask_less_than_nothing(ledger.units, water, ground)
        named = {loss.unit for loss in ledger.losses}
        ask_units_without_water(ledger.units, water, events, named, ground)
        ask_empty(water, events, ground)
    if "picks" in frames:
        ask_picks_missing(frames["picks"], lost, events, ground)
        ask_pick_without_water(frames["picks"], water, ground)
    return Season(
        layout=layout,
        tables={name: in_order(frame, layout) for name, frame in frames.items()},
        queries=out.sorted_queries(sources.order),
        exclusions=out.sorted_exclusions(sources.order),
        inputs=sources.inputs(),
        lives=lives,
        days_not_dates=by_days,
        ledger=None if ledger is None else ledger.units,
        dry=dry_intervals(water, events, ground),
        source_bytes=sources.data,
        ledger_by_plot=None if ledger is None else ledger.plots,
        water_periods=None if ledger is None else ledger.periods,
        can_within=0.0 if ledger is None else ledger.can_within,
        meter_within=0.0 if ledger is None else ledger.meter_within,
        lost_plots=lost,
        notes=out.sorted_notes(sources.order),
        attended=None if log is None else attended_days(log, ground),
    )


def _check(frames: dict[str, pd.DataFrame], ground: Ground) -> dict[str, str]:
    """Check every table by itself; return the units whose water is not known, and why."""
    for name, check in _CHECKS.items():
        if name in frames:
            frames[name] = check(frames[name], ground)
    incomplete: dict[str, str] = {}
    if "water" in frames:
        frames["water"], incomplete = check_water(frames["water"], ground)
    return incomplete


def _drop_unknown(frames: dict[str, pd.DataFrame], ground: Ground) -> None:
    plants, events = frames.get("plants"), frames.get("events")
    named = [frames[t] for t in ("visits", "measurements", "picks", "lifetimes") if t in frames]
    known = known_plants(plants, events, named, ground)
    for name in ("visits", "measurements", "picks", "events", "lifetimes"):
        if name in frames:
            frames[name] = drop_unknown_plants(
                frames[name], known, ground.out, listed=plants is not None
            )


def _lives(
    frames: dict[str, pd.DataFrame], lost_on: Mapping[str, pd.Timestamp], ground: Ground
) -> tuple[pd.DataFrame | None, bool]:
    """One row a plant, in days of the calendar or (lifetimes) in days from planting."""
    if "lifetimes" in frames:
        return in_order(lives_from_lifetimes(frames["lifetimes"]), ground.layout), True
    visits, plants, events = (frames.get(n) for n in ("visits", "plants", "events"))
    if visits is None and plants is None:
        return None, False
    counted = None
    if visits is not None:
        named = visits["plant"].notna().to_numpy()
        visits, counted = visits[named], visits[~named]
    origins, visits, replaced = origins_of_plants(plants, events, visits, ground)
    if visits is None:
        visits = _NO_VISITS.copy()
    lives, visits = lives_from_visits(visits, origins, lost_on, ground)
    if events is not None and len(visits):
        lives = close_replaced(lives, replaced, ground, str(_first_file(events)))
    ask_replacements(plants, events, lives, ground)
    if counted is not None and len(counted):
        listed: dict[str, list[np.datetime64]] = {}
        for (plot, _), origin in origins.items():
            if origin.replaces is None and not np.isnat(origin.planted_on):
                listed.setdefault(plot, []).append(origin.planted_on)
        by_count = lives_from_counts(counted, ground, listed)
        lives = pd.concat([lives, by_count], ignore_index=True) if len(lives) else by_count
        lives = lives[~_counted_twice(lives, counted)].reset_index(drop=True)
    lives = close_lost(lives, events, lost_on)
    if "visits" in frames:
        both = [visits] if counted is None or not len(counted) else [visits, counted]
        kept = [part for part in both if len(part)]
        frames["visits"] = pd.concat(kept) if kept else visits
    return in_order(lives, ground.layout), False


_NO_VISITS = pd.DataFrame(
    {
        "date": np.empty(0, dtype="datetime64[ns]"),
        **{c: np.empty(0, dtype=object) for c in ("plot", "plant", "status", "cause", "file")},
        "row": np.empty(0, dtype=np.int64),
    }
)


def _first_file(events: pd.DataFrame) -> str:
    return str(events["file"].iloc[0]) if len(events) else "events"


def _counted_twice(lives: pd.DataFrame, counted: pd.DataFrame) -> np.ndarray:
    """Plants of the table of plants whose plot was counted: the counts stand for them."""
    plots = set(counted["plot"])
    unseen = (lives["fate"] == "never seen") & lives["plot"].isin(plots)
    twice: np.ndarray = (
        unseen.to_numpy() & ~lives["plant"].str.startswith("counted ").to_numpy()
    )
    return twice
