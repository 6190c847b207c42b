"""The study's page: what was found, how, and every cell.

Leans on the package's pages and core.numbers, study_cells, study_picture,
trial_page, survival_page, water_page, cost_page, bench_page and usual_page.
"""

from collections.abc import Sequence
from math import sqrt
from typing import Any

from bench_page import bench_sections
from cost_page import cost_sections
from leak_run import leak_sections
from position_run import position_sections
from power_page import power_sections
from study_cells import KINDS, LEVELS
from study_picture import rejection_picture
from study_seasons import PLANTS
from survival_page import survival_sections
from trial_page import every_trial, trial_sections
from usual_page import usual_section
from usual_summary import rate_of
from water_page import water_sections

from wickstats.core.numbers import fixed, percent
from wickstats.pages.blocks import Column, Items, Page, Picture, Section, Table
from wickstats.pages.shell import render

PLURAL = {"total": "Totals", "size": "Sizes", "share": "Shares", "count": "Counts"}


def study_page(
    first: dict[str, Any],
    trials: dict[str, Any],
    lives: dict[str, Any],
    water: dict[str, Any],
    leaks: dict[str, Any],
    costs: dict[str, Any],
    bench: dict[str, Any],
    position: dict[str, Any],
    summary: dict[str, Any],
) -> bytes:
    """Return the page's bytes: of the stored parts and what may be quoted of them."""
    cells = first["cells"]
    sections = [
        _found(cells, summary),
        *trial_sections(trials["cells"], trials["mixed"], trials["gaps"], summary["trials"]),
        *position_sections(position["cells"]),
        *water_sections(water["cells"], summary["water"]),
        *leak_sections(leaks["cells"]),
        *cost_sections(costs["cells"], summary["costs"]),
        *bench_sections(bench["cells"]),
        *survival_sections(lives["cells"], lives["usual"], summary["survival"]),
        *power_sections(summary["power"]),
        usual_section(trials["usual"], trials["cells"], summary),
        _how(summary),
        Section("Every cell", sections=tuple(_every(k, cells, first["usual"]) for k in KINDS)),
        every_trial(trials["cells"], trials["usual"]),
    ]
    return render(
        Page(
            title="Does a 5 % test reject 5 % of the time?",
            lead=(
                f"Simulated seasons: {_whole(_settings(summary))} settings of small trials, "
                f"{_whole(summary['seasons_a_cell'])} seasons each, "
                "judged by the first line."
            ),
            sections=tuple(sections),
            banners=("SIMULATED: no season on this page was grown.",),
            footer=("Rebuilt by: python reports/validation/build.py",),
        )
    )


def _settings(summary: dict[str, Any]) -> int:
    """Cells of all parts."""
    parts = [
        summary[name]["cells"]
        for name in ("trials", "survival", "water", "leaks", "costs", "bench", "position")
    ]
    return int(summary["cells"]) + sum(parts)


def _found(cells: Sequence[dict[str, Any]], summary: dict[str, Any]) -> Section:
    seasons = summary["seasons_a_cell"]
    error = sqrt(0.05 * 0.95 / seasons)
    rows = []
    for kind in KINDS:
        of = summary["kinds"][kind]
        rows.append(
            (
                kind,
                *(_rate(of["rejection_pair"][k]) for k in ("median", "highest")),
                *(_rate(of["rejection_all_arms"][k]) for k in ("median", "highest")),
                *(_rate(of["coverage"][k]) for k in ("lowest", "median")),
            )
        )
    heads = (
        "null pair, median cell",
        "null pair, worst cell",
        "all arms, median cell",
        "all arms, worst cell",
        "coverage, worst cell",
        "coverage, median cell",
    )
    table = Table(
        "Rejection by 5 % tests of true nulls, and coverage of 95 % intervals, in percent",
        (Column("kind"), *(Column(head, numeric=True) for head in heads)),
        tuple(rows),
        note=(
            f"One cell's Monte Carlo standard error at 5 % is {percent(error, 2)}; the worst "
            f"of some seventy cells lies about 2.4 such errors out by chance alone "
            f"({percent(0.05 + 2.4 * error, 1)})."
        ),
    )
    picture = Picture(
        name="rejection.svg",
        svg=rejection_picture(cells, seasons),
        title="Null pairs that are called different",
        alternative=(
            "One point a setting. The line is 5 %, the gray band four Monte Carlo standard "
            "errors around it. Points below the band are tests that are more careful than "
            "they need to be."
        ),
    )
    return Section(
        "What was found: blocks, with what is lost anew every season",
        (Items(tuple(_sentences(summary))), table, picture),
    )


