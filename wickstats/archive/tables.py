"""The CSV files of a report's folder, one kind of row a file.

UTF-8, comma, line feed, full precision, blank where a number cannot be given
(``not_estimable`` then says why). A text cell that a spreadsheet would run as a
formula gets a leading apostrophe. Leans on core.
"""

import csv
import io
import re
from collections.abc import Iterable, Sequence
from typing import Any

from wickstats.core.bench import Bench
from wickstats.core.codec import to_plain
from wickstats.core.frames import flat
from wickstats.core.responses import ResponseResult, Strategy
from wickstats.core.results import Results

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def table_files(results: Results) -> dict[str, bytes]:
    """Return file name -> bytes of every table that has rows."""
    return {name: to_csv(rows) for name, rows in sorted(table_rows(results).items())}


def table_rows(results: Results) -> dict[str, Sequence[Any]]:
    """Return file name -> rows of every table that has some."""
    tables: dict[str, Sequence[Any]] = {}
    for response, stem in zip(results.responses, response_stems(results), strict=True):
        parts: dict[str, Sequence[Any]] = {
            "units": response.unit_summary.values,
            "strata": response.strata,
            "tests": response.tests,
            "means": response.means,
            "comparisons": response.comparisons,
            "sensitivity": response.sensitivity,
            "curves": response.curves,
            "curve-fits": response.curve_fits or (),
            "smooth-curves": _smooth(response),
            "extra-liters": response.extra_liters or (),
            "left-out": response.left_out or (),
        }
        parts.update(_beside(response))
        parts.update(_of_plants(response))
        if response.mixed_model is not None:
            parts["mixed-tests"] = response.mixed_model.tests
            parts["mixed-comparisons"] = response.mixed_model.comparisons
            parts["variance-components"] = response.mixed_model.variance_components
        tables.update({f"{stem}-{part}": rows for part, rows in parts.items()})
    tables |= {
        "accounting": results.accounting.by_treatment,
        "lost": results.accounting.lost,
        **_water(results),
        **_supply(results),
        **_costs(results),
        "power-planned": results.power.planned,
        "power-reached": results.power.reached,
        "power-next-season": results.power.next_season,
        "power-curve": results.power.curve,
        "queries": results.queries,
        "exclusions": results.exclusions,
        "deviations": results.deviations,
        "second-engine": results.second_engine,
    }
    return {f"{name}.csv": rows for name, rows in tables.items() if rows}


def _beside(response: ResponseResult) -> dict[str, Sequence[Any]]:
    """Yield beside water, picks over time, plants along a line."""
    parts: dict[str, Sequence[Any]] = {}
    if response.productivity is not None:
        parts["productivity"] = response.productivity.units
        parts["productivity-by-treatment"] = response.productivity.arms
    if response.harvest is not None:
        parts["picks"] = response.harvest.picks
        parts["picked-counts"] = response.harvest.counts
        parts["picks-means"] = response.harvest.means
        parts["picks-comparisons"] = response.harvest.comparisons
    if response.bench is not None:
        parts["pieces"], parts["readings"] = _bench(response.bench)
        parts["pieces-by-treatment"] = response.bench.spread
    if response.along_line is not None:
        parts["lines"] = response.along_line.lines
        parts["along-line"] = response.along_line.arms
    parts.update(_logit(response))
    return parts


def _logit(response: ResponseResult) -> dict[str, Sequence[Any]]:
    """Every row of the logit models of a share, with what is random in its fit."""
    fits = () if response.share_model is None else response.share_model.fits
    return {
        f"logit-{part}": [
            {"random": ", ".join(fit.random), **to_plain(row)}
            for fit in fits
            for row in getattr(fit, part)
        ]
        for part in ("arms", "comparisons", "components")
    }


def _bench(found: Bench) -> tuple[Sequence[Any], Sequence[Any]]:
    """Every piece, and every reading under its piece and run."""
    pieces, readings = [], []
    for piece in found.pieces:
        line = to_plain(piece)
        told = line.pop("readings")
        readings += [{"piece": piece.piece, "run": piece.run, **row} for row in told]
        pieces.append(line)
    return pieces, readings


