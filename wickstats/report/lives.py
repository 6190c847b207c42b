"""What became of the plants: histories, visits, early deaths, replacements, growth beside.

Leans on pages, report.causes, report.facts and core.
"""

from collections.abc import Sequence

from wickstats.core.histories import HistoryRow
from wickstats.core.numbers import MISSING, column_with_intervals, fixed, number
from wickstats.core.responses import Mean, PlantLives, ResponseResult
from wickstats.core.words import say
from wickstats.pages.blocks import Block, Column, Picture, Section, Table, Text
from wickstats.pages.figures.survival import MOST_BANDS, survival_curves
from wickstats.report.causes import causes_blocks, share_cell, strategies_blocks
from wickstats.report.drawn import both
from wickstats.report.facts import Scene, heads, of_plants, times

MOST_ARMS = 6  # columns of a table


def lives_sections(scene: Scene, response: ResponseResult, stem: str) -> tuple[Section, ...]:
    """The sections that a response of survival has beside its comparisons."""
    lives = response.plant_lives
    if lives is None:
        return ()
    more = "" if of_plants(response) else " followed"
    sections = (
        Section(say(f"lives title{more}"), tuple(_plants(scene, lives, more))),
        Section(say("causes title"), tuple(causes_blocks(scene, lives, stem, more))),
        Section(say("strategies title"), tuple(strategies_blocks(scene, lives))),
        Section(say("stand title"), tuple(_stand(scene, lives, stem))),
    )
    return tuple(section for section in sections if section.blocks)


def _plants(scene: Scene, lives: PlantLives, more: str) -> list[Block]:
    blocks: list[Block] = []
    if lives.histories:
        blocks.append(_histories(scene, lives, more))
    if lives.visit_spacing:
        blocks.append(
            Table(
                say("spacing caption"),
                heads(
                    "treatment",
                    "visits a plot",
                    "median days",
                    "mean days",
                    "last visit",
                    numeric=(1, 2, 3),
                ),
                tuple(
                    (
                        row.treatment,
                        number(row.visits),
                        number(row.median_days),
                        number(row.mean_days),
                        row.last_visit or MISSING,
                    )
                    for row in lives.visit_spacing
                ),
                say("spacing note"),
            )
        )
    if lives.early_deaths:
        days = fixed(lives.early_deaths[0].days, 0)
        blocks.append(
            Table(
                say("early caption", days=days),
                heads(
                    "treatment",
                    "plants",
                    "dead by then",
                    "perhaps by then",
                    "of the rest",
                    "died later",
                    numeric=range(1, 6),
                ),
                tuple(
                    (r.treatment, *map(str, (r.plants, r.dead, r.perhaps, r.rest, r.rest_dead)))
                    for r in lives.early_deaths
                ),
                say("early note", days=days),
            )
        )
    if lives.conditions:
        blocks.append(
            Table(
                say("conditions caption"),
                heads(
                    "condition",
                    "treatment",
                    "noted",
                    "alive at the end",
                    "died",
                    "not known",
                    numeric=range(2, 6),
                ),
                tuple(
                    (c.condition, c.treatment, *map(str, (c.noted, c.alive, c.dead, c.other)))
                    for c in lives.conditions
                    if c.noted
                ),
                say("conditions note"),
            )
        )
    return blocks


def _histories(scene: Scene, lives: PlantLives, more: str) -> Table:
    arms = scene.arms if len(scene.arms) <= MOST_ARMS else ()
    columns = (
        Column(say("head history")),
        *(Column(arm, numeric=True) for arm in arms),
        Column(say("head all"), numeric=True),
        Column(say("head observed")),
        Column(say("head handled")),
    )
    sum_row: list[tuple[str, ...]] = []
    rows: list[tuple[str, ...]] = []
    ends = [r for r in lives.histories if r.part == "ending"]
    for row in lives.histories:
        if row.part != "ending" and ends and not sum_row:
            sum_row = [_sum(ends, arms, more)]
            rows += sum_row
        cells = (str(row.by_treatment.get(arm, 0)) for arm in arms)
        name = row.kind if row.part == "ending" else say(f"part {row.part}", kind=row.kind)
        rows.append((name, *cells, str(row.total), row.observed, row.handled))
    if ends and not sum_row:
        rows.append(_sum(ends, arms, more))
    note = say(f"histories note{more}")
    if not arms:
        note = f"{note} {say('histories by treatment')}"
    return Table(say(f"histories caption{more}"), columns, tuple(rows), note)