def _sentences(summary: dict[str, Any]) -> list[str]:
    out = []
    for kind in KINDS:
        of = summary["kinds"][kind]
        pair, cover = of["rejection_pair"], of["coverage"]
        text = (
            f"{PLURAL[kind]}: a null pair is called different in {_rate(pair['lowest'])} to "
            f"{_rate(pair['highest'])} % of seasons, {_rate(pair['median'])} % in the median "
            f"cell. Highest: {_setting(of['worst_cell'])}; that setting once more, with "
            f"{_whole(of['worst_cell_again']['seasons'])} other seasons: "
            f"{percent(of['worst_cell_again']['rejection'], 2)}. Intervals cover "
            f"{_rate(cover['lowest'])} % or more (lowest: "
            f"{_setting(of['least_covered_cell'])})."
        )
        if of["seasons_without_inference"]:
            lost = of["seasons_without_inference"]
            total = summary["cells"] // len(KINDS) * summary["seasons_a_cell"]
            text += (
                f" In {_whole(lost)} of {_whole(total)} seasons too little was left for any "
                "inference; they are not counted."
            )
        out.append(text)
    out.append(
        "Shares and counts are judged with more care than 5 % asks for, most of all where "
        "plots hardly vary: two intervals are made there, and the wider one counts."
    )
    return out


def _how(summary: dict[str, Any]) -> Section:
    levels = LEVELS
    share, count = levels["share"], levels["count"]
    items = (
        (
            f"{PLANTS} plants a plot, randomized complete blocks, 3 to 8 blocks, 2 or 4 "
            "arms. Block effects have variance 0.25, plots 0 or 0.25, plants 1; all are "
            "normal."
        ),
        (
            "Total: logarithm of a plot's sum of lognormal plants (log SD 0.4 times the "
            "plant's deviation). Size: mean of the plot's plants that are left. Share: "
            "plants above a threshold, of those found. Count: Poisson, block and plot "
            "effects on the logarithm of its mean."
        ),
        (
            f"Global null: all arms alike (share {fixed(share['global null'][0], 2)}, "
            f"{fixed(count['global null'][0], 0)} counts a plot). Partial null: the first "
            "two of four arms alike, the other two not (shares "
            f"{fixed(share['partial null'][0], 2)} and {fixed(share['partial null'][2], 2)}, "
            f"counts {fixed(count['partial null'][0], 0)} and "
            f"{fixed(count['partial null'][2], 0)}). Arms differ: two arms, for coverage "
            "only."
        ),
        (
            "Random gaps: one plot lost anywhere; sizes and shares also lose each plant "
            "with chance 0.15. Loss by arm: the first arm, one of the null pair, loses a "
            "plot (two from six blocks on); sizes and shares also lose each of its plants "
            "with chance 0.6, of other arms with chance 0.1. Plants are lost regardless of "
            "how they did."
        ),
        (
            "Each season is judged without adjustment at 5 %: least squares on one number a "
            "plot with blocks fixed; sizes also with variances by plants, the wider "
            "interval counting; shares with one dispersion over each arm's own variance; "
            "counts with the wider of quasi-Poisson and pooled logarithms. A test holds "
            "these formulas equal to the package's own single-season results to 1e-10."
        ),
        (
            "Not covered here: lifetimes, ratios, many comparisons, and effects of arms that "
            "change from block to block."
        ),
        (
            "Random numbers: PCG64 seeded by SHA-256 of the study's seed "
            f"({summary['seed']}) and the cell's name, so that any cell can be repeated "
            "alone."
        ),
    )
    return Section("How it was done", (Items(items),))


def _every(
    kind: str, cells: Sequence[dict[str, Any]], usual: Sequence[dict[str, Any]]
) -> Section:
    mine = [cell for cell in usual if cell["settings"]["kind"] == kind]
    beside = {tuple(cell["settings"].values()): cell for cell in mine}
    routes = list(dict.fromkeys(r["route"] for cell in mine for r in cell["routes"]))
    rows = []
    for cell in cells:
        s = cell["settings"]
        if s["kind"] != kind:
            continue
        key = tuple(s.values())
        rows.append(
            (
                f"{s['blocks']} x {s['arms']}",
                fixed(s["plot_variance"], 2),
                s["loss"],
                s["truth"],
                _whole(cell["judged"]),
                _rate(cell["rejection"]),
                _rate(cell["rejection_all"]),
                _rate(cell["coverage"]),
                _rate(cell["coverage_other"]),
                *(
                    _rate(rate_of(beside[key], name)) if key in beside else ""
                    for name in routes
                ),
            )
        )
    columns = (
        Column("blocks x arms"),
        Column("plot variance", numeric=True),
        Column("loss"),
        Column("truth"),
        Column("seasons judged", numeric=True),
        Column("null pair rejected", numeric=True),
        Column("all arms rejected", numeric=True),
        Column("first pair covered", numeric=True),
        Column("differing pair covered", numeric=True),
        *(Column(f"{name} rejects", numeric=True) for name in routes),
    )
    table = Table(f"{PLURAL[kind]}, in percent of the seasons judged", columns, tuple(rows))
    return Section(PLURAL[kind], (table,))


def _setting(s: dict[str, Any]) -> str:
    """A cell in words."""
    size = f"{s['blocks']} blocks x {s['arms']} arms"
    return f"{size}, plot variance {fixed(s['plot_variance'], 2)}, {s['loss']}, {s['truth']}"


def _rate(rate: float | None) -> str:
    """A rate in percent, without the sign; empty where there is none."""
    return "" if rate is None else fixed(100.0 * rate, 1)


def _whole(number: int) -> str:
    return fixed(float(number), 0)
