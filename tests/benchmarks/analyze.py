"""Whole seasons analyzed a second, beside nothing else: printed only.

Run by hand: ``OMP_NUM_THREADS=1 python tests/benchmarks/analyze.py``. One process, CPU time:
every line, redraw, refit without a block, mixed model, planned power and second opinion of
seasons whose records are read already. The demo seasons are the best of five, critical
values forgotten in between; the small trial is a stream of different seasons.

Measured on one core of two, Python 3.11, seconds a season: with joint tails by double
integrals 0.98 (quarry-oaks), 0.23 (garden-peppers), 0.48 (small trial); with those on the
circle and the sphere, and what was worked out kept, 0.39, 0.12, 0.19.
"""

import platform
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd
from rates import one_thread

import wickstats as ws
from wickstats.demo.trials import copy_demo
from wickstats.models.linear import joint_t

BEST_OF, SEASONS, PLANTS = 5, 20, 6
TRIAL = """
format: 1
trial: {id: small, season: {start: 2025-03-01, end: 2025-10-31}}
factors:
  watering: [{name: hand, reference: true}, {name: wick}, {name: pot}]
design: {type: randomized complete block, blocks: 4, plants_per_plot: 6, layout: layout.csv,
         drawn: here, seed: 5}
records:
  visits: {file: visits.csv}
  measurements: {file: sizes.csv}
  picks: {file: picks.csv}
  water: {file: water.csv}
responses:
  - {name: survival, kind: survival, at: [2025-10-01], better: more}
  - {name: height, kind: measurement, column: height_cm, measured_in: cm, better: more}
  - {name: fruit, kind: yield, column: marketable_kg, measured_in: kg, better: more}
  - {name: fruits, kind: count, column: count, better: more}
  - {name: per liter, kind: yield per liter, yield: fruit, water: applied, better: more}
"""


def seconds(work: object) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start


def demo(file: Path) -> tuple[str, int, int, float]:
    trial = ws.read_trial(file)
    season = ws.read_records(trial)
    best = np.inf
    for _ in range(BEST_OF + 1):  # another season has other degrees of freedom
        joint_t._critical.cache_clear()
        joint_t._recognized.cache_clear()
        best = min(best, seconds(lambda: ws.analyze(trial, season)))
    return trial.trial.id, len(season.layout.plots), len(trial.responses), best


def small(folder: Path) -> tuple[str, int, int, float]:
    """Different seasons of survival, height, yield, count and yield per liter."""
    (folder / "trial.yaml").write_text(TRIAL, encoding="utf-8")
    trial = ws.read_trial(folder / "trial.yaml")
    layout = ws.randomize(trial)
    rng = np.random.default_rng(1)
    seasons = [
        ws.read_records(trial, tables=tables(layout, rng), layout=layout)
        for _ in range(SEASONS + 1)
    ]
    ws.analyze(trial, seasons[0])
    total = sum(seconds(lambda s=s: ws.analyze(trial, s)) for s in seasons[1:])
    return "small, one plot lost", len(layout.plots), len(trial.responses), total / SEASONS


def tables(layout: object, rng: np.random.Generator) -> dict[str, pd.DataFrame]:
    visits, sizes, picks, water = [], [], [], []
    lost = rng.integers(len(layout.plots))
    for k, plot in enumerate(layout.plots):
        effect = rng.normal()
        if k == lost:
            continue
        for plant in range(1, PLANTS + 1):
            fate = "alive" if rng.random() < 1.0 / (1.0 + np.exp(-0.8 - effect)) else "dead"
            visits.append(("2025-05-01", plot.plot, plant, "alive"))
            visits.append(("2025-10-01", plot.plot, plant, fate))
            if rng.random() > 0.15:
                sizes.append(
                    ("2025-10-01", plot.plot, plant, 50 + 4 * effect + rng.normal(0, 4))
                )
        mass = np.exp(1.0 + 0.2 * effect + rng.normal(0, 0.15))
        picks.append(("2025-08-01", plot.plot, mass, rng.poisson(20 * np.exp(0.3 * effect))))
        water.append(("2025-08-01", plot.plot, np.exp(3.0 + rng.normal(0, 0.1))))
    return {
        "visits": pd.DataFrame(visits, columns=["date", "plot", "plant", "status"]),
        "measurements": pd.DataFrame(sizes, columns=["date", "plot", "plant", "height_cm"]),
        "picks": pd.DataFrame(picks, columns=["date", "plot", "marketable_kg", "count"]),
        "water": pd.DataFrame(water, columns=["date", "plot", "applied_l"]),
    }


def main() -> int:
    if not one_thread():
        return 1
    print(f"{platform.processor() or platform.machine()}, Python {platform.python_version()}")
    print(
        f"{'whole seasons, analyzed':26}{'plots':>7}{'responses':>11}{'seasons/s':>11}{'s':>8}"
    )
    with tempfile.TemporaryDirectory() as held:
        folder = Path(held)
        rows = [demo(one / "trial.yaml") for one in copy_demo(folder)]
        for name, plots, responses, s in [*rows, small(folder)]:
            print(f"{name:26}{plots:7}{responses:11}{1.0 / s:11.2f}{s:8.3f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
