"""Power before the season: what the planned trial could show, and what it would take.

Leans on analysis (families of comparisons), layout, models and ``reckon``.
"""

from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from wickstats.analysis.plan import Family, families_of, matters_for
from wickstats.analysis.units import lay_out_units
from wickstats.core.errors import AnalysisError, Problem
from wickstats.core.frames import frame_of
from wickstats.core.notebook import Shown
from wickstats.core.numbers import percent
from wickstats.core.results import PowerRow, StratumDf
from wickstats.core.words import say
from wickstats.design.defaults import is_pilot, plan_of, role_of
from wickstats.design.trial import Response, Trial
from wickstats.layout.few import few_lines
from wickstats.layout.notes import strata_without_error
from wickstats.layout.plots import Layout
from wickstats.layout.randomize import draw
from wickstats.layout.read import read_layout
from wickstats.layout.structure import degrees
from wickstats.sizing.adapted import adapted, filled, judged_as
from wickstats.sizing.assumed import Expected
from wickstats.sizing.assured import Assured, assured_rows, not_told
from wickstats.sizing.from_past import PastPower, past_power
from wickstats.sizing.moved import Place, at_size, smallest_shown
from wickstats.sizing.pairs import precision_lines
from wickstats.sizing.past import PastSeason
from wickstats.sizing.plots import Sizes, sizes_of, with_sizes
from wickstats.sizing.questions_told import Questions
from wickstats.sizing.reckon import (
    MOST_BLOCKS,
    Precision,
    alone,
    blocks_for,
    detectable,
    power_of,
    precision,
)
from wickstats.sizing.second_year import SecondYear

if TYPE_CHECKING:
    import pandas as pd

POWER, DETECTABLE, NEEDED, NEEDED_MATTERS = (
    "power for the assumed difference",
    "smallest detectable difference",
    "blocks needed for the assumed difference",
    "blocks needed for the difference that matters",
)


@dataclass(frozen=True, slots=True)
class PowerPlanned(Shown):
    """Power of a planned trial.

    Attributes
    ----------
    blocks
        Planned blocks (or fewest replicates).
    most
        Most replicates of any treatment, where they are not equal; else None.
    word
        "blocks" or "replicates".
    degrees_of_freedom
        By stratum, before any data.
    rows
        Each says: with so many blocks a true difference is shown with that chance;
        ``note`` says which of the three was solved for, and how exact it is.
    notes
        What could not be reckoned, and why.
    past
        The same with a past season's variances, where one is given.
    questions
        Chances of verdicts, splits and what-ifs, where they were asked for.
    second_year
        Blocks corrected after a first year, where that was asked for.
    assured
        Assurance, where the file says how well the assumed spread is known.
    problems
        What is not assumed, so that nothing could be told of the primary response.
    warnings
        Why this plan can never tell, whatever is assumed: told before anything is simulated.
    shares
        Responses whose differences are shares of plants alive.
    """

    trial: str
    confidence: float
    target: float
    blocks: int | None
    word: str
    primary: str | None
    degrees_of_freedom: tuple[StratumDf, ...]
    rows: tuple[PowerRow, ...]
    notes: tuple[str, ...]
    past: PastPower | None = None
    most: int | None = None
    questions: Questions | None = None
    second_year: SecondYear | None = None
    assured: tuple[Assured, ...] = ()
    problems: tuple[Problem, ...] = ()
    warnings: tuple[str, ...] = ()
    shares: tuple[str, ...] = ()

    def to_frame(self) -> "pd.DataFrame":
        """Return chances, smallest differences and blocks needed, one row each."""
        return frame_of(self.rows, (field.name for field in fields(PowerRow)))

    def lines(self) -> list[str]:
        """Plain text: sentences first, then the numbers."""
        from wickstats.sizing.lines import lines_of

        return lines_of(self)


def plan_power(trial: Trial, past: PastSeason | None = None) -> PowerPlanned:
    """Reckon the power of every planned comparison.

    Parameters
    ----------
    past
        A past season whose variances are used, beside the file's assumptions if it has any.

    Raises
    ------
    AnalysisError
        Where neither assumptions nor a layout give anything to reckon.
    ReportError
        Where the past season cannot be used for this trial.
    """
    layout = layout_for(trial)
    return _pilot(trial, layout) if is_pilot(trial) else _compared(trial, layout, past)


