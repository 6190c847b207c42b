"""A trial and a seed become plots, each allowed layout equally likely.

Stream ``layout`` shuffles the units by the design's own scheme (``arrange``): all of them in
a completely randomized trial, each block's in turn in randomized complete blocks, and so on.
A unit is a plot, or the n plots that hang on one reservoir; they stand side by side where
the shuffled unit fell. Stream ``identifiers`` then draws the plots' codes, and the
reservoirs' after them. Leans on arrange, allowed, restricted, stream, codes and design.
"""

import secrets
from collections.abc import Sequence
from dataclasses import replace

from wickstats.core.errors import LayoutError, Problem
from wickstats.design.canonical import canonical_hash
from wickstats.design.defaults import main_effects_only
from wickstats.design.tiers import tiers_of
from wickstats.design.trial import Trial
from wickstats.layout.allowed import rule_of
from wickstats.layout.arrange import arrange, fits, how_drawn, plan_for
from wickstats.layout.codes import draw_codes
from wickstats.layout.draw_plain import Plan
from wickstats.layout.pieces import Piece, levels_of, plots_each
from wickstats.layout.plots import Layout, Plot
from wickstats.layout.restricted import allowed_share, draw_allowed
from wickstats.layout.stream import SCHEME, Stream

SEED_LIMIT = 2**53  # whole numbers that every spreadsheet and JSON reader keeps exact
MAX_PLOTS = 100_000


def randomize(trial: Trial, *, seed: int | None = None) -> Layout:
    """Lay out the plots at random; writes nothing (``layout.write()`` does).

    The seed is the one given, else the one of the layout's record where there is one,
    else the trial file's, else drawn from the operating system.

    Raises
    ------
    LayoutError
        Where the design cannot be laid out, or its restrictions leave too few layouts.
    """
    from wickstats.layout.record import read_record
    from wickstats.layout.write import finished

    _refuse(trial)
    record = read_record(trial) if seed is None and trial.folder else None
    if seed is None:
        seed = record.seed if record else trial.design.seed
    if seed is None:
        seed = draw_seed()
    if seed < 0:
        raise LayoutError(
            [_problem(trial, "impossible value", f"the seed {seed}", "0 or more", "choose one")]
        )
    layout = draw(trial, seed, plan=record.plan if record else None)
    if trial.design.keep:
        share = allowed_share(trial, layout.plan, seed, rule_of(trial, layout), layout)
        layout = replace(layout, restricted=share)
    return finished(replace(layout, drawn_how=how_drawn(trial)), trial)


def draw_seed() -> int:
    """A seed from the operating system."""
    return secrets.randbelow(SEED_LIMIT)


def draw(trial: Trial, seed: int, *, plan: Plan | None = None) -> Layout:
    """The layout that this trial and seed give; nothing else is looked at.

    ``plan``: the plan of labels that the layout's record holds; None: the one for the sizes.

    Raises
    ------
    LayoutError
        For sizes that cannot be laid out, or restrictions that hardly any layout fulfills.
    """
    if plan is None or not fits(trial, plan):
        try:
            plan = plan_for(trial)
        except ValueError as error:
            fix = "correct the sizes under design"
            raise LayoutError(
                [_problem(trial, "no such layout", str(error), "sizes that fit", fix)]
            ) from None
    stream = Stream(seed, "layout")
    pieces = arrange(trial, plan, stream)
    sizes = [plots_each(trial, piece.cell) for piece in pieces]
    total = sum(sizes)
    if total > MAX_PLOTS:
        found = f"{total} plots"
        fix = "correct blocks, replicates or plots_per_reservoir"
        raise LayoutError(
            [_problem(trial, "too many plots", found, f"at most {MAX_PLOTS}", fix)]
        )
    if trial.design.keep:
        laid = _laid(trial, pieces)
        rule = rule_of(trial, laid)
        if not rule.fit([piece.cell for piece in pieces]):
            pieces = draw_allowed(trial, plan, stream, rule, laid)
    shared = sum(size > 1 for size in sizes)
    codes = draw_codes(total + shared, Stream(seed, "identifiers"))
    return Layout(
        type=trial.design.type,
        factors=tuple(factor.name for factor in trial.factors),
        plots=_plots(trial, pieces, codes[:total], codes[total:]),
        drawn="here",
        seed=seed,
        scheme=SCHEME,
        hash=canonical_hash(trial),
        file=trial.design.layout,
        applied_to=tiers_of(trial),
        main_effects=main_effects_only(trial),
        plan=None if plan is None else tuple(tuple(line) for line in plan),
    )


def _laid(trial: Trial, pieces: list[Piece]) -> Layout:
    """The pieces on the ground, before plots have names: places do not depend on treatments."""
    names = [str(k) for k in range(sum(plots_each(trial, p.cell) for p in pieces))]
    tanks = [f"reservoir {k}" for k in range(len(pieces))]
    return Layout(
        type=trial.design.type,
        factors=tuple(factor.name for factor in trial.factors),
        plots=_plots(trial, pieces, names, tanks),
        drawn="here",
        applied_to=tiers_of(trial),
    )


def _plots(
    trial: Trial, pieces: list[Piece], names: Sequence[str], tanks: Sequence[str]
) -> tuple[Plot, ...]:
    """The plots of the pieces in walking order, with their places on the ground."""
    reservoirs = iter(tanks)
    square = _square_side(len(names))
    plots: list[Plot] = []
    in_line: dict[int, int] = {}
    for piece in pieces:
        fed = plots_each(trial, piece.cell)
        reservoir = f"R-{next(reservoirs)}" if fed > 1 else None
        for _ in range(fed):
            row, column = piece.row, piece.column
            if piece.line is not None:
                in_line[piece.line] = in_line.get(piece.line, 0) + 1
                row, column = piece.line, in_line[piece.line]
            elif row is None or column is None:
                row, column = (k + 1 for k in divmod(len(plots), square))
            plots.append(
                Plot(
                    plot=names[len(plots)],
                    levels=levels_of(trial, piece.cell),
                    block=piece.block,
                    row=row,
                    column=column,
                    replicate=piece.replicate,
                    square=piece.square,
                    whole_plot=piece.whole_plot,
                    subplot=piece.subplot,
                    row_strip=piece.row_strip,
                    column_strip=piece.column_strip,
                    reservoir=reservoir,
                    plants=trial.design.plants_per_plot,
                    coil=piece.coil,
                    run=piece.run,
                )
            )
    return tuple(plots)


def _square_side(total: int) -> int:
    """Plots in a row of a field about as wide as long."""
    width = 1
    while width * width < total:
        width += 1
    return width


def _refuse(trial: Trial) -> None:
    """Say why this trial is not laid out here."""
    design, problems = trial.design, []
    if design.drawn != "here":
        problems.append(
            _problem(
                trial,
                "not drawn here",
                f"drawn: {design.drawn}",
                "drawn: here",
                f"put the existing layout into {design.layout}, or write drawn: here",
            )
        )
    if problems:
        raise LayoutError(problems)


def _problem(trial: Trial, code: str, found: str, expected: str, fix: str) -> Problem:
    return Problem(trial.file or "trial", code, found, expected, fix)
