"""The survival study's part of the page.

Leans on the package's pages and core.numbers, survival_cells, survival_run and
survival_seasons.
"""

from collections.abc import Sequence
from math import sqrt
from typing import Any

from survival_cells import BLOCKS, CORRELATIONS
from survival_run import ESTIMANDS
from survival_seasons import VISITS

from wickstats.core.numbers import fixed, percent
from wickstats.pages.blocks import Column, Items, Section, Table, Text

NAMES = {
    "share": "share alive at the end",
    "early share": "share alive at the third visit",
    "restricted mean": "restricted mean survival time",
}


def survival_sections(
    cells: Sequence[dict[str, Any]],
    usual: Sequence[dict[str, Any]],
    summary: dict[str, Any],
) -> list[Section]:
    """What was found, the usual routes, and how the lives were made."""
    return [
        Section(
            "Survival",
            (Items(tuple(_sentences(summary))), _table(summary), _power(cells)),
            sections=(_usual(usual, summary), _how(summary)),
        )
    ]


def _sentences(summary: dict[str, Any]) -> list[str]:
    out = []
    again = summary["highest_cells_again"]
    for name in ESTIMANDS:
        of = summary["estimands"][name]
        pair, cover = of["rejection_pair"], of["coverage_elsewhere"]
        rich = of["coverage_with_5_deaths_and_5_survivors_an_arm"]
        text = NAMES[name]
        out.append(
            f"{text[0].upper()}{text[1:]}: a null pair is called different in at most "
            f"{_rate(pair['highest'])} % of seasons ({_setting(pair['highest_cell'])}), "
            f"{_rate(pair['median'])} % in the median cell; that highest cell once more, with "
            f"{_whole(again['seasons'])} other seasons: {_rate(again[name])} %. "
            f"{pair['over_6_percent']} of {pair['cells']} cells lie over 6 %, "
            f"{pair['over_6.5_percent']} over 6.5 %. "
            f"Intervals cover {_rate(rich['lowest'])} % or more where every arm expects at "
            f"least 5 deaths and 5 survivors, {_rate(cover['lowest'])} % or more elsewhere "
            f"({_setting(cover['lowest_cell'])})."
        )
    score = summary["log-rank score"]
    out.append(
        "Log-rank score by plots, all arms at once: equal arms are called different in at "
        f"most {_rate(score['highest'])} % of seasons ({_setting(score['highest_cell'])}), "
        f"{_rate(score['median'])} % in the median cell; that highest cell once more: "
        f"{_rate(again['log-rank score'])} %. {score['over_6_percent']} of {score['cells']} "
        f"cells lie over 6 %, {score['over_6.5_percent']} over 6.5 %."
    )
    large = "; ".join(
        f"{row['settings']['blocks']} blocks x {row['settings']['arms']} arms x "
        f"{row['settings']['plants']} plants, {percent(row['settings']['survival'], 0)} alive, "
        f"correlation {fixed(row['settings']['correlation'], 1)}: "
        f"{fixed(100.0 * row['rate'], 2)} % (standard error {fixed(100.0 * row['se'], 2)})"
        for row in summary["large"]
    )
    out.append(
        "The log-rank score where plots live or die together, with "
        f"{_whole(summary['large'][0]['seasons'])} other seasons each, equal arms, the last "
        f"beyond the study's settings: {large}."
    )
    out.append(_missed(summary["missed"]))
    bound = summary["bound"]
    out.append(
        "Verdicts where every plant of an arm lived or died, read from a bound: with 90, 97 "
        "or 100 % alive in every arm a null pair is called different, by the bound or by the "
        f"interval where no arm is of one fate, in at most {_rate(bound['highest'])} % "
        f"({_setting(bound['highest_cell'])}), by the bound alone in at most "
        f"{_rate(bound['highest_by_bound'])} % ({_setting(bound['highest_by_bound_cell'])}); "
        f"the interval shown covers {_rate(bound['lowest_coverage'])} % or more "
        f"({_setting(bound['lowest_coverage_cell'])}); {_whole(bound['cells'])} settings of "
        f"{_whole(bound['seasons_a_cell'])} seasons."
    )
    incidence, rank = summary["more"]["incidence"], summary["more"]["rank"]
    out.append(
        "Incidence of a cause in one arm: intervals by units cover "
        f"{_rate(incidence['lowest_coverage'])} % or more, in the median setting "
        f"{_rate(incidence['median_coverage'])} %; {_whole(incidence['cells'])} settings of "
        f"{_whole(incidence['seasons_a_cell'])} seasons, 3 to 8 blocks, 4 to 12 plants a plot."
    )
    out.append(
        "Composite rank, dead below all living: two arms alike are called different in at most "
        f"{_rate(rank['highest_rejection'])} % of seasons, intervals cover "
        f"{_rate(rank['lowest_coverage'])} % or more; {_whole(rank['cells'])} settings of "
        f"{_whole(rank['seasons_a_cell'])} seasons."
    )
    out.append(
        "Not covered: two arms with equal survival whose plots are alike to very different "
        "degrees. There the differences within blocks, shown beside, are the safer answer."
    )
    return out


