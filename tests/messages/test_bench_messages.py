"""Bad tables of readings and layouts of the bench, and the exact words they get."""
# ruff: noqa: E501  (messages are quoted whole, as a reader sees them)

from dataclasses import dataclass
from pathlib import Path

import pandas as pd
import pytest
from support_bench import CORD, FLOW, RISE, WASHED, bench_trial, coil_layout, run_layout

import wickstats as ws
from wickstats.design.trial import Trial

BOTH = f"{FLOW}\n{RISE}"


@dataclass(frozen=True)
class Case:
    """Readings and what is asked about them; ``used``: rows that stay."""

    name: str
    text: str
    queries: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()
    used: int = 2
    design: str = ""
    responses: str = RISE


CASES = (
    Case(
        "heights that fall",
        "run,plot,minutes,height_mm\n1,1-0,10,80\n1,1-0,20,60\n",
        (
            "readings.csv, row 3, column height_mm: readings fall: found a wet front that falls: 60 after 80 in height_mm, piece 1-0 in run 1; expected readings that grow from minute to minute; to mend it: correct the reading or its minute; the rows are used as they are",
        ),
    ),
    Case(
        "volumes that fall",
        "run,plot,minutes,volume_ml\n1,1-0,10,8\n1,1-0,20,6\n1,control,10,0.1\n",
        (
            "readings.csv, row 3, column volume_ml: readings fall: found less water than before: 6 after 8 in volume_ml, piece 1-0 in run 1; expected readings that grow from minute to minute; to mend it: correct the reading or its minute; the rows are used as they are",
        ),
        used=3,
        design=", evaporation_controls: 1",
        responses=FLOW,
    ),
    Case(
        "minutes below zero",
        "run,plot,minutes,height_mm\n1,1-0,-5,80\n1,1-0,20,90\n",
        problems=(
            "readings.csv, row 2, column minutes: below its limit: found -5; expected a number not below 0; to mend it: correct it, or leave the cell blank and say why in a note",
        ),
    ),
    Case(
        "a minute twice with two heights",
        "run,plot,minutes,height_mm\n1,1-0,10,80\n1,1-0,10,85\n1,1-1,10,70\n",
        (
            "readings.csv, row 2: conflicting duplicates: found rows 2 and 3, which contradict each other; expected one row for one piece at one minute; to mend it: correct or delete the wrong rows; none of them is used",
        ),
        used=1,
    ),
    Case(
        "above the top",
        "run,plot,minutes,height_mm\n1,1-0,60,230\n1,1-1,60,100\n",
        (
            "readings.csv, row 2, column height_mm: above the top: found 230 mm without reached_top in row 2; expected at most 200 mm, the top_mm of the response, or reached_top; to mend it: correct the height, top_mm or reached_top; it counts as having reached the top",
        ),
    ),
    Case(
        "at the top below it",
        "run,plot,minutes,height_mm,reached_top\n1,1-0,60,150,yes\n1,1-1,60,100,no\n",
        (
            "readings.csv, row 2, column height_mm: below the top: found reached_top at 150 mm in row 2; expected 200 mm, the top_mm of the response; to mend it: correct one of the two; it counts as having reached the top",
        ),
    ),
    Case(
        "two heads in one run",
        "run,plot,minutes,volume_ml,head_mm\n1,1-0,10,5,100\n1,1-0,20,9,200\n1,control,10,0.1,\n",
        (
            "readings.csv, row 2, column head_mm: mixed heads: found heads of 100, 200 mm for piece 1-0 in run 1; expected one head of water for a piece in a run; to mend it: give each head a run of its own; the flow of this piece in this run is not used",
        ),
        used=3,
        design=", evaporation_controls: 1",
        responses=FLOW,
    ),
    Case(
        "water that boils",
        "run,plot,minutes,height_mm,temperature_c\n1,1-0,60,90,195\n1,1-1,60,100,19.5\n",
        (
            "readings.csv, row 2, column temperature_c: impossible temperature: found 195 degC for water in row 2; expected 0 to 60 degC; to mend it: correct it, or say its unit with measured_in; the readings are used, the temperature is not",
        ),
    ),
    Case(
        "no control named",
        "run,plot,minutes,volume_ml\n1,1-0,60,9\n1,1-1,60,10\n",
        (
            "readings.csv, column volume_ml: no evaporation control: found volumes, but no evaporation_controls under design; expected cups without a cord in every run; to mend it: name how many there were, and write their readings as plot control; until then what evaporates counts as flow",
        ),
        responses=FLOW,
    ),
    Case(
        "a run without its control",
        "run,plot,minutes,volume_ml\n1,1-0,60,9\n1,control,60,0.1\n2,2-0,60,10\n",
        (
            "readings.csv, column plot: no evaporation control: found no readings of a control in run 2; expected 1 in every run, as evaporation_controls says; to mend it: add them as plot control; until then the mean of the other runs' controls is taken off, or nothing where there are none",
        ),
        used=3,
        design=", evaporation_controls: 1",
        responses=FLOW,
    ),
    Case(
        "a piece in another run",
        "run,plot,minutes,height_mm\n2,1-0,60,90\n1,1-1,60,100\n",
        (
            "readings.csv, row 2, column run: another run: found piece 1-0 in run 2; expected run 1, as in the layout; to mend it: correct the run here or in the layout; the readings are used for the piece as it was laid out",
        ),
    ),
    Case(
        "one reading of a piece in another run",
        "run,plot,minutes,height_mm\n1,1-0,60,90\n2,1-0,120,95\n1,1-1,60,100\n",
        (
            "readings.csv, row 3, column run: another run: found piece 1-0 in run 2; expected run 1, as in the layout; to mend it: correct the run here or in the layout; the readings are used for the piece as it was laid out",
        ),
        used=3,
    ),
    Case(
        "a word for reached_top",
        "run,plot,minutes,height_mm,reached_top\n1,1-0,60,150,almost\n1,1-1,60,100,no\n",
        problems=(
            "readings.csv, row 2, column reached_top: not yes or no: found almost; expected yes or no; to mend it: write yes, no, or nothing",
        ),
    ),
    Case(
        "nothing read",
        "run,plot,minutes,height_mm\n1,1-0,60,\n1,1-1,60,100\n",
        (
            "readings.csv, row 2: no reading: found neither a height nor a volume in row 2; expected a height_mm, a volume_ml, or reached_top; to mend it: fill it in; the rows are not used, blank is not zero",
        ),
        used=1,
    ),
)


