"""Growth over the visits: how fast the arms grow, from every size of every living plant.

y = (growth rate of the arm) x day + level of the arm + date + pieces of ground at random
+ lines that differ between units and between plants at random + residual: the common course
over the dates may bend (unless the plan calls it straight), and the arms' rates are compared
about it. Any difference of rates
is judged by rates that differ between units, as units are what was randomized. On the
response's model scale: on a log scale rates are relative, a day.

Where the plan says ``correlation: serial``, visits of one plant are the more alike the
closer they are, in place of a line of each plant: v rho^(days apart / days between visits),
a first-order autoregression at equal distances, which may be negative, else a decay in time
(Jennrich & Schluchter 1986). Where it says so, v (or the residual variance beside lines) is
one for each arm or each visit. Leans on mixed_line, summaries.sizes, models.linear.growth.
"""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from wickstats.analysis.context import Context
from wickstats.analysis.mixed_line import model_of, no_model, random_terms, spans
from wickstats.analysis.quantities import Rows, measured_rows, plant_keys
from wickstats.analysis.summaries.sizes import living, logged
from wickstats.analysis.summary import PlantRows, Summary
from wickstats.analysis.units import Array, IntArray, Units
from wickstats.core.errors import AnalysisError
from wickstats.core.responses import MixedModel
from wickstats.core.words import say
from wickstats.design.defaults import measured_in_of
from wickstats.design.trial import GrowthOverVisits
from wickstats.models.linear.growth import fit_terms
from wickstats.models.linear.terms import Intercept, Residual, Serial, Slope, Term
from wickstats.records.season import Season

FEWEST_DATES = 3
# More dates than this (plants measured each on its own days) share a bent course instead.
MOST_DATES = 25


@dataclass(frozen=True, slots=True, eq=False)
class Sizes:
    """Every size of a living plant, and the day from which days count."""

    rows: Rows
    origin: pd.Timestamp

    def date(self, day: float) -> str:
        """The day as a date."""
        return str((self.origin + pd.Timedelta(days=float(day))).date())


def growth_rates(context: Context, main: Summary, season: Season) -> MixedModel | None:
    """Rates of growth by arm, or None where the response is not growth over dates."""
    response, units, planned = context.response, context.units, context.visits
    held = sizes_over_visits(context, season)
    if held is None:
        return None
    dates = np.unique(held.rows.days)
    if dates.size < FEWEST_DATES:
        asked = planned is not None
        return no_model(say("growth few dates", fewest=FEWEST_DATES)) if asked else None
    if spans(units):
        return no_model(say("mixed spans blocks"))
    if planned is not None and planned.variance == "by visit" and dates.size > MOST_DATES:
        return no_model(say("growth by visit many", dates=dates.size, most=MOST_DATES))
    try:
        terms = growth_terms(held, units, planned)
        fit = fit_terms(held.rows.values, fixed_columns(held.rows, units, planned), terms)
    except AnalysisError as error:
        return no_model(str(error))
    scale = "1/d" if response.model_scale == "log" else f"{measured_in_of(response)}/d"
    asked_for = replace(
        main, estimand="growth rate", at=None, log=False, measured_in=scale, denominator=None
    )
    found = model_of(context, asked_for, fit, len(fit.fixed))
    tests = tuple(
        replace(row, term=say("growth rate of term", term=row.term)) for row in found.tests
    )
    diary = {**found.diary, **_planned_facts(terms, planned)}
    return replace(found, tests=tests, diary=diary)


def sizes_over_visits(context: Context, season: Season) -> Sizes | None:
    """Sizes of living plants by day; None where the response is not growth over dates."""
    response, units = context.response, context.units
    if response.kind != "growth" or season.days_not_dates:
        return None
    rows = measured_rows(season, units, response.column)
    if rows is None or rows.origin is None:
        return None
    held, _ = logged(living(rows, season), log=response.model_scale == "log")
    return Sizes(held.take(np.isfinite(held.days)), pd.Timestamp(rows.origin))


