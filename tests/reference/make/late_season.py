"""Write the invented season of late planting and replacements, data/late-season.

    python tests/reference/make/late_season.py

Six blocks of two ways of watering, eight plants a plot, a visit every 14 days to every plot.
Three plants of one plot and two of another are planted on a later visit's day; in three
plots most plants seen dead by the middle of the season are replaced on that day. Every
standing plant bears fruit at three picks. All of it is made up from two fixed streams.
"""

import csv
import random
from datetime import date, timedelta
from pathlib import Path

FOLDER = Path(__file__).resolve().parents[1] / "data" / "late-season"
START = date(2025, 4, 1)
VISITS = range(14, 141, 14)
PICKS = (98, 119, 140)
LATE = {("H2", 1): 28, ("H2", 2): 28, ("H2", 3): 28, ("W3", 1): 14, ("W3", 2): 14}
RISK = {"H": 0.12, "W": 0.07}  # of dying between two visits
REPLACED = ("H2", "H4", "W3")
NAMES = {"H": "hand watering", "W": "capillary wick"}

TRIAL = """\
format: 1
trial:
  id: late-season
  title: An invented season of late planting and replacements
  invented: true
  season: {start: 2025-04-01, end: 2025-08-31}
factors: {watering: [{name: hand watering, reference: true}, {name: capillary wick}]}
design: {type: randomized complete block, layout: layout.csv, drawn: elsewhere}
records:
  plants: {file: plants.csv}
  visits: {file: visits.csv}
  events: {file: events.csv}
  picks: {file: picks.csv}
responses:
  - {name: survival, kind: survival, at: [2025-08-19], better: more}
  - {name: fruit, kind: yield, column: mass_kg, measured_in: kg, better: more}
  - {name: fruits, kind: count, column: count, better: more}
plan: {primary: survival, secondary: [fruit, fruits]}
"""


def when(day: int) -> str:
    """A day of the season as a date."""
    return (START + timedelta(days=day)).isoformat()


def write(name: str, head: str, rows: list[tuple[object, ...]]) -> None:
    with (FOLDER / name).open("w", newline="", encoding="utf-8") as out:
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(head.split(","))
        writer.writerows(["" if c is None else c for c in row] for row in rows)


def main() -> None:
    """Draw the season and write its tables."""
    stream, why = random.Random(31), random.Random(7)
    layout, plants, visits, events, picks = [], [], [], [], []
    for plot in (f"{arm}{block}" for block in range(1, 7) for arm in "HW"):
        layout.append((plot, plot[1], NAMES[plot[0]], 8))
        standing = {str(k): LATE.get((plot, k), 0) for k in range(1, 9)}
        plants += [(plot, plant, when(day), None) for plant, day in standing.items()]
        bears = {plant: stream.uniform(0.4, 0.8) for plant in standing}
        new = 9
        for day in VISITS:
            for plant, planted in list(standing.items()):
                if planted >= day:
                    continue
                dead = stream.random() < RISK[plot[0]]
                cause = ("drought" if why.random() < 0.7 else "disease") if dead else None
                visits.append((when(day), plot, plant, "dead" if dead else "alive", cause))
                if not dead:
                    continue
                del standing[plant]
                if plot in REPLACED and day <= 70 and stream.random() < 0.8:
                    standing[str(new)] = day
                    bears[str(new)] = stream.uniform(0.1, 0.3)
                    events.append((when(day), plot, "replaced", plant, str(new)))
                    new += 1
            if day in PICKS:
                for plant in standing:
                    kg = bears[plant] * stream.uniform(0.5, 1.5)
                    picks.append((when(day), plot, plant, f"{kg:.2f}", round(10 * kg)))
    FOLDER.mkdir(exist_ok=True)
    (FOLDER / "trial.yaml").write_text(TRIAL, encoding="utf-8")
    write("layout.csv", "plot,block,watering,plants", layout)
    write("plants.csv", "plot,plant,planted_on,replaces", plants)
    write("visits.csv", "date,plot,plant,status,cause", sorted(visits))
    write("events.csv", "date,plot,what,plant,new_plant", sorted(events))
    write("picks.csv", "date,plot,plant,mass_kg,count", sorted(picks))


if __name__ == "__main__":
    main()
