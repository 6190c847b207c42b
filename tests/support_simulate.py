"""Small trials from which seasons are simulated, and Monte Carlo errors."""

from pathlib import Path

import numpy as np

from wickstats.design.read import parse_trial
from wickstats.design.trial import Trial
from wickstats.layout.randomize import draw
from wickstats.simulate.assumed import NO_LOSSES, Crew
from wickstats.simulate.resolve import SeasonModel, season_model

HEAD = """\
format: 1
trial: {id: small, season: {start: 2027-03-15, end: 2027-10-11}}
factors: {watering: [{name: hand, reference: true}, {name: wick}, {name: drip}]}
design:
  type: randomized complete block
  blocks: 5
  plants_per_plot: 6
  layout: layout.csv
  seed: 3
"""


def trial_of(responses: str, assume: str, *, head: str = HEAD, rest: str = "") -> Trial:
    """A trial of three treatments in five blocks, six plants a plot."""
    text = f"{head}responses:\n{responses}\npower:\n  assume:\n{assume}\n{rest}"
    return parse_trial(text.encode(), file="trial.yaml", folder=Path("nowhere"))


def model_of(trial: Trial, crew: Crew = NO_LOSSES) -> SeasonModel:
    """Its seasons, nothing lost unless asked for."""
    return season_model(trial, draw(trial, 3), crew=crew)


def near(values: np.ndarray, expected: float, *, errors: float = 4.0) -> None:
    """The mean over seasons (axis 0) lies within four Monte Carlo errors."""
    by_season = values.reshape(values.shape[0], -1).mean(axis=1)
    error = by_season.std(ddof=1) / np.sqrt(by_season.size)
    assert abs(by_season.mean() - expected) <= errors * error + 1e-12
