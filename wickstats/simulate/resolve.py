"""The trial file's words become models with every number filled in.

Defaults where the file is silent (common practice, no source): plants of a plot correlate
by 0.1, of a block by 0.05 more; blocks differ as plots do; whole plots and strips differ
as plots do; liters vary by 0.10. A response of kind water used without assumptions takes the
liters beside a yield per liter's assumption (``beside``), else the liters planned. Leans on
``assumed``, ``beside``, ``places``, ``missing`` and the trial's values.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from wickstats.core.errors import Problem, TrialError
from wickstats.core.words import say
from wickstats.design.defaults import names_of
from wickstats.design.trial import Assumption, Response, Trial
from wickstats.layout.plots import Layout
from wickstats.simulate.assumed import Array, Counts, Crew, Model, Quantity, Ratio, Shares
from wickstats.simulate.beside import with_liters
from wickstats.simulate.missing import missing
from wickstats.simulate.places import Places, places_of

PLOT_CORRELATION = 0.1
BLOCK_CORRELATION = 0.05
LITERS_CV = 0.10
NO_SEASON_D = 180
_PER_PLANT = ("growth", "measurement", "score")


@dataclass(frozen=True, slots=True, eq=False)
class SeasonModel:
    """One trial's seasons: where, what of, and how the crew works.

    Attributes
    ----------
    models
        Response name -> model, in the order of the trial's responses.
    days
        Length of the season, in days.
    """

    trial: Trial
    places: Places
    models: Mapping[str, Model]
    crew: Crew
    days: int


def spread_over_cells(given: Mapping[str, float], cells: tuple[str, ...]) -> Array:
    """(t,) values by treatment, NaN where none is given.

    A level's name stands for every treatment that holds it.
    """
    out = np.full(len(cells), np.nan)
    for k, cell in enumerate(cells):
        held = [given[level] for level in names_of(cell)[1:] if level in given]
        if cell in given:
            out[k] = given[cell]
        elif len(held) == 1:
            out[k] = held[0]
    return out


@dataclass(slots=True)
class _Words:
    """What the models are made from, and what was found missing."""

    trial: Trial
    places: Places
    assume: Mapping[str, Assumption]
    problems: list[Problem] = field(default_factory=list)

    def levels(self, response: Response, given: Mapping[str, float]) -> Array | None:
        """The same, for every treatment in the layout; else the problem is kept."""
        if not given:
            self.tell(response, "missing")
            return None
        values = spread_over_cells(given, self.places.cell_names)
        used = np.unique(self.places.cells)
        absent = [self.places.cell_names[k] for k in used if not np.isfinite(values[k])]
        if absent:
            self.tell(response, "missing treatment", ", ".join(absent))
            return None
        unused = values[used].mean()  # treatments that the layout leaves out
        return np.where(np.isfinite(values), values, unused)

    def tell(self, response: Response, key: str, treatments: str = "") -> None:
        """Keep a problem."""
        cells = self.places.cell_names
        self.problems.append(missing(self.trial, response, cells, key, treatments))


def season_model(
    trial: Trial,
    layout: Layout,
    *,
    assume: Mapping[str, Assumption] | None = None,
    crew: Crew | None = None,
    only: tuple[str, ...] | None = None,
) -> SeasonModel:
    """Fill in what the trial file assumes.

    Parameters
    ----------
    assume
        In place of the file's assumptions, response by response.
    crew
        In place of the file's.
    only
        Names of responses; all where None.

    Raises
    ------
    TrialError
        Holding every assumption that is missing, each with an example to paste.
    """
    held = {**(trial.power.assume if trial.power else {}), **(assume or {})}
    words = _Words(trial, places_of(trial, layout), held)
    models: dict[str, Model] = {}
    for response in trial.responses:
        if only is not None and response.name not in only:
            continue
        model = _model(response, words)
        if model is not None:
            models[response.name] = model
    if words.problems:
        raise TrialError(words.problems)
    season = trial.trial.season
    days = (season.end - season.start).days if season else NO_SEASON_D
    return SeasonModel(trial, words.places, models, crew or crew_of(trial), days)


def usual_crew(trial: Trial) -> Crew:
    """How a crew works where the file is silent.

    At the bench, and where no date tells of a loss, no unit is lost.
    """
    if trial.trial.place == "bench" or trial.trial.season is None:
        return replace(Crew(), plots_lost=0.0)
    return Crew()


def crew_of(trial: Trial) -> Crew:
    """How the crew works, by the file or by default."""
    given = trial.power.crew if trial.power else None
    plain = given.model_dump(exclude_none=True) if given is not None else {}
    spread, every = plain.get("visits_spread_d"), plain.get("visits_every_d")
    if every is not None and spread is None:
        plain["visits_spread_d"] = min(1, every - 1)
    if spread is not None and every is None:
        plain["visits_every_d"] = max(14, spread + 1)
    return replace(usual_crew(trial), **plain)


def _model(response: Response, words: _Words) -> Model | None:
    given = words.assume.get(response.name)
    if response.kind == "yield per liter":
        return _ratio(response, given or Assumption(), words)
    if response.kind == "water used":
        return _liters(response, with_liters(words.trial, response, words.assume)[0], words)
    if given is None:
        words.tell(response, "missing")
        return None
    if response.kind == "survival":
        return _shares(response, given, words)
    if response.kind == "count":
        return _counts(response, given, words)
    return _quantity(response, given, words)


def _shares(response: Response, given: Assumption, words: _Words) -> Shares | None:
    alive = words.levels(response, given.alive_at_end)
    if alive is None:
        return None
    bare = [u for u, m in zip(words.places.units, words.places.plants, strict=True) if not m]
    if bare:
        words.problems.append(
            Problem(
                words.places.layout.file,
                "no plants",
                say("simulate no plants found", plot=bare[0]),
                say("simulate no plants expected"),
                say("simulate no plants fix"),
            )
        )
        return None
    plot = _or(given.plot_correlation, PLOT_CORRELATION)
    most = max(0.95 - plot, 0.0)
    return Shares(
        name=response.name,
        alive=alive,
        plot_correlation=plot,
        ground_correlation=_or(given.block_correlation, min(BLOCK_CORRELATION, most / 4)),
        piece_correlation=_or(given.whole_plot_correlation, min(plot, most / 4)),
        shape=_or(given.death_shape, 1.0),
        causes={str(k): v for k, v in given.causes.items()} or {"drought": 1.0},
    )


def _counts(response: Response, given: Assumption, words: _Words) -> Counts | None:
    means = words.levels(response, given.mean)
    if means is None:
        return None
    sd = _log_sd(_or(given.plot_cv, 0.0))
    return Counts(
        response.name,
        means,
        sd,
        sd if given.block_cv is None else _log_sd(given.block_cv),
        sd if given.whole_plot_cv is None else _log_sd(given.whole_plot_cv),
    )


def _quantity(response: Response, given: Assumption, words: _Words) -> Quantity | None:
    means = words.levels(response, given.mean)
    if means is None:
        return None
    if all(s is None for s in (given.plot_cv, given.plot_sd, given.plant_cv, given.plant_sd)):
        words.tell(response, "missing spread")
        return None
    log = response.model_scale == "log"
    given = plots_told(given, log=log)
    plot = _sd(given.plot_cv, given.plot_sd, means, log=log)
    plant = np.zeros(means.size)
    if response.kind in _PER_PLANT:
        plant = _sd(given.plant_cv, given.plant_sd, means, log=log)
    return Quantity(
        name=response.name,
        kind=response.kind,
        log=log,
        means=means,
        unit_sd=plot,
        plant_sd=plant,
        ground_sd=_shared(given.block_cv, given.block_sd, plot, means, log=log),
        piece_sd=_shared(given.whole_plot_cv, given.whole_plot_sd, plot, means, log=log),
        limits=response.range,
        start=given.start_size,
    )


def _liters(response: Response, given: Assumption, words: _Words) -> Quantity | None:
    planned = words.trial.water.planned_l if words.trial.water else {}
    above = {key: value for key, value in planned.items() if value > 0}
    means = words.levels(response, given.mean or given.liters or above)
    if means is None:
        return None
    cv = given.liters_cv if given.liters_cv is not None else given.plot_cv
    log = response.model_scale == "log" or response.kind == "yield per liter"
    sd = _sd(_or(cv, LITERS_CV), None, means, log=log)
    ground = _shared(given.block_cv, given.block_sd, 0.0 * sd, means, log=log)
    piece = _shared(given.whole_plot_cv, given.whole_plot_sd, 0.0 * sd, means, log=log)
    none = np.zeros(means.size)
    return Quantity(response.name, "water used", log, means, sd, none, ground, piece)


def _ratio(response: Response, given: Assumption, words: _Words) -> Ratio | None:
    """Yield and water apart; a mean of its own is a yield only beside liters."""
    source = words.trial.response(response.yield_of or "")
    held = words.assume.get(source.name)
    if held is None and given.mean and given.liters:
        held = given
    if held is None:
        words.tell(source, "missing")
        return None
    above = _quantity(source, held, words)
    water = next((r for r in words.trial.responses if r.kind == "water used"), None)
    liters = words.assume.get(water.name) if water is not None and not given.liters else given
    about = liters if liters is not None and (liters.mean or liters.liters) else given
    if about is given:
        about = given.model_copy(update={"mean": {}, "plot_cv": None})  # its yield's
    below = _liters(response, about, words)
    if above is None or below is None:
        return None
    return Ratio(response.name, above, below)


def _or(given: float | None, default: float) -> float:
    return default if given is None else given


def plots_told(given: Assumption, *, log: bool) -> Assumption:
    """How much plots differ, where it is told by the correlation r of two plants of a plot.

    r = plots' variance over plots' and plants' of one plot: plots' = r/(1 - r) plants', on
    the model's scale (log(1 + cv^2) of a lognormal quantity).
    """
    r = given.plot_correlation
    if r is None or given.plot_cv is not None or given.plot_sd is not None:
        return given
    odds = r / (1.0 - r)
    told: dict[str, float] = {}
    if given.plant_sd is not None:
        told["plot_sd"] = float(np.sqrt(odds)) * given.plant_sd
    elif given.plant_cv is not None and log:
        told["plot_cv"] = float(np.sqrt(np.expm1(odds * np.log1p(given.plant_cv**2))))
    elif given.plant_cv is not None:
        told["plot_cv"] = float(np.sqrt(odds)) * given.plant_cv
    return given.model_copy(update=told)


def _log_sd(cv: float) -> float:
    return float(np.sqrt(np.log1p(cv * cv)))


def _sd(cv: float | None, sd: float | None, means: Array, *, log: bool) -> Array:
    if log:
        return np.array([_log_sd(float(s) / m) for s, m in _pairs(cv, sd, means)])
    return np.full(means.size, sd) if sd is not None else np.abs((cv or 0.0) * means)


def _pairs(cv: float | None, sd: float | None, means: Array) -> list[tuple[float, float]]:
    return [(sd if sd is not None else (cv or 0.0) * m, m) for m in means]


def _shared(
    cv: float | None, sd: float | None, plot: Array, means: Array, *, log: bool
) -> float:
    """What places share is one number for all treatments: at their average mean."""
    if cv is None and sd is None:
        return float(np.sqrt(np.mean(np.square(plot))))
    return float(_sd(cv, sd, np.array([means.mean()]), log=log)[0])