def _sum(ends: Sequence[HistoryRow], arms: Sequence[str], more: str) -> tuple[str, ...]:
    by_arm = (str(sum(r.by_treatment.get(arm, 0) for r in ends)) for arm in arms)
    return (say(f"history all{more}"), *by_arm, str(sum(r.total for r in ends)), "", "")


def _stand(scene: Scene, lives: PlantLives, stem: str) -> list[Block]:
    blocks: list[Block] = [Text(text) for text in lives.stand_notes]
    if lives.stand:
        blocks.append(
            Table(
                say("stand caption", date=lives.stand[0].at),
                heads(
                    "treatment",
                    "places",
                    "originals alive",
                    "replacements",
                    "replacements alive",
                    "of 100 originals",
                    "of 100 places",
                    numeric=range(1, 7),
                ),
                tuple(
                    (
                        r.treatment,
                        str(r.places),
                        str(r.originals_alive),
                        str(r.replacements),
                        str(r.replacements_alive),
                        fixed(times(r.share_originals, 100.0), 0),
                        fixed(times(r.share_places, 100.0), 0),
                    )
                    for r in lives.stand
                ),
                say("stand note"),
            )
        )
    if lives.late_curves:
        arms = tuple(a for a in scene.arms if any(p.group == a for p in lives.late_curves))
        wide, narrow = both(
            survival_curves,
            lives.late_curves,
            arms,
            scene.looks,
            say("axis season days"),
            say("axis alive standing"),
        )
        told = [say("picture standing words")]
        if len(arms) <= MOST_BANDS:
            told.append(say("picture followed bands", percent=scene.confidence))
        blocks.append(
            Picture(
                f"{stem}-season-curves.svg",
                wide,
                say("picture standing title"),
                " ".join(told),
                narrow,
                (f"{stem}-late-curves.csv",),
            )
        )
    return blocks


def growth_beside(scene: Scene, response: ResponseResult) -> Table | None:
    """Survivors' growth beside survival; None where there is no survival to stand beside."""
    survival = next((r for r in scene.results.responses if r.kind == "survival"), None)
    if response.kind != "growth" or survival is None:
        return None
    alive = _last(survival, "share alive", scene)
    sizes = {
        m.treatment: m for m in response.means if m.treatment in scene.arms and m.within is None
    }
    if not alive or not sizes:
        return None
    arms = [arm for arm in scene.arms if arm in alive or arm in sizes]
    told = column_with_intervals(
        [(m.estimate, m.low, m.high) if (m := sizes.get(a)) else (None,) * 3 for a in arms]
    )
    return Table(
        say("growth beside caption", name=response.name),
        heads(
            "treatment",
            "alive of 100",
            "survivors",
            "mean of survivors",
            "interval",
            numeric=(2, 3, 4),
            percent=scene.confidence,
        ),
        tuple(
            (
                arm,
                share_cell(alive.get(arm)),
                str(sizes[arm].n_plants) if arm in sizes else MISSING,
                *size,
            )
            for arm, size in zip(arms, told, strict=True)
        ),
        say("growth beside note"),
    )


def _last(response: ResponseResult, estimand: str, scene: Scene) -> dict[str, Mean]:
    """The means at the last date that the response has."""
    rows = [
        m
        for m in response.means
        if m.estimand == estimand and m.treatment in scene.arms and m.within is None
    ]
    last = max((m.at or "" for m in rows), default="")
    return {m.treatment: m for m in rows if (m.at or "") == last}