def _one_side(trial: Trial) -> list[str]:
    """That the plan asks about one side, where it does."""
    asks = {entry.asks for entry in plan_of(trial).comparisons}
    return [say("power one side")] if "only whether better" in asks else []


def _compared(trial: Trial, layout: Layout | None, past: PastSeason | None) -> PowerPlanned:
    trial = with_sizes(trial, layout)
    sizes = sizes_of(trial, layout)
    target = trial.power.target if trial.power else 0.8
    rows: list[PowerRow] = []
    notes = _one_side(trial)
    again: PastPower | None = None
    sure: list[Assured] = []
    if trial.power is None and past is None:
        notes.append(say("power no plan"))
    warnings: list[str] = []
    if layout is not None:
        notes.extend(precision_lines(trial, layout))
        warnings.extend(few_lines(layout))
    if isinstance(sizes, str):
        notes.append(sizes)
    elif layout is not None:
        families = [f for f in families_of(trial, lay_out_units(trial, layout)) if f.planned]
        warnings.extend(_alone(sizes, families))
        for response in trial.responses if trial.power is not None else ():
            _response_rows(trial, response, sizes, families, target, rows, notes)
            what = adapted(trial, response, sizes)
            if not isinstance(what, str) and not (sizes.pieces and what.larger is None):
                sure.extend(assured_rows(trial, response, sizes, families, what, target))
        if past is None:
            notes.extend(not_told(trial))
        if past is not None and sizes.pieces is not None:
            notes.append(say("past pieces"))
        elif past is not None:
            again = past_power(trial, past, sizes, families, target)
    if layout is not None and (bare := strata_without_error(degrees(layout))):
        word = "blocks" if isinstance(sizes, str) else sizes.word
        warnings.append(say("no error power", strata=", ".join(bare), word=word))
    if layout is None and not rows:
        raise AnalysisError(" ".join([*warnings, *notes]) or say("power no sizes"))
    return PowerPlanned(
        trial=trial.trial.id,
        confidence=plan_of(trial).confidence,
        target=target,
        blocks=None if isinstance(sizes, str) else sizes.count,
        most=None if isinstance(sizes, str) else _most(sizes),
        word="blocks" if isinstance(sizes, str) else sizes.word,
        primary=plan_of(trial).primary,
        degrees_of_freedom=() if layout is None else degrees(layout),
        rows=tuple(rows),
        notes=tuple(notes),
        past=again,
        assured=tuple(sure),
        warnings=tuple(warnings),
        shares=tuple(r.name for r in trial.responses if r.kind == "survival"),
    )


def _pilot(trial: Trial, layout: Layout | None) -> PowerPlanned:
    """What is told of a trial of one treatment, in which nothing is compared."""
    return PowerPlanned(
        trial=trial.trial.id,
        confidence=plan_of(trial).confidence,
        target=trial.power.target if trial.power else 0.8,
        blocks=None,
        most=None,
        word="blocks",
        primary=plan_of(trial).primary,
        degrees_of_freedom=() if layout is None else degrees(layout),
        rows=(),
        notes=(say("power pilot"),),
        past=None,
    )


def _alone(sizes: Sizes, families: list[Family]) -> list[str]:
    """Treatments that would stand on a single unit, which no trial can judge."""
    if sizes.pieces is not None or sizes.units_at(sizes.count).max() < 2:
        return []  # of one unit each nothing is told at all
    weights = [c.weights for family in families for c in family.contrasts]
    names = dict.fromkeys(alone(sizes, sizes.count, w) for w in weights)
    return [say("power one unit", name=name, word=sizes.word) for name in names if name]


def _most(sizes: Sizes) -> int | None:
    """Most replicates of any treatment, where they differ and blocks do not count them."""
    if sizes.word == "blocks" or sizes.pieces is not None:
        return None
    most = int(sizes.units.max())
    return most if most > sizes.count else None


def layout_for(trial: Trial) -> Layout | None:
    """Return the trial's layout, or one laid out in memory to learn its strata."""
    if trial.folder and (Path(trial.folder) / trial.design.layout).exists():
        return read_layout(trial)
    if trial.design.drawn == "here":
        return draw(trial, 0)
    return None


