"""Answers to the questions before planting, and their lines for a terminal.

Leans on core.numbers and core.words.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from wickstats.core.numbers import fixed, number, percent
from wickstats.core.words import say


@dataclass(frozen=True, slots=True)
class Chances:
    """Chance of each verdict of one comparison, if the true difference is as assumed.

    ``shown`` is the chance that its interval leaves no difference out; ``error`` the Monte
    Carlo standard error of that, None where exact; ``closed_form`` the closed form's, where
    seasons were simulated. ``one_fate``: seasons in which an arm lost no plant, or all.
    """

    response: str
    comparison: str
    measure: str
    difference: float
    blocks: int
    shown: float
    error: float | None
    closed_form: float | None
    same: float
    better: float
    worse: float
    no_worse: float
    no_better: float
    cannot_tell: float
    seasons: int | None = None
    one_fate: float | None = None
    neutral: bool = False  # neither direction is better: more and less
    shares: bool = False  # differences of shares alive, told of 100 plants

    @property
    def no_worse_at_all(self) -> float:
        """Chance to tell it to be no worse by what matters, the same and better included."""
        return self.same if self.neutral else self.same + self.better + self.no_worse


@dataclass(frozen=True, slots=True)
class Split:
    """Plants a plot and blocks at one price (or one number of plants).

    ``error``: Monte Carlo standard error of the chance; None by the closed form.
    """

    plants: int
    blocks: int
    cost: float | None
    power: float
    best: bool
    planned: bool
    error: float | None = None


@dataclass(frozen=True, slots=True)
class WhatIf:
    """What one change does to the chance of the first comparison.

    ``error``: Monte Carlo standard error of the chance; None by the closed form.
    """

    what: str
    blocks: int
    power: float | None
    error: float | None = None


@dataclass(frozen=True, slots=True)
class Solved:
    """Answers of one comparison read between simulated seasons; None where out of reach.

    ``smallest``: difference on the reported scale that would show with the target's chance;
    ``needed``: blocks for the assumed difference.
    """

    response: str
    comparison: str
    smallest: float | None
    needed: int | None
    seasons: int


@dataclass(frozen=True, slots=True)
class Beside:
    """Chance to show a difference of lives by another measure, in simulated seasons.

    ``comparison`` None: the test of all treatments of a term together. ``error``: Monte
    Carlo standard error.
    """

    response: str
    quantity: str
    comparison: str | None
    power: float
    error: float
    seasons: int


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """Chance with so many blocks; ``low``, ``high``: two Monte Carlo errors about it."""

    blocks: int
    power: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Questions:
    """All of it; splits, what-ifs and the curve are about ``response``, ``comparison``."""

    response: str
    comparison: str
    simulated: bool
    seasons: int
    wanted: int
    interrupted: bool
    chances: tuple[Chances, ...]
    splits: tuple[Split, ...]
    currency: str | None
    what_ifs: tuple[WhatIf, ...]
    curve: tuple[CurvePoint, ...]
    needed: float | None
    notes: tuple[str, ...]
    beside: tuple[Beside, ...] = ()
    alike: bool = False  # no difference is assumed: the chance to tell it to be no worse
    solved: tuple[Solved, ...] = ()


def question_lines(asked: Questions, word: str, target: float) -> list[str]:
    """A sentence for each question, then its table."""
    out: list[str] = []
    if asked.interrupted:
        done, wanted = f"{asked.seasons:,}", f"{asked.wanted:,}"
        out.extend(["", say("simulated interrupted", done=done, wanted=wanted)])
    if asked.chances:
        out.extend(["", *_chance_lines(asked, word)])
    if asked.beside:
        out.extend(["", *_beside_lines(asked)])
    about = {"aim": _aim(asked)}
    if asked.curve:
        how = say("curve simulated") if asked.simulated else say("curve reckoned")
        told = say("curve told", how=how, word=word, **about)
        if asked.needed is not None:
            told += " " + say(
                "curve needed", blocks=fixed(asked.needed, 0), word=word, target=percent(target)
            )
        heads = (word, "chance", *(("low", "high") if asked.simulated else ()))
        rows = [
            (str(p.blocks), percent(p.power), percent(p.low), percent(p.high))[: len(heads)]
            for p in asked.curve
        ]
        out.extend(["", told, *columns([heads, *rows], left=0)])
    if asked.splits:
        out.extend(["", *_split_lines(asked, word)])
    if asked.what_ifs:
        by_seasons = any(w.error is not None for w in asked.what_ifs)
        told = say("what if simulated" if by_seasons else "what if told", **about)
        out.extend(["", told])
        rows = [
            (w.what, str(w.blocks), percent(w.power) + _error(w.error)) for w in asked.what_ifs
        ]
        out.extend(columns([("if", word, "chance"), *rows], left=1))
    return [*out, *(["", *asked.notes] if asked.notes else [])]


def _aim(asked: Questions) -> str:
    """What the chances are about, in words."""
    words = {"comparison": asked.comparison, "response": asked.response}
    if not asked.alike:
        return say("aim show", **words)
    return say("aim same" if any(c.neutral for c in asked.chances) else "aim no worse", **words)


def _chance_lines(asked: Questions, word: str) -> list[str]:
    about = (asked.response, asked.comparison)
    mine = [c for c in asked.chances if (c.response, c.comparison) == about]
    first = (mine or list(asked.chances))[0]
    out = [
        say(
            "verdicts told",
            cannot=percent(first.cannot_tell),
            comparison=first.comparison,
            response=first.response,
            blocks=first.blocks,
            word=word,
        )
    ]
    heads = (
        "response", "comparison", "true difference", "better", "same", "no worse",
        "no better", "worse", "cannot tell", "shown",
    )  # fmt: skip
    rows = []
    for c in asked.chances:
        cells = (c.better, c.same, c.no_worse, c.no_better, c.worse, c.cannot_tell)
        size = size_text(c.difference, c.measure, shares=c.shares)
        shown = percent(c.shown) + _error(c.error)
        rows.append((c.response, c.comparison, size, *map(percent, cells), shown))
    out.extend(columns([heads, *rows], left=2))
    simulated = [c for c in asked.chances if c.seasons is not None]
    if simulated:
        names = ", ".join(dict.fromkeys(c.response for c in simulated))
        seasons = f"{max(c.seasons or 0 for c in simulated):,}"
        out.append("  " + say("verdicts simulated", responses=names, seasons=seasons))
    if any(c.seasons is None for c in asked.chances):
        names = ", ".join(dict.fromkeys(c.response for c in asked.chances if c.seasons is None))
        out.append("  " + say("verdicts exact", responses=names))
    if any(c.neutral for c in asked.chances):
        out.append("  " + say("verdicts neutral"))
    return out


def _beside_lines(asked: Questions) -> list[str]:
    out = [say("beside told", seasons=f"{max(b.seasons for b in asked.beside):,}")]
    heads = ("response", "measure", "comparison", "shown")
    rows = [
        (
            b.response,
            b.quantity,
            b.comparison or say("beside all"),
            percent(b.power) + _error(b.error),
        )
        for b in asked.beside
    ]
    return [*out, *columns([heads, *rows], left=3)]


def _split_lines(asked: Questions, word: str) -> list[str]:
    best = next(s for s in asked.splits if s.best)
    key = "split told plants" if asked.currency is None else "split told"
    out = [
        say(
            key,
            plants=say("count plants", n=best.plants),
            blocks=best.blocks,
            word=word,
            power=percent(best.power),
            aim=_aim(asked),
            how=say("split reckoned" if best.error is None else "split simulated"),
        )
    ]
    money = asked.currency is not None
    heads = (
        say("power head plants"),
        word,
        *((asked.currency or "",) if money else ()),
        say("power head chance"),
        "",
    )
    rows = []
    for s in asked.splits:
        mark = " ".join([*(["best"] if s.best else []), *(["planned"] if s.planned else [])])
        cost = (fixed(s.cost, 0),) if money else ()
        rows.append(
            (str(s.plants), str(s.blocks), *cost, percent(s.power) + _error(s.error), mark)
        )
    return [*out, *columns([heads, *rows], left=0)]


def _error(error: float | None) -> str:
    return "" if error is None else f" +-{100.0 * error:.1f}"


def size_text(value: float | None, measure: str, *, shares: bool) -> str:
    """A difference as it is told: a ratio, so many plants of 100, or a number."""
    if value is None or not (shares or measure == "ratio"):
        return number(value)
    if measure == "ratio":
        return f"x {number(value)}"
    return say("power plants of 100", n=number(100.0 * value, 2))


def columns(cells: Sequence[Iterable[str]], *, left: int) -> list[str]:
    """Cells under their heads; the first ``left`` columns are text."""
    lines = [tuple(line) for line in cells]
    widths = [max(len(line[k]) for line in lines) for k in range(len(lines[0]))]
    return [
        (
            "  "
            + "  ".join(
                text.ljust(width) if k < left else text.rjust(width)
                for k, (text, width) in enumerate(zip(line, widths, strict=True))
            )
        ).rstrip()
        for line in lines
    ]
