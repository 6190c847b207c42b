"""What plants needed and got, reservoirs and visits, with the cautions of water.

Leans on pages, report.drawn, report.facts, demand and core.
"""

from collections.abc import Sequence

from wickstats.core.numbers import MISSING, fixed, number, percent
from wickstats.core.supply import ReservoirPlan, SupplyRow, VisitNeed
from wickstats.core.words import say
from wickstats.core.words.cautions import cautions_of
from wickstats.pages.blocks import Block, Folded, Items, Note, Picture, Section, Table, Text
from wickstats.pages.figures.supply import demand_and_supply
from wickstats.report.drawn import both
from wickstats.report.facts import Scene, capped, heads

MOST_OPEN = 6  # tables of chances; of more all stand closed
_STEPS = (
    ("tmin_c", 1),
    ("tmax_c", 1),
    ("es_kpa", 3),
    ("ea_kpa", 3),
    ("u2_m_s", 2),
    ("ra", 2),
    ("rs", 2),
    ("rn", 2),
    ("et0_mm", 2),
)


def supply_part(scene: Scene) -> Section | None:
    """Return demand against supply, and reservoirs; None where nothing was reckoned."""
    supply = scene.results.supply
    if not supply.table and supply.reservoirs is None:
        return None
    blocks: list[Block] = []
    season = [row for row in supply.table if row["period"] == "season"]
    weeks = [row for row in supply.table if row["period"] == "week"]
    if season:
        first = season[0]
        blocks.append(
            Text(
                say(
                    "supply page needs",
                    demand=_cell(first["demand_l"], 0),
                    et0=_cell(first["et0_mm"], 0),
                )
            )
        )
        picture = _picture(scene, weeks, season)
        blocks += [] if picture is None else [picture]
        blocks.append(_season(season))
        blocks.append(
            Folded(
                say("supply weeks folded"),
                (capped(_table("supply weeks caption", weeks), "supply.csv"),),
            )
        )
        days = capped(_days(supply.days), "supply-days.csv")
        blocks.append(Folded(say("supply days folded"), (days,)))
    sections = []
    if supply.reservoirs is not None:
        sections.append(_reservoirs(supply.reservoirs))
    notes = supply.supply_notes or ()
    if notes:
        blocks.append(Items(notes))
    blocks.append(Note(" ".join(cautions_of("supply")), "caution"))
    if not season and sections:
        return Section(sections[0].title, (*sections[0].blocks, *blocks))
    return Section(say("supply page title"), tuple(blocks), tuple(sections))


def _cell(value: float | str | None, places: int) -> str:
    return fixed(value, places) if isinstance(value, float) else MISSING


def _picture(
    scene: Scene, weeks: Sequence[SupplyRow], season: Sequence[SupplyRow]
) -> Picture | None:
    if not any(isinstance(row["demand_l"], float) for row in weeks):
        return None
    arms = tuple(arm for arm in scene.arms if any(r["treatment"] == arm for r in weeks))
    told = [
        say(
            "supply page arm",
            treatment=row["treatment"],
            given=_cell(
                row["delivered_l"] if row["share_of"] == "delivered" else row["planned_l"], 1
            ),
            which=say(f"supply {row['share_of']} word"),
            share=percent(row["share"]),
        )
        for row in season
        if isinstance(row["share"], float)
    ]
    wide, narrow = both(demand_and_supply, weeks, arms, scene.looks)
    words = (
        say("supply picture words", list="; ".join(told))
        if told
        else say("supply picture plain")
    )
    title = say("supply picture title")
    return Picture("supply.svg", wide, title, words, narrow, ("supply.csv",))


def _table(caption: str, rows: Sequence[SupplyRow]) -> Table:
    return Table(
        say(caption),
        heads(
            "week from",
            "treatment",
            "et0",
            "rain plant",
            "demand",
            "planned l",
            "delivered l",
            "of demand",
            numeric=range(2, 8),
        ),
        tuple(
            (
                str(row["from"]),
                str(row["treatment"]),
                _cell(row["et0_mm"], 1),
                *(_cell(row[k], 2) for k in ("rain_l", "demand_l", "planned_l", "delivered_l")),
                percent(row["share"]) if isinstance(row["share"], float) else MISSING,
            )
            for row in rows
        ),
    )


