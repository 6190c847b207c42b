"""What a power rests on is kept beside it: a past season's results.json, byte for byte."""

import hashlib
import json
from pathlib import Path

import pytest
from open import make_tables

import wickstats as ws
from wickstats.cli.app import run

TRIAL = """\
format: 1
trial: {id: next}
factors: {group: [{name: old, reference: true}, {name: new}]}
design: {type: completely randomized, replicates: 12, layout: layout.csv}
responses: [{name: weight, kind: measurement, column: weight, measured_in: g}]
plan: {primary: weight, matters: {weight: {difference: 0.8}}}
"""


def test_the_past_results_are_copied_in_under_their_digest(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    trial = ws.read_trial(make_tables.lay_out("plant-growth", tmp_path / "plant-growth"))
    past = ws.write_report(ws.analyze(trial, ws.read_records(trial)), tmp_path / "report")
    file = tmp_path / "trial.yaml"
    file.write_text(TRIAL, encoding="utf-8")
    asked = ["power", str(file), "--from", str(past), "--json"]
    assert run(asked) == 0
    plain = capsys.readouterr().out
    kept = tmp_path / "kept" / "parts"
    for _ in range(2):  # a second time over the first copy
        assert run([*asked, "--keep", str(kept)]) == 0
        assert capsys.readouterr().out == plain
    data = (past / "results.json").read_bytes()
    digest = hashlib.sha256(data).hexdigest()
    assert json.loads(plain)["past"]["sha256"] == digest
    (copy,) = kept.iterdir()
    assert copy.name == f"past-{digest[:16]}-results.json"
    assert copy.read_bytes() == data
    # without --keep nothing is written
    assert sorted(p.name for p in tmp_path.iterdir()) == [
        "kept", "plant-growth", "report", "trial.yaml",
    ]  # fmt: skip
