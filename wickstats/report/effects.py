"""Tables of one response: effects, means, tests, three lines, sensitivity, components.

Leans on pages, report.facts and core.
"""

from collections.abc import Sequence

from wickstats.core.numbers import (
    MISSING,
    column_with_intervals,
    degrees,
    fixed,
    number,
    p_value,
    places_for,
)
from wickstats.core.responses import (
    Comparison,
    Mean,
    Number,
    ResponseResult,
    StrataRow,
    TestRow,
    UnitValue,
)
from wickstats.core.words import say
from wickstats.pages.blocks import Table
from wickstats.report.facts import (
    Scene,
    heads,
    of_plants,
    plain_unit,
    scale_of,
    times,
    what_of,
)
from wickstats.report.reasons import no_verdict, reasons_of, why_no_p

Triple = tuple[Number, Number, Number]


def effect_tables(scene: Scene, response: ResponseResult) -> tuple[Table, ...]:
    """Return a table for each estimand, date and level: absolute, then relative."""
    groups: dict[str, list[Comparison]] = {}
    for row in response.comparisons:
        groups.setdefault(what_of(row, response), []).append(row)
    return tuple(_effects(scene, what, rows) for what, rows in groups.items())


def _effects(scene: Scene, what: str, rows: Sequence[Comparison]) -> Table:
    adjustments = ", ".join(dict.fromkeys(_adjustment(row) for row in rows))
    return Table(
        say("effects caption", what=what),
        heads(
            "comparison",
            "absolute",
            "interval",
            "per",
            "relative",
            "interval",
            "df",
            "p adjusted",
            "verdict",
            numeric=(1, 2, 4, 5, 6, 7),
            percent=scene.confidence,
        ),
        _effect_cells(rows),
        say("adjusted note", adjustments=adjustments, percent=scene.confidence)
        + why_no_p(rows),
    )


def _adjustment(row: Comparison) -> str:
    if row.bound in ("lower", "upper") and row.se is not None:
        return say("adjustment one-sided", adjustment=row.adjustment)
    return row.adjustment


def _effect_cells(rows: Sequence[Comparison]) -> tuple[tuple[str, ...], ...]:
    sizes = column_with_intervals([_absolute(row) for row in rows])
    ratios = column_with_intervals([_relative(row) for row in rows])
    return tuple(
        (
            row.name,
            *size,
            row.absolute.per if row.absolute is not None else MISSING,
            *ratio,
            degrees(row.df),
            p_value(row.p_adjusted if row.p_adjusted is not None else row.p),
            row.verdict or no_verdict(row),
        )
        for row, size, ratio in zip(rows, sizes, ratios, strict=True)
    )


def _absolute(row: Comparison) -> Triple:
    if row.absolute is not None:
        return row.absolute.estimate, row.absolute.low, row.absolute.high
    return own_triple(row) if row.measure == "difference" else (None, None, None)


def _relative(row: Comparison) -> Triple:
    if row.relative is not None:
        return row.relative.ratio, row.relative.low, row.relative.high
    return (None, None, None) if row.measure == "difference" else own_triple(row)


def own_triple(row: Comparison) -> Triple:
    """The estimate and its adjusted limits as told: shares of 100."""
    k = scale_of(row)
    low, high = adjusted(row)
    return times(row.estimate, k), times(low, k), times(high, k)


def adjusted(row: Comparison) -> tuple[float | None, float | None]:
    """The adjusted interval, or the plain one where there is none.

    Differences of shares are told inside what can be, 100 of 100 either way.
    """
    low, high = row.low_adjusted, row.high_adjusted
    if low is None and high is None:
        low, high = row.low, row.high
    if row.estimand.startswith("share ") and row.measure == "difference":
        low = None if low is None else min(max(low, -1.0), 1.0)
        high = None if high is None else min(max(high, -1.0), 1.0)
    return low, high


def mean_tables(scene: Scene, response: ResponseResult) -> tuple[Table, ...]:
    """Return a table of means for each estimand, date, term and level."""
    groups: dict[tuple[str, str], list[Mean]] = {}
    for row in response.means:
        groups.setdefault((what_of(row, response), row.term), []).append(row)
    several = len({term for _, term in groups}) > 1
    return tuple(
        _means(scene, response, f"{what} ({term})" if several else what, rows)
        for (what, term), rows in groups.items()
    )