@pytest.mark.parametrize("case", CASES, ids=lambda c: c.name)
def test_readings_are_asked_about_in_place(case: Case, tmp_path: Path) -> None:
    trial = bench_trial(tmp_path, responses=case.responses, design=case.design)
    (tmp_path / "readings.csv").write_text(case.text, encoding="utf-8")
    run_layout(3).to_csv(tmp_path / "layout.csv", index=False)
    if case.problems:
        with pytest.raises(ws.RecordsError) as caught:
            ws.read_records(trial)
        assert tuple(map(str, caught.value.problems)) == case.problems
        return
    season = ws.read_records(trial)
    asked = tuple(str(q) for q in season.queries if q.code != "plots without records")
    assert asked == case.queries
    kept = len(season.tables["readings"])
    assert kept == case.used
    # nothing is lost: what is not used is listed
    assert kept + len(season.exclusions) == len(case.text.strip().splitlines()) - 1


def test_a_control_is_unknown_where_the_design_has_none(tmp_path: Path) -> None:
    trial = bench_trial(tmp_path)
    (tmp_path / "readings.csv").write_text(
        "run,plot,minutes,volume_ml\n1,control,60,0.1\n", encoding="utf-8"
    )
    run_layout(2).to_csv(tmp_path / "layout.csv", index=False)
    with pytest.raises(ws.RecordsError, match="unknown plot"):
        ws.read_records(trial)


def _layout_words(trial: Trial, frame: pd.DataFrame, folder: Path) -> list[str]:
    frame.to_csv(folder / "layout.csv", index=False)
    with pytest.raises(ws.LayoutError) as caught:
        ws.read_layout(trial)
    return [str(p) for p in caught.value.problems]


def test_a_piece_on_two_coils(tmp_path: Path) -> None:
    trial = bench_trial(tmp_path, f"{CORD}\n{WASHED}", "split-plot")
    frame = coil_layout(2, 2)
    frame.loc[1, "plot"] = frame.loc[2, "plot"]
    words = _layout_words(trial, frame, tmp_path)
    assert (
        'layout.csv, row 4, column coil: piece on two coils: found piece "1-1-0" of coil "c1", in row 3 of coil "c0"; expected a piece cut from one coil; to mend it: correct the coil, or give the second piece a name of its own'
        in words
    )


def test_a_coil_of_two_cords(tmp_path: Path) -> None:
    trial = bench_trial(tmp_path, f"{CORD}\n{WASHED}", "split-plot")
    frame = coil_layout(2, 2)
    frame.loc[len(frame) - 1, "cord"] = "A"
    words = _layout_words(trial, frame, tmp_path)
    assert (
        'layout.csv, row 17, column cord: coil spans levels: found coil "c3" holds B, A; expected one level of cord in a coil; to mend it: correct the coil or the level; give every coil a name of its own'
        in words
    )


