"""The place is told no further than its owner shares it, in every file but the inputs."""

import math
from datetime import date, timedelta
from pathlib import Path

import pytest

import wickstats as ws
from wickstats.core.results import Results
from wickstats.design.trial import Trial
from wickstats.report.write import report_files

TRIAL = """\
format: 1
trial:
  id: hidden
  season: {{start: 2025-04-01, end: 2025-04-21}}
  site: {{name: Nightingale hollow, latitude: 41.2345, longitude: -1.3456, elevation_m: 647,
    soil: marl, share: {share}}}
factors: {{watering: [{{name: hand, reference: true}}, {{name: wick}}]}}
design: {{type: randomized complete block, blocks: 3, plants_per_plot: 4, seed: 5,
  layout: layout.csv, drawn: here}}
records: {{measurements: {{file: sizes.csv}}, weather: {{file: weather.csv}}}}
responses: [{{name: height, kind: measurement, column: height_cm, measured_in: cm}}]
water: {{crop_coefficient: 0.8, wetted_m2: 0.25, reservoirs: {{holds_l: 20}},
  planned_l: {{hand: 90, wick: 60}}}}
"""
EXACT = ("41.2345", "1.3456", "647")


def _analyzed(folder: Path, share: str) -> tuple[Trial, Results]:
    (folder / "trial.yaml").write_text(TRIAL.format(share=share))
    trial = ws.read_trial(folder / "trial.yaml")
    layout = ws.randomize(trial)
    layout.write()
    rows = [f"2025-04-21,{p.plot},{20 + 3 * k % 7}" for k, p in enumerate(layout.plots)]
    (folder / "sizes.csv").write_text("\n".join(["date,plot,height_cm", *rows]) + "\n")
    days = [date(2025, 4, 1) + timedelta(k) for k in range(21)]
    weather = [f"{d},{6 + k % 5},{17 + k % 7},{8 + k % 4}" for k, d in enumerate(days)]
    (folder / "weather.csv").write_text(
        "\n".join(["date,tmin_c,tmax_c,sun_h", *weather]) + "\n"
    )
    return trial, ws.analyze(trial, ws.read_records(trial))


@pytest.mark.parametrize("share", ["rounded", "withheld"])
def test_only_the_inputs_hold_the_exact_place(share: str, tmp_path: Path) -> None:
    trial, results = _analyzed(tmp_path, share)
    files = report_files(results)
    own = (tmp_path / "trial.yaml").read_bytes()
    for name, data in files.items():
        if name == "inputs/trial.yaml":
            assert data == own
            continue
        if name.startswith("inputs/") or name == "manifest.json":
            continue
        for secret in EXACT[:2]:
            assert secret.encode() not in data, name
        if share == "withheld":
            assert b"Nightingale" not in data, name
            assert b"marl" not in data, name
    assert results.trial.site.get("elevation_m") == (650.0 if share == "rounded" else None)
    page = files["report.html"].decode()
    assert "exact bytes of every file that was read" in page
    assert f"The site is shared {share}" in page
    assert ws.supply(trial).basis is not None


def test_a_withheld_place_cannot_be_read_off_radiation(tmp_path: Path) -> None:
    _, results = _analyzed(tmp_path, "withheld")
    supply = results.supply
    assert supply.basis is not None
    assert (supply.basis.latitude, supply.basis.elevation_m) == (None, None)
    for day in supply.days:
        assert [day[k] for k in ("ra", "day_length_h", "pressure_kpa", "gamma_kpa_c")] == [
            None
        ] * 4
        assert day["et0_penman_mm"] is None
        et0 = day["et0_mm"]
        assert isinstance(et0, float)
        assert et0 == round(et0, 1)
    assert any("withheld" in note for note in supply.supply_notes or ())


def test_a_rounded_place_is_reckoned_where_it_is_told(tmp_path: Path) -> None:
    trial, results = _analyzed(tmp_path, "rounded")
    basis = results.supply.basis
    assert basis is not None
    assert (basis.latitude, basis.elevation_m) == (41.2, 650.0)
    on_screen = ws.supply(trial)
    assert on_screen.basis is not None
    assert on_screen.basis.latitude == 41.2345
    # a twentieth of a degree and 5 m change evapotranspiration by less than a hundredth
    for ours, theirs in zip(results.supply.days, on_screen.days, strict=True):
        a, b = ours["et0_mm"], theirs["et0_mm"]
        assert isinstance(a, float)
        assert isinstance(b, float)
        assert math.isclose(a, b, rel_tol=0.01)


def test_an_exact_place_needs_no_warning(tmp_path: Path) -> None:
    _, results = _analyzed(tmp_path, "exact")
    page = report_files(results)["report.html"].decode()
    assert "41.2345" in page
    assert "exact bytes of every file that was read" not in page


@pytest.mark.parametrize("share", ["exact", "rounded", "withheld"])
def test_supply_and_costs_are_recomputed_by_the_audit(share: str, tmp_path: Path) -> None:
    _, results = _analyzed(tmp_path, share)
    ws.write_report(results, tmp_path / "report")
    assert ws.audit(tmp_path / "report").serious == 0
    assert '"demand_l"' in (tmp_path / "report" / "results.json").read_text()
