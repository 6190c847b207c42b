"""Every number that was computed twice agrees, and what was not says why."""

from pathlib import Path

import pytest

import wickstats as ws
from wickstats.demo.trials import TRIALS, copy_demo


@pytest.mark.parametrize("name", TRIALS)
def test_the_second_engine_agrees_on_the_demo(name: str, tmp_path: Path) -> None:
    folders = {folder.name: folder for folder in copy_demo(tmp_path)}
    trial = ws.read_trial(folders[name] / "trial.yaml")
    rows = ws.analyze(trial, ws.read_records(trial)).second_engine
    checked = [row for row in rows if row.not_checked is None]
    assert [row.what for row in checked if not row.agrees] == []
    assert any("standard error" in row.what for row in checked)
    assert any("dense generalized least squares" in row.what for row in checked)


def test_a_layout_without_its_record_is_told(tmp_path: Path) -> None:
    folder = copy_demo(tmp_path)[0]
    (folder / "layout.record.json").unlink()
    trial = ws.read_trial(folder / "trial.yaml")
    (told,) = [
        d for d in ws.analyze(trial, ws.read_records(trial)).deviations if "record" in d.what
    ]
    assert told.done.startswith("none was read")
