"""Sections of the study's page on totals and sizes, the second line, and other designs.

Leans on the package's pages and core.numbers, trial_cells, trial_summary, trial_picture,
usual_page, usual_summary.
"""

from collections.abc import Sequence
from math import sqrt
from typing import Any

from trial_cells import GROUPS, PATTERN_SEED
from trial_picture import trials_picture
from trial_summary import misses
from usual_page import HEADS, ROUTES
from usual_summary import rate_of

from wickstats.core.numbers import fixed, percent
from wickstats.pages.blocks import Column, Items, Picture, Section, Table, Text

COLUMNS = (
    ("null pair", "rejection"),
    ("all arms", "rejection_all"),
    ("paired", "rejection_paired"),
    ("differences missed", "missed_pair"),
    ("means missed", "missed_means"),
)


def trial_sections(
    cells: Sequence[dict[str, Any]],
    mixed: Sequence[dict[str, Any]],
    gaps: Sequence[dict[str, Any]],
    summary: dict[str, Any],
) -> tuple[Section, ...]:
    """What was found, how it was done; every cell stands in its own section."""
    return (
        Section(
            "Totals and sizes, design by design",
            (Items(tuple(_sentences(summary))), _groups(summary), _picture(cells, summary)),
        ),
        Section("Split-plots with gaps", (_gaps_text(summary), _gaps(gaps))),
        Section("The second line", (_second_text(summary), _second(mixed))),
        Section("How totals and sizes were simulated", (Items(_how()),)),
    )


def every_trial(cells: Sequence[dict[str, Any]], usual: Sequence[dict[str, Any]]) -> Section:
    """Every cell, group by group; ``usual`` holds the usual routes in the same order."""
    both = list(zip(cells, usual, strict=True))
    parts = [
        _every(group, [pair for pair in both if pair[0]["settings"]["group"] == group])
        for group in GROUPS
    ]
    return Section("Every cell of totals and sizes", sections=tuple(parts))


def _sentences(summary: dict[str, Any]) -> list[str]:
    groups = summary["groups"]
    alike, loss = groups["alike"], groups["loss"]
    variance, doubled = groups["variance"], groups["doubled"]
    tests, means = alike["rejection"], alike["missed_means"]
    out = [
        (
            f"Arms alike in loss and variance, {_whole(alike['cells'])} settings: the null "
            f"pair is called different in {_rate(tests['lowest'])} to "
            f"{_rate(tests['highest'])} % of seasons; {_whole(tests['outside_4_to_6'])} "
            f"settings lie outside 4 to 6 %, {_whole(tests['outside_3_to_7'])} outside 3 to "
            "7 %. Where plants are lost the wider of two intervals counts, which makes the "
            "lower values."
        ),
        (
            f"Intervals of arms' means miss in {_rate(means['lowest'])} to "
            f"{_rate(means['highest'])} % of seasons: {_whole(means['outside_4_to_6'])} of "
            f"{_whole(means['cells'])} settings outside 4 to 6 %, "
            f"{_whole(means['outside_3_to_7'])} outside 3 to 7 %. The extremes have three "
            "blocks, where a mean's two variances are known on few degrees of freedom and "
            "Satterthwaite's are corrected. Where one arm loses most of its plants the wider "
            "of two intervals makes means careful."
        ),
        (
            f"Loss that differs by arm (30 or 50 % of the first arm's plants left beside 95 "
            f"%): at most {_rate(loss['rejection']['highest'])} %."
        ),
        (
            "Arms whose standard deviations stand 1 to 2: the pooled first line rejects a "
            f"null pair in up to {_rate(variance['rejection']['highest'])} % of seasons (two "
            "noisy arms beside quiet ones) and as few as "
            f"{_rate(variance['rejection']['lowest'])} % (two quiet arms beside noisy ones); "
            "differences within blocks, shown beside it, in at most "
            f"{_rate(variance['rejection_paired']['highest'])} %. A doubled mean on the raw "
            f"scale does the same (up to {_rate(doubled['rejection']['highest'])} %), on the "
            "log scale it does no harm."
        ),
    ]
    others = [groups[name] for name in ("split-plot", "square", "incomplete", "growth")]
    low = min(group["rejection"]["lowest"] for group in others)
    high = max(group["rejection"]["highest"] for group in others)
    out.append(
        "Split-plots, Latin squares, incomplete blocks and growth with serial error and plots "
        f"that grow apart: {_rate(low)} to {_rate(high)} %."
    )
    return out


