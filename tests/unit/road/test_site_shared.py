"""The place is told no further than its owner shares it, in every file of a report."""

import json
import math
from datetime import date, timedelta
from pathlib import Path

import pytest

import wickstats as ws
from wickstats.core.results import Results
from wickstats.design.read import parse_trial
from wickstats.design.shared import as_shared, still_told
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
def test_no_file_of_a_report_holds_the_exact_place(share: str, tmp_path: Path) -> None:
    trial, results = _analyzed(tmp_path, share)
    files = report_files(results)
    assert (tmp_path / "trial.yaml").read_bytes() == trial.source  # the owner's own file
    for name, data in files.items():
        for secret in EXACT[:2]:
            assert secret.encode() not in data, name
        if share == "withheld":
            assert b"Nightingale" not in data, name
            assert b"marl" not in data, name
            assert b"latitude:" not in data, name
    assert results.trial.site.get("elevation_m") == (650.0 if share == "rounded" else None)
    page = files["report.html"].decode()
    assert f"The site is shared {share}, in every file of this folder" in page
    crate = json.loads(files["ro-crate-metadata.json"])["@graph"]
    positions = [e for e in crate if e["@type"] == "GeoCoordinates"]
    assert [(e["latitude"], e["longitude"], e["elevation"]) for e in positions] == (
        [(41.2, -1.3, 650.0)] if share == "rounded" else []
    )
    assert ws.supply(trial).basis is not None  # on the owner's own screen


def test_only_the_site_is_written_anew_in_the_archived_trial_file(tmp_path: Path) -> None:
    trial, results = _analyzed(tmp_path, "rounded")
    kept = trial.source.decode()
    kept = kept.replace("41.2345", "41.2").replace("-1.3456", "-1.3").replace("647", "650")
    assert results.source_bytes["trial.yaml"].decode() == kept
    block = """  site:   # by the river
    name: Nightingale hollow
    latitude: 41.2345
    share: {share}
  title: River trial
"""
    text = TRIAL.format(share="x")
    start, end = text.index("  site:"), text.index("factors:")
    rounded = block.replace("41.2345", "41.2").replace("   # by the river", "")
    for share, told in (
        ("withheld", "  site:\n    share: withheld\n  title: River trial\n"),
        ("rounded", rounded.format(share="rounded")),
        ("exact", block.format(share="exact")),
    ):
        own = text[:start] + block.format(share=share) + text[end:]
        read = parse_trial(own.encode(), file="trial.yaml", folder=tmp_path)
        shared = as_shared(read)
        assert shared.source.decode() == text[:start] + told + text[end:]
        assert shared.trial.title == "River trial"
        assert as_shared(shared) == shared


@pytest.mark.parametrize("share", ["rounded", "withheld"])
def test_comments_in_the_entry_of_the_site_do_not_tell_it(share: str, tmp_path: Path) -> None:
    entry = f"""\
  # above the entry
  site:   # gate at 41.2345
    name: "Nightingale # 7"   # 41.2345
    # the spring lies at 41.2345
    latitude: 41.2345 # phone: 41.2345
    longitude: -1.3
    share: {share}   # 41.2345

    # 41.2345
  # of the title
  title: River # trial
"""
    text = TRIAL.format(share="x")
    start, end = text.index("  site:"), text.index("factors:")
    for own in (
        text[:start] + entry + text[end:],
        text[:start] + f"  site: {{latitude: 41.2, share: {share}}} # 41.2345\n" + text[end:],
        text[:start] + f"  site: {{latitude: 41.2345, # 41.2345\n    share: {share}}}\n"
        "  # of the title\n  title: River\n" + text[end:],
    ):
        told = as_shared(parse_trial(own.encode(), file="trial.yaml", folder=tmp_path))
        kept = told.source.decode()
        assert "41.2345" not in kept
        assert "spring" not in kept
        assert ("# above the entry" in kept) == ("# above the entry" in own)
        if share == "rounded":
            assert ("# of the title\n  title" in kept) == ("# of the title" in own)
            assert ('"Nightingale # 7"\n' in kept) == ('"Nightingale # 7"' in own)
        assert as_shared(told) == told


def test_what_still_tells_the_place_is_named_by_file_and_line(tmp_path: Path) -> None:
    import io
    import zipfile

    own = "# near Nightingale hollow\n" + TRIAL
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as made:
        made.writestr("xl/sharedStrings.xml", "<t>tap at 1.3456</t>")
    sources = {
        "visits.csv": b"date,plot\nat 41,235 N,A\n41.2,B\n141.2345,C\nNightingales,D\n",
        "sizes.xlsx": packed.getvalue(),
    }
    for share, first in (("withheld", ["trial.yaml line 1"]), ("rounded", []), ("exact", None)):
        trial = parse_trial(
            own.format(share=share).encode(),
            file="trial.yaml",
            folder=tmp_path,
        )
        held = {"trial.yaml": as_shared(trial).source, **sources}
        told = [] if first is None else [*first, "visits.csv line 2", "sizes.xlsx"]
        assert still_told(trial, held) == told


def test_a_withheld_place_cannot_be_read_off_the_demand(tmp_path: Path) -> None:
    """Radiation above the air gives the latitude away, and so does what follows from it."""
    trial, results = _analyzed(tmp_path, "withheld")
    supply = results.supply
    assert supply.basis is None
    assert supply.days == ()
    assert any("withheld" in note for note in supply.supply_notes or ())
    assert len(ws.supply(trial).days) == 21


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
    trial, results = _analyzed(tmp_path, "exact")
    page = report_files(results)["report.html"].decode()
    assert "41.2345" in page
    assert "The site is shared" not in page
    assert results.source_bytes["trial.yaml"] == trial.source


@pytest.mark.parametrize("share", ["exact", "rounded", "withheld"])
def test_supply_and_costs_are_recomputed_by_the_audit(share: str, tmp_path: Path) -> None:
    _, results = _analyzed(tmp_path, share)
    ws.write_report(results, tmp_path / "report")
    assert ws.audit(tmp_path / "report").serious == 0
    told = '"demand_l"' in (tmp_path / "report" / "results.json").read_text()
    assert told == (share != "withheld")