def empty_visits(context: Context, season: Season) -> tuple[str, ...]:
    """Treatments without any size on a date on which others have some, in words."""
    held = sizes_over_visits(context, season)
    if held is None:
        return ()
    dates, when = np.unique(held.rows.days, return_inverse=True)
    if not FEWEST_DATES <= dates.size <= MOST_DATES:
        return ()
    units = context.units
    counts = np.zeros((units.n_cells, dates.size), dtype=np.int64)
    np.add.at(counts, (units.cells[held.rows.units], when.reshape(-1)), 1)
    out = []
    for cell in np.unique(units.cells):
        empty = [held.date(day) for day in dates[counts[cell] == 0]]
        if 0 < len(empty) < dates.size:
            name = units.cell_names[int(cell)]
            out.append(say("growth empty visits", name=name, dates=", ".join(empty)))
    return tuple(out)


def _planned_facts(
    terms: list[Term], planned: GrowthOverVisits | None
) -> dict[str, str | float | int]:
    """What the plan asked for, beside the fit's own diary."""
    if planned is None:
        return {}
    out: dict[str, str | float | int] = {
        "planned correlation": planned.correlation,
        "planned variance": planned.variance,
        "planned course": planned.course,
    }
    if isinstance(terms[-1], Serial):
        out["correlation at days"] = float(terms[-1].unit)
    return out


def fixed_columns(rows: Rows, units: Units, planned: GrowthOverVisits | None = None) -> Array:
    """Rates of the cells first, then their levels, the course over the dates, fixed ground.

    A straight course is the arms' own rates, without more.
    Columns that others explain (one date, one level) are left out by the fit.
    """
    cells = (units.cells[rows.units][:, None] == np.arange(units.n_cells)).astype(float)
    if units.basis is not None:
        cells = cells @ units.basis
    day = _centered(rows.days)
    dates = np.unique(rows.days)
    if planned is not None and planned.course == "straight":
        course = np.empty((day.size, 0))
    elif dates.size <= MOST_DATES:
        course = (rows.days[:, None] == dates[1:]).astype(float)
    else:
        course = np.column_stack([day, day**2 / np.max(np.abs(day))])
    ground = [s[rows.units] for name, s in units.grounds if name not in units.random_grounds]
    return np.hstack([cells * day[:, None], cells, course, *ground])


def growth_terms(sizes: Sizes, units: Units, planned: GrowthOverVisits | None) -> list[Term]:
    """Pieces of ground and whole plots shift; units and plants have lines of their own.

    Serial visits of a plant stand in place of the plant's line and of the residual.
    """
    rows = sizes.rows
    keys = plant_keys(rows)
    serial = planned is not None and planned.correlation == "serial"
    day = _centered(rows.days)
    groups = random_terms(PlantRows(rows.values, rows.units, keys), units)
    if serial or np.unique(keys).size == np.unique(rows.units).size:  # one plant a unit
        groups.pop("plant", None)
    if serial and units.unit_word not in groups:  # one plant a unit is its own unit
        groups[units.unit_word] = rows.units
    terms: list[Term] = []
    for name, code in groups.items():
        line = name in (units.unit_word, "plant")
        terms.append(Slope(name, code, day) if line else Intercept(name, code))
    by, levels = _variances(sizes, units, planned)
    if not serial:
        return [*terms, Residual(by, levels)]
    gaps = np.diff(np.unique(rows.days))
    unit = float(np.median(gaps))
    times = np.asarray(rows.days - rows.days.min(), dtype=float)
    equal = bool(np.all(gaps == gaps[0]))
    return [*terms, Serial("residual", keys, times, equal, unit, by, levels)]


def _variances(
    sizes: Sizes, units: Units, planned: GrowthOverVisits | None
) -> tuple[IntArray | None, tuple[str, ...]]:
    """Codes (n,) of rows with a variance of their own, and the levels' names."""
    if planned is None or planned.variance == "pooled":
        return None, ()
    rows = sizes.rows
    if planned.variance == "by arm":
        met, by = np.unique(units.cells[rows.units], return_inverse=True)
        names = tuple(units.cell_names[int(k)] for k in met)
    else:
        dates, by = np.unique(rows.days, return_inverse=True)
        names = tuple(sizes.date(day) for day in dates)
    return np.asarray(by.reshape(-1), dtype=np.int64), names


def _centered(days: Array) -> Array:
    return np.asarray(days - days.mean())