def _season(rows: Sequence[SupplyRow]) -> Table:
    return Table(
        say("supply season caption"),
        heads(
            "treatment", "demand", "planned l", "delivered l", "of demand", numeric=range(1, 5)
        ),
        tuple(
            (
                str(row["treatment"]),
                *(_cell(row[k], 1) for k in ("demand_l", "planned_l", "delivered_l")),
                percent(row["share"]) if isinstance(row["share"], float) else MISSING,
            )
            for row in rows
        ),
    )


def _days(rows: Sequence[SupplyRow]) -> Table:
    return Table(
        say("supply days caption"),
        heads("day", *(f"step {key}" for key, _ in _STEPS), "route", numeric=range(1, 10)),
        tuple(
            (
                str(row["date"]),
                *(_cell(row[key], places) for key, places in _STEPS),
                str(row["route"]),
            )
            for row in rows
        ),
        say("supply days note"),
    )


def _reservoirs(plan: ReservoirPlan) -> Section:
    blocks: list[Block] = [Items(plan.sentences)]
    tables: list[Block] = []
    most: dict[str, VisitNeed] = {}
    for need in plan.needs:
        before = most.get(need.treatment)
        if before is None or need.upper_l_d > before.upper_l_d:
            most[need.treatment] = need
    pairs = dict.fromkeys((n.treatment, n.loss_from) for n in plan.needs)
    for treatment, source in pairs:
        needs = [n for n in plan.needs if (n.treatment, n.loss_from) == (treatment, source)]
        own = [c for c in plan.chances if (c.treatment, c.loss_from) == (treatment, source)]
        sizes = sorted({c.volume_l for c in own})
        rows = [
            (
                fixed(size, 0),
                *(
                    f"{fixed(100.0 * c.chance, 1)} ({fixed(100.0 * c.error, 1)})"
                    for n in needs
                    for c in own
                    if (c.volume_l, c.every_d) == (size, n.every_d)
                ),
            )
            for size in sizes
        ]
        rows.append((say("supply row needed"), *(number(n.volume_l) for n in needs)))
        rows.append((say("supply row reserve"), *(number(n.with_reserve_l) for n in needs)))
        title = say(
            "supply chances title",
            treatment=treatment,
            basis=say(f"supply basis {source}"),
            cv=percent(needs[0].cv),
            why=needs[0].cv_from,
        )
        columns = heads("volume", numeric=())
        for need in needs:
            columns += heads("every", numeric=(0,), days=str(need.every_d))
        table = Table(title, columns, tuple(rows))
        # the smaller loss stands closed behind its title
        open_one = most[treatment].loss_from == source or len(pairs) > MOST_OPEN
        tables.append(table if open_one else Folded(title, (table,)))
    if len(pairs) > MOST_OPEN:
        blocks += [_needs(plan), Folded(say("supply chances folded"), tuple(tables))]
    else:
        blocks += tables
    return Section(say("supply reservoirs title"), tuple(blocks))


def _needs(plan: ReservoirPlan) -> Table:
    """Liters that a reservoir must hold, by treatment and interval."""
    every = tuple(dict.fromkeys(need.every_d for need in plan.needs))
    columns = heads("treatment", "a day", "fast wick", numeric=(1, 2))
    for days in every:
        columns += heads("every", numeric=(0,), days=str(days))
    rows = []
    for treatment, source in dict.fromkeys((n.treatment, n.loss_from) for n in plan.needs):
        own = [n for n in plan.needs if (n.treatment, n.loss_from) == (treatment, source)]
        loss = (number(own[0].rate_l_d), number(own[0].upper_l_d))
        rows.append((treatment, *loss, *(number(n.volume_l) for n in own)))
    return Table(say("supply needs caption"), columns, tuple(rows))
