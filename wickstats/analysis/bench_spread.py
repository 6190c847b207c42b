"""How pieces of cord differ: between-piece variation with its interval, and every piece.

Between-piece variation is the residual of log values on treatments, runs and coils; its
interval is that of a normal variance (chi-square). What nine of ten further pieces stay
below: exp(mean + t s sqrt(1 + 1/n)). Leans on bench and units.
"""

from dataclasses import dataclass

import numpy as np

from wickstats.analysis.bench import Piece, measured_in
from wickstats.analysis.summaries.rise import counted_to_top
from wickstats.analysis.units import Array, Units
from wickstats.core.bench import Bench, BenchPiece, BenchReading, BenchSpread
from wickstats.core.words import say
from wickstats.design.trial import Response
from wickstats.layout.plots import Plot
from wickstats.records.season import Season

CONFIDENCE = 0.95
NINE = 0.9
FEWEST_DF = 2


def bench_of(
    response: Response, pieces: list[Piece], season: Season, units: Units
) -> Bench | None:
    """Every piece, and how pieces of one treatment differ; None without a piece."""
    if not pieces:
        return None
    plots = {p.plot: p for p in season.layout.plots}
    scatter = piece_scatter(pieces, plots, units)
    rows = []
    for code, arm in enumerate(units.cell_names):
        mine = [p for p in pieces if int(units.cells[units.index[p.series.piece]]) == code]
        if mine:
            rows.append(_spread_row(arm, mine, plots, scatter))
    s, low, high = scatter.sd, scatter.low, scatter.high
    return Bench(
        quantity="height" if response.kind == "rise" else "volume",
        measured_in=measured_in(response),
        pieces=tuple(_piece_row(response, p, plots) for p in pieces),
        spread=tuple(rows),
        piece_cv=_cv(s),
        piece_cv_low=_cv(low),
        piece_cv_high=_cv(high),
        df=scatter.df,
        spread_not_estimable=scatter.reason,
        notes=(),
    )


@dataclass(frozen=True, slots=True)
class Scatter:
    """SD of log values between pieces of one treatment, with its interval."""

    sd: float | None
    low: float | None
    high: float | None
    df: int
    reason: str | None = None


def piece_scatter(pieces: list[Piece], plots: dict[str, Plot], units: Units) -> Scatter:
    """Residual of log values on treatments, runs, and coils cut more than once."""
    if any(p.at_least for p in pieces):
        return Scatter(None, None, None, 0, say("spread capped"))
    used = [p for p in pieces if p.value is not None]
    if any(p.value is not None and p.value <= 0.0 for p in used):
        return Scatter(None, None, None, 0, say("spread not above zero"))
    if not used:
        return Scatter(None, None, None, 0, say("spread few"))
    y = np.log(np.array([p.value for p in used], dtype=float))
    classes: list[list[object]] = [
        [int(units.cells[units.index[p.series.piece]]) for p in used],
        [p.series.run for p in used],
        [plots[p.series.piece].coil for p in used],
        [p.series.piece for p in used],  # a piece in several runs is one piece
    ]
    repeated = len(set(classes[3])) < len(used)
    x = np.hstack([_marks(c) for c in classes[:3]])
    y, x = (_means(y, classes[3]), _means(x, classes[3])) if repeated else (y, x)
    rank = int(np.linalg.matrix_rank(x))
    df = int(y.size) - rank
    if df < FEWEST_DF:
        return Scatter(None, None, None, max(df, 0), say("spread few"))
    residual = y - x @ np.linalg.lstsq(x, y, rcond=None)[0]
    square = float(residual @ residual)
    from scipy.special import chdtri

    tail = (1.0 - CONFIDENCE) / 2.0
    low, high = square / chdtri(df, tail), square / chdtri(df, 1.0 - tail)
    return Scatter(float(np.sqrt(square / df)), float(np.sqrt(low)), float(np.sqrt(high)), df)


def _marks(codes: list[object]) -> Array:
    names = list(dict.fromkeys(codes))
    return np.array([[float(c == n) for n in names] for c in codes])


def _means(values: Array, names: list[object]) -> Array:
    marks = _marks(names)
    shape = (marks.shape[1], *([1] * (values.ndim - 1)))
    return np.asarray((marks.T @ values) / marks.sum(axis=0).reshape(shape), dtype=float)


def _cv(sd: float | None) -> float | None:
    return None if sd is None else float(np.sqrt(np.expm1(sd * sd)))


def _spread_row(
    arm: str, pieces: list[Piece], plots: dict[str, Plot], scatter: Scatter
) -> BenchSpread:
    values = np.array([p.value for p in pieces if p.value is not None], dtype=float)
    upper = None
    if scatter.sd is not None and values.size:
        from scipy.special import stdtrit

        reach = stdtrit(scatter.df, NINE) * scatter.sd * np.sqrt(1.0 + 1.0 / values.size)
        upper = float(np.exp(np.log(values).mean() + reach))
    return BenchSpread(
        treatment=arm,
        pieces=len({p.series.piece for p in pieces}),
        coils=len({plots[p.series.piece].coil for p in pieces} - {None}),
        at_top=sum(p.at_least for p in pieces),
        mean=float(values.mean()) if values.size else None,
        nine_in_ten_below=upper,
    )


def _piece_row(response: Response, p: Piece, plots: dict[str, Plot]) -> BenchPiece:
    series = p.series
    told, at_top = series.volume_ml, False
    if response.kind == "rise":
        told, top = counted_to_top(series.height_mm, series.reached_top, response.top_mm)
        at_top = bool(top.any())
    known = np.isfinite(told)
    plot = plots[series.piece]
    return BenchPiece(
        piece=series.piece,
        coil=plot.coil,
        run=series.run,
        treatment=plot.treatment,
        value=p.value,
        at_least=p.at_least,
        reached_top=at_top,
        head_mm=series.head_mm,
        temperature_c=series.temperature_c,
        evaporation_ml_h=p.evaporation,
        flow_factor=p.factor,
        readings=tuple(
            BenchReading(float(m), float(v))
            for m, v in zip(series.minutes[known], told[known], strict=True)
        ),
        reason=p.reason,
    )
