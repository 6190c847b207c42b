"""Rounds that reached no plot: told as such, and a page is made that says so."""

from pathlib import Path

import pytest

import wickstats as ws
from wickstats.core.errors import AnalysisError
from wickstats.records.visits import NOBODY_WENT

TRIAL = """\
format: 1
trial: {id: flooded-track, season: {start: 2027-04-05, end: 2027-10-04}}
factors: {watering: [{name: hand, reference: true}, {name: wick}]}
design:
  type: randomized complete block
  layout: layout.csv
  drawn: elsewhere
  plants_per_plot: 2
records: {visits: {file: visits.csv}}
responses: [{name: survival, kind: survival, at: [2027-10-04], better: more}]
"""
PLOTS = [("p1", 1, "hand"), ("p2", 1, "wick"), ("p3", 2, "hand"), ("p4", 2, "wick")]


def season(folder: Path, plants: list[str], status: str):
    layout = ["plot,block,watering", *(f"{p},{b},{w}" for p, b, w in PLOTS)]
    rows = [
        f"{day},{plot},{plant},{status}"
        for day in ("2027-06-14", "2027-10-04")
        for plot, _, _ in PLOTS
        for plant in plants
    ]
    texts = {"trial.yaml": TRIAL, "layout.csv": "\n".join(layout)}
    texts["visits.csv"] = "\n".join(["date,plot,plant,status", *rows])
    for name, text in texts.items():
        (folder / name).write_text(text + "\n", encoding="utf-8")
    trial = ws.read_trial(folder / "trial.yaml")
    return trial, ws.read_records(trial)


@pytest.mark.parametrize("plants", [[""], ["1", "2"]])
def test_a_season_in_which_nobody_went_says_so(tmp_path: Path, plants: list[str]) -> None:
    trial, records = season(tmp_path, plants, "not visited")
    if plants == [""]:
        assert [e.reason for e in records.exclusions] == [NOBODY_WENT] * 8
    (found,) = ws.analyze(trial, records).responses
    assert found.comparisons == found.means == ()
    assert found.cautions[0].startswith("nobody reached a plot in any round")


def test_a_season_without_rows_is_no_such_season(tmp_path: Path) -> None:
    trial, records = season(tmp_path, [], "not visited")
    with pytest.raises(AnalysisError, match="no usable rows for survival"):
        ws.analyze(trial, records)
