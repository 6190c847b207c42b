"""Rise and flow: every piece's value, and one number a unit.

A unit is a piece, or a coil where all factors are properties of the cord: its value is the
mean of its pieces, runs taken out by least squares where coils were not in the same runs
(piece = coil + run).
Leans on summaries.{readings,rise,flow} and units.
"""

from dataclasses import dataclass, replace

import numpy as np

from wickstats.analysis.summaries import flow, rise
from wickstats.analysis.summaries.readings import Series, line_slope, read_series
from wickstats.analysis.summary import Summary, missing_reasons
from wickstats.analysis.units import Array, Units
from wickstats.core.numbers import number
from wickstats.core.words import say
from wickstats.design.trial import Response
from wickstats.records.season import Season

HEAD_STEP_MM = 100.0
FLOW_UNIT = "mL/h"

Evaporation = tuple[dict[str, float], float | None]  # of each run, and over all runs


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One series with its value on the reported scale."""

    series: Series
    value: float | None
    at_least: bool = False
    evaporation: float | None = None
    factor: float | None = None
    reason: str | None = None


def bench_summaries(
    response: Response, season: Season, units: Units
) -> tuple[Summary | None, tuple[Summary, ...]]:
    """The main summary, and the other measures that the readings tell."""
    series, controls = read_series(season, season.layout)
    lost = flow.evaporation_of(controls)
    pieces = _pieces(response, series, lost)
    if not pieces:
        return None, ()
    name = _name(response)
    main = replace(
        _summary(
            season,
            units,
            pieces,
            name,
            measured_in(response),
            log=response.model_scale == "log",
        ),
        estimand=name if response.kind == "rise" else say("flow name"),
        notes=_notes(response, season, units, pieces, name, lost),
    )
    if response.kind == "rise":
        others = [
            _summary(season, units, _risen(response, series, m), m, rise.unit_of(m))
            for m in (rise.EARLY, rise.PLATEAU)
            if m != name
        ]
    else:
        others = [_changes(season, units, pieces)]
        by_head = _by_head(response, series, lost)
        if by_head:
            others.append(_summary(season, units, by_head, say("flow by head"), FLOW_UNIT))
    told = tuple(s for s in others if s.used.sum() >= units.n_cells)
    return main, told


def pieces_of(response: Response, season: Season) -> list[Piece]:
    """Every series of the response with its value."""
    series, controls = read_series(season, season.layout)
    return _pieces(response, series, flow.evaporation_of(controls))


def measured_in(response: Response) -> str:
    """Unit of the response's values."""
    return FLOW_UNIT if response.kind == "flow" else rise.unit_of(_name(response))


def _pieces(response: Response, series: list[Series], lost: Evaporation) -> list[Piece]:
    if response.kind == "rise":
        return _risen(response, series, _name(response))
    return [_flowed(response, s, lost, response.head_mm) for s in series if _volumes(s)]


def _risen(response: Response, series: list[Series], measure: str) -> list[Piece]:
    out = []
    for s in series:
        if np.isfinite(s.height_mm).any() or s.reached_top.any():
            found = rise.measure_rise(s, measure, response.top_mm)
            out.append(Piece(s, found.value, found.at_least, reason=found.reason))
    return out


def _volumes(series: Series) -> bool:
    return bool(np.isfinite(series.volume_ml).any())


def _flowed(response: Response, series: Series, lost: Evaporation, head: float | None) -> Piece:
    by_run, overall = lost
    evaporation = by_run.get(series.run, overall)
    corrected = response.temperature == flow.CORRECTED
    found = flow.measure_flow(series, evaporation, corrected=corrected, head_mm=head)
    return Piece(
        series,
        found.value,
        evaporation=found.evaporation,
        factor=found.factor,
        reason=found.reason,
    )


def _name(response: Response) -> str:
    if response.kind == "flow":
        if response.head_mm is None:
            return say("flow name")
        return say("flow at head", head=f"{response.head_mm:g}")
    return response.measure or rise.DEFAULT


def _changes(season: Season, units: Units, pieces: list[Piece]) -> Summary:
    """Change of flow over time, where most pieces were read often enough."""
    longest = max(float(np.ptp(p.series.minutes)) for p in pieces)
    day = longest >= flow.DAY_MIN
    step = flow.DAY_MIN if day else flow.HOUR_MIN
    made = []
    for p in pieces:
        rate = flow.change_per_minute(p.series, p.evaporation)
        value = None if rate is None or p.value is None else rate * step
        made.append(Piece(p.series, value, reason=say("bench no reading")))
    name = say("flow change per day" if day else "flow change per hour")
    return _summary(season, units, made, name, "1/d" if day else "1/h")


def _by_head(response: Response, series: list[Series], lost: Evaporation) -> list[Piece]:
    """Flow for 100 mm of head of pieces that were read at several heads; empty without."""
    held: dict[str, list[Piece]] = {}
    for s in series:
        if _volumes(s) and s.head_mm is not None:
            held.setdefault(s.piece, []).append(_flowed(response, s, lost, None))
    out = []
    for found in held.values():
        told = [p for p in found if p.value is not None]
        heads = np.array([p.series.head_mm for p in told], dtype=float)
        if len(told) > 1 and np.ptp(heads) > flow.SAME_HEAD:
            slope = line_slope(heads, np.array([p.value for p in told], dtype=float))
            value = None if slope is None else HEAD_STEP_MM * slope
            out.append(Piece(told[0].series, value))
    return out