def _missed(missed: dict[str, Any]) -> str:
    s = missed["highest_cell"]
    return (
        "Shares alive where rounds miss plots (10 or 30 % of both treatments' plots a round, "
        "or 30 % of one's), and plants of visited plots are not found: equal treatments are "
        f"called different in at most {_rate(missed['highest_rejection'])} % of seasons "
        f"({s['blocks']} blocks, {s['plants']} plants a plot), {missed['over_6_percent']} "
        f"settings lie over 6 %; intervals cover {_rate(missed['lowest_coverage'])} % or more; "
        f"{_whole(missed['cells'])} settings of {_whole(missed['seasons_a_cell'])} seasons or "
        "more. "
        "Plots that are all dead count without a visit: the difference is moved by at most "
        f"{fixed(100.0 * abs(missed['largest_bias']), 1)} plants of 100 by that, with 30 % of "
        "plots missed. Keeping the dead of missed plots and not their living, as counting what "
        f"is known would, calls equal treatments different in up to "
        f"{_rate(missed['kept_rejection'])} %, covers as little as "
        f"{_rate(missed['kept_coverage'])} % and moves the difference by up to "
        f"{fixed(100.0 * abs(missed['kept_bias']), 0)} plants of 100."
    )


def _table(summary: dict[str, Any]) -> Table:
    rows = []
    for name in ESTIMANDS:
        of = summary["estimands"][name]
        rows.append(
            (
                NAMES[name],
                _rate(of["rejection_pair"]["median"]),
                _rate(of["rejection_pair"]["highest"]),
                _rate(of["rejection_all_arms"]["highest"]),
                _rate(of["coverage_with_5_deaths_and_5_survivors_an_arm"]["lowest"]),
                _rate(of["coverage_elsewhere"]["lowest"]),
                _rate(of["mean_power"]),
            )
        )
    score = summary["log-rank score"]
    rows.append(("log-rank score", "", "", _rate(score["highest"]), "", "", ""))
    heads = (
        "null pair, median cell",
        "null pair, worst cell",
        "all arms, worst cell",
        "coverage, worst cell with 5 deaths and 5 survivors an arm",
        "coverage, worst other cell",
        "power, mean over cells",
    )
    error = sqrt(0.05 * 0.95 / max(summary["seasons_a_cell"], 1))
    return Table(
        "Survival: rejection by 5 % tests, coverage of 95 % intervals, power; in percent",
        (Column("estimate"), *(Column(head, numeric=True) for head in heads)),
        tuple(rows),
        note=(
            f"{_whole(summary['cells'])} cells of {_whole(summary['seasons_a_cell'])} seasons; "
            f"one cell's Monte Carlo standard error at 5 % is {percent(error, 2)}. Power: the "
            "first arm against the last where they differ."
        ),
    )


