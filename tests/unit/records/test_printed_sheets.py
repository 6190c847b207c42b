"""Prepared sheets: rows nobody filled in yet, and plants told by their labels' codes."""

from pathlib import Path

import pytest

from wickstats.api import read_records, read_trial
from wickstats.core.errors import RecordsError
from wickstats.layout.codes import with_check
from wickstats.layout.plant_codes import SIGNS, plant_code

A, B = with_check("KA"), with_check("TW")
TRIAL = """\
format: 1
trial: {id: two, season: {start: 2025-03-01, end: 2025-10-01}}
factors: {watering: [{name: hand, reference: true}, wick]}
design: {type: completely randomized, layout: layout.csv, drawn: elsewhere}
records: {visits: visits.csv, events: events.csv}
responses: [{name: survival, kind: survival, at: [2025-09-01]}]
"""


def season_of(folder: Path, visits: str, events: str = "") -> object:
    (folder / "trial.yaml").write_text(TRIAL, encoding="utf-8")
    plots = [A, B, with_check("CD"), with_check("MN")]
    rows = [f"{p},{'hand' if i % 2 else 'wick'},3" for i, p in enumerate(plots)]
    (folder / "layout.csv").write_text(
        "plot,watering,plants\n" + "\n".join(rows) + "\n", encoding="utf-8"
    )
    (folder / "visits.csv").write_text(
        "date,plot,plant,status,note\n" + visits, encoding="utf-8"
    )
    (folder / "events.csv").write_text(
        "date,plot,what,plant,new_plant,note\n" + events, encoding="utf-8"
    )
    return read_records(read_trial(folder / "trial.yaml"))


SEEN = f"2025-04-01,{A},1,alive,\n2025-04-01,{A},2,alive,\n2025-04-01,{B},1,dead,\n"


def test_rows_without_anything_filled_in_are_no_observations(tmp_path: Path) -> None:
    season = season_of(tmp_path, SEEN + f",{A},1,,\n,{A},2,,\n,{B},1,,\n,{B},2,,\n")
    assert len(season.tables["visits"]) == 3
    assert season.exclusions == ()
    (note,) = [n for n in season.notes if n.code == "not filled in yet"]
    assert note.found == "4 rows with nothing but what was printed there"
    assert note.row == 5


def test_a_row_with_a_day_or_a_note_is_not_passed_over(tmp_path: Path) -> None:
    season = season_of(tmp_path, SEEN + f"2025-05-01,{A},1,,\n,{A},2,,label lost\n")
    assert [e.reason for e in season.exclusions] == ["no status", "no status"]


def test_codes_of_labels_are_plants_by_number(tmp_path: Path) -> None:
    one, two = plant_code(A, "1").split("/")[1], plant_code(A, "2")
    season = season_of(
        tmp_path,
        SEEN + f"2025-05-01,{A},{one.lower()},alive,\n2025-05-01,{A},{two},dead,\n",
        f"2025-05-02,{A},browsed,{two},,\n",
    )
    assert set(season.tables["visits"]["plant"]) == {"1", "2"}
    assert list(season.tables["events"]["plant"]) == ["2"]


def test_a_wrong_letter_or_another_plot_is_a_problem_with_its_place(tmp_path: Path) -> None:
    letter = plant_code(A, "1")[-1]
    wrong = "1" + next(s for s in SIGNS if s != letter)
    events = f"2025-05-02,{A},browsed,{wrong},,\n2025-05-02,{B},leak,{plant_code(A, '1')},,\n"
    with pytest.raises(RecordsError) as error:
        season_of(tmp_path, SEEN, events)
    first, second = error.value.problems
    assert str(first.place) == "events.csv, row 2, column plant"
    assert first.found == f"plant {wrong} in plot {A}"
    assert first.expected == f"{plant_code(A, '1')}, if plant 1 of plot {A} is meant"
    assert second.expected == f"a plant of plot {B}"


def test_names_that_only_look_like_codes_stay_names(tmp_path: Path) -> None:
    letter = plant_code(A, "1")[-1]
    names = ["1" + s for s in SIGNS if s not in (letter, plant_code(B, "1")[-1])][:3]
    visits = "".join(f"2025-04-01,{p},{n},alive,\n" for p in (A, B) for n in names)
    season = season_of(tmp_path, visits)
    assert set(season.tables["visits"]["plant"]) == set(names)


def test_a_name_that_the_event_gives_a_replacement_stays(tmp_path: Path) -> None:
    letter = plant_code(A, "2")[-1]
    name = "2" + next(s for s in SIGNS if s != letter)
    season = season_of(
        tmp_path,
        SEEN + f"2025-06-01,{A},{name},alive,\n",
        f"2025-05-02,{A},replaced,2,{name},\n",
    )
    assert name in set(season.tables["visits"]["plant"])
