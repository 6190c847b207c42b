"""Make the record tables of the invented seasons from their truths and layouts.

    python -m wickstats.demo.make_seasons [FOLDER]

writes them where they ship, or under FOLDER. Each trial's layout is drawn anew
from its seed where there is none, and read where there is one. The same truth
and layout give the same bytes. Leans on api, oaks, peppers, weather, cords and sheets.
"""

import sys
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

import yaml

from wickstats.core.codec import dump_json, parse_json, write_whole
from wickstats.demo import cords, oak_visits, oak_water, oaks, peppers, weather
from wickstats.layout.plots import Layout
from wickstats.simulate.sheets import csv_bytes, xlsx_bytes

HERE = Path(__file__).resolve().parent


def make_oaks(layout: Layout, truth: Mapping[str, Any]) -> dict[str, bytes]:
    """Return file name -> bytes of the oak terrace's records."""
    plots = layout.plots
    placed = oak_visits.with_plots(truth, plots)
    grown = oaks.grow_oaks(plots, placed)
    sizes = (oaks.SIZE_HEAD, oaks.size_rows(grown, placed))
    return {
        "plants.csv": csv_bytes(oaks.PLANT_HEAD, oaks.plant_rows(grown)),
        "visits.csv": csv_bytes(oaks.VISIT_HEAD, oak_visits.visit_rows(grown, placed)),
        "sizes.xlsx": xlsx_bytes({"heights": sizes}),
        "water.csv": csv_bytes(
            oak_water.WATER_HEAD,
            oak_water.water_rows(plots, placed),
            delimiter=";",
            decimal=",",
            dates="%d/%m/%Y",
        ),
        "events.csv": csv_bytes(
            oak_water.EVENT_HEAD, oak_water.event_rows(plots, grown, placed)
        ),
    }


def make_peppers(layout: Layout, truth: Mapping[str, Any]) -> dict[str, bytes]:
    """Return file name -> bytes of the garden's workbook and of the station's days."""
    plots = layout.plots
    placed = oak_visits.with_plots(truth, plots)
    book = {
        "picks": (peppers.PICK_HEAD, peppers.pick_rows(plots, placed)),
        "refills": (peppers.REFILL_HEAD, peppers.refill_rows(plots, placed)),
        "events": (peppers.EVENT_HEAD, peppers.event_rows(plots, placed)),
        "plants": (peppers.PLANT_HEAD, peppers.plant_rows(plots, placed)),
    }
    last = oak_water.week_days(peppers.PLANTED, peppers.WEEKS)[-1]
    days = weather.weather_rows(peppers.PLANTED, last, truth)
    return {
        "season.xlsx": xlsx_bytes(book),
        "weather.csv": csv_bytes(weather.WEATHER_HEAD, days),
    }


def make_cords(layout: Layout, truth: Mapping[str, Any]) -> dict[str, bytes]:
    """Return file name -> bytes of the bench's readings."""
    rows = cords.reading_rows(layout.plots, truth)
    return {"readings.csv": csv_bytes(cords.READING_HEAD, rows)}


MAKERS = {
    "quarry-oaks": make_oaks,
    "garden-peppers": make_peppers,
    "bench-cords": make_cords,
}


def read_truth(folder: Path) -> dict[str, Any]:
    """Read what is true in a season."""
    truth: dict[str, Any] = yaml.safe_load((folder / "truth.yaml").read_text(encoding="utf-8"))
    return truth


def make_season(folder: Path) -> list[Path]:
    """Draw the layout where there is none, and write the season's record tables.

    Returns
    -------
    list of Path
        The record files that were written.
    """
    from wickstats.api import read_layout, read_trial
    from wickstats.layout.write import draw_and_write

    trial = read_trial(folder / "trial.yaml")
    drawn = (folder / trial.design.layout).exists()
    truth = read_truth(folder)
    layout = read_layout(trial) if drawn else draw_and_write(trial)
    if not drawn:
        _claim_day(folder / "layout.record.json", truth["laid_out_on"])
    written = []
    for name, data in MAKERS[folder.name](layout, truth).items():
        write_whole(folder / name, data)
        written.append(folder / name)
    return written


def _claim_day(record: Path, day: date) -> None:
    """Put the invented day of laying out in place of today, as fits an invented season."""
    values = parse_json(record.read_bytes())
    write_whole(record, dump_json({**values, "claimed_on": day}))


def main(arguments: list[str]) -> int:
    """Make every season."""
    root = Path(arguments[0]) if arguments else HERE
    for name in MAKERS:
        folder = root / name
        if root != HERE:
            for part in ("trial.yaml", "truth.yaml"):
                write_whole(folder / part, (HERE / name / part).read_bytes())
        make_season(folder)
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