def _means(scene: Scene, response: ResponseResult, what: str, rows: Sequence[Mean]) -> Table:
    scaled = [
        tuple(times(value, scale_of(row)) for value in (row.estimate, row.low, row.high))
        for row in rows
    ]
    sizes = column_with_intervals([(e, low, high) for e, low, high in scaled])
    mass = response.measured_in.removesuffix("/L")
    cubic = response.kind == "yield per liter" and mass != response.measured_in
    plants = any(row.n_plants for row in rows)
    cells: list[tuple[str, ...]] = []
    for row, size in zip(rows, sizes, strict=True):
        bound = f" ({say('one sided')})" if row.bound else ""
        per_cubic = (number(times(row.estimate, 1000.0)),) if cubic else ()
        count = (degrees(row.df), str(row.n_units), *((str(row.n_plants),) if plants else ()))
        cells.append((row.treatment + bound, *size, *per_cubic, *count))
    keys = ["treatment", "mean", "interval", "per cubic meter", "df", "units", "plants"]
    if not cubic:
        keys.remove("per cubic meter")
    if not plants:
        keys.remove("plants")
    elif not of_plants(response):
        keys[-1] = "subjects"
    cells = [_one_sided(row, told) for row, told in zip(rows, cells, strict=True)]
    return Table(
        say("means caption", what=what),
        heads(*keys, numeric=range(1, len(keys)), percent=scene.confidence, mass=mass),
        tuple(cells),
        reasons_of([(row.treatment, row.not_estimable) for row in rows]).strip() or None,
    )


def _one_sided(row: Mean, cells: tuple[str, ...]) -> tuple[str, ...]:
    """A share has no limit but 0 and 100: "at least 90", not "90 to no upper limit"."""
    if row.bound is None or not row.estimand.startswith("share "):
        return cells
    low, high = times(row.low, 100.0), times(row.high, 100.0)
    told = say("at most", n=fixed(high, 0)) if low is None else say("at least", n=fixed(low, 0))
    return (*cells[:2], told, *cells[3:])


def test_table(response: ResponseResult, rows: Sequence[TestRow]) -> Table | None:
    """Return the table of tests, re-randomization beside."""
    if not rows:
        return None
    cells: list[tuple[str, ...]] = []
    for row in rows:
        df = (
            degrees(row.df_num)
            if row.df_den is None
            else (f"{degrees(row.df_num)} and {degrees(row.df_den)}")
        )
        redraws = row.redraws
        cells.append(
            (
                row.term,
                row.stratum,
                row.unit_of_replication,
                row.statistic,
                number(row.value),
                df,
                p_value(row.p),
                p_value(redraws.p) if redraws else MISSING,
                p_value(redraws.smallest_possible_p) if redraws else MISSING,
            )
        )
    reasons = [(row.term, row.not_estimable) for row in rows]
    reasons += [(row.term, row.redraws.reason) for row in rows if row.redraws is not None]
    return Table(
        say("tests caption", name=response.name),
        heads(
            "term",
            "stratum",
            "unit of replication",
            "statistic",
            "value",
            "df",
            "p",
            "redraws p",
            "smallest p",
            numeric=(4, 5, 6, 7, 8),
        ),
        tuple(cells),
        reasons_of(reasons).strip() or None,
    )


def lines_table(scene: Scene, response: ResponseResult) -> Table | None:
    """Return first line, mixed model and re-randomization of the same comparisons.

    Only comparisons that a second or third line has; None where there are none.
    """
    mixed = response.mixed_model
    beside = {_key(c): c for c in mixed.comparisons} if mixed is not None else {}
    rows = [c for c in response.comparisons if c.redraws is not None or _key(c) in beside]
    if not rows:
        return None
    others = [beside.get(_key(row)) for row in rows]
    first = column_with_intervals([own_triple(row) for row in rows])
    second = column_with_intervals([own_triple(o) if o else (None, None, None) for o in others])
    keys = ["comparison", "first", "interval", "p adjusted"]
    keys += ["mixed", "interval", "p adjusted"] if beside else []
    keys += ["redraws p", "smallest p"]
    cells: list[tuple[str, ...]] = []
    for row, other, own, their in zip(rows, others, first, second, strict=True):
        fit = (*their, p_value(other.p_adjusted if other else None)) if beside else ()
        cells.append(
            (
                full_name(row),
                *own,
                p_value(row.p_adjusted),
                *fit,
                p_value(row.redraws.p if row.redraws else None),
                p_value(row.redraws.smallest_possible_p if row.redraws else None),
            )
        )
    reasons = [(row.name, row.redraws.reason) for row in rows if row.redraws is not None]
    return Table(
        say("lines caption", name=response.name),
        heads(*keys, numeric=range(1, len(keys)), percent=scene.confidence),
        tuple(cells),
        say("lines note") + reasons_of(reasons),
    )