def _groups(summary: dict[str, Any]) -> Table:
    rows = []
    for of in summary["groups"].values():
        found = [_range(of.get(name)) for _, name in COLUMNS]
        rows.append((of["words"], _whole(of["cells"]), *found))
    error = sqrt(0.05 * 0.95 / summary["seasons_a_cell"])
    return Table(
        "Lowest, median and highest cell, in percent: rejection by 5 % tests, misses of 95 % "
        "intervals",
        (
            Column("cells with"),
            Column("cells", numeric=True),
            *(Column(head, numeric=True) for head, _ in COLUMNS),
        ),
        tuple(rows),
        note=(
            f"{_whole(summary['seasons_a_cell'])} seasons a cell; one cell's Monte Carlo "
            f"standard error at 5 % is {percent(error, 2)}."
        ),
    )


def _picture(cells: Sequence[dict[str, Any]], summary: dict[str, Any]) -> Picture:
    return Picture(
        name="trials.svg",
        svg=trials_picture(cells_with_blocks(cells), summary["seasons_a_cell"]),
        title="Null pairs that are called different, totals and sizes",
        alternative=(
            "One point a setting, by number of blocks. Left: arms alike, complete or with "
            "plants or a plot lost. Middle: one arm lost most of its plants. Right: "
            "variances that differ, the pooled first line and the paired result (another "
            "scale). The line is 5 %, the gray band four Monte Carlo standard errors."
        ),
    )


