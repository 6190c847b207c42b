"""The water: every unit's ledger, was it equal, yield beside it, dry periods.

Leans on pages, report.drawn, report.facts and core.
"""

from collections.abc import Sequence

from wickstats.core.numbers import MISSING, column_with_intervals, fixed, number, with_interval
from wickstats.core.results import WaterUnit
from wickstats.core.water import UnitLedger
from wickstats.core.words import recorded, say
from wickstats.pages.blocks import Block, Items, Picture, Section, Table, Text
from wickstats.pages.figures.water import water_used
from wickstats.report.drawn import both, productivity_picture
from wickstats.report.facts import Scene, capital, capped, heads, listed, per_plot


def water_part(scene: Scene) -> Section | None:
    """Return the water of every unit, and yield beside it where there is one."""
    water = scene.results.water
    if not water:
        return None
    arms = tuple(arm for arm in scene.arms if any(w.treatment == arm for w in water))
    plots = tuple(per_plot(w) for w in water)
    blocks: list[Block] = [_water_means(plots, arms)]
    if any(w.delivered_l is not None for w in water):
        told = [
            say("mean words", treatment=arm, value=f"{number(mean)} L")
            for arm in arms
            if (mean := _mean([w.delivered_l for w in plots if w.treatment == arm])) is not None
        ]
        wide, narrow = both(water_used, plots, arms, scene.looks)
        words = say("picture water words", list=listed(told))
        title = say("picture water title")
        blocks.append(Picture("water.svg", wide, title, words, narrow, ("water.csv",)))
    blocks += [
        p for r in scene.results.responses if (p := productivity_picture(scene, r)) is not None
    ]
    blocks.append(capped(_water_table(scene, water), "water.csv"))
    blocks += _dry(water)
    sections = [s for s in (_equal(scene), _ledgers(scene, water)) if s is not None]
    return Section(say("water title"), tuple(blocks), tuple(sections))


def _dry(water: Sequence[WaterUnit]) -> list[Block]:
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
    if not dry:
        return []
    table = Table(say("dry caption"), heads("unit", "treatment", "from", "to"), dry)
    return [capped(table, "water.csv")]


def _mean(values: Sequence[float | None]) -> float | None:
    known = [v for v in values if v is not None]
    return sum(known) / len(known) if known else None


def _water_means(water: Sequence[WaterUnit], arms: Sequence[str]) -> Table:
    rows: list[tuple[str, ...]] = []
    until = recorded("water until lost")
    lost = any(w.ledger and w.ledger.note and until in w.ledger.note for w in water)
    for arm in arms:
        own = [w for w in water if w.treatment == arm]
        told = [w.ledger for w in own if w.ledger is not None]
        liters = (
            _mean([w.planned_l for w in own]),
            _mean([w.applied_l for w in own]),
            _mean([w.delivered_l for w in own]),
        )
        plant = (
            _mean([one.per_plant_l for one in told]),
            _mean([one.per_day_l for one in told]),
            _mean([one.per_plant_and_day_l for one in told]),
        )
        cells = [fixed(value, 0) for value in liters]
        cells += [number(v) for v in plant]
        rows.append((arm, *cells, str(len(own))))
    return Table(
        say("water means caption"),
        heads(
            "treatment",
            "planned l",
            "applied l",
            "delivered l",
            "per plant",
            "per day",
            "per plant day",
            "units",
            numeric=range(1, 8),
        ),
        tuple(rows),
        say("water means lost") if lost else None,
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


def _equal(scene: Scene) -> Section | None:
    """Was the water equal, what could be shown, and what it does to reading yields."""
    found = scene.results.equal_water
    if found is None:
        return None
    sizes = column_with_intervals([(r.ratio, r.low, r.high) for r in found.rows])
    table = Table(
        say("equal water caption"),
        heads(
            "treatment",
            "against",
            "ratio",
            "interval 90",
            "attainable",
            "bound within",
            "equal",
            "units",
            numeric=(2, 3, 4, 5, 7),
        ),
        tuple(
            (
                row.treatment,
                say("equal water planned") if row.against == "planned" else row.against,
                *size,
                MISSING if row.attainable is None else number(row.attainable),
                MISSING if row.bound is None else number(row.bound),
                say("equal beside")
                if not row.claimed
                else say("equal yes" if row.equal else "equal no"),
                str(row.n_units),
            )
            for row, size in zip(found.rows, sizes, strict=True)
        ),
        say("equal water note"),
    )
    claimed = tuple(capital(row.sentence) for row in found.rows if row.claimed)
    blocks: list[Block] = [Text(found.reading)]
    if claimed:
        blocks.append(Items(claimed))
    return Section(say("equal water title"), (*blocks, table))


def _ledgers(scene: Scene, water: Sequence[WaterUnit]) -> Section | None:
    """How delivered comes about, unit by unit; shared reservoirs by plot; notes."""
    told = [(w, w.ledger) for w in water if w.ledger is not None]
    if not told:
        return None
    table = Table(
        say("ledger caption"),
        heads(
            "unit",
            "treatment",
            "applied l",
            "rain l",
            "stored l",
            "leaked l",
            "delivered l",
            "left l",
            "refills",
            "per plant",
            "per plant day",
            numeric=range(2, 11),
        ),
        tuple(_ledger_cells(unit, ledger) for unit, ledger in told),
        say("ledger note"),
    )
    blocks: list[Block] = [capped(table, "water.csv")]
    plots = tuple(
        (
            unit.unit,
            plot.plot,
            fixed(100.0 * plot.share, 0),
            number(plot.applied_l),
            number(plot.delivered_l),
        )
        for unit, ledger in told
        for plot in ledger.plots
    )
    if plots:
        caption = say("ledger plots caption")
        columns = heads(
            "unit", "plot", "plot share", "applied l", "delivered l", numeric=(2, 3, 4)
        )
        blocks.append(capped(Table(caption, columns, plots), "water-plots.csv"))
    notes = tuple(f"{unit.unit}: {ledger.note}." for unit, ledger in told if ledger.note)
    if notes:
        blocks += [Text(say("ledger notes caption")), Items(notes)]
    return Section(say("ledger title"), tuple(blocks))


def _ledger_cells(unit: WaterUnit, ledger: UnitLedger) -> tuple[str, ...]:
    liters = (
        unit.applied_l,
        ledger.rain_l,
        ledger.stored_change_l,
        ledger.leaked_l,
        unit.delivered_l,
        ledger.left_l,
    )
    return (
        unit.unit,
        unit.treatment,
        *(fixed(value, 1) for value in liters),
        str(ledger.refills),
        number(ledger.per_plant_l),
        number(ledger.per_plant_and_day_l),
    )
