"""The folder as RO-Crate and Data Package, read by the standards' own libraries.

rocrate (RO-Crate 1.1) and frictionless (Data Package); names and numbers of MIAPPE fields
are those of the checklist that its consortium publishes
(MIAPPE_Checklist-Data-Model-v1.1.tsv).
"""

import json
from collections.abc import Iterator
from importlib.resources import files as package_data
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import frictionless
import openpyxl
import pytest
from rocrate.rocrate import ROCrate
from support_audit import Season, audited

import wickstats as ws
from wickstats.archive.crate import package_files
from wickstats.archive.fields import day_format
from wickstats.archive.folder import archive_files, write_folder
from wickstats.core.results import Results
from wickstats.demo.trials import TRIALS


@pytest.fixture(params=TRIALS)
def season(request: pytest.FixtureRequest) -> Season:
    return audited(request.param)


@pytest.fixture
def folder(season: Season, tmp_path: Path) -> Path:
    files = {k: v for k, v in season.files.items() if k != "manifest.json"}
    return write_folder(tmp_path / "report", files, trial="x")


def refs(value: Any) -> Iterator[str]:
    """Every @id that an entity refers to."""
    if isinstance(value, dict):
        if set(value) == {"@id"}:
            yield value["@id"]
        for item in value.values():
            yield from refs(item)
    elif isinstance(value, list):
        for item in value:
            yield from refs(item)


def test_the_folder_is_a_crate_that_names_every_file(folder: Path, season: Season) -> None:
    crate = ROCrate(folder)
    root = crate.root_dataset
    assert crate.version == "1.1"
    assert root["name"] == season.results.trial.title
    assert root["datePublished"] <= (season.results.trial.season_end or "9999")
    assert {"description", "license", "additionalType"} <= set(root.properties())
    held = {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}
    named = {unquote(e.id) for e in crate.data_entities if e.type == "File"}
    assert named == held - {"ro-crate-metadata.json"}
    for entity in crate.data_entities:
        if entity.type == "File" and entity.id != "manifest.json":
            size = (folder / unquote(entity.id)).stat().st_size
            assert entity["contentSize"] == str(size)


def test_every_reference_leads_to_an_entity_and_every_word_is_defined(folder: Path) -> None:
    """Words of RO-Crate's own context, as its library ships it."""
    data = json.loads((folder / "ro-crate-metadata.json").read_text(encoding="utf-8"))
    graph = data["@graph"]
    ids = [e["@id"] for e in graph]
    assert len(set(ids)) == len(ids)
    outside = {"https://w3id.org/ro/crate/1.1"}
    assert {r for e in graph for r in refs(list(e.values()))} <= {*ids, *outside}
    shipped = package_data("rocrate.data").joinpath("ro-crate.jsonld").read_text("utf-8")
    known = json.loads(shipped)["@context"]
    words = {key for e in graph for key in e if not key.startswith("@")}
    assert words <= set(known)
    kinds = {e["@type"] for e in graph}
    assert kinds <= set(known)


def test_the_miappe_fields_that_the_trial_has(folder: Path, season: Season) -> None:
    crate = ROCrate(folder)
    study = crate.get("inputs/")
    told: dict[str, list[str]] = {}
    for field in [*crate.root_dataset["additionalProperty"], *study["additionalProperty"]]:
        assert field["propertyID"].startswith("MIAPPE 1.1 DM-")
        told.setdefault(field["name"], []).append(field["value"])
    trial = season.results.trial
    assert told["Investigation title"] == told["Study title"] == [trial.title]
    assert told["MIAPPE version"] == ["1.1"]
    assert told["Start date of study"] == [trial.season_start]
    assert told["Person name"] == list(trial.people.values())
    assert told["Experimental Factor type"] == list(trial.factors)
    assert told["Experimental Factor values"] == ["; ".join(v) for v in trial.factors.values()]
    assert told["Variable name"] == [r.name for r in season.results.responses]
    assert season.results.layout.type in told["Description of the experimental design"][0]
    assert "Organism" not in told  # a trial file does not name it: nothing is guessed
    units = study["about"]
    assert {u["name"] for u in units} == {
        line.split(",")[0]
        for line in season.files["inputs/layout.csv"].decode().splitlines()[1:]
    }
    given = [
        next(p["value"] for p in u["additionalProperty"] if "factor value" in p["name"])
        for u in units
    ]
    assert len(given) == len(units)


