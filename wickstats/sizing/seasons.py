"""One part of a simulation: seasons drawn, judged by the analysis' own rules, counted.

A ``Work`` is all that a part needs, so that it can be done anywhere; part k of the same work
is the same whoever does it, since its random numbers are named after k. What is judged: the
planned comparisons of a response, those of restricted mean survival times, or the log-rank
test of one treatment term. Leans on simulate, analysis, ``season_limits``, ``season_strata``
and ``season_lives``.
"""

import hashlib
import pickle
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from wickstats.analysis.families import single_unit_side
from wickstats.analysis.plan import Family, families_of, matters_for, terms_of
from wickstats.analysis.units import Units, lay_out_units
from wickstats.core.words import say
from wickstats.design.defaults import better_of, plan_of
from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout
from wickstats.models.batch.error_strata import StrataLayout
from wickstats.models.batch.layout import BatchLayout, Flags, by_pattern, lay_batch, left_over
from wickstats.models.linear.contrasts import term_rows
from wickstats.models.power_verdicts import CLASSES, classes_of
from wickstats.simulate.assumed import NO_LOSSES
from wickstats.simulate.calendar import calendar_of
from wickstats.simulate.resolve import SeasonModel, season_model
from wickstats.simulate.seasons import UnitSeasons, draw_seasons
from wickstats.sizing.assumed import Expected
from wickstats.sizing.season_limits import RESTRICTED, Drawn, Lived, Ruled, groups_of, limits_of
from wickstats.sizing.season_lives import log_rank_p, times_lived
from wickstats.sizing.season_strata import lay_strata, strata_limits
from wickstats.sizing.tally import Tally

Array = NDArray[np.float64]
PART = 2_500  # seasons of one part
LOG_RANK = "log-rank"
BY_VISIT = (RESTRICTED, LOG_RANK)
SIMULATED_KINDS = ("survival", "count")
CANNOT_TELL = CLASSES.index("cannot tell")


@dataclass(frozen=True, slots=True, eq=False)
class Work:
    """What is simulated.

    Attributes
    ----------
    trial, layout
        Of the size that is asked about.
    response
        Name.
    rule
        "strata", "dispersion", "counts", "paired", "restricted mean" or "log-rank".
    seed
        Of the simulation.
    losses
        Whether plots and plants are lost as the crew's assumptions say; else none.
    term
        Treatment term of the log-rank test.
    """

    trial: Trial
    layout: Layout
    response: str
    rule: str
    seed: int
    losses: bool = False
    term: str = ""

    @property
    def digest(self) -> str:
        """Names the work: everything that decides a part's numbers."""
        from importlib.metadata import version

        trial = self.trial.model_dump_json(exclude={"source", "folder", "file"})
        plots = repr([(p.treatment, p) for p in self.layout.plots])
        words = (
            version("wickstats"), trial, plots, self.response, self.rule,
            str(self.seed), str(self.losses), self.term, str(PART),
        )  # fmt: skip
        return hashlib.sha256("\0".join(words).encode()).hexdigest()


def work_of(
    trial: Trial,
    layout: Layout,
    response: str,
    what: Expected,
    *,
    seed: int = 1,
    losses: bool = False,
) -> Work | str:
    """Return the work, or why it cannot be simulated, in words."""
    return _checked(Work(trial, layout, response, what.rule, seed, losses))


def lives_works(trial: Trial, layout: Layout, response: str, term: str) -> list[Work]:
    """Restricted mean survival times and the log-rank test of a term, where they can be."""
    if trial.response(response).kind != "survival":
        return []
    asked = (
        Work(trial, layout, response, RESTRICTED, seed=1),
        Work(trial, layout, response, LOG_RANK, seed=1, term=term),
    )
    return [work for work in asked if not isinstance(_checked(work), str)]


