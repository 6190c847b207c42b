"""Draws for designs with one kind of plot: free, in blocks, in squares, in planned blocks.

Each takes the words of the stream in the order told in its docstring, which never changes.
Leans on pieces, latin and the plans of ``search``.
"""

from collections.abc import Sequence

from wickstats.design.defaults import cells_of
from wickstats.design.trial import Trial
from wickstats.layout.latin import draw_square
from wickstats.layout.pieces import Piece, replicates_of
from wickstats.layout.stream import Stream

Plan = Sequence[Sequence[int]]


def draw_free(trial: Trial, stream: Stream) -> list[Piece]:
    """Completely randomized: all units shuffled."""
    cells = cells_of(trial.factors)
    units = [cell for cell in cells for _ in range(replicates_of(trial, cell))]
    return [Piece(cell) for cell in stream.shuffled(units)]


def draw_blocks(trial: Trial, stream: Stream) -> list[Piece]:
    """Complete blocks: each block's units shuffled in turn."""
    cells = cells_of(trial.factors)
    units = [cell for cell in cells for _ in range(replicates_of(trial, cell))]
    return [
        Piece(cell, line=b, block=str(b))
        for b in range(1, (trial.design.blocks or 0) + 1)
        for cell in stream.shuffled(units)
    ]


def draw_latin(trial: Trial, stream: Stream) -> list[Piece]:
    """Latin squares, one after another, each drawn on its own."""
    cells = cells_of(trial.factors)
    squares = trial.design.squares or 1
    return [
        Piece(
            cells[symbol],
            row=i,
            column=j,
            square=str(s) if squares > 1 else None,
        )
        for s in range(1, squares + 1)
        for i, line in enumerate(draw_square(len(cells), stream), start=1)
        for j, symbol in enumerate(line, start=1)
    ]


def draw_incomplete(trial: Trial, plan: Plan, stream: Stream) -> list[Piece]:
    """Incomplete blocks: labels, then replicates and their blocks, then each block's order.

    Treatments are shuffled over the plan's labels (those of one replication among each
    other, the most replicated first); the replicates of a resolvable plan are shuffled, then
    the blocks of each; other plans' blocks are shuffled all together; then the order in each
    block.
    """
    names = _labeled(trial, stream)
    groups: list[tuple[str | None, list[list[int]]]]
    if trial.design.resolvable:
        step = len(names) // len(plan[0])
        whole = [[list(b) for b in plan[i : i + step]] for i in range(0, len(plan), step)]
        groups = [
            (str(k), stream.shuffled(blocks))
            for k, blocks in enumerate(stream.shuffled(whole), start=1)
        ]
    else:
        groups = [(None, stream.shuffled([list(b) for b in plan]))]
    out: list[Piece] = []
    b = 0
    for replicate, blocks in groups:
        for block in blocks:
            b += 1
            out.extend(
                Piece(names[label], line=b, block=str(b), replicate=replicate)
                for label in stream.shuffled(block)
            )
    return out


def draw_arrays(trial: Trial, plan: Plan, stream: Stream) -> list[Piece]:
    """Rows and columns: labels, then the arrays, then rows and columns of each."""
    names = _labeled(trial, stream)
    rows, columns = trial.design.rows or 1, trial.design.columns or 1
    arrays = [[list(row) for row in plan[i : i + rows]] for i in range(0, len(plan), rows)]
    out: list[Piece] = []
    for a, array in enumerate(stream.shuffled(arrays), start=1):
        lines = stream.shuffled(array)
        across = stream.shuffled(range(columns))
        out.extend(
            Piece(
                names[line[place]],
                row=i,
                column=j,
                replicate=str(a) if len(arrays) > 1 else None,
            )
            for i, line in enumerate(lines, start=1)
            for j, place in enumerate(across, start=1)
        )
    return out


def replications(trial: Trial) -> list[int]:
    """Plots (or reservoirs) of each treatment in planned blocks or arrays."""
    design, cells = trial.design, cells_of(trial.factors)
    if design.type == "row-column":
        arrays = design.replicates if isinstance(design.replicates, int) else 1
        each = (design.rows or 0) * (design.columns or 0) * arrays // len(cells)
        return [each for _ in cells]
    return [replicates_of(trial, cell) for cell in cells]


def _labeled(trial: Trial, stream: Stream) -> list[str]:
    """Label -> treatment: shuffled among labels of the same replication."""
    cells, each = cells_of(trial.factors), replications(trial)
    out = list(cells)
    for count in sorted(set(each), reverse=True):
        places = [k for k, number in enumerate(each) if number == count]
        for place, cell in zip(
            places, stream.shuffled([cells[k] for k in places]), strict=True
        ):
            out[place] = cell
    return out
