"""Tables of one response: effects, means, tests, three lines, sensitivity, components.

Leans on pages, report.facts and core.
"""

from collections.abc import Sequence

from wickstats.core.numbers import (
    MISSING,
    degrees,
    fixed,
    number,
    p_value,
    places_for,
    with_interval,
)
from wickstats.core.responses import Comparison, Mean, ResponseResult, StrataRow, TestRow
from wickstats.core.words import say
from wickstats.pages.blocks import Table
from wickstats.report.facts import Scene, heads, scale_of, times, what_of


def effect_tables(scene: Scene, response: ResponseResult) -> tuple[Table, ...]:
    """Return a table for each estimand, date and level: absolute, then relative."""
    groups: dict[str, list[Comparison]] = {}
    for row in response.comparisons:
        groups.setdefault(what_of(row, response), []).append(row)
    return tuple(_effects(scene, what, rows) for what, rows in groups.items())


def _effects(scene: Scene, what: str, rows: Sequence[Comparison]) -> Table:
    adjustments = ", ".join(dict.fromkeys(row.adjustment for row in rows))
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
        tuple(_effect_cells(row) for row in rows),
        say("adjusted note", adjustments=adjustments, percent=scene.confidence)
        + _reasons([(row.name, row.not_estimable) for row in rows]),
    )


def _effect_cells(row: Comparison) -> tuple[str, ...]:
    absolute, relative = row.absolute, row.relative
    if absolute is not None:
        size = with_interval(absolute.estimate, absolute.low, absolute.high)
        per = absolute.per
    elif row.measure == "difference":
        k = scale_of(row)
        low, high = adjusted(row)
        size = with_interval(times(row.estimate, k), times(low, k), times(high, k))
        per = MISSING
    else:
        size, per = (MISSING, MISSING), MISSING
    ratio = (MISSING, MISSING)
    if relative is not None:
        ratio = with_interval(relative.ratio, relative.low, relative.high)
    elif row.measure != "difference":
        ratio = with_interval(row.estimate, *adjusted(row))
    p = row.p_adjusted if row.p_adjusted is not None else row.p
    return (
        row.name,
        *size,
        per,
        *ratio,
        degrees(row.df),
        p_value(p),
        row.verdict or (MISSING if row.not_estimable is None else "cannot be given"),
    )


def adjusted(row: Comparison) -> tuple[float | None, float | None]:
    """The adjusted interval, or the plain one where there is none."""
    if row.low_adjusted is None and row.high_adjusted is None:
        return row.low, row.high
    return row.low_adjusted, row.high_adjusted


def _reasons(rows: Sequence[tuple[str, str | None]]) -> str:
    told = dict.fromkeys(f"{name}: {why}" for name, why in rows if why)
    return "".join(f" {_sentence(text)}" for text in told)


def _sentence(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else f"{text}."


def mean_tables(scene: Scene, response: ResponseResult) -> tuple[Table, ...]:
    """Return a table of means for each estimand, date, term and level."""
    groups: dict[tuple[str, str], list[Mean]] = {}
    for row in response.means:
        groups.setdefault((what_of(row, response), row.term), []).append(row)
    several = len({term for _, term in groups}) > 1
    tables: list[Table] = []
    for (what, term), rows in groups.items():
        cells: list[tuple[str, ...]] = []
        for row in rows:
            k = scale_of(row)
            size = with_interval(times(row.estimate, k), times(row.low, k), times(row.high, k))
            count = (degrees(row.df), str(row.n_units), str(row.n_plants))
            bound = f" ({say('one sided')})" if row.bound else ""
            cells.append((row.treatment + bound, *size, *count))
        note = _reasons([(row.treatment, row.not_estimable) for row in rows]).strip()
        tables.append(
            Table(
                say("means caption", what=f"{what} ({term})" if several else what),
                heads(
                    "treatment",
                    "mean",
                    "interval",
                    "df",
                    "units",
                    "plants",
                    numeric=(1, 2, 3, 4, 5),
                    percent=scene.confidence,
                ),
                tuple(cells),
                note or None,
            )
        )
    return tuple(tables)


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
        _reasons(reasons).strip() or None,
    )


