"""What it costs: parts, cost of what was bought, cost against effect, assumptions.

Leans on pages, report.drawn, report.facts and core.
"""

from collections.abc import Sequence

from wickstats.core.costs import Cost, CostDifference, CostParts
from wickstats.core.numbers import MISSING, column_with_intervals, fixed, number, percent
from wickstats.core.words import say
from wickstats.pages.blocks import Block, Items, Picture, Section, Table
from wickstats.pages.figures.supply import cost_quadrants
from wickstats.report.drawn import both
from wickstats.report.facts import Scene, capital, heads, listed


def costs_part(scene: Scene) -> Section | None:
    """Return the section; None where the trial file has no prices."""
    parts = scene.results.cost_parts
    if parts is None:
        return None
    blocks: list[Block] = [_parts(parts)]
    rows = scene.results.costs
    if rows:
        blocks.append(_per(scene, parts, rows))
    for effect in dict.fromkeys(d.effect_of for d in parts.differences):
        own = [d for d in parts.differences if d.effect_of == effect]
        blocks.append(_picture(scene, parts, own))
        blocks.append(_quadrants(scene, parts, own))
    blocks.append(_scenarios(parts))
    blocks.append(Items(parts.notes))
    return Section(say("costs title"), tuple(blocks))


def _parts(parts: CostParts) -> Table:
    return Table(
        say("costs parts caption", currency=parts.currency),
        heads(
            "treatment",
            "items",
            "work",
            "travel",
            "cost total",
            "hours",
            "visits",
            "survivors plot",
            "kg",
            "liters",
            numeric=range(1, 10),
        ),
        tuple(
            (
                arm.treatment,
                *(fixed(v, 2) for v in (arm.items, arm.work, arm.travel, arm.total, arm.hours)),
                fixed(arm.visits, 1),
                *(number(v) for v in (arm.survivors, arm.kg, arm.liters)),
            )
            for arm in parts.arms
        ),
    )


def _per(scene: Scene, parts: CostParts, rows: Sequence[Cost]) -> Table:
    told = column_with_intervals([(c.estimate, c.low, c.high) for c in rows])
    # a cost that does not exist stands in the table too, in words
    none = (say("costs not defined"), MISSING)
    cells = [none if c.estimate is None else cell for c, cell in zip(rows, told, strict=True)]
    grouped: dict[tuple[str, str], list[str]] = {}
    for row in rows:
        if row.not_estimable:
            grouped.setdefault((per_words(row), row.not_estimable), []).append(row.treatment)
    reasons = [
        capital(f"{listed(names)}, {per}: {reason}.")
        for (per, reason), names in grouped.items()
    ]
    paired = next((c.versus for c in rows if c.versus), None)
    method = next((c.method for c in rows if c.method and not c.versus), say("costs no method"))
    key = "costs per note alone" if paired is None else "costs per note"
    note = say(key, method=method, versus=paired)
    return Table(
        say("costs per caption", currency=parts.currency),
        heads(
            "treatment",
            "per what",
            "estimate",
            "interval",
            numeric=(2, 3),
            percent=scene.confidence,
        ),
        tuple((c.treatment, per_words(c), *cell) for c, cell in zip(rows, cells, strict=True)),
        " ".join([note, *reasons]),
    )


def per_words(row: Cost) -> str:
    """What one unit of money bought: a survivor, an extra kg against hand watering."""
    return say(f"costs per {row.per}", versus=row.versus)


def _picture(scene: Scene, parts: CostParts, pairs: Sequence[CostDifference]) -> Picture:
    effect, versus = pairs[0].effect_of, pairs[0].versus
    name = say(f"costs effect {effect}")
    wide, narrow = both(
        cost_quadrants,
        pairs,
        scene.looks,
        effect_axis=say("costs axis effect", effect=name, versus=versus),
        cost_axis=say("costs axis cost", currency=parts.currency),
    )
    words = say("costs picture words", effect=name, list=" ".join(p.sentence for p in pairs))
    title = say("costs picture title", versus=versus, effect=name)
    data = ("costs-differences.csv", "costs-blocks.csv")
    return Picture(f"costs-{effect.replace(' ', '-')}.svg", wide, title, words, narrow, data)


def _quadrants(scene: Scene, parts: CostParts, pairs: Sequence[CostDifference]) -> Table:
    costs = column_with_intervals([(p.cost, p.cost_low, p.cost_high) for p in pairs])
    gains = column_with_intervals([(p.effect, p.effect_low, p.effect_high) for p in pairs])
    rows = []
    for pair, cost, gain in zip(pairs, costs, gains, strict=True):
        shares = [percent(s) for s in pair.shares] or [MISSING] * 4
        rows.append((pair.treatment, *cost, *gain, *shares))
    none = dict.fromkeys(
        capital(f"{pair.treatment}: {pair.no_shares}.") for pair in pairs if pair.no_shares
    )
    effect = say(f"costs effect {pairs[0].effect_of}")
    return Table(
        say("costs quadrant caption", effect=effect, currency=parts.currency),
        heads(
            "treatment",
            "cost more",
            "interval",
            "effect more",
            "interval",
            "dearer better",
            "dearer worse",
            "cheaper better",
            "cheaper worse",
            numeric=range(1, 9),
            percent=scene.confidence,
        ),
        tuple(rows),
        " ".join([say("costs quadrant note"), *none]),
    )


def _scenarios(parts: CostParts) -> Table:
    arms = tuple(arm.treatment for arm in parts.arms)
    names = dict.fromkeys(s.scenario for s in parts.scenarios)
    found = {(s.scenario, s.treatment): s.estimate for s in parts.scenarios}
    per = say(f"costs per {parts.scenarios[0].per}")
    columns = heads("treatment")
    for name in names:
        columns += heads(f"scenario {name}", numeric=(0,))
    return Table(
        say("costs scenario caption", per=per, currency=parts.currency),
        columns,
        tuple((arm, *(_or_none(found[name, arm]) for name in names)) for arm in arms),
    )


def _or_none(estimate: float | None) -> str:
    return say("costs not defined") if estimate is None else fixed(estimate, 2)
