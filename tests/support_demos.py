"""The demo seasons, a rehearsal and a hard season, each analyzed once for tests of pages."""

import functools
import tempfile
from pathlib import Path

from support_audit import audited

import wickstats as ws
from wickstats.archive.results_file import read_results, write_results
from wickstats.core.results import Results
from wickstats.road.rehearse import Rehearsal

DEMOS = ("quarry-oaks", "garden-peppers", "bench-cords")
SPANISH_NAMES = {
    "hand watering": "riego a mano",
    "capillary wick": "mecha capilar",
    "gravity wick": "mecha por gravedad",
    "buried clay pot": "olla de barro enterrada",
    "limestone rubble": "cascajo de caliza",
    "2 L a plant each week": "2 L por planta cada semana",
    "cord from a closed reservoir up and over into the root zone": "cuerda desde un depósito",
    "cord out of the bottom of a raised reservoir": "cuerda desde un depósito en alto",
    "unglazed pot between the plants": "olla sin esmalte entre las plantas",
    '"name": "survival"': '"name": "supervivencia"',
    '"primary": "survival"': '"primary": "supervivencia"',
    '"response": "survival"': '"response": "supervivencia"',
    '"name": "height"': '"name": "altura"',
}
HARD = """\
format: 1
trial: {id: hard, season: {start: 2025-03-01, end: 2025-09-01}}
factors:
  watering: [{name: can, reference: true}, {name: wick}, {name: none}, {name: pot}]
design: {type: randomized complete block, layout: layout.csv, drawn: elsewhere}
records: {visits: {file: visits.csv}, measurements: {file: sizes.csv}}
responses:
  - {name: survival, kind: survival, at: 2025-09-01, better: more}
  - {name: height, kind: growth, column: height_cm, measured_in: cm, better: more}
plan:
  primary: survival
  secondary: [height]
  matters: {survival: {difference: 0.1}, height: {ratio: 1.1}}
"""
REHEARSED = """\
format: 1
trial: {id: beds, season: {start: 2027-03-15, end: 2027-10-11}}
factors:
  watering: [{name: can, reference: true, detail: weekly}, {name: wick}, {name: drip}]
design: {type: randomized complete block, blocks: 4, plants_per_plot: 5, layout: layout.csv}
responses: [{name: survival, kind: survival, at: 2027-10-11, better: more}]
plan: {primary: survival, matters: {survival: {difference: 0.15}}}
power:
  assume:
    survival: {alive_at_end: {can: 0.6, wick: 0.9, drip: 0.8}, plot_correlation: 0.1}
"""


def demo_results(name: str) -> Results:
    """The analyzed season of a demo trial; the tests of the audit have it too."""
    return audited(name).results


@functools.cache
def spanish_oaks() -> Results:
    """The terrace trial with the names that a grower who writes Spanish would give."""
    text = write_results(demo_results("quarry-oaks")).decode()
    for ours, theirs in SPANISH_NAMES.items():
        text = text.replace(ours, theirs)
    return read_results(text.encode())


def rehearsed() -> Results:
    """The results of the rehearsal."""
    return rehearsed_season().results


@functools.cache
def rehearsed_season() -> Rehearsal:
    """A simulated season of three ways in four blocks."""
    with tempfile.TemporaryDirectory() as out:
        path = Path(out) / "trial.yaml"
        path.write_text(REHEARSED)
        return ws.rehearse(ws.read_trial(path), seed=1)


@functools.cache
def hard_results() -> Results:
    """Three blocks of four plants: one way loses nothing, one everything, a plot is lost."""
    with tempfile.TemporaryDirectory() as out:
        trial = ws.read_trial(_hard_folder(Path(out)) / "trial.yaml")
        return ws.analyze(trial, ws.read_records(trial))


def _hard_folder(folder: Path) -> Path:
    layout, visits = ["plot,block,watering"], ["date,plot,plant,status"]
    sizes = ["date,plot,plant,height_cm"]
    dead = {"can": (1, 2, 1), "wick": (0, 0, 0), "none": (4, 4, 4), "pot": (0, 3, 1)}
    for arm, counts in dead.items():
        for block, gone in enumerate(counts, start=1):
            plot = f"{arm}{block}"
            layout.append(f"{plot},{block},{arm}")
            if plot == "pot3":
                continue
            for plant in range(1, 5):
                sizes.append(f"2025-03-02,{plot},{plant},{10 + plant}")
                visits.append(f"2025-03-02,{plot},{plant},alive")
                lives = plant > gone
                visits.append(f"2025-06-01,{plot},{plant},{'alive' if lives else 'dead'}")
                if lives:
                    visits.append(f"2025-09-01,{plot},{plant},alive")
                    sizes.append(f"2025-09-01,{plot},{plant},{20 + 3 * plant + block}")
    for name, rows in (("layout", layout), ("visits", visits), ("sizes", sizes)):
        (folder / f"{name}.csv").write_text("\n".join(rows) + "\n")
    (folder / "trial.yaml").write_text(HARD)
    return folder
