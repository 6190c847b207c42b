"""What the trial file does not say, without which nothing can be told before planting.

About the primary response, or, where the plan names none, about every response where none
can be reckoned. Leans on simulate.missing and the trial's values.
"""

import numpy as np

from wickstats.core.errors import Problem
from wickstats.design.defaults import cells_of, plan_of
from wickstats.design.trial import Assumption, Response, Trial
from wickstats.simulate.missing import missing
from wickstats.simulate.resolve import spread_over_cells


def unsaid(trial: Trial, told: set[str]) -> tuple[Problem, ...]:
    """One problem a response, with what to write.

    Parameters
    ----------
    told
        Names of the responses whose power was reckoned: nothing is missing where the primary
        one, or without a plan any, is among them.
    """
    primary = plan_of(trial).primary
    asked = [r for r in trial.responses if primary in (None, r.name)]
    if any(r.name in told for r in asked):
        return ()
    return tuple(_problem(trial, response) for response in asked)


def _problem(trial: Trial, response: Response) -> Problem:
    assume = trial.power.assume if trial.power else {}
    cells = cells_of(trial.factors)
    about = response
    if response.kind == "yield per liter" and response.yield_of is not None:
        mine = assume.get(response.name)
        if response.yield_of not in assume and not (mine and mine.mean):
            about = trial.response(response.yield_of)
    given = assume.get(about.name)
    if given is None:
        return missing(trial, about, cells, "missing")
    levels = given.alive_at_end or given.mean or given.liters
    values = spread_over_cells(levels, cells)
    absent = [c for c, v in zip(cells, values, strict=True) if not np.isfinite(v)]
    if levels and absent:
        return missing(trial, about, cells, "missing treatment", ", ".join(absent))
    no_spread = about.kind != "survival" and levels and not _spread(given)
    return missing(trial, about, cells, "missing spread" if no_spread else "missing")


def _spread(given: Assumption) -> bool:
    known = (given.plot_cv, given.plot_sd, given.plant_cv, given.plant_sd, given.liters_cv)
    return any(value is not None for value in known)
