"""What the crew writes of picks: the season's totals, dealt to days and plots.

A unit's total is dealt to its plots nearly evenly and to picks by a smooth course with
scatter, so that the sums are the totals drawn but for the readings' error.
Leans on ``one``.
"""

import numpy as np

from wickstats.simulate.assumed import Array, Counts
from wickstats.simulate.one import OneSeason
from wickstats.simulate.sheets import Cell, Row

BETWEEN_PLOTS = 0.05  # scatter of plots on one reservoir
BETWEEN_DAYS = 0.15
MARKETABLE = 0.9


def write_picks(season: OneSeason, note: str) -> tuple[tuple[str, ...], list[Row]]:
    """Heads and rows of the picks."""
    columns = _pick_columns(season)
    heads = ("plot", "date", "pick", *columns, "status", "note")
    rng = season.stream("picks")
    days = season.calendar.pick_days if season.calendar.start else [season.calendar.days]
    dealt: dict[str, dict[str, list[Cell]]] = {}
    for column, name in columns.items():
        dealt[column] = _by_plot(season, name, len(days), rng)
    if "mass_kg" in columns and "marketable_kg" in columns:
        _all_above_marketable(dealt, same=columns["mass_kg"] == columns["marketable_kg"])
    rows: list[Row] = []
    for k, day in enumerate(days):
        for unit, plots in enumerate(season.model.places.members):
            if season.unit_lost[unit] <= day:
                continue
            for plot in plots:
                amounts = [dealt[c][plot.plot][k] for c in columns]
                status = "picked" if any(amounts) else "nothing ripe"
                pick = k + 1 if season.calendar.start else None
                date = season.calendar.on(day)
                rows.append((plot.plot, date, pick, *amounts, status, note))
    return heads, rows


def _pick_columns(season: OneSeason) -> dict[str, str]:
    """Column -> response that it is drawn from; all fruit stands beside the marketable."""
    out: dict[str, str] = {}
    for response in season.model.trial.responses:
        column = response.column or ("count" if response.kind == "count" else "mass_kg")
        if response.kind in ("yield", "count") and response.name in season.totals:
            out.setdefault(column, response.name)
    if "marketable_kg" in out and "mass_kg" not in out:
        out = {"mass_kg": out["marketable_kg"], **out}
    return out


def _all_above_marketable(dealt: dict[str, dict[str, list[Cell]]], *, same: bool) -> None:
    for plot, good in dealt["marketable_kg"].items():
        every = dealt["mass_kg"][plot]
        for k, cell in enumerate(good):
            least, all_of_it = _kg(cell), _kg(every[k])
            told = round(least / MARKETABLE, 3) if same else all_of_it
            every[k] = max(told, least)


def _kg(cell: Cell) -> float:
    return float(cell) if isinstance(cell, int | float) else 0.0


def course(rng: np.random.Generator, times: int) -> Array:
    """Shares of a season's total: most in the middle, with scatter."""
    middle = np.sin(np.pi * (np.arange(times) + 0.5) / times) + 0.3
    shares = middle * np.exp(BETWEEN_DAYS * rng.standard_normal(times))
    return np.asarray(shares / shares.sum())


def _by_plot(
    season: OneSeason, name: str, times: int, rng: np.random.Generator
) -> dict[str, list[Cell]]:
    """Plot -> its amounts, one a pick."""
    what = season.model.models[name]
    out: dict[str, list[Cell]] = {}
    for total, plots in zip(season.totals[name], season.model.places.members, strict=True):
        shares = np.exp(BETWEEN_PLOTS * rng.standard_normal(len(plots)))
        shares = shares / shares.sum()
        if isinstance(what, Counts):
            cells = np.concatenate([part * course(rng, times) for part in shares])
            counts = rng.multinomial(int(total), cells / cells.sum())
            for plot, dealt in zip(plots, counts.reshape(len(plots), times), strict=True):
                out[plot.plot] = [int(c) for c in dealt]
            continue
        for plot, share in zip(plots, shares, strict=True):
            mass = max(float(total), 0.0) * len(plots) * share * course(rng, times)
            error = season.model.crew.reading_cv * rng.standard_normal(times)
            out[plot.plot] = [
                round(float(m * np.exp(e)), 3) for m, e in zip(mass, error, strict=True)
            ]
    return out