def test_the_records_are_a_data_package(folder: Path, season: Season) -> None:
    report = frictionless.validate(str(folder / "datapackage.json"))
    assert report.valid, report.flatten(["type", "note", "message"])
    package = frictionless.Package(str(folder / "datapackage.json"))
    rows = {item.path: item.rows for item in season.results.inputs}
    read: dict[str, int] = {}
    for resource in package.resources:  # a workbook may hold several tables
        count = len(resource.read_rows())
        read[resource.path] = read.get(resource.path, 0) + count
    assert read
    for path, count in read.items():
        name = path.removeprefix("inputs/")
        if name != "layout.csv":
            assert count == rows[name], path


def test_a_changed_cell_is_also_told_by_the_standard(folder: Path) -> None:
    table = next((folder / "inputs").glob("*.csv"))
    table.write_bytes(table.read_bytes().replace(b"1", b"2", 1))
    report = frictionless.validate(str(folder / "datapackage.json"))
    assert {e[0] for e in report.flatten(["type"])} >= {"hash-count"}


TRIAL = """\
format: 1
trial: {id: odd-tables, title: Odd tables}
factors: {watering: [{name: hand, reference: true}, {name: wick}]}
design: {type: randomized complete block, layout: layout.csv, drawn: elsewhere}
records:
  plants: plants.csv
  measurements:
    - {file: a.csv, header_row: 3, delimiter: ";", decimal: ",", dates: 31/12/2025,
       columns: {height_cm: {head: "height, mm", measured_in: mm}}}
    - {file: wide.csv, dates: 31.12.25, wide: {heads_are: date, cells_are: height_cm}}
    - {file: b.xlsx, sheet: sizes}
responses:
  - {name: height, kind: measurement, column: height_cm, measured_in: cm}
"""
PLOTS = [("A1", "1", "hand"), ("A2", "1", "wick"), ("B1", "2", "hand"), ("B2", "2", "wick")]


