"""What the crew writes of sizes: one row a plant and day, one column a quantity.

Growth runs evenly on the log scale from a size at planting to the drawn final size; half
of a plant's final standing shows at planting already. Readings err by their coefficient of
variation. Leans on ``one``.
"""

from math import floor, log10

import numpy as np

from wickstats.design.trial import Response
from wickstats.simulate.assumed import Array, Quantity
from wickstats.simulate.one import OneSeason
from wickstats.simulate.sheets import Cell, Row

START_SHARE = 0.4  # of the smallest mean, where no start_size is given
DIGITS = 4  # of a small plant
LONGEST = 6  # digits of a large one; tables hold no more


def write_sizes(season: OneSeason, note: str) -> tuple[tuple[str, ...], list[Row]]:
    """Heads and rows of the measurements."""
    columns: dict[str, Response] = {}
    for response in season.model.trial.responses:
        if response.column and response.name in season.sizes:
            columns.setdefault(response.column, response)
    heads = ("date", "plot", "plant", *columns, "observer", "note")
    days = sorted({d for r in columns.values() for d in season.calendar.measuring(r)})
    by_day = {
        (column, day): _read(season, response, day)
        for column, response in columns.items()
        for day in days
        if day in season.calendar.measuring(response)
    }
    rows: list[Row] = []
    for day in days:
        date = season.calendar.on(day)
        for k, (plot, plant, there) in enumerate(_who(season, day)):
            cells: list[Cell] = [
                by_day[c, day][k] if (c, day) in by_day else None for c in columns
            ]
            if there and any(cell is not None for cell in cells):
                rows.append((date, plot, plant, *cells, "A. Example", note))
    return heads, rows


def _who(season: OneSeason, day: int) -> list[tuple[str, int | None, bool]]:
    """Plot, plant and whether it can be measured that day."""
    if season.names:
        living = (season.dies > day) & (season.ends > day)
        return [(*name, bool(s)) for name, s in zip(season.names, living, strict=True)]
    lost = season.unit_lost
    return [
        (plot.plot, None, bool(lost[j] > day))
        for j, plots in enumerate(season.model.places.members)
        for plot in plots
    ]


def _read(season: OneSeason, response: Response, day: int) -> list[Cell]:
    """What is read off every plant (or plot) that day."""
    what = season.model.models[response.name]
    final = season.sizes[response.name]
    if not isinstance(what, Quantity):
        return [None] * final.size
    if not season.names:
        plots = season.model.places.n_plots
        final = np.repeat(final, plots)
    rng = season.stream(f"{response.name}: reading on day {day}")
    error = season.model.crew.reading_cv * rng.standard_normal(final.size)
    if what.kind == "score":
        return [round(float(v)) for v in final]
    value = final
    if what.kind == "growth" and season.names:
        value = _grown(season, what, final, day / season.calendar.days)
    value = value * np.exp(error - 0.5 * season.model.crew.reading_cv**2)
    if what.limits is not None:
        value = np.clip(value, *what.limits)
    return [round(float(v), _places(what)) for v in value]


def _places(what: Quantity) -> int:
    """Decimals of every reading: one scale is read to one mark, whatever stands on it."""
    sizes = [float(abs(m)) for m in what.means if m != 0.0]
    if not sizes:
        return DIGITS - 1
    least = min([*sizes, what.start] if what.start else sizes)
    fine = DIGITS - 1 - floor(log10(least))
    return min(fine, LONGEST - 1 - floor(log10(4.0 * max(sizes))))


def _grown(season: OneSeason, what: Quantity, final: Array, part: float) -> Array:
    """Size at a part of the season; a size at or below zero stays what it is."""
    rng = season.stream(f"{what.name}: start")
    places = season.model.places
    mean = what.means[places.cells][season.units]
    start_mean = what.start if what.start is not None else START_SHARE * float(what.means.min())
    above = np.maximum(final, 1e-9 * np.abs(mean))
    standing = np.log(above / mean)
    own = what.plant_sd[places.cells][season.units]
    own = own if what.log else own / np.maximum(mean, 1e-12)
    start = start_mean * np.exp(0.5 * standing + 0.5 * own * rng.standard_normal(final.size))
    start = np.minimum(start, 0.9 * above)
    grown: Array = np.exp((1 - part) * np.log(start) + part * np.log(above))
    return np.where(final > 0, grown, final)