def test_a_cord_needs_its_coils_named(tmp_path: Path) -> None:
    trial = bench_trial(tmp_path, CORD, "completely randomized")
    frame = coil_layout(2, 1, ("no",)).drop(columns="coil")
    assert any('found no column "coil"' in w for w in _layout_words(trial, frame, tmp_path))


def test_washing_of_whole_coils_belongs_to_the_coil(tmp_path: Path) -> None:
    trial = bench_trial(tmp_path)
    frame = run_layout(4)
    frame["coil"] = ["c1" if w == "no" else "c2" for w in frame["washing"]]
    words = _layout_words(trial, frame, tmp_path)
    assert words == [
        "layout.csv, row 2, column washing: whole coils: found every coil with one level of washing, though it is applied to piece; expected pieces of one coil with different levels; to mend it: write applied_to: coil for it: pieces of one coil are then no replicates, and coils are compared"
    ]


def test_a_bench_split_plot_is_of_coils_and_pieces(tmp_path: Path) -> None:
    with pytest.raises(ws.TrialError) as caught:
        bench_trial(tmp_path, f"{WASHED}\n{WASHED.replace('washing', 'vent')}", "split-plot")
    assert any("applied to coil" in str(p) for p in caught.value.problems)


def test_vented_readings_that_contradict_the_layout_are_asked_about(tmp_path: Path) -> None:
    setting = "  setting: {applied_to: piece, levels: [{name: vented, reference: true}, {name: sealed}]}"
    trial = bench_trial(tmp_path, setting, design=", evaporation_controls: 1")
    layout = run_layout(3, ("vented", "sealed")).rename(columns={"washing": "setting"})
    layout.to_csv(tmp_path / "layout.csv", index=False)
    (tmp_path / "readings.csv").write_text(
        "run,plot,minutes,volume_ml,vented\n"
        "1,1-0,60,9,yes\n1,1-0,120,18,no\n1,1-1,60,3,yes\n1,1-1,120,6,yes\n"
        "2,2-0,60,9,\n2,2-1,60,3,no\n1,control,60,0.1,\n2,control,60,0.1,\n",
        encoding="utf-8",
    )
    season = ws.read_records(trial)
    asked = [str(q) for q in season.queries if q.code == "vented otherwise"]
    assert asked == [
        "readings.csv, row 3, column vented: vented otherwise: found vented no for piece 1-0 in row 3, which the layout has vented; expected a piece that stood vented, as in the layout; to mend it: correct the column vented, or the layout if the piece stood sealed by mistake; the readings are used for the piece as it was laid out",
        "readings.csv, row 4, column vented: vented otherwise: found vented yes for piece 1-1 in rows 4 and 5, which the layout has sealed; expected a piece that stood sealed, as in the layout; to mend it: correct the column vented, or the layout if the piece stood vented by mistake; the readings are used for the piece as it was laid out",
    ]
    assert len(season.tables["readings"]) == 8
    assert not season.exclusions


def test_a_factor_named_vented_says_it_by_yes_and_no(tmp_path: Path) -> None:
    trial = bench_trial(tmp_path, WASHED.replace("washing", "vented"))
    layout = run_layout(2).rename(columns={"washing": "vented"})
    layout.to_csv(tmp_path / "layout.csv", index=False)
    (tmp_path / "readings.csv").write_text(
        "run,plot,minutes,volume_ml,vented\n1,1-0,60,9,no\n1,1-1,60,3,no\n", encoding="utf-8"
    )
    asked = [q for q in ws.read_records(trial).queries if q.code == "vented otherwise"]
    assert [q.row for q in asked] == [3]


def test_a_height_and_a_volume_of_one_minute_may_stand_in_two_rows(tmp_path: Path) -> None:
    trial = bench_trial(tmp_path, responses=f"{FLOW}\n{RISE}")
    layout = ws.read_layout(trial, run_layout(2))
    rows = [
        (run, f"{run}-{k}", minute, *told)
        for run in (1, 2)
        for k in (0, 1)
        for minute in (30, 60)
        for told in ((minute + k, None), (None, 2.0 * minute))
    ]
    heads = ["run", "plot", "minutes", "height_mm", "volume_ml"]
    frame = pd.DataFrame(rows, columns=heads)
    season = ws.read_records(trial, layout=layout, tables={"readings": frame})
    assert [q.code for q in season.queries] == ["no evaporation control"]
    assert season.exclusions == ()
    assert len(season.table("readings")) == 16
    # two heights of one minute still contradict each other
    wrong = pd.DataFrame([*rows, (1, "1-0", 60, 99.0, None)], columns=heads)
    season = ws.read_records(trial, layout=layout, tables={"readings": wrong})
    assert "conflicting duplicates" in [q.code for q in season.queries]
    assert len(season.exclusions) == 2
