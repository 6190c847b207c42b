"""Rise and flow from readings to units, strata of coils and runs, variation between pieces."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from support_bench import (
    CORD,
    FLOW,
    RISE,
    WASHED,
    bench_trial,
    coil_layout,
    heights,
    run_layout,
    volumes,
)

import wickstats as ws
from wickstats.analysis.summaries.flow import change_per_minute, evaporation_of, measure_flow
from wickstats.analysis.summaries.readings import Series
from wickstats.analysis.summaries.rise import EARLY, PLATEAU, measure_rise
from wickstats.core.capillary import viscosity
from wickstats.core.responses import ResponseResult
from wickstats.design.trial import Trial

ROOTS = np.array([1.0, 4.0, 9.0, 25.0, 64.0])


def series(
    minutes: np.ndarray,
    height: np.ndarray | None = None,
    volume: np.ndarray | None = None,
    top: np.ndarray | None = None,
    temperature: float | None = None,
    heads: tuple[float, ...] = (),
    run: str = "1",
) -> Series:
    blank = np.full(minutes.size, np.nan)
    return Series(
        "p",
        run,
        minutes,
        blank if height is None else height,
        blank if volume is None else volume,
        np.zeros(minutes.size, dtype=bool) if top is None else top,
        np.array(heads),
        temperature,
    )


def test_height_between_readings_is_straight_in_the_root_of_time() -> None:
    one = series(ROOTS, 10 * np.sqrt(ROOTS))
    assert measure_rise(one, "height at 49 min", 200.0).value == pytest.approx(70.0)
    assert measure_rise(one, "height at 0.25 min", 200.0).value == pytest.approx(5.0)


def test_a_height_not_read_so_far_is_told() -> None:
    found = measure_rise(series(ROOTS, 10 * np.sqrt(ROOTS)), "height at 120 min", 200.0)
    assert found.value is None
    assert found.reason == "not read up to 120 min (last reading at 64 min)"


def test_a_piece_at_the_top_counts_as_the_top() -> None:
    grown = np.minimum(30 * np.sqrt(ROOTS), 200.0)
    found = measure_rise(series(ROOTS, grown), "height at 60 min", 200.0)
    assert found.value == pytest.approx(np.interp(np.sqrt(60), np.sqrt(ROOTS), grown), abs=1e-9)
    assert not found.at_least  # the top was seen at 64 min only
    later = measure_rise(series(ROOTS, grown), "height at 64 min", 200.0)
    assert (later.value, later.at_least) == (200.0, True)
    told = np.array([False] * 4 + [True])
    blank = np.where(told, np.nan, grown)
    flagged = measure_rise(series(ROOTS, blank, top=told), "height at 64 min", 200.0)
    assert (flagged.value, flagged.at_least) == (200.0, True)


def test_early_slope_ignores_what_comes_after_ten_minutes() -> None:
    grown = np.where(ROOTS <= 10, 2.0 + 12 * np.sqrt(ROOTS), 0.0)
    assert measure_rise(series(ROOTS, grown), EARLY, 200.0).value == pytest.approx(12.0)


def test_plateau_is_no_bound_where_the_front_stands() -> None:
    settled = measure_rise(series(ROOTS, np.array([50.0, 80, 99, 99, 100])), PLATEAU, 200.0)
    rising = measure_rise(series(ROOTS, np.array([10.0, 20, 30, 50, 80])), PLATEAU, 200.0)
    assert (settled.value, settled.at_least) == (100.0, False)
    assert (rising.value, rising.at_least) == (80.0, True)


def test_flow_is_the_slope_less_evaporation_at_twenty_degrees() -> None:
    minutes = np.array([30.0, 60.0, 120.0])
    one = series(minutes, volume=3.0 + minutes * 0.2, temperature=28.0)
    found = measure_flow(one, 1.5, corrected=True, head_mm=None)
    assert found.value == pytest.approx((12.0 - 1.5) * viscosity(28.0) / viscosity(20.0))
    plain = measure_flow(one, None, corrected=False, head_mm=None)
    assert plain.value == pytest.approx(12.0)
    cold = series(minutes, volume=minutes * 0.2)
    why = measure_flow(cold, None, corrected=True, head_mm=None).reason
    assert why == "no water temperature, so no flow at 20 degC"


def test_a_series_at_another_head_or_at_several_is_not_used() -> None:
    minutes = np.array([30.0, 60.0])
    other = series(minutes, volume=minutes, heads=(200.0,))
    mixed = series(minutes, volume=minutes, heads=(100.0, 200.0))
    assert measure_flow(other, None, corrected=False, head_mm=100.0).value is None
    assert measure_flow(other, None, corrected=False, head_mm=200.0).value == 60.0
    assert measure_flow(mixed, None, corrected=False, head_mm=None).value is None


def test_evaporation_is_the_mean_of_a_runs_controls() -> None:
    minutes = np.array([60.0, 120.0])
    cups = [
        series(minutes, volume=minutes * rate / 60, run=run)
        for run, rate in (("1", 0.1), ("1", 0.3), ("2", 0.4))
    ]
    by_run, overall = evaporation_of(cups)
    assert by_run == pytest.approx({"1": 0.2, "2": 0.4})
    assert overall == pytest.approx(0.3)


def test_clogging_is_the_slope_of_the_logarithm_of_the_flow() -> None:
    minutes = np.arange(0.0, 6.0) * 1440.0
    falls = 0.1
    volume = (1 - np.exp(-falls * minutes / 1440.0)) * 100
    found = change_per_minute(series(minutes, volume=volume), None)
    assert found is not None
    assert 1440.0 * found == pytest.approx(-falls, rel=1e-9)
    assert change_per_minute(series(minutes[:3], volume=volume[:3]), None) is None


def analyzed(trial: Trial, layout: pd.DataFrame, readings: pd.DataFrame) -> ResponseResult:
    laid = ws.read_layout(trial, layout)
    season = ws.read_records(trial, tables={"readings": readings}, layout=laid)
    return ws.analyze(trial, season).responses[0]


def split(tmp_path: Path, seed: int = 3, runs: int = 3) -> tuple[ResponseResult, np.ndarray]:
    trial = bench_trial(tmp_path, f"{CORD}\n{WASHED}", "split-plot")
    layout = coil_layout(3, runs)
    rng = np.random.default_rng(seed)
    log = rng.normal(1.0, 0.1, len(layout))
    log += (
        0.2 * layout["run"].to_numpy()
        + rng.normal(0, 0.3, 6)[layout["coil"].str[1:].astype(int)]
    )
    return analyzed(trial, layout, volumes(layout, np.exp(log))), log


def between_pieces(log: np.ndarray) -> tuple[float, int]:
    """Mean square of pieces less coils, runs and treatments of pieces in each cord."""
    y = log.reshape(3, 6, 2)  # run, coil, washing
    fitted = np.zeros_like(y)
    for cord in (slice(0, 3), slice(3, 6)):
        fitted[:, cord] += y[:, cord].mean(axis=(0, 1)) - y[:, cord].mean()
    fitted += y.mean(axis=(0, 2))[None, :, None]
    fitted += (y.mean(axis=(1, 2)) - y.mean())[:, None, None]
    df = 36 - 6 - 2 - 2
    return float(((y - fitted) ** 2).sum() / df), df


def test_cords_are_tested_between_coils_and_washing_between_pieces(tmp_path: Path) -> None:
    """Mean squares by hand: coils of a cord; what coils, runs and treatments leave."""
    found, log = split(tmp_path)
    y = log.reshape(3, 6, 2)  # run, coil, washing
    coils = y.mean(axis=(0, 2))
    a, b = coils[:3], coils[3:]
    between = (a.var(ddof=1) + b.var(ddof=1)) / 2
    f_cord = 1.5 * (a.mean() - b.mean()) ** 2 / between
    error, df = between_pieces(log)
    f_wash = 18 * ((y[:, :, 0] - y[:, :, 1]).mean() / 2) ** 2 * 2 / error
    told = {t.term: t for t in found.tests}
    assert told["cord"].stratum == "coil"
    assert told["cord"].value == pytest.approx(f_cord, rel=1e-9)
    assert (told["cord"].df_num, told["cord"].df_den) == (1.0, 4.0)
    assert told["washing"].stratum == "piece"
    assert told["washing"].value == pytest.approx(f_wash, rel=1e-9)
    assert told["washing"].df_den == df
    squares = {(s.stratum, s.source): (s.df, s.sum_of_squares) for s in found.strata}
    runs = 12 * ((y.mean(axis=(1, 2)) - y.mean()) ** 2).sum()
    assert squares["block", "block"] == (2, pytest.approx(runs, rel=1e-9))
    assert squares["piece", "residual"] == (df, pytest.approx(df * error, rel=1e-9))
    assert sum(s for _, s in squares.values()) == pytest.approx(((y - y.mean()) ** 2).sum())
    assert told["cord"].redraws is not None
    assert told["cord"].redraws.reason == "which cord a coil is of was not drawn"


def test_variation_between_pieces_is_the_error_of_pieces_with_its_interval(
    tmp_path: Path,
) -> None:
    found, log = split(tmp_path)
    bench = found.bench
    assert bench is not None
    assert bench.df == 26
    error, df = between_pieces(log)
    assert bench.piece_cv == pytest.approx(np.sqrt(np.expm1(error)), rel=1e-9)
    low, high = df * error / stats.chi2.ppf([0.975, 0.025], df)
    assert bench.piece_cv_low == pytest.approx(np.sqrt(np.expm1(low)), rel=1e-9)
    assert bench.piece_cv_high == pytest.approx(np.sqrt(np.expm1(high)), rel=1e-9)


def test_one_coil_of_a_cord_gives_estimates_without_inference(tmp_path: Path) -> None:
    trial = bench_trial(tmp_path, f"{CORD}\n{WASHED}", "split-plot")
    layout = coil_layout(1, 3)
    flow = np.exp(np.random.default_rng(1).normal(size=len(layout)) / 10)
    found = analyzed(trial, layout, volumes(layout, flow))
    cord = next(c for c in found.comparisons if c.term == "cord")
    assert cord.estimate is not None
    assert cord.p is None
    assert cord.verdict is None
    assert cord.not_estimable is not None
    assert any(text.startswith("There is one coil each of A, B.") for text in found.cautions)
    washing = next(c for c in found.comparisons if c.term == "washing")
    assert washing.p is not None


def test_coils_are_the_units_where_the_cord_is_all(tmp_path: Path) -> None:
    trial = bench_trial(tmp_path, CORD)
    layout = coil_layout(3, 4, ("no",))
    rng = np.random.default_rng(5)
    log = rng.normal(0, 0.1, len(layout)) + 0.3 * layout["run"].to_numpy()
    found = analyzed(trial, layout, volumes(layout, np.exp(log)))
    y = log.reshape(4, 6).mean(axis=0)
    expected = stats.ttest_ind(y[3:], y[:3])
    row = found.comparisons[0]
    assert row.unit_of_replication == "coil"
    assert row.p == pytest.approx(expected.pvalue, rel=1e-9)
    assert row.df == 4


def test_a_lost_piece_does_not_move_a_coil_by_its_run(tmp_path: Path) -> None:
    """Flows that are exactly coil x run: with one piece lost the coils' ratio stays."""
    trial = bench_trial(tmp_path, CORD)
    layout = coil_layout(3, 4, ("no",))
    coil = layout["coil"].str[1:].astype(int).to_numpy()
    log = 0.1 * coil + 0.5 * layout["run"].to_numpy()
    readings = volumes(layout, np.exp(log))
    whole = analyzed(trial, layout, readings).comparisons[0]
    lost = readings[readings["plot"] != layout["plot"].iloc[-1]]
    again = analyzed(trial, layout, lost).comparisons[0]
    assert again.estimate == pytest.approx(whole.estimate, rel=1e-9)