def _checked(work: Work) -> Work | str:
    """The work, or why its seasons cannot be judged."""
    units = lay_out_units(work.trial, work.layout)
    if not units.is_split:
        return work
    if work.losses:
        return say("simulated strata losses", response=work.response)
    laid = lay_strata(units, *_rows(work, units))
    return (
        say("simulated not", response=work.response, why=laid)
        if isinstance(laid, str)
        else work
    )


def calendar_for(trial: Trial, layout: Layout, name: str) -> tuple[tuple[int, ...], int]:
    """Days of the visits, and the last date asked for (else the season's end), as a day."""
    model = season_model(trial, layout, only=(name,))
    calendar = calendar_of(trial, model.crew, model.days)
    asked = [calendar.day_of(at) for at in trial.response(name).at]
    return calendar.rounds, min(max(asked, default=model.days), model.days)


@dataclass(frozen=True, slots=True, eq=False)
class _Ready:
    """A work prepared: its seasons' model, units, questions."""

    work: Work
    model: SeasonModel
    units: Units
    layout: BatchLayout | StrataLayout
    ruled: Ruled
    matters: float | None
    turned: bool
    visits: tuple[int, ...]
    horizon: int
    alone: NDArray[np.bool_]  # comparisons of which one side is one unit: none is judged


def planned_families(trial: Trial, units: Units) -> tuple[Family, ...]:
    """Families of planned comparisons."""
    return tuple(f for f in families_of(trial, units) if f.planned)


def do_part(data: bytes, part: int) -> Tally:
    """Do part ``part`` of the pickled work."""
    return _done(_ready(data), part)


@lru_cache(maxsize=64)
def _ready(data: bytes) -> _Ready:
    work: Work = pickle.loads(data)  # noqa: S301 - made by this very run, never read from a file
    trial, name = work.trial, work.response
    response = trial.response(name)
    crew = None if work.losses else NO_LOSSES
    model = season_model(trial, work.layout, crew=crew, only=(name,))
    units = lay_out_units(trial, work.layout)
    families = () if work.rule == LOG_RANK else planned_families(trial, units)
    rows, together = _rows(work, units)
    layout: BatchLayout | StrataLayout | str
    if units.is_split:
        layout = lay_strata(units, rows, together)
    else:
        layout = lay_batch(
            units.cells,
            units.n_cells,
            contrasts=rows,
            together=together,
            blocks=[shares for _, shares in units.grounds] or None,
            space=units.space,
        )
    if isinstance(layout, str):
        raise TypeError(layout)  # told before, by ``work_of``
    if isinstance(layout, BatchLayout) and work.rule in ("dispersion", RESTRICTED):
        layout = replace(layout, test=None, test_rows=None)  # nobody asks for it
    given = trial.power.assume.get(name) if trial.power else None
    log = response.model_scale == "log" or response.kind == "count"
    visits: tuple[int, ...] = ()
    horizon = model.days
    if work.rule in BY_VISIT:
        visits, horizon = calendar_for(trial, work.layout, name)
    return _Ready(
        work=work,
        model=model,
        units=units,
        layout=layout,
        ruled=Ruled(
            work.rule,
            families,
            plan_of(trial).confidence,
            planned=None if given is None else given.plot_correlation,
            blocks=units.pairs,
            better=better_of(response),
        ),
        matters=None if work.rule in BY_VISIT else matters_for(trial, name, log=log),
        turned=better_of(response) == "less",
        visits=visits,
        horizon=horizon,
        alone=np.array([single_unit_side(row, units) is not None for row in rows]),
    )


def _rows(work: Work, units: Units) -> tuple[Array, Array | None]:
    """The contrasts of a work, and those of its joint test."""
    if work.rule == LOG_RANK:
        term = next(t for t in terms_of(units) if t.name == work.term)
        together = term_rows(units.shape, term.factors)
        return together[:1], together
    families = planned_families(work.trial, units)
    return np.array([c.weights for f in families for c in f.contrasts]), None