def odd_tables(folder: Path) -> Results:
    """A season in tables as people keep them: each another way to write the same things."""
    (folder / "trial.yaml").write_text(TRIAL, encoding="utf-8")
    lines = ["plot,block,watering", *(",".join(p) for p in PLOTS)]
    (folder / "layout.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    planted = [f"{p},1,2025-04-0{k + 1} 00:00" for k, (p, _, _) in enumerate(PLOTS)]
    text = "\ufeff" + "\n".join(["plot,plant,planted_on", *planted]) + "\n"
    (folder / "plants.csv").write_text(text, encoding="utf-8")
    (folder / "a.csv").write_text(
        "sizes of the north end\n\ndate;plot;plant;height, mm;seen by\n"
        "31/5/2025;A1;1;212,5;eva\n\n31/5/2025;A2;1;NA;eva\n31/5/2025;B1;1;198;\n",
        encoding="utf-8",
    )
    (folder / "wide.csv").write_text(
        "plot,plant,15.06.25,30.06.25\nA1,1,22,23.5\nB2,1,25,26\n", encoding="utf-8"
    )
    book = openpyxl.Workbook()
    sheet = book.create_sheet("sizes")
    sheet.append(["date", "plot", "plant", "height_cm", "vigor"])
    for k, (plot, _, _) in enumerate(PLOTS):
        day = "2025-07-01" if k == 3 else ws_day()
        sheet.append([day, plot, 1, 30 + k / 2, k])
    book.save(folder / "b.xlsx")
    trial = ws.read_trial(folder / "trial.yaml")
    return ws.analyze(trial, ws.read_records(trial))


def ws_day() -> Any:
    from datetime import date

    return date(2025, 7, 1)


def test_tables_as_people_keep_them_are_described_as_they_are(tmp_path: Path) -> None:
    results = odd_tables(tmp_path)
    files = archive_files(results)
    files |= package_files(results, files)
    place = write_folder(tmp_path / "report", files, trial="x")
    report = frictionless.validate(str(place / "datapackage.json"))
    assert report.valid, report.flatten(["type", "note", "message"])
    package = frictionless.Package(str(place / "datapackage.json"))
    rows = package.get_resource("measurements").read_rows()
    assert [(str(r["date"]), r["plot"], r["height, mm"]) for r in rows] == [
        ("2025-05-31", "A1", pytest.approx(212.5)),
        ("2025-05-31", "A2", None),
        ("2025-05-31", "B1", 198),
    ]
    schema = package.get_resource("measurements").schema
    assert schema.get_field("seen by").description == "not used by the analysis"
    assert "mm" in schema.get_field("height, mm").description
    wide = package.get_resource("measurements-2").read_rows()
    assert [r["30.06.25"] for r in wide] == [pytest.approx(23.5), 26]
    book = package.get_resource("measurements-3").read_rows()
    assert [str(r["date"]) for r in book] == ["2025-07-01"] * 4
    assert [float(r["height_cm"]) for r in book] == [30, 30.5, 31, 31.5]
    # a time of day behind a date is no date of the standard: left open, not told wrongly
    assert package.get_resource("plants").schema.get_field("planted_on").type == "any"
    assert package.get_resource("plants").encoding == "utf-8-sig"
    crate = ROCrate(place)
    # nothing says when the season began: the records do
    values = {f["name"]: f["value"] for f in crate.get("inputs/")["additionalProperty"]}
    assert (values["Start date of study"], values["End date of study"]) == (
        "2025-04-01",
        "2025-07-01",
    )
    assert crate.root_dataset["datePublished"] == "2025-07-01"


def test_tables_in_memory_and_the_same_bytes_twice(tmp_path: Path) -> None:
    trial = ws.read_trial(_least(tmp_path))
    frame = ws.read_layout(trial).frame()
    sizes = frame[["plot"]].assign(kg_per_ha=[4.5, 5.0, 4.0, 5.5])
    made = [
        ws.analyze(trial, ws.read_records(trial, tables={"measurements": sizes}))
        for _ in range(2)
    ]
    first, second = (package_files(r, archive_files(r)) for r in made)
    assert first == second
    place = write_folder(tmp_path / "out", archive_files(made[0]) | first, trial="x")
    assert frictionless.validate(str(place / "datapackage.json")).valid
    package = frictionless.Package(str(place / "datapackage.json"))
    assert [r.path for r in package.resources] == [
        "inputs/layout.csv",
        "inputs/measurements-in-memory.csv",
    ]
    # no day stands anywhere in trial or records, and no clock is asked
    graph = json.loads(first["ro-crate-metadata.json"])["@graph"]
    root = next(e for e in graph if e["@id"] == "./")
    assert "datePublished" not in root


def _least(folder: Path) -> Path:
    (folder / "trial.yaml").write_text(
        "format: 1\ntrial: {id: seed-rates}\n"
        "factors: {rate: [{name: 25 kg, reference: true}, {name: 50 kg}]}\n"
        "design: {type: randomized complete block, layout: layout.csv, drawn: elsewhere}\n"
        "records: {measurements: {file: yields.csv}}\n"
        "responses: [{name: grain, kind: measurement, column: kg_per_ha, measured_in: kg/ha}]\n"
    )
    (folder / "layout.csv").write_text(
        "plot,block,rate\nA1,1,25 kg\nA2,1,50 kg\nB1,2,25 kg\nB2,2,50 kg\n"
    )
    return folder / "trial.yaml"


def test_a_rehearsal_is_marked_in_both(tmp_path: Path) -> None:
    results = ws.rehearse(ws.read_trial(_assumed(tmp_path)), seed=3).results
    files = package_files(results, archive_files(results))
    for data in files.values():
        assert b"SIMULATED" in data


def _assumed(folder: Path) -> Path:
    path = _least(folder)
    text = path.read_text() + (
        "power: {assume: {grain: {mean: {25 kg: 4, 50 kg: 5}, plot_cv: 0.1}}}\n"
    )
    path.write_text(text)
    return path


@pytest.mark.parametrize(
    ("example", "pattern"),
    [
        ("31/12/2025", "%d/%m/%Y"),
        ("12/31/2025", "%m/%d/%Y"),
        ("31.12.25", "%d.%m.%y"),
        ("2025-12-31", "%Y-%m-%d"),
    ],
)
def test_the_files_way_to_write_days(example: str, pattern: str) -> None:
    assert day_format(example) == pattern