def test_pieces_in_runs_are_complete_blocks(tmp_path: Path) -> None:
    trial = bench_trial(tmp_path)
    layout = run_layout(5)
    log = np.random.default_rng(7).normal(size=len(layout))
    found = analyzed(trial, layout, volumes(layout, np.exp(log)))
    y = log.reshape(5, 2)
    expected = stats.ttest_rel(y[:, 1], y[:, 0])
    assert found.comparisons[0].p == pytest.approx(expected.pvalue, rel=1e-9)
    assert found.comparisons[0].df == 4


def test_heights_at_the_top_say_more_and_less_but_never_the_same(tmp_path: Path) -> None:
    trial = bench_trial(tmp_path, responses=RISE)
    layout = run_layout(6)
    hour = np.where(layout["washing"] == "yes", 230.0, 150.0)
    hour += np.random.default_rng(2).normal(0, 5, len(layout))
    found = analyzed(trial, layout, heights(layout, hour))
    row = found.comparisons[0]
    assert row.verdict == "better"
    assert row.estimate == pytest.approx(50.0, abs=6)  # up to the top: 80 in truth
    assert any("stood at the top" in text for text in found.cautions)
    assert found.bench is not None
    assert found.bench.piece_cv is None
    both = analyzed(trial, layout, heights(layout, np.full(len(layout), 300.0)))
    assert both.comparisons[0].verdict in (None, "cannot tell")
    assert {p.at_least for p in both.bench.pieces} == {True}  # type: ignore[union-attr]