def _done(ready: _Ready, part: int) -> Tally:
    by_visit = ready.visits or None
    drawn = draw_seasons(
        ready.model,
        ready.work.response,
        PART,
        seed=ready.work.seed,
        chunk=part,
        visits=by_visit,
    )
    if ready.work.rule == LOG_RANK:
        return _tested(ready, drawn)
    low, high, bounded = _limits(ready, drawn)
    low[:, ready.alone], bounded[:, ready.alone] = np.nan, False
    high[:, ready.alone] = np.nan
    if ready.turned:
        low, high = -high, -low
    classes = np.where(
        bounded, classes_of(low, high, None), classes_of(low, high, ready.matters)
    )  # of NaN: cannot tell
    shown = (low > 0.0) | (high < 0.0)
    counts = np.stack([(classes == c).sum(axis=0) for c in range(len(CLASSES))], axis=1)
    groups = list(groups_of(ready.ruled.families))
    return Tally(
        seasons=PART,
        shown=shown.sum(axis=0).astype(np.int64),
        classes=counts.astype(np.int64),
        unjudged=np.isnan(low).sum(axis=0).astype(np.int64),
        bounded=bounded.sum(axis=0).astype(np.int64),
        any_shown=np.array([shown[:, g].any(axis=1).sum() for g in groups], dtype=np.int64),
        all_shown=np.array([shown[:, g].all(axis=1).sum() for g in groups], dtype=np.int64),
    )


def _limits(ready: _Ready, drawn: UnitSeasons) -> tuple[Array, Array, Flags]:
    """Limits (S, k) of all seasons, and where a bound gave them."""
    lived = None
    if ready.work.rule == RESTRICTED and drawn.ended is not None:
        lived = times_lived(drawn.ended, ready.visits, ready.horizon)
    if isinstance(ready.layout, StrataLayout):
        low, high = strata_limits(ready.ruled, ready.layout, _single_values(drawn, lived))
        return low, high, np.zeros(low.shape, dtype=bool)
    k = len(ready.layout.contrasts.rows)
    low, high = np.full((PART, k), np.nan), np.full((PART, k), np.nan)
    bounded = np.zeros((PART, k), dtype=bool)
    for which, units in _patterns(drawn.present):
        kept = np.zeros(ready.layout.n, dtype=bool)
        kept[units] = True
        left = ready.layout if kept.all() else left_over(ready.layout, kept)
        codes = ready.ruled.blocks
        ruled = replace(ready.ruled, blocks=None if codes is None else codes[kept])
        places = np.ix_(which, units)
        found = limits_of(ruled, left, Drawn(drawn.values[places], drawn.plants[places], lived))
        low[which], high[which], bounded[which] = found
    return low, high, bounded


def _single_values(drawn: UnitSeasons, lived: Lived | None) -> Array:
    """(S, n) values of the smallest units as the analysis of several strata takes them."""
    if lived is not None:
        mean: Array = (lived.counts @ lived.times) / drawn.plants
        return mean
    if drawn.kind == "survival":
        return drawn.values / drawn.plants
    return np.log(drawn.values + 0.5) if drawn.kind == "count" else drawn.values


def _tested(ready: _Ready, drawn: UnitSeasons) -> Tally:
    """The log-rank test has no verdict: all seasons are counted as cannot tell."""
    if drawn.ended is None:
        raise TypeError("the log-rank test needs lives by visit")
    p = log_rank_p(ready.layout, drawn.ended, ready.units.block_codes)
    shown = np.array([np.sum(p < 1.0 - ready.ruled.confidence)], dtype=np.int64)
    classes = np.zeros((1, len(CLASSES)), dtype=np.int64)
    classes[0, CANNOT_TELL] = PART
    none = np.array([np.isnan(p).sum()], dtype=np.int64)
    return Tally(PART, shown, classes, none, np.zeros_like(shown), shown, shown)


def _patterns(present: Flags) -> Iterator[tuple[NDArray[np.int64], NDArray[np.int64]]]:
    if present.all():
        yield np.arange(len(present)), np.arange(present.shape[1])
        return
    for which, units in by_pattern(present):
        if units.size:
            yield which, units
