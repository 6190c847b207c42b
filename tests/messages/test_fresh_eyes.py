"""What a first-time user runs into: mistakes that were once met with silence or a fault."""

import json
import re
from pathlib import Path

import pytest

from wickstats.api import analyze, power, randomize, read_records, read_trial
from wickstats.cli.app import run
from wickstats.core.errors import AnalysisError, LayoutError, RecordsError, TrialError
from wickstats.core.results import Results
from wickstats.demo.trials import copy_demo
from wickstats.records.findings import MOST_ALIKE, Findings

TRIAL = """format: 1
trial: {id: small, season: {start: 2026-03-01, end: 2026-10-31}}
factors: {watering: [{name: hand, reference: true}, {name: wick}]}
design: {type: randomized complete block, blocks: 3, plants_per_plot: 2, layout: layout.csv}
records: {measurements: {file: sizes.csv}}
responses: [{name: height, kind: growth, column: height_cm, measured_in: cm, better: more}]
plan: {primary: height, matters: {height: {ratio: 1.15}}}
"""


def season_in(folder: Path, last: str = "31") -> Path:
    """A drawn layout and one size a plant; ``last`` is the text of the last size."""
    file = folder / "trial.yaml"
    file.write_text(TRIAL, encoding="utf-8")
    layout = randomize(read_trial(file))
    layout.write()
    lines = ["date,plot,plant,height_cm"]
    for k, plot in enumerate(layout.plots):
        lines += [f"2026-10-30,{plot.plot},{plant},{30 + 2 * k + plant}" for plant in (1, 2)]
    lines[-1] = lines[-1].rsplit(",", 1)[0] + "," + last
    (folder / "sizes.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return file


def run_all(file: Path) -> Results:
    trial = read_trial(file)
    return analyze(trial, read_records(trial))


def test_plan_changed_after_the_draw_is_a_departure(tmp_path: Path) -> None:
    file = season_in(tmp_path)
    assert run_all(file).deviations == ()
    file.write_text(TRIAL.replace("ratio: 1.15", "ratio: 1.5"), encoding="utf-8")
    (found,) = run_all(file).deviations
    assert "plan" in found.planned


def problems_in(folder: Path, table: str | bytes) -> list[str]:
    """What is said of a whole table of sizes; PLOT stands for the first plot's name."""
    file = season_in(folder)
    trial = read_trial(file)
    plot = (folder / "layout.csv").read_text(encoding="utf-8").splitlines()[1].split(",")[0]
    data = table if isinstance(table, bytes) else table.replace("PLOT", plot).encode()
    (folder / "sizes.csv").write_bytes(data)
    with pytest.raises(RecordsError) as caught:
        read_records(trial)
    return [str(problem) for problem in caught.value.problems]


def test_decimal_comma_that_cuts_a_cell_in_two(tmp_path: Path) -> None:
    """The line ends in a blank note, so nothing filled stands behind the last head."""
    rows = "date,plot,plant,height_cm,note\n2026-10-30,PLOT,1,31.5,\n2026-10-30,PLOT,2,32,5,\n"
    (found,) = problems_in(tmp_path, rows)
    assert found == (
        "sizes.csv, row 3: too many cells: found 6 cells; expected 5, one for each column "
        "head; to mend it: put quotation marks around text that holds the delimiter"
    )


def test_blank_cells_behind_every_line_are_no_matter(tmp_path: Path) -> None:
    file = season_in(tmp_path)
    lines = (tmp_path / "sizes.csv").read_text(encoding="utf-8").splitlines()
    text = "\n".join([lines[0], *(line + ",," for line in lines[1:])])
    (tmp_path / "sizes.csv").write_text(text, encoding="utf-8")
    assert len(read_records(read_trial(file)).tables["measurements"]) == 12


def test_workbook_under_the_name_of_a_text(tmp_path: Path) -> None:
    (found,) = problems_in(tmp_path, b"PK\x03\x04\x14\x00\x06\x00\x08\x80")
    assert found == (
        "sizes.csv: not text: found a workbook (or another packed file) under this name; "
        "expected text in UTF-8; to mend it: name it .xlsx, here and in the trial file, "
        'or save the sheet as "CSV UTF-8"'
    )


@pytest.mark.parametrize("text", ["1e300", "1e13", "-10000000000000"])
def test_number_beyond_every_quantity(tmp_path: Path, text: str) -> None:
    (found,) = problems_in(tmp_path, f"date,plot,plant,height_cm\n2026-10-30,PLOT,1,{text}\n")
    assert found == (
        f"sizes.csv, row 2, column height_cm: unreadable value: found {text}; "
        "expected a number, or a blank; to mend it: correct it: nothing beyond 1e+12 is taken "
        "for a quantity"
    )


def test_year_zero_is_no_year(tmp_path: Path) -> None:
    (found,) = problems_in(tmp_path, "date,plot,plant,height_cm\n0000-10-30,PLOT,1,30\n")
    assert found.endswith("to mend it: there is no such day: correct it")


@pytest.mark.parametrize("text", ["0", "-5"])
def test_size_not_above_zero_is_asked_about(tmp_path: Path, text: str) -> None:
    file = season_in(tmp_path, text)
    (query,) = read_records(read_trial(file)).queries
    assert query.row == 13
    assert query.code == "not above zero"
    assert query.found.startswith(f"height_cm {text} for plant 2 of plot ")
    assert query.fix.endswith("the value is left out of the analysis")
    assert [r for r in run_all(file).responses[0].cautions if r.endswith("left out: 1")]


def test_file_named_twice_is_told_at_its_place(tmp_path: Path) -> None:
    file = season_in(tmp_path)
    file.write_text(TRIAL.replace("{file: sizes.csv}", "[sizes.csv, sizes.csv]"), "utf-8")
    with pytest.raises(TrialError) as caught:
        read_trial(file)
    assert str(caught.value) == (
        "trial.yaml, line 5, column 37: duplicate file: found "
        '"sizes.csv" a second time for measurements; expected each file (or sheet of a '
        "workbook) once; to mend it: take one of the two out"
    )


def test_season_without_rows_says_so_on_a_line_for_each_response(tmp_path: Path) -> None:
    file = season_in(tmp_path)
    (tmp_path / "sizes.csv").write_text("date,plot,plant,height_cm\n", encoding="utf-8")
    second = TRIAL.replace(
        "responses: [",
        "responses: [{name: size, kind: growth, column: height_cm, measured_in: cm}, ",
    )
    file.write_text(second, encoding="utf-8")
    with pytest.raises(AnalysisError) as caught:
        run_all(file)
    assert str(caught.value).splitlines() == [
        f"the season holds no usable rows for {name}: fill them in, or correct the table and "
        "column that it is read from"
        for name in ("size", "height")
    ]


def test_record_that_is_no_object_is_told_in_words(tmp_path: Path) -> None:
    file = season_in(tmp_path)
    (tmp_path / "layout.record.json").write_text("[1]", encoding="utf-8")
    with pytest.raises(LayoutError, match="found expected an object; expected the record"):
        read_records(read_trial(file))


ELSEWHERE = """format: 1
trial: {id: rates}
factors: {rate: [{name: low, reference: true}, {name: high}]}
design: {type: randomized complete block, layout: layout.csv, drawn: elsewhere}
responses: [{name: grain, kind: measurement, column: kg, measured_in: kg, better: more}]
plan: {primary: grain, matters: {grain: {difference: 5}}}
power: {assume: {grain: {mean: {low: 100, high: 110}, plot_cv: 0.01}}}
"""


@pytest.mark.parametrize("design", ["randomized complete block", "completely randomized"])
def test_power_takes_sizes_from_an_existing_layout(tmp_path: Path, design: str) -> None:
    """Where the file leaves the sizes to the layout, both say the same."""
    block = "block," if "block" in design else ""
    rows = [f"plot,{block}rate"]
    for b in "ABCD":
        rows += [f"{b}{r},{b + ',' if block else ''}{r}" for r in ("low", "high")]
    (tmp_path / "layout.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    file = tmp_path / "trial.yaml"
    text = ELSEWHERE.replace("randomized complete block", design)
    file.write_text(text, encoding="utf-8")
    found = power(read_trial(file))
    assert found.blocks == 4
    size = "blocks: 4" if "block" in design else "replicates: 4"
    file.write_text(text.replace("layout: l", f"{size}, layout: l"), encoding="utf-8")
    assert power(read_trial(file)).rows == found.rows
    lines = found.lines()
    assert any(f"{found.word} needed for" in line.lower() for line in lines)
    assert any("has a chance of more than 99" in line for line in lines)


def test_many_alike_are_told_to_people_once_and_to_programs_all(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = "".join(f"2026-10-30,PLOT,{k},high\n" for k in range(30))
    assert len(problems_in(tmp_path, "date,plot,plant,height_cm\n" + rows)) == 30
    assert run(["check", str(tmp_path / "trial.yaml")]) == 1
    shown = capsys.readouterr().err
    assert shown.count("unreadable value") == 4
    assert "    and 26 more like this, in rows 6 to 31\n30 problems\n" in shown
    assert run(["check", "--json", str(tmp_path / "trial.yaml")]) == 1
    assert len(json.loads(capsys.readouterr().out)["problems"]) == 30
    with pytest.raises(RecordsError, match=r"and 26 more like this, in rows 6 to 31$"):
        read_records(read_trial(tmp_path / "trial.yaml"))


def test_a_column_that_is_wrong_throughout_is_counted_at_last() -> None:
    out = Findings()
    for row in range(MOST_ALIKE + 7):
        out.problem("a.csv", "bad", found="x", expected="y", fix="z", row=row, column="c")
    found = out.sorted_problems(["a.csv"])
    assert len(found) == MOST_ALIKE + 1
    assert found[-1].found == "7 more of this kind, the last one in this row"
    assert found[-1].row == MOST_ALIKE + 6


def test_cell_without_end_is_called_so(tmp_path: Path) -> None:
    (found,) = problems_in(tmp_path, "date,plot,plant,height_cm\n" + "x" * 200_000)
    assert found.startswith(
        "sizes.csv, row 2: broken text: found a cell of more than 131072 char"
    )


def test_a_ratio_below_one_is_told_how_to_turn_it(tmp_path: Path) -> None:
    file = tmp_path / "trial.yaml"
    file.write_text(TRIAL.replace("ratio: 1.15", "ratio: 0.8"), encoding="utf-8")
    with pytest.raises(TrialError, match=r"1/0\.8 = 1\.25 the other"):
        read_trial(file)
    file.write_text(TRIAL.replace("ratio: 1.15", "ratio: 0"), encoding="utf-8")
    with pytest.raises(TrialError, match="write a number above 1"):
        read_trial(file)


def test_a_factor_called_treatment_beside_another_is_told_why_not(tmp_path: Path) -> None:
    file = tmp_path / "trial.yaml"
    two = "factors: {mulch: [none, straw], treatment:"
    file.write_text(TRIAL.replace("factors: {watering:", two), encoding="utf-8")
    with pytest.raises(TrialError, match="treatment means their combination"):
        read_trial(file)


def test_sentences_quoted_in_the_readme_are_those_of_the_demo(tmp_path: Path) -> None:
    folder = tmp_path / "demo"
    copy_demo(folder)
    results = run_all(folder / "quarry-oaks" / "trial.yaml")
    said = [
        " ".join(str(c.sentence).lower().split())
        for c in results.response("survival").comparisons
    ]
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    quoted = "\n".join(line[2:] for line in readme.splitlines() if line.startswith("> "))
    for paragraph in re.split(r"\n(?=We cannot)", quoted):
        assert " ".join(paragraph.lower().split()) in said


def test_where_no_difference_is_assumed_no_chance_to_show_it_is_printed(tmp_path: Path) -> None:
    three = TRIAL.replace("{name: wick}", "{name: wick}, {name: pot}")
    means = "mean: {hand: 30, wick: 30, pot: 36}, plot_cv: 0.1"
    file = tmp_path / "trial.yaml"
    file.write_text(three + f"power: {{assume: {{height: {{{means}}}}}}}\n", encoding="utf-8")
    planned = power(read_trial(file))
    lines = planned.lines()
    assert any(line.startswith("No difference in height is assumed for wick") for line in lines)
    assert not any("too many" in line for line in lines)
    tables: dict[str, list[str]] = {}
    for line in lines:
        if not line.startswith(" "):
            head = line
        tables.setdefault(head, []).append(line)
    assumed = [rows for head, rows in tables.items() if head.endswith("the assumed difference")]
    assert len(assumed) == 2
    for rows in assumed:
        assert any("pot against hand" in row for row in rows)
        assert not any("wick against hand" in row for row in rows)
    smallest = tables["Smallest detectable difference"]
    assert any("wick against hand" in row for row in smallest)