@pytest.mark.parametrize("factor", [0.25, 8.0])
def test_other_units_of_volume_change_only_the_scale(tmp_path: Path, factor: float) -> None:
    trial = bench_trial(tmp_path, responses=FLOW)
    layout = run_layout(4)
    flow = np.exp(np.random.default_rng(9).normal(size=len(layout)))
    one = analyzed(trial, layout, volumes(layout, flow)).comparisons[0]
    two = analyzed(trial, layout, volumes(layout, factor * flow)).comparisons[0]
    assert two.estimate == pytest.approx(one.estimate, rel=1e-9)
    assert two.p == pytest.approx(one.p, rel=1e-8)


def test_flow_against_head_is_a_slope_of_each_piece(tmp_path: Path) -> None:
    """Pieces read at two heads in two runs: flow for 100 mm, and flow at the head asked."""
    response = "  - {name: flow, kind: flow, head_mm: 100, better: more}"
    trial = bench_trial(tmp_path, responses=response)
    layout = run_layout(4)
    base = 2.0 + np.arange(len(layout)) / 10
    low = volumes(layout, base, head_mm=100.0)
    high = volumes(layout.assign(run=layout["run"] + 100), base + 3.0, head_mm=300.0)
    found = analyzed(trial, layout, pd.concat([low, high], ignore_index=True))
    told = {(m.estimand, m.treatment): m.estimate for m in found.means}
    assert told["flow for 100 mm of head", "no"] == pytest.approx(1.5)
    assert told["flow", "no"] == pytest.approx(base[layout["washing"] == "no"].mean())
    bench = found.bench
    assert bench is not None
    other = [p for p in bench.pieces if p.head_mm == 300.0]
    assert {p.reason for p in other} == {"read at a head of 300 mm, not 100 mm"}


