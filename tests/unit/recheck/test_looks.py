"""Repeated looks at one season are kept, named and compared; only the last confirms."""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import wickstats as ws
from wickstats.archive.crate import package_files
from wickstats.archive.folder import archive_files, write_folder
from wickstats.archive.results_file import read_results
from wickstats.cli.app import run
from wickstats.core.errors import RecordsError
from wickstats.core.results import Results
from wickstats.recheck.against import differences
from wickstats.recheck.audit import audit_folder
from wickstats.recheck.findings import Audit
from wickstats.records.looks import note_look

TRIAL = """\
format: 1
trial: {id: looked-at, season: {start: 2025-04-01, end: 2025-09-30}}
factors: {watering: [{name: hand, reference: true}, {name: wick}]}
design: {type: randomized complete block, blocks: 4, plants_per_plot: 1, seed: 5,
  layout: layout.csv, drawn: here}
records: {measurements: sizes.csv}
responses: [{name: height, kind: measurement, column: height_cm, measured_in: cm}]
plan: {primary: height, matters: {height: {difference: 2}}}
"""
DAYS = ("2025-06-01", "2025-08-01", "2025-09-28")


@pytest.fixture
def trial(tmp_path: Path) -> Path:
    path = tmp_path / "trial.yaml"
    path.write_text(TRIAL, encoding="utf-8")
    ws.randomize(ws.read_trial(path)).write()
    return path


def records(trial: Path, days: int, shift: float = 0.0) -> None:
    """Heights until one of the days; wicks gain with every visit."""
    plots = ws.read_layout(ws.read_trial(trial)).plots
    rows = [
        f"{day},{p.plot},{20 + 4 * v + k % 3 + shift + (3 * v if 'wick' in p.treatment else 0)}"
        for v, day in enumerate(DAYS[:days])
        for k, p in enumerate(plots)
    ]
    text = "\n".join(["date,plot,height_cm", *rows]) + "\n"
    (trial.parent / "sizes.csv").write_text(text, encoding="utf-8")


def files_of(results: Results, language: str = "en") -> dict[str, bytes]:
    """A report's folder without page and pictures, which are drawn elsewhere."""
    del language
    files = archive_files(results)
    return files | package_files(results, files)


def analyzed(trial: Path, name: str) -> dict[str, Any]:
    """As the command does it: analyze, write, keep the look."""
    read = ws.read_trial(trial)
    season = ws.read_records(read)
    results = ws.analyze(read, season)
    write_folder(trial.parent / name, files_of(results), trial=read.trial.id)
    note_look(read, season)
    return results.to_dict()


def audit(folder: Path, against: Path | None = None) -> Audit:
    return audit_folder(folder, rebuild=files_of, against=against)


def told(plain: dict[str, Any]) -> dict[str, str]:
    return {d["what"]: d["done"] for d in plain["deviations"]}


def sentences(audit: Audit, kind: str) -> list[str]:
    return [f.sentence for f in audit.findings if f.kind == kind]


def test_looks_are_kept_beside_the_layout_and_named(trial: Path) -> None:
    records(trial, 1)
    first = analyzed(trial, "first")
    assert (
        "only a look at the season's end confirms"
        in told(first)["the season was looked at before its end"]
    )
    assert not (trial.parent / "first" / "inputs" / "layout.looks.json").exists()
    held = json.loads((trial.parent / "layout.looks.json").read_text())
    assert [look["until"] for look in held["looks"]] == ["2025-06-01"]

    records(trial, 2)
    analyzed(trial, "second")
    records(trial, 3)
    third = analyzed(trial, "third")
    assert third["looks"]["number"] == 3
    done = told(third)
    assert "the season was looked at before its end" not in done
    assert done["the season was looked at more than once"] == (
        "this is look 3 of 3: look 1 saw 8 rows until 2025-06-01; look 2 saw 16 rows until "
        "2025-08-01; look 3 saw 24 rows until 2025-09-28. Only the last look confirms, and "
        "p-values and intervals do not know of the looks before it"
    )
    outcome = audit(trial.parent / "third")
    assert outcome.serious == 0
    assert sentences(outcome, "looks") == [
        "the season was looked at 3 times; this report is look 3"
    ]

    # the first records once more: a later look is known by now
    records(trial, 1)
    again = analyzed(trial, "again")
    assert again["looks"]["number"] == 1
    assert audit(trial.parent / "again").serious == 0


def test_the_same_records_are_the_same_look_and_the_same_bytes(trial: Path) -> None:
    records(trial, 3)
    for name in ("one", "two"):
        assert run(["analyze", str(trial), "--out", str(trial.parent / name)]) == 0
    for path in sorted((trial.parent / "one").rglob("*")):
        if path.is_file():
            other = trial.parent / "two" / path.relative_to(trial.parent / "one")
            assert path.read_bytes() == other.read_bytes()
    kept = (trial.parent / "layout.looks.json").read_bytes()
    plain = analyzed(trial, "three")
    assert (trial.parent / "layout.looks.json").read_bytes() == kept
    assert "looks" not in plain
    assert told(plain) == {}
    records(trial, 3, shift=0.5)  # corrected values are another look
    corrected = told(analyzed(trial, "four"))
    assert "look 2 of 2" in corrected["the season was looked at more than once"]


