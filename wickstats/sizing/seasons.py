"""One part of a simulation: seasons drawn, judged by the analysis' own rules, counted.

A ``Work`` is all that a part needs, so that it can be done anywhere; part k of the same work
is the same whoever does it, since its random numbers are named after k. Rules: sizes and
totals in their stratum, shares with their dispersion (and the bound where an arm is of one
fate), counts, pairs within blocks; families by their own critical values.
Leans on simulate, models.batch, analysis.
"""

import hashlib
import pickle
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from wickstats.analysis.plan import Family, families_of, matters_for
from wickstats.analysis.units import Units, lay_out_units
from wickstats.core.words import say
from wickstats.design.defaults import better_of, plan_of
from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout
from wickstats.models.batch.bounds import bounded_limits
from wickstats.models.batch.counts import judge_counts
from wickstats.models.batch.dispersion import first_variances, judge_shares
from wickstats.models.batch.layout import BatchLayout, Flags, by_pattern, lay_batch, left_over
from wickstats.models.batch.paired import judge_pairs
from wickstats.models.batch.results import Answers
from wickstats.models.batch.strata import judge_units, t_quantiles
from wickstats.models.linear.estimates import t_tail
from wickstats.models.linear.multiplicity import JOINT
from wickstats.models.power_verdicts import CLASSES, classes_of
from wickstats.simulate.assumed import NO_LOSSES
from wickstats.simulate.resolve import SeasonModel, season_model
from wickstats.simulate.seasons import UnitSeasons, draw_seasons
from wickstats.sizing.assumed import Expected
from wickstats.sizing.critical import correlation_of, critical_values, mean_correlations
from wickstats.sizing.tally import Tally