def _summary(
    season: Season,
    units: Units,
    pieces: list[Piece],
    name: str,
    unit: str,
    *,
    log: bool = False,
) -> Summary:
    values, counts, capped = unit_values(pieces, units, log=log)
    reasons = missing_reasons(
        np.isfinite(values), units, dict(season.lost_plots), say("bench no reading")
    )
    return Summary(
        name=name,
        estimand=name,
        at=None,
        values=values,
        plants=counts,
        reasons=_told_reasons(pieces, units, reasons, log=log),
        # arms at the top do not vary: each has its own variance
        rule="paired" if capped.any() and not units.is_split else "strata",
        measured_in=unit,
        log=log,
        guard=bool(np.ptp(counts[counts > 0]) > 0) if (counts > 0).any() else False,
        capped=bool(capped.any()),
    )


def _told_reasons(
    pieces: list[Piece], units: Units, reasons: tuple[str | None, ...], *, log: bool
) -> tuple[str | None, ...]:
    told: dict[int, list[str]] = {}
    for p in pieces:
        why = p.reason
        if why is None and log and p.value is not None and p.value <= 0.0:
            why = say("flow not above zero")
        if why is not None:
            told.setdefault(units.index[p.series.piece], []).append(why)
    return tuple(
        None if r is None else "; ".join(dict.fromkeys(told[j])) if j in told else r
        for j, r in enumerate(reasons)
    )


def unit_values(pieces: list[Piece], units: Units, *, log: bool) -> tuple[Array, Array, Array]:
    """(n,) values on the model's scale, pieces behind each, whether any is at least so."""
    values, counts = np.full(units.n, np.nan), np.zeros(units.n)
    capped = np.zeros(units.n, dtype=bool)
    used = [p for p in pieces if p.value is not None and (not log or p.value > 0.0)]
    if not used:
        return values, counts, capped
    unit = np.array([units.index[p.series.piece] for p in used])
    y = np.array([p.value for p in used], dtype=float)
    y = np.log(y) if log else y
    runs = np.unique([p.series.run for p in used], return_inverse=True)[1].reshape(-1)
    np.logical_or.at(capped, unit, [p.at_least for p in used])
    counts = np.bincount(unit, minlength=units.n).astype(float)
    held = np.zeros((units.n, int(runs.max()) + 1))
    np.add.at(held, (unit, runs), 1.0)
    full = held[counts > 0]
    shared = [len(plots) > 1 for plots in units.plots]
    if not any(shared) or np.ptp(full / full.sum(axis=1, keepdims=True), axis=0).max() < 1e-9:
        sums = np.bincount(unit, weights=y, minlength=units.n)
        with np.errstate(invalid="ignore"):
            return np.where(counts > 0, sums / counts, np.nan), counts, capped
    # coils were not all in the same runs: piece = coil + run
    x = np.hstack([np.eye(units.n)[unit], np.eye(held.shape[1])[runs]])
    beta = np.linalg.lstsq(x, y, rcond=None)[0]
    there = counts > 0
    values[there] = beta[: units.n][there] + float(beta[units.n :].mean())
    return values, counts, capped


def _notes(
    response: Response,
    season: Season,
    units: Units,
    pieces: list[Piece],
    name: str,
    lost: Evaporation,
) -> tuple[str, ...]:
    out = []
    top = [p for p in pieces if p.at_least]
    if top:
        arms = [units.cell_names[int(units.cells[units.index[p.series.piece]])] for p in top]
        told = ", ".join(f"{arm} {arms.count(arm)}" for arm in dict.fromkeys(arms))
        still = name == rise.PLATEAU and not any(p.series.reached_top.any() for p in top)
        key = "bench still rising" if still else "bench capped"
        out.append(say(key, n=len(top), all=len(pieces), told=told))
    if response.kind == "flow":
        out.extend(_flow_notes(pieces, lost))
    out.extend(_coil_notes(season, units))
    return tuple(out)


def _flow_notes(pieces: list[Piece], lost: Evaporation) -> list[str]:
    by_run, overall = lost
    out = []
    if overall is None:
        out.append(say("bench no evaporation"))
    else:
        least, most = min(by_run.values()), max(by_run.values())
        out.append(say("bench evaporation", least=number(least), most=number(most)))
        bare = dict.fromkeys(p.series.run for p in pieces if p.series.run not in by_run)
        if bare:
            out.append(say("bench other runs", runs=", ".join(bare)))
    warm = [p.series.temperature_c for p in pieces if p.series.temperature_c is not None]
    factors = [p.factor for p in pieces if p.factor is not None]
    if factors:
        low, high = number(min(factors), 3), number(max(factors), 3)
        out.append(say("bench to 20", least=low, most=high))
    elif warm and max(warm) - min(warm) > 1.0:
        out.append(say("bench as measured", least=number(min(warm)), most=number(max(warm))))
    return out


def _coil_notes(season: Season, units: Units) -> list[str]:
    """Cords with one coil, where cords are compared between coils."""
    layout = season.layout
    outer = [n for n in layout.factors if layout.applied_to.get(n) in ("coil", "whole plot")]
    if not outer or units.strata[0].name != "coil":
        return []
    coils: dict[str, set[str]] = {}
    for p in layout.plots:
        coils.setdefault(" x ".join(p.levels[n] for n in outer), set()).add(str(p.coil))
    single = [cord for cord, held in coils.items() if len(held) == 1]
    if single:
        return [say("bench one coil", cords=", ".join(single))]
    return [say("bench coils")]
