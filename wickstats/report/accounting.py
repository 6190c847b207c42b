"""Where every plant went, and the water.

Leans on pages, report.facts and core.
"""

from collections.abc import Sequence

from wickstats.core.numbers import (
    fixed,
    number,
    with_interval,
)
from wickstats.core.results import LostUnit, WaterUnit
from wickstats.core.words import say
from wickstats.pages.blocks import Block, Picture, Section, Table, Text
from wickstats.pages.figures.water import water_used
from wickstats.report.drawn import both, productivity_picture
from wickstats.report.facts import Scene, capped, heads, listed


def plants_part(scene: Scene) -> Section:
    """Return what was planned, planted (or followed), analyzed and lost.

    Where nothing is recorded plant by plant, plots are told alone.
    """
    account, kind = scene.results.accounting, scene.counted
    blocks: list[Block] = [_counts_table(scene, kind)]
    if account.lost:
        caption = say("lost caption" if kind == "plants" else f"{kind} lost caption")
        keys = {
            "plants": ("plot", "plants", "reason"),
            "subjects": ("plot", "subjects", "reason"),
            "plots": ("plot", "reason"),
        }
        rows = _lost_rows(account.lost)
        if kind == "plots":
            rows = tuple((plot, reason) for plot, _, reason in rows)
        blocks.append(capped(Table(caption, heads(*keys[kind]), rows), "lost.csv"))
    else:
        blocks.append(Text(say(f"{kind} none lost")))
    return Section(say(f"{kind} title"), tuple(blocks))


def _counts_table(scene: Scene, kind: str) -> Table:
    arms = scene.results.accounting.by_treatment
    if kind == "plots":
        return Table(
            say("plots caption"),
            heads("treatment", "planned plots", "analyzed plots", numeric=(1, 2)),
            tuple((a.treatment, str(a.plots_planned), str(a.plots_analyzed)) for a in arms),
        )
    keys = ["planned plants", "planted", "analyzed", "planned plots", "analyzed plots"]
    if kind == "subjects":
        keys = ["followed", "analyzed", "planned units", "analyzed units"]
    rows = [
        (
            *(() if kind == "subjects" else (str(arm.planned),)),
            str(arm.planted),
            str(arm.analyzed),
            str(arm.plots_planned),
            str(arm.plots_analyzed),
        )
        for arm in arms
    ]
    return Table(
        say(f"{kind} caption"),
        heads("treatment", *keys, numeric=range(1, len(keys) + 1)),
        tuple((arm.treatment, *row) for arm, row in zip(arms, rows, strict=True)),
    )


def _lost_rows(lost: Sequence[LostUnit]) -> tuple[tuple[str, ...], ...]:
    """Plants of one plot lost for one reason stand in one row."""
    groups: dict[tuple[str, str], list[str]] = {}
    for unit in lost:
        plants = groups.setdefault((unit.plot, unit.reason), [])
        if unit.plant is not None:
            plants.append(unit.plant)
    return tuple(
        (plot, ", ".join(plants) or say("whole plot lost"), reason)
        for (plot, reason), plants in groups.items()
    )


def water_part(scene: Scene) -> Section | None:
    """Return the water of every unit, and yield beside it where there is one."""
    water = scene.results.water
    if not water:
        return None
    arms = tuple(arm for arm in scene.arms if any(w.treatment == arm for w in water))
    blocks: list[Block] = [_water_means(water, arms)]
    if any(w.delivered_l is not None for w in water):
        told = [
            say("mean words", treatment=arm, value=f"{number(mean)} L")
            for arm in arms
            if (mean := _mean([w.delivered_l for w in water if w.treatment == arm])) is not None
        ]
        wide, narrow = both(water_used, water, arms, scene.looks)
        words = say("picture water words", list=listed(told))
        blocks.append(Picture("water.svg", wide, say("picture water title"), words, narrow))
    blocks += [
        p for r in scene.results.responses if (p := productivity_picture(scene, r)) is not None
    ]
    blocks.append(capped(_water_table(scene, water), "water.csv"))
    dry = tuple(
        (
            w.unit,
            w.treatment,
            d.from_low if d.from_low == d.from_high else f"{d.from_low} to {d.from_high}",
            d.to or say("still dry"),
        )
        for w in water
        for d in w.dry
    )
    if dry:
        table = Table(say("dry caption"), heads("unit", "treatment", "from", "to"), dry)
        blocks.append(capped(table, "water.csv"))
    costs = scene.results.costs
    if costs:
        blocks.append(
            Table(
                say("costs caption"),
                heads(
                    "treatment",
                    "per what",
                    "estimate",
                    "interval",
                    numeric=(2, 3),
                    percent=scene.confidence,
                ),
                tuple(
                    (c.treatment, c.per, *with_interval(c.estimate, c.low, c.high))
                    for c in costs
                ),
                " ".join(f"{c.treatment}: {c.not_estimable}." for c in costs if c.not_estimable)
                or None,
            )
        )
    return Section(say("water title"), tuple(blocks))


def _mean(values: Sequence[float | None]) -> float | None:
    known = [v for v in values if v is not None]
    return sum(known) / len(known) if known else None


def _water_means(water: Sequence[WaterUnit], arms: Sequence[str]) -> Table:
    rows: list[tuple[str, ...]] = []
    for arm in arms:
        own = [w for w in water if w.treatment == arm]
        liters = (
            _mean([w.planned_l for w in own]),
            _mean([w.applied_l for w in own]),
            _mean([w.delivered_l for w in own]),
        )
        rows.append((arm, *(fixed(value, 0) for value in liters), str(len(own))))
    return Table(
        say("water means caption"),
        heads(
            "treatment", "planned l", "applied l", "delivered l", "units", numeric=(1, 2, 3, 4)
        ),
        tuple(rows),
    )


def _water_table(scene: Scene, water: Sequence[WaterUnit]) -> Table:
    rows = tuple(
        (
            w.unit,
            w.treatment,
            fixed(w.planned_l, 0),
            fixed(w.applied_l, 0),
            *with_interval(w.delivered_l, w.low, w.high),
        )
        for w in water
    )
    reasons = dict.fromkeys(f"{w.unit}: {w.not_estimable}." for w in water if w.not_estimable)
    return Table(
        say("water caption"),
        heads(
            "unit",
            "treatment",
            "planned l",
            "applied l",
            "delivered l",
            "interval",
            numeric=(2, 3, 4, 5),
            percent=scene.confidence,
        ),
        rows,
        " ".join(reasons) or None,
    )
