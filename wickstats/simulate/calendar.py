"""The days of a simulated season: rounds of visits, measuring, picks, refills.

Leans on the trial's values and on numpy.
"""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from wickstats.core.errors import Problem, TrialError
from wickstats.core.words import say
from wickstats.design.trial import Response, Trial
from wickstats.simulate.assumed import Crew

PICKS = 5
WEEK = 7
MEASURED = 3  # times a growing plant is measured, the first at planting


@dataclass(frozen=True, slots=True)
class Calendar:
    """Days counted from planting; ``start`` None: nothing is dated.

    Attributes
    ----------
    days
        Length of the season.
    rounds
        Last day of every round of visits, increasing; the last one ends the season.
    """

    start: date | None
    days: int
    rounds: tuple[int, ...]

    def on(self, day: float) -> date | None:
        """The date of a day of the season."""
        return None if self.start is None else self.start + timedelta(days=int(day))

    @property
    def weeks(self) -> list[int]:
        """Days of refills: every week, the first at planting."""
        return list(range(0, self.days, WEEK))

    @property
    def pick_days(self) -> list[int]:
        """Days of picks, over the last two fifths of the season."""
        first = 0.6 * self.days
        return sorted({int(d) for d in np.linspace(first, self.days - 1, PICKS)})

    def measuring(self, response: Response) -> list[int]:
        """Days on which a quantity is measured."""
        asked = [self.day_of(at) for at in response.at]
        if response.kind != "growth":
            return asked or [self.days]
        steps = [int(d) for d in np.linspace(0, self.days, MEASURED + 1)]
        return sorted({*steps, *asked})

    def day_of(self, at: date | float) -> int:
        """Day of the season of a date."""
        if isinstance(at, date):
            return 0 if self.start is None else (at - self.start).days
        return int(at)


def calendar_of(trial: Trial, crew: Crew, default_days: int) -> Calendar:
    """Days of a trial's season.

    Raises
    ------
    TrialError
        Where visits, picks or refills need dates and the trial has no season.
    """
    season = trial.trial.season
    if season is None and _needs_dates(trial):
        raise TrialError(
            [
                Problem(
                    trial.file or "trial.yaml",
                    "missing season",
                    say("simulate no season found"),
                    say("simulate no season expected"),
                    say("simulate no season fix"),
                )
            ]
        )
    asked = [at for r in trial.responses if r.kind == "survival" for at in r.at]
    if season is None:
        numbers = [float(at) for at in asked if not isinstance(at, date)]
        days = int(max(numbers, default=default_days))
        return Calendar(None, days, _rounds([int(n) for n in numbers], days, crew))
    days = (season.end - season.start).days
    fixed = [(at - season.start).days if isinstance(at, date) else int(at) for at in asked]
    return Calendar(season.start, days, _rounds(fixed, days, crew))


def by_days(trial: Trial) -> bool:
    """Whether lives are written down in days from planting, not by dated visits."""
    return "lifetimes" in trial.records and "visits" not in trial.records


def _needs_dates(trial: Trial) -> bool:
    dated = {"growth", "yield", "yield per liter", "count", "water used"}
    undated = by_days(trial)
    return any(
        r.kind in dated or (r.kind == "survival" and not undated) or "water" in trial.records
        for r in trial.responses
    )


def _rounds(asked: list[int], days: int, crew: Crew) -> tuple[int, ...]:
    """The dates that the responses ask for, the season's end, and rounds between them."""
    fixed = {d for d in [*asked, days] if 0 < d <= days}
    room = crew.visits_spread_d + 2
    between = range(crew.visits_every_d, days, crew.visits_every_d)
    kept = {d for d in between if min(abs(d - f) for f in fixed) > room}
    return tuple(sorted(fixed | kept))