def _water(results: Results) -> dict[str, Sequence[Any]]:
    """The ledger by unit; between visits; by plot; and whether the water was equal."""
    units, periods, plots = [], [], []
    for unit in results.water:
        line = to_plain(unit)
        told = line.pop("ledger", None)
        if told is not None:
            periods += [{"unit": unit.unit, **row} for row in told.pop("periods")]
            plots += [{"unit": unit.unit, **row} for row in told.pop("plots")]
            line.update(told)
        units.append(line)
    equal = () if results.equal_water is None else results.equal_water.rows
    return {
        "water": units,
        "water-periods": periods,
        "water-plots": plots,
        "equal-water": equal,
    }


def _supply(results: Results) -> dict[str, Sequence[Any]]:
    """Weather's days, demand by week, reservoirs and their chances."""
    plan = results.supply.reservoirs
    return {
        "supply-days": results.supply.days,
        "supply": results.supply.table,
        "reservoirs": () if plan is None else plan.needs,
        "reservoirs-dry": () if plan is None else plan.chances,
    }


def _costs(results: Results) -> dict[str, Sequence[Any]]:
    """Costs by treatment, what they bought, and differences by block and over all."""
    parts = results.cost_parts
    if parts is None:
        return {"costs-per": results.costs}
    differences, blocks = [], []
    for pair in parts.differences:
        line = to_plain(pair)
        told = {name: line[name] for name in ("treatment", "versus", "effect_of")}
        blocks += [{**told, **point} for point in line.pop("points")]
        differences.append(line)
    return {
        "costs": parts.arms,
        "costs-per": results.costs,
        "costs-differences": differences,
        "costs-blocks": blocks,
        "costs-assumptions": parts.scenarios,
    }


def _of_plants(response: ResponseResult) -> dict[str, Sequence[Any]]:
    """The tables of what became of the plants."""
    lives = response.plant_lives
    if lives is None:
        return {}
    return {
        "histories": lives.histories,
        "visit-spacing": lives.visit_spacing,
        "early-deaths": lives.early_deaths,
        "conditions": lives.conditions,
        "incidence": lives.incidence,
        "cause-means": lives.cause_means,
        "cause-comparisons": lives.cause_comparisons,
        "browsing-means": [_way(way, row) for way in lives.strategies for row in way.means],
        "browsing-comparisons": [
            _way(way, row) for way in lives.strategies for row in way.comparisons
        ],
        "stand": lives.stand,
        "late-curves": lives.late_curves,
    }


def _way(way: Strategy, row: Any) -> dict[str, Any]:
    return {"browsing": way.name, "primary": way.primary, **to_plain(row)}


def _smooth(response: ResponseResult) -> list[dict[str, Any]]:
    """Every point of the smooth lines that are drawn."""
    return [
        {"group": fit.group, "day": day, "share": share}
        for fit in response.curve_fits or ()
        for day, share in zip(fit.smooth_days, fit.smooth_shares, strict=True)
    ]


def response_stems(results: Results) -> tuple[str, ...]:
    """Return a file-name stem for each response, different for each."""
    stems: list[str] = []
    for response in results.responses:
        base = re.sub(r"[^a-z0-9]+", "-", response.name.lower()).strip("-")[:40] or "response"
        stem, n = base, 2
        while stem in stems:
            stem, n = f"{base}-{n}", n + 1
        stems.append(stem)
    return tuple(stems)


def to_csv(rows: Iterable[Any]) -> bytes:
    """Return frozen rows as CSV; nested values become columns joined by a dot."""
    told = [flat(row) for row in rows]
    columns = list(dict.fromkeys(key for row in told for key in row))
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    for row in told:
        writer.writerow([_cell(row.get(column)) for column in columns])
    return out.getvalue().encode("utf-8")


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return repr(value)
    text = str(value)
    if isinstance(value, str) and text.startswith(FORMULA_STARTS):
        return f"'{text}"
    return text