def test_a_report_that_forgets_its_looks_is_found(trial: Path) -> None:
    records(trial, 2)
    analyzed(trial, "early")
    records(trial, 3)
    analyzed(trial, "late")
    (trial.parent / "late" / "inputs" / "layout.looks.json").unlink()
    found = [f.place for f in audit(trial.parent / "late").findings if f.serious]
    assert "inputs/layout.looks.json" in found
    assert any(place.startswith("deviations") for place in found)


def test_files_that_are_not_looked_at_are_named(trial: Path) -> None:
    records(trial, 3)
    analyzed(trial, "late")
    (trial.parent / "late" / "tables" / ".notes").write_text("approved")
    outcome = audit(trial.parent / "late")
    (found,) = [f for f in outcome.findings if f.place == "tables/.notes"]
    assert found.weight == "note"
    assert "was not looked at" in found.sentence
    assert outcome.serious == 0


def test_a_file_of_looks_that_cannot_be_read_is_a_problem(trial: Path) -> None:
    records(trial, 3)
    (trial.parent / "layout.looks.json").write_text('{"looks_format": 2}')
    read = ws.read_trial(trial)
    with pytest.raises(RecordsError) as caught:
        ws.analyze(read, ws.read_records(read))
    (problem,) = caught.value.problems
    assert problem.file == "layout.looks.json"
    assert "how often the season was looked at" in problem.fix


def test_two_reports_are_held_against_each_other_by_name(trial: Path) -> None:
    records(trial, 2)
    analyzed(trial, "early")
    records(trial, 3)
    analyzed(trial, "late")
    outcome = audit(trial.parent / "late", against=trial.parent / "early")
    assert outcome.serious == 0  # other inputs: nobody claims that they say the same
    by_place = {f.place: f.sentence for f in outcome.findings if f.kind == "against"}
    assert (
        by_place["inputs/sizes.csv"]
        == "other bytes in the other folder (24 rows here, 16 there)"
    )
    (name,) = [p for p in by_place if p.startswith("height, wick against hand")]
    assert "estimate 5.25 here, 2.25 in the other folder" in by_place[name]
    assert any(p.startswith("height, wick (") for p in by_place)
    (looks,) = [s for s in sentences(outcome, "looks") if "two looks" in s]
    assert "here the records end on 2025-09-28, in the other folder on 2025-08-01" in looks
    assert looks.endswith("that is the one until 2025-09-28")

    same = audit(trial.parent / "late", against=trial.parent / "late")
    assert sentences(same, "against") == ["the two reports say the same"]


def test_the_last_of_several_dates_is_held_against_the_last_of_an_earlier_look() -> None:
    from support_audit import audited

    held = audited("quarry-oaks")
    late = held.results
    first = late.response("survival")
    last = first.comparisons[0].at
    assert len({c.at for c in first.comparisons if c.estimand == "share alive"}) == 2

    def before(row: Any) -> Any:
        known = row.at == last
        return replace(row, at="2025-08-04", estimate=0.25, verdict=None) if known else row

    moved = replace(first, comparisons=tuple(map(before, first.comparisons)))
    early = replace(late, responses=(moved, *late.responses[1:]))
    found = [
        f for f in differences(late, early, held.files, held.files) if "survival, " in f.place
    ]
    name = "survival, capillary wick against hand watering (share alive, 2025-10-13)"
    (told,) = [f.sentence for f in found if f.place == name]
    assert 'verdict "better" here, nothing in the other folder' in told
    assert "estimate 0.318 here, 0.250 in the other folder" in told
    assert 'at "2025-10-13" here, "2025-08-04" in the other folder' in told
    assert not [f for f in found if "only" in f.sentence]
    assert not [f for f in found if "2025-07-01" in f.place]


def test_reports_of_the_same_inputs_must_say_the_same(trial: Path) -> None:
    records(trial, 3)
    analyzed(trial, "one")
    analyzed(trial, "two")
    file = trial.parent / "two" / "results.json"
    plain = json.loads(file.read_text())
    plain["responses"][0]["comparisons"][0]["verdict"] = "worse"
    file.write_text(json.dumps(plain))
    outcome = audit(trial.parent / "one", against=trial.parent / "two")
    found = [f for f in outcome.findings if f.kind == "against" and f.serious]
    assert [f.place.split(" (")[0] for f in found] == ["height, wick against hand"]
    assert "verdict" in found[0].sentence
    assert '"worse" in the other folder' in found[0].sentence
    read = read_results(file.read_bytes())
    another = replace(read, trial=replace(read.trial, id="another"))
    found = differences(read, another, {}, {})
    assert [(f.place, f.weight) for f in found] == [("trial.id", "serious")]
