"""A season's records after reading: tidy tables, queries, exclusions, sources.

Every table holds only the rows that are used, in our own column names and
units, and two columns ``file`` and ``row`` that say where each row stood.
Leans on pandas, core and layout.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import pandas as pd

from wickstats.core.errors import Exclusion, Problem
from wickstats.core.frames import flat, frame_of
from wickstats.core.notebook import Shown
from wickstats.core.results import InputFile
from wickstats.layout.plots import Layout


@dataclass(frozen=True, eq=False)
class Season(Shown):
    """The season's records, joined to the layout.

    Attributes
    ----------
    tables
        Name -> frame. Dates are ``datetime64[ns]`` (NaT where a date may be missing);
        quantities are floats in our units (NaN where blank); identifiers and words are
        text (None where blank).
    lives
        One row a plant ever planted (from plants, visits or lifetimes): plot, plant,
        planted_on, original (bool), replaces, last_alive, first_dead, cause, last_seen,
        fate (alive, dead, not found, lost, never seen), doubtful_from, revived (a death was
        set aside because the plant was seen alive later); dates, or days
        (floats) for lifetimes. Death lies in (last_alive, first_dead]; first_dead is
        NaT/NaN where the plant was never seen dead. A plant that was doubtful has no
        confirmed life after last_alive: while it is not seen dead its fate is alive,
        last_seen is the day it was doubtful, and doubtful_from the first such day.
        Plants that were only counted are named "counted 1", "counted 2" in their plot.
    days_not_dates
        True when lives count days from planting (table lifetimes).
    ledger
        One row an experimental unit: unit, treatment, planned_l, applied_l, delivered_l,
        delivered_low_l, delivered_high_l, stored_change_l, leaked_l, rain_l, left_l (in the
        reservoir at the end), by_can_l, by_meter_l, refills, plants, days (of the season),
        doubtful_l (above what was to be expected, where a loss looks like a leak),
        note. NaN where it is not known; the note then says why.
    ledger_by_plot
        The same told to plots by the trial's stated rule, for description only: plot,
        unit, treatment, share, planned_l, applied_l, delivered_l, delivered_low_l,
        delivered_high_l.
    water_periods
        One row a reservoir (or metered plot) and time between two visits: unit, vessel,
        from, to, days, lost_l (drawn, or leaked unseen), rain_l, by (levels or meter),
        emptied (found at or below the unusable volume), file, row.
    dry
        Unit -> intervals (from_low, from_high, to): it ran dry after from_low and not
        later than from_high, and was refilled at ``to`` (None: never again).
    lost_plots
        Plot -> why nothing of it can be used, e.g. "flood damage on 2025-07-03" or
        "no records".
    attended
        Unit and date of every row of the table of water, also where no amount was noted.
    notes
        What is good to know of the files, with nothing to settle.
    """

    layout: Layout
    tables: Mapping[str, pd.DataFrame]
    queries: tuple[Problem, ...]
    exclusions: tuple[Exclusion, ...]
    inputs: tuple[InputFile, ...]
    lives: pd.DataFrame | None = None
    days_not_dates: bool = False
    ledger: pd.DataFrame | None = None
    dry: Mapping[str, tuple[tuple[str, str, str | None], ...]] = field(default_factory=dict)
    source_bytes: Mapping[str, bytes] = field(default_factory=dict, repr=False)
    ledger_by_plot: pd.DataFrame | None = None
    lost_plots: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[Problem, ...] = ()
    water_periods: pd.DataFrame | None = None
    can_within: float = 0.0  # share by which every can may read wrong, every time
    meter_within: float = 0.0
    attended: pd.DataFrame | None = None

    def to_frame(self) -> pd.DataFrame:
        """Return queries and rows not used, one row each; ``tables`` holds the records."""
        queries = [{"kind": "query", **flat(query)} for query in self.queries]
        left = [
            {"kind": "not used", "file": e.file, "row": e.row, "found": e.reason}
            for e in self.exclusions
        ]
        columns = ("kind", "file", "row", "column", "code", "found", "expected", "fix")
        return frame_of([*queries, *left], columns)

    def table(self, name: str) -> pd.DataFrame | None:
        """Return a table, or None where the season has none."""
        return self.tables.get(name)
