"""Growth over the visits: how fast the arms grow, from every size of every living plant.

y = (growth rate of the arm) x day + level of the arm + date + pieces of ground at random
+ lines that differ between units and between plants at random + residual: the common course
over the dates may bend, and the arms' rates are compared about it. Any difference of rates
is judged by rates that differ between units, as units are what was randomized. On the
response's model scale: on a log scale rates are relative, a day. Leans on mixed_line,
summaries.sizes and models.linear.growth.
"""

from dataclasses import replace

import numpy as np

from wickstats.analysis.context import Context
from wickstats.analysis.mixed_line import model_of, no_model, random_terms, spans
from wickstats.analysis.quantities import Rows, measured_rows, plant_keys
from wickstats.analysis.summaries.sizes import living, logged
from wickstats.analysis.summary import PlantRows, Summary
from wickstats.analysis.units import Array, Units
from wickstats.core.errors import AnalysisError
from wickstats.core.responses import MixedModel
from wickstats.core.words import say
from wickstats.design.defaults import measured_in_of
from wickstats.models.linear.growth import fit_terms
from wickstats.models.linear.terms import Intercept, Residual, Slope, Term
from wickstats.records.season import Season

FEWEST_DATES = 3
# More dates than this (plants measured each on its own days) share a bent course instead.
MOST_DATES = 25


def growth_rates(context: Context, main: Summary, season: Season) -> MixedModel | None:
    """Rates of growth by arm, or None where the response is not growth over dates."""
    response, units = context.response, context.units
    if response.kind != "growth" or season.days_not_dates:
        return None
    rows = measured_rows(season, units, response.column)
    if rows is None or rows.origin is None:
        return None
    held, _ = logged(living(rows, season), log=response.model_scale == "log")
    held = held.take(np.isfinite(held.days))
    if np.unique(held.days).size < FEWEST_DATES:
        return None
    if spans(units):
        return no_model(say("mixed spans blocks"))
    try:
        fit = fit_terms(held.values, fixed_columns(held, units), growth_terms(held, units))
    except AnalysisError as error:
        return no_model(str(error))
    scale = "1/d" if response.model_scale == "log" else f"{measured_in_of(response)}/d"
    asked = replace(
        main, estimand="growth rate", at=None, log=False, measured_in=scale, denominator=None
    )
    found = model_of(context, asked, fit, len(fit.fixed))
    tests = tuple(
        replace(row, term=say("growth rate of term", term=row.term)) for row in found.tests
    )
    return replace(found, tests=tests)


def fixed_columns(rows: Rows, units: Units) -> Array:
    """Rates of the cells first, then their levels, the course over the dates, fixed ground.

    Columns that others explain (one date, one level) are left out by the fit.
    """
    cells = (units.cells[rows.units][:, None] == np.arange(units.n_cells)).astype(float)
    day = _centered(rows.days)
    dates = np.unique(rows.days)
    if dates.size <= MOST_DATES:
        course = (rows.days[:, None] == dates[1:]).astype(float)
    else:
        course = np.column_stack([day, day**2 / np.max(np.abs(day))])
    ground = [s[rows.units] for name, s in units.grounds if name not in units.random_grounds]
    return np.hstack([cells * day[:, None], cells, course, *ground])


def growth_terms(rows: Rows, units: Units) -> list[Term]:
    """Pieces of ground and whole plots shift; units and plants have lines of their own."""
    plants = PlantRows(rows.values, rows.units, plant_keys(rows))
    day = _centered(rows.days)
    groups = random_terms(plants, units)
    if np.unique(plants.plants).size == np.unique(rows.units).size:  # one plant a unit
        groups.pop("plant", None)
    terms: list[Term] = []
    for name, code in groups.items():
        line = name in (units.unit_word, "plant")
        terms.append(Slope(name, code, day) if line else Intercept(name, code))
    return [*terms, Residual()]


def _centered(days: Array) -> Array:
    return np.asarray(days - days.mean())