def lines_table(scene: Scene, response: ResponseResult) -> Table | None:
    """Return first line, mixed model and re-randomization of the same comparisons."""
    mixed = response.mixed_model
    beside = {_key(c): c for c in mixed.comparisons} if mixed is not None else {}
    if not beside and all(c.redraws is None for c in response.comparisons):
        return None
    cells: list[tuple[str, ...]] = []
    for row in response.comparisons:
        other = beside.get(_key(row))
        cells.append(
            (
                _full_name(row),
                *_estimate(row),
                p_value(row.p_adjusted),
                *_estimate(other),
                p_value(other.p_adjusted if other else None),
                p_value(row.redraws.p if row.redraws else None),
                p_value(row.redraws.smallest_possible_p if row.redraws else None),
            )
        )
    return Table(
        say("lines caption", name=response.name),
        heads(
            "comparison",
            "first",
            "interval",
            "p adjusted",
            "mixed",
            "interval",
            "p adjusted",
            "redraws p",
            "smallest p",
            numeric=(1, 2, 3, 4, 5, 6, 7, 8),
            percent=scene.confidence,
        ),
        tuple(cells),
        say("lines note"),
    )


def _key(row: Comparison) -> tuple[str, str, str, str | None, str | None]:
    return row.term, row.name, row.estimand, row.at, row.within


def _full_name(row: Comparison) -> str:
    parts = [row.name, row.estimand]
    parts.extend(part for part in (row.at, row.within) if part is not None)
    return ", ".join(parts)


def _estimate(row: Comparison | None) -> tuple[str, str]:
    if row is None:
        return MISSING, MISSING
    k = scale_of(row)
    low, high = adjusted(row)
    return with_interval(times(row.estimate, k), times(low, k), times(high, k))


def sensitivity_table(scene: Scene, response: ResponseResult) -> Table | None:
    """Return the comparisons under other rules."""
    if not response.sensitivity:
        return None
    rows = tuple(
        (
            _full_name(row),
            row.rule,
            *_estimate(row),
            degrees(row.df),
            p_value(row.p_adjusted),
            row.verdict or MISSING,
        )
        for row in response.sensitivity
    )
    reasons = _reasons([(row.name, row.not_estimable) for row in response.sensitivity])
    return Table(
        say("sensitivity caption", name=response.name),
        heads(
            "comparison",
            "rule",
            "estimate",
            "interval",
            "df",
            "p adjusted",
            "verdict",
            numeric=(2, 3, 4, 5),
            percent=scene.confidence,
        ),
        rows,
        reasons.strip() or None,
    )


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
    note += _reasons([(c.term, c.not_estimable) for c in mixed.variance_components])
    return Table(
        say("components caption", name=response.name),
        heads("stratum", "estimate", "interval", numeric=(1, 2), percent=scene.confidence),
        tuple(rows),
        note.strip() or None,
    )


def strata_table(response: ResponseResult, rows: Sequence[StrataRow]) -> Table | None:
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
    )


def units_table(response: ResponseResult) -> Table:
    """Return the unit summaries: one number per unit."""
    values = response.unit_summary.values
    known = [u.value for u in values if u.value is not None]
    width = (max(known) - min(known)) / 2.0 if known else 1.0
    places = places_for(0.0, width / 5.0) if width > 0 else 3
    return Table(
        say(
            "unit values caption",
            name=response.name,
            summary=response.unit_summary.name,
            unit=response.unit_summary.measured_in,
        ),
        heads(
            "unit",
            "block",
            "treatment",
            "value",
            "plants",
            "fitted",
            "residual",
            numeric=(3, 4, 5, 6),
        ),
        tuple(
            (
                u.unit,
                u.block or MISSING,
                u.treatment,
                fixed(u.value, places),
                str(u.n_plants),
                fixed(u.fitted, places),
                fixed(u.residual, places),
            )
            for u in values
        ),
        _reasons([(u.unit, u.not_estimable) for u in values]).strip() or None,
    )
