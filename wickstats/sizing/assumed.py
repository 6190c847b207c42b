"""What the trial file assumes about one response, on the model's scale.

For every treatment: the expected value and the variance of one unit's summary. Plots
differ by ``plot_cv`` (or ``plot_sd``, ``plot_correlation``), plants in a plot by
``plant_cv`` (or ``plant_sd``). On a log scale the variance of a quantity with coefficient
of variation c is log(1 + c^2) (lognormal). Shares: p (1 - p)/m (1 + (m - 1) rho), the
design effect of Kish (1965). Leans on ``events`` and the trial's values; numpy.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wickstats.core.numbers import number, percent
from wickstats.core.words import say
from wickstats.design.defaults import role_of
from wickstats.design.trial import Assumption, Response, Trial
from wickstats.simulate.beside import with_liters
from wickstats.simulate.resolve import (
    LITERS_CV,
    PLOT_CORRELATION,
    plots_told,
    spread_over_cells,
)
from wickstats.sizing.events import Events

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Expected:
    """Expected unit summaries of every treatment.

    Attributes
    ----------
    values
        (t,) expected value on the model's scale; NaN where nothing is assumed.
    variances
        (t,) variance of one unit's summary.
    ratio
        True when differences on the model's scale are log ratios.
    rule
        "strata" (one pooled variance), "dispersion" (each arm's own), "counts" or "paired".
    note
        How good the reckoning is.
    events
        What shares and counts scatter by themselves, or None.
    larger
        Variance of each larger piece (whole plot, strip) beside that of its units; None
        where nothing is assumed.
    """

    values: Array
    variances: Array
    ratio: bool
    rule: str
    note: str
    events: Events | None = None
    larger: float | None = None


def larger_pieces(trial: Trial, response: Response, what: Expected) -> float | None:
    """Variance of whole plots or strips that the trial file assumes, on the model's scale."""
    given = trial.power.assume.get(response.name) if trial.power else None
    if given is None:
        return None
    if response.kind == "survival":
        rho = given.whole_plot_correlation
        return None if rho is None else rho * float(np.nanmean(what.values * (1 - what.values)))
    if what.ratio and given.whole_plot_cv is not None:
        return log_variance(given.whole_plot_cv)
    means = np.exp(what.values) if what.ratio else what.values
    if given.whole_plot_sd is not None:
        sds = given.whole_plot_sd / means if what.ratio else given.whole_plot_sd + 0.0 * means
        return float(np.nanmean(np.square(sds)))
    if given.whole_plot_cv is not None:
        return float(np.nanmean(np.square(given.whole_plot_cv * means)))
    return None


def expected(
    trial: Trial, response: Response, cells: tuple[str, ...], plants: Array | None
) -> Expected | str:
    """Return what is assumed, or why nothing can be reckoned.

    Parameters
    ----------
    cells
        Treatments, levels joined by " x ".
    plants
        (t,) plants behind one unit of each treatment, or None where not known.
    """
    given = trial.power.assume.get(response.name) if trial.power else None
    if given is None:
        given = _implied(trial, response)
    if given is None:
        return say("power no assumption", response=response.name)
    if response.kind == "survival":
        return _shares(given, cells, plants)
    if response.kind == "yield per liter":
        return _ratio(trial, response, given, cells)
    if response.kind == "water used":
        return _water(trial, response, cells)
    means = spread_over_cells(given.mean, cells)
    if not np.isfinite(means).any():
        return say("power no assumption", response=response.name)
    found = _quantity(response, given, means, plants)
    if not isinstance(found, str) and not np.nanmax(found.variances) > 0.0:
        return say("power no scatter", response=response.name)
    return found


def log_variance(cv: float | None) -> float:
    """Variance of the log of a quantity with that coefficient of variation."""
    return float(np.log1p(cv * cv)) if cv is not None else 0.0


def _shares(given: Assumption, cells: tuple[str, ...], plants: Array | None) -> Expected | str:
    p = spread_over_cells(given.alive_at_end, cells)
    if plants is None:
        return say("power no plants")
    stated = given.plot_correlation is not None
    rho = given.plot_correlation if given.plot_correlation is not None else PLOT_CORRELATION
    inside = np.clip(p, 0.5 / (plants + 1), 1 - 0.5 / (plants + 1))
    # an arm near its end still has the scatter of its plants as assumed
    inside = np.where(p * (1 - p) > 0, p, inside)
    variances = inside * (1 - inside) / plants * (1 + (plants - 1) * rho)
    note = say(
        "power approximate",
        kind="shares",
        correlation=number(rho, 2),
        origin=say("power correlation stated" if stated else "power correlation assumed"),
        from_where=say("power from where"),
    )
    events = Events(p, plants)
    return Expected(p, variances, ratio=False, rule="dispersion", note=note, events=events)


def _quantity(
    response: Response, given: Assumption, means: Array, plants: Array | None
) -> Expected | str:
    if all(s is None for s in (given.plot_cv, given.plot_sd, given.plant_cv, given.plant_sd)):
        return say("power no spread", response=response.name)
    m = plants if plants is not None else np.ones(means.size)
    per_plant = response.kind in ("growth", "measurement", "score")
    log = response.model_scale == "log"
    given = plots_told(given, log=log)
    if response.kind == "count":
        variances = log_variance(given.plot_cv) + 1.0 / np.maximum(means, 1e-9)
        note = say("power approximate counts", from_where=say("power from where"))
        values = np.log(means)
        return Expected(
            values, variances, ratio=True, rule="counts", note=note, events=Events(means)
        )
    if log:
        variances = np.full(means.size, log_variance(given.plot_cv))
        if given.plot_sd is not None:
            variances = variances + (given.plot_sd / means) ** 2
        if per_plant:
            variances = variances + log_variance(given.plant_cv) / m
        note = say("power approximate log")
        return Expected(np.log(means), variances, ratio=True, rule="strata", note=note)
    plot_sd = given.plot_sd if given.plot_sd is not None else (given.plot_cv or 0.0) * means
    plant_sd = given.plant_sd if given.plant_sd is not None else (given.plant_cv or 0.0) * means
    variances = np.broadcast_to(np.square(plot_sd), means.shape).astype(float)
    if per_plant:
        variances = variances + np.square(plant_sd) / m
    return Expected(means, variances, ratio=False, rule="strata", note=say("power exact"))


def _implied(trial: Trial, response: Response) -> Assumption | None:
    """What follows for a planned response of which nothing is said: ratios and liters.

    As for simulated seasons: a ratio from its yield and its water, liters from the ratio's or
    from the plan.
    """
    if trial.power is None or role_of(trial, response) == "exploratory":
        return None
    if response.kind == "yield per liter" and response.yield_of in trial.power.assume:
        return Assumption()
    if response.kind != "water used":
        return None
    planned = trial.water is not None and bool(trial.water.planned_l)
    beside = with_liters(trial, response, trial.power.assume)[1] is not None
    return Assumption() if planned or beside else None


def _ratio(
    trial: Trial, response: Response, given: Assumption, cells: tuple[str, ...]
) -> Expected | str:
    held = trial.power.assume.get(response.yield_of or "") if trial.power else None
    source = held if held is not None else given
    means = spread_over_cells(given.mean or source.mean, cells)
    direct = bool(given.mean) and not given.liters
    water = given if given.liters else _water_assumed(trial) or given
    told = water is not given and water.mean and not water.liters
    liters = spread_over_cells(water.mean, cells) if told else _liters(trial, water, cells)
    if not np.isfinite(means).any() or not (direct or np.isfinite(liters).any()):
        return say("power no assumption", response=response.name)
    plot_cv = given.plot_cv if given.plot_cv is not None else source.plot_cv
    if plot_cv is None:
        return say("power no spread", response=response.yield_of or response.name)
    values = np.log(means) if direct else np.log(means) - np.log(liters)
    variances = np.full(len(cells), log_variance(plot_cv))
    note = say("power approximate log")
    cv = given.liters_cv if given.liters_cv is not None else _cv_of(water, given)
    if not direct and cv is None:
        cv, note = LITERS_CV, f"{note}; {say('power liters vary', cv=percent(LITERS_CV))}"
    variances = variances + log_variance(cv)
    return Expected(values, variances, ratio=True, rule="strata", note=note)


def _water_assumed(trial: Trial) -> Assumption | None:
    """What is assumed about the trial's response of water used, if it tells liters."""
    water = next((r for r in trial.responses if r.kind == "water used"), None)
    found = trial.power.assume.get(water.name) if trial.power and water is not None else None
    return found if found is not None and (found.mean or found.liters) else None


def _cv_of(water: Assumption, given: Assumption) -> float | None:
    """How much liters vary, told with the water; a ratio's own plot_cv is its yield's."""
    if water is given:
        return None
    return water.liters_cv if water.liters_cv is not None else water.plot_cv


def _water(trial: Trial, response: Response, cells: tuple[str, ...]) -> Expected | str:
    assume = trial.power.assume if trial.power else {}
    given, beside = with_liters(trial, response, assume)
    liters = (
        spread_over_cells(given.mean, cells) if given.mean else _liters(trial, given, cells)
    )
    if not np.isfinite(liters).any():
        return say("power no assumption", response=response.name)
    cv = given.liters_cv if given.liters_cv is not None else given.plot_cv
    ratio = response.model_scale == "log"
    note = say("power approximate log") if ratio else say("power exact")
    if beside is not None:
        note = f"{note}; {say('power liters beside', response=beside)}"
    if cv is None:
        cv, note = LITERS_CV, f"{note}; {say('power liters vary', cv=percent(LITERS_CV))}"
    values = np.log(liters) if ratio else liters
    variances = np.full(len(cells), log_variance(cv)) if ratio else np.square(cv * liters)
    return Expected(values, variances, ratio=ratio, rule="paired", note=note)


def _liters(trial: Trial, given: Assumption, cells: tuple[str, ...]) -> Array:
    """Liters of a plot: as assumed, else as planned."""
    if given.liters:
        return spread_over_cells(given.liters, cells)
    planned = trial.water.planned_l if trial.water else {}
    liters = spread_over_cells(planned, cells)
    return np.where(liters > 0, liters, np.nan)
