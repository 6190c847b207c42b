"""Where every plant went.

Leans on pages, report.facts and core.
"""

from collections.abc import Sequence

from wickstats.core.results import LostUnit
from wickstats.core.words import say
from wickstats.pages.blocks import Block, Section, Table, Text
from wickstats.report.facts import Scene, capped, heads


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