def cells_with_blocks(cells: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Cells of the groups that the picture shows."""
    shown = ("alike", "loss", "variance", "doubled")
    return [c for c in cells if c["settings"]["group"] in shown]


def _gaps_text(summary: dict[str, Any]) -> Text:
    of = summary["split_plots_with_gaps"]
    seasons = of["seasons_a_cell"]
    error = sqrt(0.05 * 0.95 / seasons)
    return Text(
        f"Three whole-plot levels, three subplots, at least {_whole(seasons)} seasons a "
        f"setting, one by one (standard error at 5 % is at most {percent(error, 1)}). "
        "Whole plots are compared by a restricted likelihood, which is careful where they "
        "hardly vary: "
        f"{_rate(of['whole plots']['lowest'])} to {_rate(of['whole plots']['highest'])} % of "
        "seasons reject; subplots and interaction, by least squares inside whole plots, "
        f"{_rate(min(of[k]['lowest'] for k in ('subplots', 'interaction')))} to "
        f"{_rate(max(of[k]['highest'] for k in ('subplots', 'interaction')))} %."
    )


def _gaps(gaps: Sequence[dict[str, Any]]) -> Table:
    terms, pairs = ("whole plots", "subplots", "interaction"), ("inside", "between")
    rows = [
        (
            _whole(c["settings"]["blocks"]),
            fixed(c["settings"]["plot_variance"], 1),
            c["settings"]["pattern"],
            _whole(c["seasons"]),
            *(_rate(c["rejected"][name]) for name in terms),
            *(_rate(1.0 - c["covered"][name]) for name in pairs),
        )
        for c in gaps
    ]
    heads = (*(f"{name} rejected" for name in terms), *(f"{name} missed" for name in pairs))
    return Table(
        "Split-plots with subplots lost, in percent of seasons",
        (
            Column("blocks", numeric=True),
            Column("whole-plot variance", numeric=True),
            Column("left"),
            Column("seasons", numeric=True),
            *(Column(head, numeric=True) for head in heads),
        ),
        tuple(rows),
        note="Inside: a difference of subplot levels; between: of whole-plot levels.",
    )


def _second_text(summary: dict[str, Any]) -> Text:
    of = summary["second_line"]
    parts = of["components"]
    return Text(
        f"Mixed model with Kenward-Roger, four plants a plot, {_whole(of['cells'])} settings: "
        f"a null pair is called different in {_rate(of['rejection']['lowest'])} to "
        f"{_rate(of['rejection']['highest'])} % of seasons. It is careful where plots hardly "
        "vary and blocks are few. Intervals of the variances (the plants' from the scatter "
        "inside plots, the others by profile likelihood with its exact point on their own "
        "degrees of freedom, coarser terms as fixed) miss in at most "
        f"{_rate(parts['block']['highest'])} % (block), {_rate(parts['plot']['highest'])} % "
        f"(plot) and {_rate(parts['residual']['highest'])} % (plant) of seasons; with "
        f"a standard error of {percent(sqrt(0.05 * 0.95 / summary['seasons_a_cell']), 2)} the "
        "highest of so many rates at 5 % would stand near 5.6. "
        "Coarser terms stand as fixed: with "
        "blocks estimated at zero their mean square would be pooled with the plots', and plots "
        "that vary more than blocks were missed in up to 6 %."
    )


def _second(mixed: Sequence[dict[str, Any]]) -> Table:
    rows = []
    for cell in mixed:
        s = cell["settings"]
        components = cell["components"]
        rows.append(
            (
                _size(s),
                fixed(s["plot_variance"], 2),
                s["pattern"],
                _rate(cell["rejection"]),
                _rate(cell["rejection_all"]),
                _rate(misses(cell, "coverage_means")),
                *(_rate(1.0 - components[name]) for name in ("block", "plot", "residual")),
                _rate(cell["plot_zero"]),
            )
        )
    heads = (
        "null pair rejected",
        "all arms rejected",
        "means missed",
        "block variance missed",
        "plot variance missed",
        "plant variance missed",
        "plot variance at zero",
    )
    return Table(
        "Second line, in percent of seasons",
        (
            Column("blocks x arms x plants"),
            Column("plot variance", numeric=True),
            Column("left"),
            *(Column(head, numeric=True) for head in heads),
        ),
        tuple(rows),
    )


def _how() -> tuple[str, ...]:
    return (
        (
            "Blocks, rows and columns have variance 0.25, whole plots 0.3, plots 0, 0.2 or "
            "0.5 (second line: up to 2), plants 1; all are normal. A plot's number is the mean "
            "of its plants that are left; with one plant a plot there is one variance."
        ),
        (
            "Every setting has one fixed pattern of what is left, drawn once from the seed "
            f"{PATTERN_SEED}: complete, 15 % of all plants lost, or one plot lost; patterns "
            "that leave no error degree of freedom or cannot compare all arms are drawn again."
        ),
        (
            "Partial null: the first two arms alike, the others one plant standard deviation "
            "higher. Doubled mean: lognormal plots, log standard deviation 0.3."
        ),
        (
            "Growth: six visits; a plot's and a block's effect grow in proportion to time from "
            "nothing; errors of a plant are correlated 0.6 from visit to visit; each plant "
            "gives its least-squares slope, each plot the mean of its slopes."
        ),
        (
            "Split-plots with two subplots; whole-plot main effect, subplot main effect and "
            "interaction, and differences of cells that take part in both strata. Balanced "
            "incomplete blocks: 4 arms in 6 blocks of 2, 5 in 10 of 2, 7 in 7 of 3, 6 in 10 of "
            "3."
        ),
        (
            "All seasons of a setting are judged at once by the package's batch engine, which "
            "the tests hold equal to the single-season code."
        ),
        "Not covered here: start size as covariate, trends over amounts.",
    )


def _every(group: str, cells: Sequence[tuple[dict[str, Any], dict[str, Any]]]) -> Section:
    rows = [
        (
            _size(c["settings"]),
            fixed(c["settings"]["plot_variance"], 2),
            c["settings"]["pattern"],
            c["settings"]["truth"],
            _rate(c["rejection"]),
            _rate(c["rejection_all"]),
            _rate(c["rejection_paired"]),
            _rate(misses(c, "coverage_other")),
            _rate(misses(c, "coverage_means")),
            *(_rate(rate_of(u, name)) for name in ROUTES),
        )
        for c, u in cells
    ]
    heads = (
        "null pair rejected",
        "all arms rejected",
        "paired result rejects",
        "first against last missed",
        "means missed",
        *HEADS,
    )
    table = Table(
        f"{GROUPS[group]}, in percent of seasons",
        (
            Column("blocks x arms x plants"),
            Column("plot variance", numeric=True),
            Column("left"),
            Column("truth"),
            *(Column(head, numeric=True) for head in heads),
        ),
        tuple(rows),
    )
    return Section(GROUPS[group][:1].upper() + GROUPS[group][1:], (table,))


def _size(s: dict[str, Any]) -> str:
    return f"{s['blocks']} x {s['arms']} x {s['plants']}"


def _range(of: dict[str, Any] | None) -> str:
    if of is None:
        return ""
    return " / ".join(_rate(of[name]) for name in ("lowest", "median", "highest"))


def _rate(rate: float | None) -> str:
    return "" if rate is None else fixed(100.0 * rate, 1)


def _whole(number: int) -> str:
    return fixed(float(number), 0)
