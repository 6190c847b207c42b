"""Draws for designs with several kinds of plot: split-plots and strip-plots.

Each takes the words of the stream in the order told in its docstring, which never changes.
Leans on pieces and tiers.
"""

from itertools import product

from wickstats.design.tiers import applied_to, tiers_of
from wickstats.design.trial import Trial
from wickstats.layout.pieces import Piece, replicates_of
from wickstats.layout.plots import TREATMENT_JOIN
from wickstats.layout.stream import Stream

Levels = dict[str, str]


def draw_split(trial: Trial, stream: Stream) -> list[Piece]:
    """Split-plots: block by block the whole plots, then inside each whole plot.

    Whole-plot treatments are shuffled in each block (or over all whole plots); then in each
    whole plot in turn its subplots, or first its plots and then the subplots of each.
    """
    tiers = tiers_of(trial)
    outer = _treatments(trial, applied_to(tiers, "whole plot"))
    middle = _treatments(trial, applied_to(tiers, "plot"))
    inner = _treatments(trial, applied_to(tiers, "subplot"))
    units = [w for w in outer for _ in range(replicates_of(trial, _joined(w)))]
    blocks = trial.design.blocks
    out: list[Piece] = []
    number = 0
    for b in range(1, (blocks or 1) + 1):
        for whole in stream.shuffled(units):
            number += 1
            pieces = [
                {**whole, **plot, **sub}
                for plot in stream.shuffled(middle)
                for sub in stream.shuffled(inner)
            ]
            out.extend(
                Piece(
                    _cell(trial, levels),
                    line=b if blocks else number,
                    block=str(b) if blocks else None,
                    whole_plot=str(number),
                    subplot=str(k),
                )
                for k, levels in enumerate(pieces, start=1)
            )
    return out


def draw_strips(trial: Trial, stream: Stream) -> list[Piece]:
    """Strip-plots: in each block the row strips, the column strips, then inside crossings."""
    tiers = tiers_of(trial)
    rows = _treatments(trial, applied_to(tiers, "row strip"))
    columns = _treatments(trial, applied_to(tiers, "column strip"))
    inner = _treatments(trial, applied_to(tiers, "plot"))
    out: list[Piece] = []
    for b in range(1, (trial.design.blocks or 1) + 1):
        across, down = stream.shuffled(rows), stream.shuffled(columns)
        for i, row in enumerate(across):
            for j, column in enumerate(down):
                out.extend(
                    Piece(
                        _cell(trial, {**row, **column, **sub}),
                        row=(b - 1) * len(rows) + i + 1,
                        column=j * len(inner) + k + 1,
                        block=str(b),
                        row_strip=str(i + 1),
                        column_strip=str(j + 1),
                    )
                    for k, sub in enumerate(stream.shuffled(inner))
                )
    return out


def _treatments(trial: Trial, factors: tuple[str, ...]) -> list[Levels]:
    """All combinations of some factors' levels; one empty one where there are none."""
    levels = [trial.factor(name).level_names for name in factors]
    return [dict(zip(factors, held, strict=True)) for held in product(*levels)]


def _joined(levels: Levels) -> str:
    return TREATMENT_JOIN.join(levels.values())


def _cell(trial: Trial, levels: Levels) -> str:
    return TREATMENT_JOIN.join(levels[factor.name] for factor in trial.factors)