def test_clogging_is_compared_without_a_verdict(tmp_path: Path) -> None:
    trial = bench_trial(tmp_path)
    layout = run_layout(4)
    falls = np.where(layout["washing"] == "yes", 0.3, 0.1)
    falls = falls + np.random.default_rng(4).normal(0, 0.01, len(layout))
    parts = []
    for day in range(6):
        part = layout[["run", "plot"]].copy()
        part["minutes"] = 1440.0 * day
        part["volume_ml"] = 50 * (1 - np.exp(-falls * day)) / falls
        parts.append(part)
    found = analyzed(trial, layout, pd.concat(parts, ignore_index=True))
    row = next(c for c in found.comparisons if c.estimand == "change of flow per day")
    assert row.estimate == pytest.approx(-0.2, abs=0.03)
    assert row.verdict is None


def test_one_coil_of_each_cord_alone_has_no_inference_at_all(tmp_path: Path) -> None:
    trial = bench_trial(tmp_path, CORD)
    layout = coil_layout(1, 4, ("no",))
    flow = np.exp(np.random.default_rng(1).normal(size=len(layout)) / 10)
    found = analyzed(trial, layout, volumes(layout, flow))
    row = found.comparisons[0]
    assert row.estimate is not None
    assert (row.p, row.low, row.verdict) == (None, None, None)
    assert any("one coil each of A, B" in text for text in found.cautions)
