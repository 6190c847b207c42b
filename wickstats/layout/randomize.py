"""A trial and a seed become plots, each allowed layout equally likely.

Stream ``layout`` shuffles the units: all of them in a completely randomized trial,
each block's in turn in randomized complete blocks. A unit is a plot, or the n plots that
hang on one reservoir; they stand side by side where the shuffled unit fell. Stream
``identifiers`` then draws the plots' codes, and the reservoirs' after them. Leans on
stream, codes and design.
"""

import secrets

from wickstats.core.errors import LayoutError, Problem
from wickstats.design.canonical import canonical_hash
from wickstats.design.defaults import cells_of, value_for
from wickstats.design.tiers import tiers_of
from wickstats.design.trial import Trial
from wickstats.layout.codes import draw_codes
from wickstats.layout.plots import TREATMENT_JOIN, Layout, Plot
from wickstats.layout.stream import SCHEME, Stream

DRAWABLE = ("completely randomized", "randomized complete block")
SEED_LIMIT = 2**53  # whole numbers that every spreadsheet and JSON reader keeps exact
MAX_PLOTS = 100_000


def randomize(trial: Trial, *, seed: int | None = None) -> Layout:
    """Lay out the plots at random; writes nothing (``layout.write()`` does).

    The seed is the one given, else the one of the layout's record where there is one,
    else the trial file's, else drawn from the operating system.

    Raises
    ------
    LayoutError
        Where the design cannot be laid out.
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
    return finished(draw(trial, seed), trial)


def draw_seed() -> int:
    """A seed from the operating system."""
    return secrets.randbelow(SEED_LIMIT)


def draw(trial: Trial, seed: int) -> Layout:
    """The layout that this trial and seed give; nothing else is looked at."""
    stream = Stream(seed, "layout")
    groups = _groups(trial, stream)
    sizes = {cell: plots_each(trial, cell) for cell in cells_of(trial.factors)}
    total = sum(sizes[cell] for _, cells in groups for cell in cells)
    if total > MAX_PLOTS:
        found = f"{total} plots"
        fix = "correct blocks, replicates or plots_per_reservoir"
        raise LayoutError(
            [_problem(trial, "too many plots", found, f"at most {MAX_PLOTS}", fix)]
        )
    shared = sum(sizes[cell] > 1 for _, cells in groups for cell in cells)
    codes = iter(draw_codes(total + shared, Stream(seed, "identifiers")))
    names = [next(codes) for _ in range(total)]
    plots: list[Plot] = []
    width = _width(trial, groups, total, sizes)
    for block, cells in groups:
        for cell in cells:
            reservoir = f"R-{next(codes)}" if sizes[cell] > 1 else None
            for _ in range(sizes[cell]):
                row, column = divmod(len(plots), width)
                plots.append(
                    Plot(
                        plot=names[len(plots)],
                        levels=_levels(trial, cell),
                        block=block,
                        row=row + 1,
                        column=column + 1,
                        reservoir=reservoir,
                        plants=trial.design.plants_per_plot,
                    )
                )
    return Layout(
        type=trial.design.type,
        factors=tuple(factor.name for factor in trial.factors),
        plots=tuple(plots),
        drawn="here",
        seed=seed,
        scheme=SCHEME,
        hash=canonical_hash(trial),
        file=trial.design.layout,
        applied_to=tiers_of(trial),
    )


def plots_each(trial: Trial, cell: str) -> int:
    """Plots of one unit of a treatment: 1, or as many as hang on one reservoir."""
    return value_for(trial.design.plots_per_reservoir, _levels(trial, cell)) or 1


def replicates_of(trial: Trial, cell: str) -> int:
    """Units of a treatment in a completely randomized trial."""
    given = trial.design.replicates
    if isinstance(given, dict):
        return value_for(given, _levels(trial, cell)) or 0
    return given or 0


def _groups(trial: Trial, stream: Stream) -> list[tuple[str | None, list[str]]]:
    """Block and its treatments in walking order; one group without a name where none."""
    cells = cells_of(trial.factors)
    if trial.design.type == "completely randomized":
        units = [cell for cell in cells for _ in range(replicates_of(trial, cell))]
        return [(None, stream.shuffled(units))]
    blocks = trial.design.blocks or 0
    return [(str(b), stream.shuffled(cells)) for b in range(1, blocks + 1)]


def _width(
    trial: Trial,
    groups: list[tuple[str | None, list[str]]],
    total: int,
    sizes: dict[str, int],
) -> int:
    """Plots in a row: a block is a row; without blocks a field about as wide as long."""
    if trial.design.type == "completely randomized":
        width = 1
        while width * width < total:
            width += 1
        return width
    return sum(sizes[cell] for cell in groups[0][1])


def _levels(trial: Trial, cell: str) -> dict[str, str]:
    names = (factor.name for factor in trial.factors)
    return dict(zip(names, cell.split(TREATMENT_JOIN), strict=True))


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
    if design.type not in DRAWABLE:
        problems.append(
            _problem(
                trial,
                "design not yet drawn",
                f"the design {design.type}",
                "one of: " + ", ".join(DRAWABLE),
                "draw this layout elsewhere, write it as a table and say drawn: elsewhere",
            )
        )
    if design.keep:
        problems.append(
            _problem(
                trial,
                "restriction not yet drawn",
                "keep: " + ", ".join(design.keep),
                "no restrictions beyond blocks",
                "take keep out, or draw the layout elsewhere",
            )
        )
    if problems:
        raise LayoutError(problems)


def _problem(trial: Trial, code: str, found: str, expected: str, fix: str) -> Problem:
    return Problem(trial.file or "trial", code, found, expected, fix)