def _response_rows(
    trial: Trial,
    response: Response,
    sizes: Sizes,
    families: list[Family],
    target: float,
    rows: list[PowerRow],
    notes: list[str],
) -> None:
    what = adapted(trial, response, sizes)
    if isinstance(what, str):
        if role_of(trial, response) != "exploratory" or response.name in _assumed(trial):
            notes.append(what)
        return
    if sizes.pieces is not None and what.larger is None:
        notes.append(say("power no larger", response=response.name))
    matters = matters_for(trial, response.name, log=what.ratio)
    for family in families:
        missing = _missing(family, what, sizes)
        if missing:
            notes.append(say("power no arms", response=response.name, missing=missing))
            continue
        rows.extend(_family_rows(trial, response, sizes, family, what, matters, target))


def _assumed(trial: Trial) -> set[str]:
    return set(trial.power.assume) if trial.power else set()


def _missing(family: Family, what: Expected, sizes: Sizes) -> str:
    used = np.zeros(len(sizes.cells), dtype=bool)
    for contrast in family.contrasts:
        used |= contrast.weights != 0
    return ", ".join(
        cell
        for cell, needed, value in zip(sizes.cells, used, what.values, strict=True)
        if needed and not np.isfinite(value)
    )


def _family_rows(
    trial: Trial,
    response: Response,
    sizes: Sizes,
    family: Family,
    what: Expected,
    matters: float | None,
    target: float,
) -> list[PowerRow]:
    weights = [c.weights for c in family.contrasts]
    ready = filled(what)
    judged = judged_as(trial, family, response, target)
    at = precision(sizes, sizes.count, ready, weights, judged)
    out = []
    for which, contrast in enumerate(family.contrasts):
        difference = float(contrast.weights @ ready.values)
        name = contrast.name if family.within is None else f"{contrast.name} ({family.within})"
        single = None
        if sizes.pieces is None and sizes.units_at(sizes.count).max() > 1:
            single = alone(sizes, sizes.count, contrast.weights)
        base = _Row(response.name, name, ready, at[which], single)
        if sizes.pieces is not None and at[which] is None:
            continue  # told in a note

        place = Place(trial, response, sizes, family, which, what)

        def need(size: float, of: Expected = ready, which: int = which) -> int | None:
            return blocks_for(sizes, of, weights, which, abs(size), judged)

        out.append(base.row(difference, sizes.count, power_of(difference, at[which]), POWER))
        out.append(base.smallest(place, sizes.count, target))
        other = difference * judged.side < 0.0
        row = base.row(difference, None if other else need(difference), target, NEEDED)
        why = say("power other side", response=response.name, comparison=name)
        out.append(replace(row, not_estimable=why) if other else row)
        if matters is not None:
            asked = at_size(place, matters)
            if judged.side and not place.moves:
                asked = judged.side * matters, ready
            size, blocks = (asked[0], need(*asked)) if asked else (matters, None)
            row = base.row(size, blocks, target, NEEDED_MATTERS)
            why = say("power no matters", response=response.name, comparison=name)
            out.append(row if asked else replace(row, not_estimable=why))
    return out


@dataclass(frozen=True, slots=True)
class _Row:
    response: str
    comparison: str
    what: Expected
    at: Precision | None
    alone: str | None  # a treatment that would stand on a single unit

    def smallest(self, place: Place, blocks: int, target: float) -> PowerRow:
        if self.at is None or not place.moves:
            size = detectable(self.at, target)
            if self.at is not None and size is not None:
                size *= self.at.side or 1
            return self.row(size, blocks, target, DETECTABLE)
        found = smallest_shown(place, target)
        row = self.row(found, blocks, target, DETECTABLE)
        why = say("power no smallest", target=percent(target))
        return row if found is not None else replace(row, not_estimable=why)

    def row(
        self, difference: float | None, blocks: int | None, power: float | None, kind: str
    ) -> PowerRow:
        why = None
        if self.at is None and (power is None or difference is None):
            name = self.alone
            why = say("one unit only", name=name) if name else say("power no df")
        elif blocks is None:
            why = say("next beyond", most=MOST_BLOCKS)
        shown = difference
        if self.what.ratio and difference is not None:
            shown = float(np.exp(difference))
        return PowerRow(
            response=self.response,
            comparison=self.comparison,
            difference=shown,
            blocks=None if blocks is None else float(blocks),
            power=power,
            low=None,
            high=None,
            measure="ratio" if self.what.ratio else "difference",
            note=f"{kind}; {self.what.note}",
            not_estimable=why,
        )