def _power(cells: Sequence[dict[str, Any]]) -> Table:
    rows = []
    for blocks in BLOCKS:
        for correlation in CORRELATIONS:
            found = [
                c["share"]["power"]
                for c in cells
                if c["settings"]["blocks"] == blocks
                and c["settings"]["correlation"] == correlation
                and c["settings"]["survival"] == 0.6
                and c["settings"]["plants"] == 8
                and c["settings"]["loss"] == "complete"
                and c["share"]["power"] is not None
            ]
            rows.append((str(blocks), fixed(correlation, 1), *(_rate(f) for f in found)))
    return Table(
        "Power for shares alive at the end, 0.6 against 0.97, 8 plants a plot, in percent",
        (
            Column("blocks", numeric=True),
            Column("plot correlation", numeric=True),
            Column("two arms", numeric=True),
            Column("four arms", numeric=True),
        ),
        tuple(rows),
    )


def _usual(usual: Sequence[dict[str, Any]], summary: dict[str, Any]) -> Section:
    """By route, blocks and plot correlation: the middle and the highest cell."""
    held: dict[tuple[str, int, float], list[float]] = {}
    for cell in usual:
        s = cell["settings"]
        for route in cell["routes"]:
            if route["rejection"] is not None:
                key = route["route"], s["blocks"], s["correlation"]
                held.setdefault(key, []).append(route["rejection"])
    rows = tuple(
        (
            route,
            str(blocks),
            fixed(correlation, 1),
            _whole(len(found)),
            _rate(sorted(found)[len(found) // 2]),
            _rate(max(found)),
        )
        for (route, blocks, correlation), found in sorted(held.items())
    )
    seasons = summary["usual"]["seasons_a_cell"]
    error = sqrt(0.05 * 0.95 / max(seasons, 1))
    table = Table(
        "Rejection of true nulls by the routes usually taken, in percent of seasons",
        (
            Column("route"),
            Column("blocks", numeric=True),
            Column("plot correlation", numeric=True),
            Column("cells", numeric=True),
            Column("middle cell", numeric=True),
            Column("highest cell", numeric=True),
        ),
        rows,
        note=(
            f"{_whole(seasons)} seasons a cell; standard error at 5 % {percent(error, 1)}, "
            "and the highest of many cells lies above by chance alone. Every cell with a true "
            "null pair; Cox, slow, in those of 8 plants without losses, 30 to 90 % alive. "
            "Shares and Cox: the first two arms; log-rank: all arms that are alike."
        ),
    )
    return Section("The usual routes beside it", (table,))


def _how(summary: dict[str, Any]) -> Section:
    items = (
        (
            "Randomized complete blocks: 3, 4, 6 or 8 blocks, 2 or 4 arms, 4, 8 or 12 plants a "
            "plot. 30, 60, 90 or 97 % live to the end."
        ),
        (
            "Plots: each has its own chance of living to the end, beta distributed, so that "
            "two plants of a plot have correlation 0, 0.1 or 0.3 of their fates; given that "
            f"chance plants die at a constant rate and are seen at {VISITS} visits at equal "
            "steps."
        ),
        (
            "Global null: all arms alike. Partial null: the null pair beside two arms at 97 %. "
            "Arms differ: two arms, one at 97 % (at 60 % beside 97 %)."
        ),
        (
            "Uneven: the first arm holds half the plants and lost one plot; from six blocks on "
            "the second arm lost one too."
        ),
        f"{_whole(summary['cells'])} settings of {_whole(summary['seasons_a_cell'])} seasons.",
    )
    return Section(
        "How the lives were made", (Text("Every season is simulated."), Items(items))
    )


def _rate(value: float) -> str:
    return fixed(100.0 * value, 1)


def _whole(number: int) -> str:
    return fixed(float(number), 0)


def _setting(s: dict[str, Any]) -> str:
    return (
        f"{s['blocks']} blocks x {s['arms']} arms, {s['plants']} plants a plot, correlation "
        f"{fixed(s['correlation'], 1)}, {percent(s['survival'], 0)} alive, {s['truth']}, "
        f"{s['loss']}"
    )