Array = NDArray[np.float64]
PART = 2_500  # seasons of one part


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
        "strata", "dispersion", "counts" or "paired".
    seed
        Of the simulation.
    losses
        Whether plots and plants are lost as the crew's assumptions say; else none.
    """

    trial: Trial
    layout: Layout
    response: str
    rule: str
    seed: int
    losses: bool = False

    @property
    def digest(self) -> str:
        """Names the work: everything that decides a part's numbers."""
        from importlib.metadata import version

        trial = self.trial.model_dump_json(exclude={"source", "folder", "file"})
        plots = repr([(p.plot, p.treatment, p.block, p.row, p.column, p.replicate, p.square,
                       p.reservoir, p.plants) for p in self.layout.plots])  # fmt: skip
        words = (
            version("wickstats"), trial, plots, self.response, self.rule,
            str(self.seed), str(self.losses), str(PART),
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
    units = lay_out_units(trial, layout)
    if len(units.strata) > 1:
        return say("simulated several strata", response=response)
    return Work(trial, layout, response, what.rule, seed, losses)


@dataclass(frozen=True, slots=True, eq=False)
class _Ready:
    """A work prepared: its seasons' model, units, questions."""

    work: Work
    model: SeasonModel
    units: Units
    layout: BatchLayout
    families: tuple[Family, ...]
    confidence: float
    matters: float | None
    turned: bool
    planned: float | None


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
    families = planned_families(trial, units)
    rows = np.array([c.weights for f in families for c in f.contrasts])
    layout = lay_batch(
        units.cells,
        units.n_cells,
        contrasts=rows,
        blocks=[shares for _, shares in units.grounds] or None,
    )
    given = trial.power.assume.get(name) if trial.power else None
    log = response.model_scale == "log" or response.kind == "count"
    return _Ready(
        work=work,
        model=model,
        units=units,
        layout=layout,
        families=families,
        confidence=plan_of(trial).confidence,
        matters=matters_for(trial, name, log=log),
        turned=better_of(response) == "less",
        planned=None if given is None else given.plot_correlation,
    )


def _done(ready: _Ready, part: int) -> Tally:
    drawn = draw_seasons(
        ready.model, ready.work.response, PART, seed=ready.work.seed, chunk=part
    )
    k = len(ready.layout.contrasts.rows)
    low, high = np.full((PART, k), np.nan), np.full((PART, k), np.nan)
    bounded = np.zeros((PART, k), dtype=bool)
    for which, units in _patterns(drawn.present):
        kept = np.zeros(ready.layout.n, dtype=bool)
        kept[units] = True
        left = ready.layout if kept.all() else left_over(ready.layout, kept)
        found = _judged(ready, left, kept, drawn, which)
        low[which], high[which], bounded[which] = found
    if ready.turned:
        low, high = -high, -low
    classes = np.where(
        bounded, classes_of(low, high, None), classes_of(low, high, ready.matters)
    )  # of NaN: cannot tell
    shown = (low > 0.0) | (high < 0.0)
    counts = np.stack([(classes == c).sum(axis=0) for c in range(len(CLASSES))], axis=1)
    groups = list(_groups(ready.families))
    return Tally(
        seasons=PART,
        shown=shown.sum(axis=0).astype(np.int64),
        classes=counts.astype(np.int64),
        unjudged=np.isnan(low).sum(axis=0).astype(np.int64),
        bounded=bounded.sum(axis=0).astype(np.int64),
        any_shown=np.array([shown[:, g].any(axis=1).sum() for g in groups], dtype=np.int64),
        all_shown=np.array([shown[:, g].all(axis=1).sum() for g in groups], dtype=np.int64),
    )


def _patterns(present: Flags) -> Iterator[tuple[NDArray[np.int64], NDArray[np.int64]]]:
    if present.all():
        yield np.arange(len(present)), np.arange(present.shape[1])
        return
    for which, units in by_pattern(present):
        if units.size:
            yield which, units


def _groups(families: tuple[Family, ...]) -> Iterator[slice]:
    start = 0
    for family in families:
        yield slice(start, start + len(family.contrasts))
        start += len(family.contrasts)


def _judged(
    ready: _Ready, left: BatchLayout, kept: Flags, drawn: UnitSeasons, which: NDArray[np.int64]
) -> tuple[Array, Array, Flags]:
    """Limits (s, k) at the families' level, and where a bound gave them."""
    y = drawn.values[np.ix_(which, np.flatnonzero(kept))]
    m = drawn.plants[np.ix_(which, np.flatnonzero(kept))]
    shape = (len(which), len(left.contrasts.rows))
    low, high = np.full(shape, np.nan), np.full(shape, np.nan)
    bounded = np.zeros(shape, dtype=bool)
    spread = first_variances(left, y, m) if ready.work.rule == "dispersion" else None
    by_level: dict[float, Answers] = {}
    for family, group in zip(ready.families, _groups(ready.families), strict=True):
        level = _level(ready, left, family, group)
        if level not in by_level:
            by_level[level] = _answers(ready, left, kept, (y, m), level)
        answers = by_level[level]
        half = _critical(ready, left, family, group, answers, spread) * answers.se[:, group]
        low[:, group] = answers.estimate[:, group] - half
        high[:, group] = answers.estimate[:, group] + half
        if ready.work.rule == "dispersion":
            level = 1.0 - (1.0 - ready.confidence) / len(family.contrasts)
            for k in range(group.start, group.stop):
                a, b, of_bound = bounded_limits(
                    left, y, m, left.contrasts.weights[k], answers.estimate[:, k],
                    level=level, planned=ready.planned,
                )  # fmt: skip
                low[:, k] = np.where(of_bound, a, low[:, k])
                high[:, k] = np.where(of_bound, b, high[:, k])
                bounded[:, k] = of_bound
    return low, high, bounded


def _answers(
    ready: _Ready, left: BatchLayout, kept: Flags, drawn: tuple[Array, Array], confidence: float
) -> Answers:
    """Of several intervals the widest at this level."""
    rule, (y, m) = ready.work.rule, drawn
    if rule == "dispersion":
        return judge_shares(left, y, m, confidence=confidence).contrasts
    if rule == "counts":
        return judge_counts(left, y, confidence=confidence).contrasts
    if rule == "paired":
        blocks = ready.units.blocks
        codes = blocks[kept] if blocks is not None and blocks.ndim == 1 else None
        return judge_pairs(left, y, blocks=codes, confidence=confidence)
    plants = m if np.ptp(m) > 0.0 else None
    return judge_units(left, y, plants=plants, confidence=confidence).contrasts


def _level(ready: _Ready, left: BatchLayout, family: Family, group: slice) -> float:
    """Confidence of one comparison by itself that comes to the family's critical value."""
    size = int(left.contrasts.estimable[group].sum())
    if size <= 1 or family.adjustment == "none":
        return ready.confidence
    if not _joint(ready, family):
        return 1.0 - (1.0 - ready.confidence) / size
    df = float(max(left.geometry.df, 1))
    rows = left.contrasts.rows[group][left.contrasts.estimable[group]]
    critical = critical_values(correlation_of(rows), np.array([df]), ready.confidence)
    return 1.0 - float(t_tail(float(critical[0]), df))


def _joint(ready: _Ready, family: Family) -> bool:
    return family.adjustment in JOINT and ready.work.rule != "paired"


def _critical(
    ready: _Ready,
    left: BatchLayout,
    family: Family,
    group: slice,
    answers: Answers,
    variances: Array | None,
) -> Array:
    df = answers.df[:, group]
    kept = left.contrasts.estimable[group]
    size = int(kept.sum())
    if size <= 1 or family.adjustment == "none":
        return t_quantiles(ready.confidence, df)
    if not _joint(ready, family):
        return t_quantiles(1.0 - (1.0 - ready.confidence) / size, df)
    rows = left.contrasts.rows[group][kept]
    own = None if variances is None else mean_correlations(rows, variances)
    return critical_values(correlation_of(rows), df, ready.confidence, seasons=own)