def _key(row: Comparison) -> tuple[str, str, str, str | None, str | None]:
    return row.term, row.name, row.estimand, row.at, row.within


def full_name(row: Comparison) -> str:
    """A comparison with its estimand, date and level."""
    parts = [row.name, row.estimand]
    parts.extend(part for part in (row.at, row.within) if part is not None)
    return ", ".join(parts)


def components_table(scene: Scene, response: ResponseResult) -> Table | None:
    """Return the mixed model's variance components."""
    mixed = response.mixed_model
    if mixed is None or not mixed.variance_components:
        return None
    rows = [
        (
            c.term,
            number(c.estimate),
            f"{number(c.low)} to {number(c.high)}"
            if c.low is not None and c.high is not None
            else MISSING,
        )
        for c in mixed.variance_components
    ]
    note = (
        say("component zero") if any(c.estimate == 0 for c in mixed.variance_components) else ""
    )
    note += reasons_of([(c.term, c.not_estimable) for c in mixed.variance_components])
    return Table(
        say("components caption", name=response.name),
        heads("stratum", "estimate", "interval", numeric=(1, 2), percent=scene.confidence),
        tuple(rows),
        note.strip() or None,
    )


def strata_table(
    response: ResponseResult, rows: Sequence[StrataRow], note: str | None = None
) -> Table | None:
    """Return the analysis of variance by strata, heads spelled out."""
    if not rows:
        return None
    return Table(
        say("strata caption", name=response.name),
        heads(
            "stratum",
            "source",
            "df",
            "sum of squares",
            "mean square",
            "f",
            "p",
            numeric=(2, 3, 4, 5, 6),
        ),
        tuple(
            (
                row.stratum,
                row.source,
                str(row.df),
                number(row.sum_of_squares, 5),
                number(row.mean_square, 5),
                number(row.f, 4),
                p_value(row.p),
            )
            for row in rows
        ),
        note,
    )


def _place(unit: UnitValue) -> str:
    """Where a unit stands: its block, its row and column, its strips."""
    told = [unit.block] if unit.block else []
    for name in ("square", "replicate", "row", "column", "row_strip", "column_strip"):
        value = getattr(unit, name)
        if value is not None:
            told.append(say(f"place {name}", value=value))
    return ", ".join(told)


def units_table(response: ResponseResult) -> Table:
    """Return the unit summaries: one number per unit."""
    values = response.unit_summary.values
    known = [u.value for u in values if u.value is not None]
    width = (max(known) - min(known)) / 2.0 if known else 1.0
    places = places_for(0.0, width / 5.0) if width > 0 else 3
    plants = any(u.n_plants for u in values)
    keys = ["unit", "block", "treatment", "value", "plants", "fitted", "residual"]
    if not plants:
        keys.remove("plants")
    elif not of_plants(response):
        keys[4] = "subjects"
    return Table(
        say(
            "unit values caption",
            name=response.name,
            summary=response.unit_summary.name,
            unit=plain_unit(response.unit_summary.measured_in),
        ),
        heads(*keys, numeric=range(3, len(keys))),
        tuple(
            (
                u.unit,
                _place(u) or MISSING,
                u.treatment,
                fixed(u.value, places),
                *((str(u.n_plants),) if plants else ()),
                fixed(u.fitted, places),
                fixed(u.residual, places),
            )
            for u in values
        ),
        reasons_of([(u.unit, u.not_estimable) for u in values]).strip() or None,
    )
