"""Yield beside its water, picks over time, plants along a line.

Leans on pages, report.facts and core.
"""

from dataclasses import replace

from wickstats.core.numbers import (
    MISSING,
    column_with_intervals,
    degrees,
    fixed,
    number,
    p_value,
    place,
)
from wickstats.core.responses import ResponseResult
from wickstats.core.words import say
from wickstats.pages.blocks import Block, Items, Section, Table, Text
from wickstats.report.effects import effect_tables, mean_tables
from wickstats.report.facts import Scene, capital, capped, heads


def productivity_table(response: ResponseResult) -> Table | None:
    """Yield, water and ratio by treatment, the denominator in every head."""
    found = response.productivity
    if found is None:
        return None
    named = {"mass": found.yield_in, "denominator": found.denominator}
    return Table(
        say("productivity caption", name=response.name),
        heads(
            "treatment",
            "yield a plot",
            "water a plot",
            "per liter of",
            "per cubic of",
            "units",
            numeric=range(1, 6),
            mass=found.yield_in,
            denominator=capital(found.denominator),
        ),
        tuple(
            (
                arm.treatment,
                number(arm.yield_mean),
                number(arm.water_mean_l),
                number(arm.per_liter),
                number(arm.per_cubic_meter),
                str(arm.n_units),
            )
            for arm in found.arms
        ),
        say("productivity note", **named),
    )


def harvest_section(scene: Scene, response: ResponseResult, stem: str) -> Section | None:
    """Mean day and marketable part, every pick by treatment, fruits with their dispersion."""
    found = response.harvest
    if found is None or not found.picks:
        return None
    picks = Table(
        say("harvest caption", name=response.name),
        heads(
            "treatment",
            "pick",
            "days",
            "picked",
            "nothing ripe",
            "not picked",
            "mean plot",
            "season share",
            numeric=range(3, 8),
            unit=found.measured_in,
        ),
        tuple(
            (
                row.treatment,
                row.pick,
                _days(row.first, row.last),
                str(row.picked),
                str(row.nothing_ripe),
                str(row.not_picked),
                number(row.mean),
                MISSING
                if row.share_of_season is None
                else f"{fixed(100.0 * row.share_of_season, 0)} %",
            )
            for row in found.picks
        ),
        say("harvest note"),
    )
    beside = replace(response, means=found.means, comparisons=found.comparisons)
    blocks: list[Block] = [Text(note) for note in found.notes]
    blocks += [*mean_tables(scene, beside), *effect_tables(scene, beside)]
    blocks.append(capped(picks, f"{stem}-picks.csv"))
    if found.counts:
        blocks.append(
            Table(
                say("counts caption", name=response.name),
                heads(
                    "treatment", "mean", "variance", "dispersion", "units", numeric=range(1, 5)
                ),
                tuple(
                    (
                        row.treatment,
                        number(row.mean),
                        number(row.variance),
                        number(row.dispersion),
                        str(row.n_units),
                    )
                    for row in found.counts
                ),
                say("counts note"),
            )
        )
    return Section(say("harvest title"), tuple(blocks))


def _days(first: str | None, last: str | None) -> str:
    if first is None or last is None:
        return MISSING
    return first if first == last else f"{first} to {last}"


def along_section(scene: Scene, response: ResponseResult, stem: str) -> Section | None:
    """The fall along lines: sentences, treatments, every line with who got least."""
    found = response.along_line
    if found is None:
        return None
    sizes = column_with_intervals([(a.ratio, a.low, a.high) for a in found.arms])
    arms = Table(
        say("along caption", name=capital(response.name)),
        heads(
            "treatment",
            "per place",
            "interval",
            "last to first",
            "df",
            "p",
            "least place",
            "lines",
            numeric=range(1, 8),
            percent=scene.confidence,
        ),
        tuple(
            (
                arm.treatment,
                *size,
                number(arm.last_to_first),
                degrees(arm.df),
                p_value(arm.p),
                place(arm.least_position),
                str(arm.n_lines),
            )
            for arm, size in zip(found.arms, sizes, strict=True)
        ),
        say("along note", name=response.name, percent=scene.confidence),
    )
    lines = Table(
        say("along lines caption", name=capital(response.name)),
        heads(
            "plot",
            "treatment",
            "line places",
            "plants",
            "per place",
            "last to first",
            "least plant",
            "least place",
            numeric=(3, 4, 5, 7),
        ),
        tuple(
            (
                line.plot,
                line.treatment,
                f"{place(line.first)} to {place(line.last)}",
                str(line.plants),
                number(line.ratio),
                number(line.last_to_first),
                line.least or MISSING,
                place(line.least_position),
            )
            for line in found.lines
        ),
        " ".join(found.notes) or None,
    )
    told = Items(tuple(capital(arm.sentence) for arm in found.arms))
    return Section(say("along title"), (told, arms, capped(lines, f"{stem}-lines.csv")))
