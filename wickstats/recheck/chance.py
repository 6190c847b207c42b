"""Would the layout be surprising under its own scheme? A question, never an accusation.

Statistics, each against layouts drawn again by the scheme (seeds 1, 2, ...):

    neighbors   plots side by side in a row (or next in walking order) with the same treatment
    pairs       sum over pairs of treatments of (times they lie side by side)^2
    rows        sum over rows and treatments of (count - expected)^2 / expected; columns alike
    person      the same over the persons who planted or looked

    p = (1 + layouts at least as extreme) / (1 + layouts); of places twice the smaller of the
    two sides, since a layout may be more even than chance makes them, too


Leans on layout, records and core.
"""

from collections.abc import Callable, Hashable, Sequence

import numpy as np
from numpy.typing import NDArray

from wickstats.core.errors import LayoutError
from wickstats.core.numbers import number
from wickstats.core.words import say
from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout
from wickstats.layout.randomize import draw
from wickstats.recheck.findings import Finding
from wickstats.records.season import Season

DRAWS = 499
MOST_PLOTS_DRAWN = 20_000  # plots of all draws together
SURPRISING = 0.01
Codes = NDArray[np.int64]
Statistic = Callable[[Codes], float]


def chance_findings(trial: Trial, season: Season) -> tuple[list[Finding], list[str]]:
    """Questions about layout and persons, and what was unremarkable, in words."""
    layout = season.layout
    if layout.drawn == "not at random":
        return [], []
    try:
        drawn = _drawn_again(trial, layout)
    except LayoutError as error:
        why = error.problems[0].found if error.problems else str(error)
        return [], [say("audit chance unknown", why=why)]
    if drawn is None:
        return [], [say("audit chance unknown", why=say("audit chance none"))]
    names = sorted({plot.treatment for plot in layout.plots})
    own = np.array([names.index(plot.treatment) for plot in layout.plots], dtype=np.int64)
    questions: list[Finding] = []
    words: list[str] = []
    for kind, place, key, fields, statistic in (
        *_of_places(layout, len(names)),
        *_of_persons(season, len(names)),
    ):
        found = statistic(own)
        told = [statistic(codes) for codes in drawn]
        above = (1 + sum(value >= found - 1e-9 for value in told)) / (1 + len(told))
        below = (1 + sum(value <= found + 1e-9 for value in told)) / (1 + len(told))
        p = above if kind == "balance" else min(2.0 * min(above, below), 1.0)
        way = say("audit more even" if below < above else "audit less even")
        sentence = say(key, found=round(found), p=number(p, 2), way=way, **fields)
        if p <= SURPRISING:
            questions.append(Finding("question", kind, place, sentence))
        else:
            words.append(sentence[0].upper() + sentence[1:] + ".")
    return questions, words


Asked = tuple[str, str, str, dict[str, str], Statistic]


def _drawn_again(trial: Trial, layout: Layout) -> list[Codes] | None:
    names = sorted({plot.treatment for plot in layout.plots})
    n = len(layout.plots)
    times = max(99, min(DRAWS, MOST_PLOTS_DRAWN // max(n, 1)))
    if layout.drawn == "here":
        at = {name: k for k, name in enumerate(names)}
        return [
            np.array([at[p.treatment] for p in draw(trial, k + 1, plan=layout.plan).plots])
            for k in range(times)
        ]
    simple = layout.type in ("completely randomized", "randomized complete block")
    if not simple or layout.shared_reservoirs:
        return None
    own = np.array([names.index(plot.treatment) for plot in layout.plots], dtype=np.int64)
    blocks = np.array([plot.block or "" for plot in layout.plots])
    made = np.random.default_rng(20_250_317)
    out = []
    for _ in range(times):
        codes = own.copy()
        for block in dict.fromkeys(blocks.tolist()):
            here = np.flatnonzero(blocks == block)
            codes[here] = made.permutation(codes[here])
        out.append(codes)
    return out


def _of_places(layout: Layout, arms: int) -> list[Asked]:
    plots = layout.plots
    out: list[Asked] = []
    sides = np.array(_beside(layout), dtype=np.int64).reshape(-1, 2)

    def same(codes: Codes) -> float:
        return float((codes[sides[:, 0]] == codes[sides[:, 1]]).sum())

    def unordered(codes: Codes) -> float:
        one, other = codes[sides[:, 0]], codes[sides[:, 1]]
        pair = np.minimum(one, other) * arms + np.maximum(one, other)
        return float(np.square(np.bincount(pair, minlength=arms * arms)).sum())

    out.append(("layout", layout.file, "audit chance neighbors", {}, same))
    out.append(("layout", layout.file, "audit chance pairs", {}, unordered))
    for column, key in (("row", "audit chance rows"), ("column", "audit chance columns")):
        where: list[Hashable] = [getattr(plot, column) for plot in plots]
        if None in where or len(set(where)) < 2:
            continue
        out.append(("layout", layout.file, key, {}, _uneven(where, range(len(plots)), arms)))
    return out


def _beside(layout: Layout) -> list[tuple[int, int]]:
    """Pairs of plots side by side: in the same row where rows are known."""
    plots = layout.plots
    if any(plot.row is None or plot.column is None for plot in plots):
        return [
            (k, k + 1) for k in range(len(plots) - 1) if plots[k].block == plots[k + 1].block
        ]
    at = {(p.square, p.replicate, p.row, p.column): k for k, p in enumerate(plots)}
    pairs = []
    for (square, replicate, row, column), k in at.items():
        other = at.get((square, replicate, row, (column or 0) + 1))
        if other is not None:
            pairs.append((k, other))
    return pairs


def _of_persons(season: Season, arms: int) -> list[Asked]:
    position = {plot.plot: k for k, plot in enumerate(season.layout.plots)}
    out: list[Asked] = []
    for table, column in (
        ("plants", "crew"),
        ("visits", "observer"),
        ("measurements", "observer"),
    ):
        frame = season.table(table)
        if frame is None or column not in frame or "plot" not in frame:
            continue
        told = frame[[column, "plot"]].dropna().drop_duplicates()
        told = told[told["plot"].isin(list(position))]
        who = [str(name) for name in told[column]]
        if len(set(who)) < 2 or len(set(who)) > 50:
            continue
        rows = [position[str(plot)] for plot in told["plot"]]
        fields = {"who": "those who " + ("planted" if column == "crew" else "looked")}
        fields |= {"column": column, "table": table}
        file = str(frame["file"].iloc[0])
        out.append(
            (
                "balance",
                f"inputs/{file}",
                "audit chance person",
                fields,
                _uneven(who, rows, arms),
            )
        )
    return out


def _uneven(groups: Sequence[Hashable], rows: Sequence[int], arms: int) -> Statistic:
    names = {name: k for k, name in enumerate(dict.fromkeys(groups))}
    codes_of = np.array([names[name] for name in groups], dtype=np.int64)
    where = np.asarray(rows, dtype=np.int64)

    def statistic(codes: Codes) -> float:
        table = np.zeros((len(names), arms))
        np.add.at(table, (codes_of, codes[where]), 1.0)
        expected = table.sum(axis=1, keepdims=True) * table.sum(axis=0) / table.sum()
        return float((np.square(table - expected) / np.maximum(expected, 1e-12)).sum())

    return statistic
