"""What a simulated season rests on, in words: every number, defaults named as such.

Leans on core and on the resolved models.
"""

import numpy as np

from wickstats.core.numbers import number
from wickstats.core.words import say
from wickstats.design.trial import Assumption
from wickstats.simulate.assumed import Array, Counts, Quantity, Ratio, Shares
from wickstats.simulate.beside import with_liters
from wickstats.simulate.resolve import SeasonModel, usual_crew

MOST_LEVELS = 6


def lines_of(model: SeasonModel) -> tuple[str, ...]:
    """One sentence a response, and one on the crew."""
    return (*(_line(model, name) for name in model.models), _crew(model))


def _line(model: SeasonModel, name: str) -> str:
    what = model.models[name]
    assume = model.trial.power.assume if model.trial.power else {}
    given, beside = assume.get(name, Assumption()), None
    if model.trial.response(name).kind == "water used":
        given, beside = with_liters(model.trial, model.trial.response(name), assume)
    if isinstance(what, Shares):
        return _shares(what, given, model)
    if isinstance(what, Counts):
        return say(
            "simulated count",
            name=name,
            levels=_levels(what.means, model),
            plot=_percent(_cv(what.unit_sd)),
            block=_value(_percent(_cv(what.ground_sd)), default=given.block_cv is None),
            pieces=_pieces(_percent(_cv(what.piece_sd)), given.whole_plot_cv, model),
        )
    if isinstance(what, Ratio):
        liters = what.below
        return say(
            "simulated ratio",
            name=name,
            above=what.above.name,
            below=_levels(liters.means, model),
            cv=_percent(_cv(float(liters.unit_sd.mean()))),
        )
    line = _quantity(what, given, model)
    if beside is None:
        return line
    return say("simulated liters beside", line=line, ratio=beside)


def _shares(what: Shares, given: Assumption, model: SeasonModel) -> str:
    key = "simulated hazard even" if what.shape == 1.0 else "simulated hazard shape"
    return say(
        "simulated survival",
        name=what.name,
        levels=_levels(what.alive, model),
        plot=_value(number(what.plot_correlation, 2), default=given.plot_correlation is None),
        block=_value(
            number(what.ground_correlation, 2), default=given.block_correlation is None
        ),
        pieces=_pieces(number(what.piece_correlation, 2), given.whole_plot_correlation, model),
        hazard=say(key, shape=number(what.shape, 2)),
        causes=_value(
            ", ".join(f"{cause} {_percent(share)}" for cause, share in what.causes.items()),
            default=not given.causes,
        ),
    )


def _quantity(what: Quantity, given: Assumption, model: SeasonModel) -> str:
    unit_default = what.kind == "water used" and given.liters_cv is None
    unit_default = unit_default and given.plot_cv is None

    def spread(sd: Array | float) -> str:
        size = float(np.sqrt(np.mean(np.square(sd))))
        return _percent(_cv(size)) if what.log else number(size, 3)

    plants = ""
    if what.plant_sd.any():
        plants = f", between plants {spread(what.plant_sd)}"
    ground = given.block_cv is None and given.block_sd is None
    whole = given.whole_plot_cv if given.whole_plot_cv is not None else given.whole_plot_sd
    return say(
        "simulated quantity",
        name=what.name,
        levels=_levels(what.means, model),
        unit="unit",
        plot=_value(spread(what.unit_sd), default=unit_default),
        plants=plants,
        block=_value(spread(what.ground_sd), default=ground),
        pieces=_pieces(spread(what.piece_sd), whole, model),
        shape="lognormal" if what.log else "normal",
    )


def _pieces(value: str, given: float | None, model: SeasonModel) -> str:
    """What larger pieces add, where the layout has some."""
    names = [name for name, _ in model.places.pieces]
    if not names:
        return ""
    return f", between {' and '.join(names)}s {_value(value, default=given is None)}"


def _crew(model: SeasonModel) -> str:
    crew = model.crew
    given = model.trial.power.crew if model.trial.power else None
    plain = given.model_dump(exclude_none=True) if given is not None else {}
    standard = usual_crew(model.trial)

    def told(key: str, text: str) -> str:
        own = key in plain or getattr(crew, key) != getattr(standard, key)
        return _value(text, default=not own)

    return say(
        "simulated crew",
        every=told("visits_every_d", str(crew.visits_every_d)),
        spread=told("visits_spread_d", str(crew.visits_spread_d)),
        plots=told("plots_lost", _percent(crew.plots_lost)),
        plants=told("plants_lost", _percent(crew.plants_lost)),
        not_found=told("not_found", _percent(crew.not_found)),
        replaced=told("replaced", _percent(crew.replaced)),
        reading=told("reading_cv", _percent(crew.reading_cv)),
        doubtful=told("doubtful", _percent(crew.doubtful)),
        browsed=told("browsed", _percent(crew.browsed)),
        leaks=told("leaks", _percent(crew.leaks)),
    )


def _levels(values: Array, model: SeasonModel) -> str:
    names = model.places.cell_names
    told = [f"{n} {number(float(v), 3)}" for n, v in zip(names, values, strict=True)]
    more = f" and {len(told) - MOST_LEVELS} more" if len(told) > MOST_LEVELS else ""
    return ", ".join(told[:MOST_LEVELS]) + more


def _value(text: str, *, default: bool) -> str:
    return say("simulated default", value=text) if default else text


def _percent(share: float) -> str:
    return f"{number(100 * share, 3)} %"


def _cv(sd: float) -> float:
    """Coefficient of variation of a lognormal quantity."""
    return float(np.sqrt(np.expm1(sd * sd)))
