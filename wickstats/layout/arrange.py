"""One random arrangement of a trial's units, by the scheme of its design.

Leans on the draws of each design, the plans of ``search`` and the trial's values.
"""

from wickstats.core.words import say
from wickstats.design.defaults import cells_of
from wickstats.design.trial import Trial
from wickstats.layout.bench import draw_runs, pieces_of_coils
from wickstats.layout.draw_plain import (
    Plan,
    draw_arrays,
    draw_blocks,
    draw_free,
    draw_incomplete,
    draw_latin,
    replications,
)
from wickstats.layout.draw_split import draw_split, draw_strips
from wickstats.layout.latin import LISTED, reduced_squares
from wickstats.layout.pieces import Piece
from wickstats.layout.plots import PLANNED
from wickstats.layout.search.plans import array_plan, block_plan, origin_of
from wickstats.layout.stream import Stream


def plan_for(trial: Trial) -> Plan | None:
    """The plan of labels that the design's sizes need; None where none is needed.

    Raises
    ------
    ValueError
        Where no plan of these sizes exists.
    """
    design = trial.design
    if design.type == "incomplete block":
        each, size = replications(trial), design.block_size or 0
        return block_plan(each, size, resolvable=bool(design.resolvable))
    if design.type == "row-column":
        arrays = design.replicates if isinstance(design.replicates, int) else 1
        labels = len(cells_of(trial.factors))
        return array_plan(labels, design.rows or 0, design.columns or 0, arrays)
    return None


def fits(trial: Trial, plan: Plan | None) -> bool:
    """Whether a plan has the sizes that the trial's design has now."""
    if trial.design.type not in PLANNED:
        return plan is None
    if plan is None:
        return False
    size = trial.design.block_size
    if trial.design.type == "row-column":
        size = trial.design.columns
    each = replications(trial)
    counted = [0] * len(each)
    for line in plan:
        if len(line) != size:
            return False
        for label in line:
            if not 0 <= label < len(each):
                return False
            counted[label] += 1
    return counted == each


def arrange(trial: Trial, plan: Plan | None, stream: Stream) -> list[Piece]:
    """Units in walking order with their treatments, taking the next words of the stream."""
    kind = trial.design.type
    if pieces_of_coils(trial):
        return draw_runs(trial, stream)
    if kind == "completely randomized":
        return draw_free(trial, stream)
    if kind == "randomized complete block":
        return draw_blocks(trial, stream)
    if kind == "Latin square":
        return draw_latin(trial, stream)
    if kind == "split-plot":
        return draw_split(trial, stream)
    if kind == "strip-plot":
        return draw_strips(trial, stream)
    if plan is None:
        raise ValueError(f"a {kind} design needs a plan")
    if kind == "incomplete block":
        return draw_incomplete(trial, plan, stream)
    return draw_arrays(trial, plan, stream)


def how_drawn(trial: Trial) -> str | None:
    """How this design is drawn, in words; None where it is plain shuffling."""
    design = trial.design
    if pieces_of_coils(trial):
        return say("drawn runs")
    if design.type == "Latin square":
        order = len(cells_of(trial.factors))
        if order > LISTED:
            return say("drawn latin chain", order=order, steps=f"{order**3:,}")
        count = len(reduced_squares(order))
        for n in range(2, order):
            count *= n * n
        return say("drawn latin", count=f"{count * order:,}", order=order)
    if design.type == "split-plot":
        where = say("drawn in blocks" if design.blocks else "drawn over all")
        return say("drawn split", where=where)
    if design.type == "strip-plot":
        return say("drawn strips")
    if design.type == "incomplete block":
        each, size = replications(trial), design.block_size or 0
        origin = origin_of(each, size, resolvable=bool(design.resolvable))
        parts = say("parts resolvable" if design.resolvable else "parts blocks")
        return say("drawn incomplete", origin=say(f"origin {origin}"), parts=parts)
    if design.type == "row-column":
        several = isinstance(design.replicates, int) and design.replicates > 1
        return say("drawn arrays", parts=say("parts arrays" if several else "parts array"))
    return None
