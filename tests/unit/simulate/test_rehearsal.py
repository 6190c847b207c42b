"""A rehearsal: tables that pass check, the same results from analyze, marks everywhere."""

import hashlib
import json
import re
import shutil
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from support_simulate import HEAD, trial_of

import wickstats as ws
from wickstats.archive.results_file import write_results
from wickstats.cli.commands.analyze import command as analyze_command
from wickstats.cli.commands.audit import command as audit_command
from wickstats.cli.commands.check import command as check_command
from wickstats.cli.commands.rehearse import command as rehearse_command
from wickstats.core.errors import LayoutError, TrialError
from wickstats.design.canonical import canonical_hash
from wickstats.design.read import parse_trial
from wickstats.recheck.audit import audit_folder
from wickstats.report.write import report_files
from wickstats.simulate.files import seal_of, style_of

ROOT = Path(__file__).parents[3]
DEMOS = ROOT / "wickstats" / "demo"
TRIALS = [
    DEMOS / "quarry-oaks",
    DEMOS / "garden-peppers",
    DEMOS / "bench-cords",
    *sorted(p for p in (ROOT / "designs" / "types").iterdir() if p.name != "twelve-sources"),
]
GARDEN = """\
format: 1
trial: {id: beds, season: {start: 2027-05-10, end: 2027-09-27}}
factors: {watering: [{name: can, reference: true}, {name: wick}]}
design: {type: randomized complete block, blocks: 4, layout: layout.csv}
responses:
  - {name: fruit, kind: yield, column: mass_kg}
  - {name: fruit per liter, kind: yield per liter, yield: fruit, water: applied}
plan: {primary: fruit per liter}
water: {planned_l: {can: 300, wick: 150}}
power:
  assume:
    fruit: {mean: {can: 3, wick: 3.2}, plot_cv: 0.15}
"""


def folder_of(text: str, tmp_path: Path) -> Path:
    path = tmp_path / "trial.yaml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize("folder", TRIALS, ids=lambda p: p.name)
def test_tables_pass_check_and_analyze_gives_the_same(folder: Path, tmp_path: Path) -> None:
    trial = ws.read_trial(folder / "trial.yaml")
    rehearsal = ws.rehearse(trial, seed=4)
    assert rehearsal.results.simulated
    # the trial's own weather is kept as it stands, with its gaps
    assert [q for q in rehearsal.results.queries if q.file != "weather.csv"] == []
    assert rehearsal.results.exclusions == ()
    assert not rehearsal.own_layout
    assert canonical_hash(rehearsal.trial) == canonical_hash(trial)
    for name, data in rehearsal.files.items():
        (tmp_path / name).write_bytes(data)
    again = ws.read_trial(tmp_path / "trial.yaml")
    results = ws.analyze(again, ws.read_records(again))
    assert write_results(results) == write_results(rehearsal.results)
    # every response of the trial has an answer
    assert [r.name for r in results.responses] == [r.name for r in trial.responses]
    for response in results.responses:
        assert any(c.estimate is not None for c in response.comparisons), response.name


def test_twelve_sources_through_its_files(tmp_path: Path) -> None:
    trial = ws.read_trial(ROOT / "designs" / "types" / "twelve-sources" / "trial.yaml")
    from wickstats.road.rehearse import rehearse_tables

    for name, data in rehearse_tables(trial, 2).items():
        (tmp_path / name).write_bytes(data)
    season = ws.read_records(ws.read_trial(tmp_path / "trial.yaml"))
    assert season.queries == ()
    assert season.lives is not None
    assert len(season.lives) == 360


def test_same_seed_same_bytes_and_another_seed_others() -> None:
    trial = ws.read_trial(DEMOS / "garden-peppers" / "trial.yaml")
    one, two = ws.rehearse(trial), ws.rehearse(trial, seed=1)
    assert one.files == two.files
    other = ws.rehearse(trial, seed=2)
    assert other.files["season.xlsx"] != one.files["season.xlsx"]
    assert other.files["layout.csv"] == one.files["layout.csv"]


def test_without_a_layout_one_is_drawn_with_a_seed_of_its_own(tmp_path: Path) -> None:
    path = folder_of(GARDEN.replace("layout.csv}", "layout.csv, seed: 5}"), tmp_path)
    trial = ws.read_trial(path)
    rehearsal = ws.rehearse(trial, seed=3)
    assert rehearsal.own_layout
    assert rehearsal.trial.design.seed is None
    record = json.loads(rehearsal.files["layout.record.json"])
    assert record["seed"] != 5
    assert list(tmp_path.iterdir()) == [path]  # nothing written
    # liters of the wick arm are half of the can arm's, drawn from what was planned
    ledger = rehearsal.season.ledger
    assert ledger is not None
    liters = ledger.groupby("treatment")["applied_l"].mean()
    assert liters["wick"] / liters["can"] == pytest.approx(0.5, rel=0.25)


def test_rehearsal_on_the_command_line(tmp_path: Path) -> None:
    path = folder_of(GARDEN, tmp_path)
    run = CliRunner()
    done = run.invoke(rehearse_command, [str(path), "--seed", "3"], catch_exceptions=False)
    assert done.exit_code == 0
    assert done.output.startswith("SIMULATED: no plant was grown for these numbers.\n")
    assert "One was drawn" not in done.output
    assert "another seed than the trial's own will have" in done.output
    assert "visits every 14 (our default) days" in done.output
    out = tmp_path / "rehearsal-beds"
    names = {p.relative_to(out).as_posix() for p in out.rglob("*") if p.is_file()}
    tables = {"picks.csv", "water.csv", "layout.csv", "layout.record.json", "trial.yaml"}
    assert {f"inputs/{name}" for name in tables} <= names
    assert {"report.html", "results.json", "manifest.json"} <= names
    assert json.loads((out / "results.json").read_bytes())["simulated"] is True
    again = str(out / "inputs" / "trial.yaml")
    checked = run.invoke(check_command, [again], catch_exceptions=False)
    assert checked.exit_code == 0
    assert "no problems; 0 queries" in checked.output
    assert "SIMULATED: a season that rehearse made up with the seed 3" in checked.output
    analyzed = run.invoke(analyze_command, [again], catch_exceptions=False)
    assert analyzed.exit_code == 0
    assert "SIMULATED: no plant was grown" in analyzed.output
    # beside the rehearsal, not among its inputs
    report = tmp_path / "report-beds"
    assert (report / "results.json").read_bytes() == (out / "results.json").read_bytes()
    audited = run.invoke(audit_command, [str(out)], catch_exceptions=False)
    assert audited.exit_code == 0
    assert audited.output.startswith("SIMULATED: the report that was audited is a rehearsal")
    page = (tmp_path / "rehearsal-beds-audit.html").read_text(encoding="utf-8")
    assert "<h1>SIMULATED: Audit of rehearsal-beds</h1>" in page
    assert '<p class="banner">SIMULATED: the report that was audited' in page
    # the same again over itself, and never over what is not ours
    assert run.invoke(rehearse_command, [str(path), "--seed", "3"]).exit_code == 0
    (out / "notes.txt").write_text("mine", encoding="utf-8")
    refused = run.invoke(rehearse_command, [str(path)])
    assert isinstance(refused.exception, ws.ReportError)


@pytest.fixture(scope="module")
def beds(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A rehearsal's folder."""
    folder = tmp_path_factory.mktemp("beds")
    path = folder_of(GARDEN, folder)
    return ws.write_report(ws.rehearse(ws.read_trial(path), seed=3).results, folder / "out")


def test_marks_stand_on_the_page_and_its_pictures(beds: Path) -> None:
    page = (beds / "report.html").read_text(encoding="utf-8")
    assert '<p class="banner">SIMULATED: no plant was grown for these numbers.</p>' in page
    assert "<h1>SIMULATED: " in page
    assert "<title>SIMULATED: " in page
    assert '<p class="mark" aria-hidden="true">SIMULATED</p>' in page  # on every sheet of paper
    assert "position:fixed" in page
    captions = re.findall(r"<figcaption><b>(.*?)</b>", page)
    labels = re.findall(r'role="img" aria-label="(.*?)"', page)
    assert captions
    assert len(captions) == len(labels)
    assert all(text.startswith("SIMULATED: ") for text in [*captions, *labels])
    drawn = list((beds / "figures").glob("*.svg"))
    assert len(drawn) >= len(captions)
    for path in drawn:
        svg = path.read_text(encoding="utf-8")
        assert "<title>SIMULATED: " in svg
        assert ">SIMULATED</text>" in svg


def test_a_real_season_has_no_mark(tmp_path: Path) -> None:
    shutil.copytree(DEMOS / "garden-peppers", tmp_path / "g")
    trial = ws.read_trial(tmp_path / "g" / "trial.yaml")
    results = ws.analyze(trial, ws.read_records(trial))
    assert not results.simulated
    assert b"SIMULATED" not in report_files(results)["report.html"]


def test_a_seal_made_anew_over_other_tables_is_found(beds: Path, tmp_path: Path) -> None:
    """Tables changed, sealed and analyzed again: the seed still gives the old ones."""
    work = tmp_path / "work"
    shutil.copytree(beds / "inputs", work)
    picks, trial = work / "picks.csv", work / "trial.yaml"
    rows = picks.read_text(encoding="utf-8").split("\n")
    line = rows[1].split(",")
    rows[1] = ",".join([*line[:3], str(float(line[3]) + 1), *line[4:]])
    picks.write_text("\n".join(rows), encoding="utf-8")
    held = {p.name: p.read_bytes() for p in work.iterdir() if p.name != "trial.yaml"}
    text = trial.read_text(encoding="utf-8")
    trial.write_text(re.sub(r"tables: \w+", f"tables: {seal_of(held)}", text), encoding="utf-8")
    read = ws.read_trial(trial)
    out = ws.write_report(ws.analyze(read, ws.read_records(read)), tmp_path / "report")
    outcome = audit_folder(out, rebuild=report_files)
    (found,) = [f for f in outcome.findings if f.serious]
    assert found.place == "inputs/picks.csv"
    assert found.sentence == (
        "not what the simulation gives from this trial file and its seed 3: the table, the "
        "layout or the assumptions were changed"
    )


@pytest.mark.parametrize("taken", ["trial file", "rows", "one row", "a value", "all results"])
def test_a_mark_that_was_taken_away_is_found(beds: Path, tmp_path: Path, taken: str) -> None:
    """Somebody changes the inputs and lets analyze write a new, consistent report."""
    work = tmp_path / "work"
    shutil.copytree(beds / "inputs", work)
    trial, picks = work / "trial.yaml", work / "picks.csv"
    text = trial.read_text(encoding="utf-8")
    cut = re.sub(r"  simulated:\n    seed: 3\n    tables: \w+\n", "", text)
    assert cut != text
    rows = picks.read_text(encoding="utf-8")
    if taken == "trial file":
        trial.write_text(cut, encoding="utf-8")
    elif taken == "rows":
        picks.write_text(rows.replace("SIMULATED, seed 3", ""), encoding="utf-8")
    elif taken == "one row":
        picks.write_text(rows.replace("SIMULATED, seed 3", "", 1), encoding="utf-8")
    elif taken == "a value":
        picks.write_text(
            rows.replace(",picked,", ",picked,SIMULATED and ", 1), encoding="utf-8"
        )
        line = rows.split("\n")[1].split(",")
        line[3] = str(float(line[3]) + 1)
        picks.write_text(rows.replace(rows.split("\n")[1], ",".join(line)), encoding="utf-8")
    read = ws.read_trial(trial)
    season = ws.read_records(read)
    results = ws.analyze(read, season)
    assert results.simulated  # whichever mark is left says so
    out = ws.write_report(results, tmp_path / "report")
    if taken == "all results":
        data = json.loads((out / "results.json").read_bytes())
        data["simulated"] = False
        (out / "results.json").write_text(json.dumps(data), encoding="utf-8")
    outcome = audit_folder(out, rebuild=report_files)
    told = " ".join(f.sentence for f in outcome.findings if f.serious)
    assert outcome.simulated
    words = {
        "trial file": "the mark was taken out",
        "rows": "rows are not marked SIMULATED",
        "one row": "1 of",
        "a value": "they were changed afterward",
        "all results": "False",
    }
    assert words[taken] in told or (taken == "all results" and "simulated" in str(outcome))
    codes = {q.code for q in season.queries}
    expected = {"trial file": "simulated rows", "rows": "simulated trial"}
    assert expected.get(taken, "") in codes | {""}


def test_missing_assumptions_come_before_anything_else(tmp_path: Path) -> None:
    path = folder_of(GARDEN[: GARDEN.index("power:")], tmp_path)
    with pytest.raises(TrialError) as caught:
        ws.rehearse(ws.read_trial(path))
    (fruit,) = dict.fromkeys(str(p) for p in caught.value.problems)
    assert "nothing assumed about fruit" in fruit
    assert "    fruit: {mean: {can: 3.5, wick: 3.5}, plot_cv: 0.10}" in fruit
    pasted = fruit.split("\n", 1)[1] + "\n"
    assert pasted.startswith("power:\n  assume:\n    fruit:")
    path.write_text(GARDEN[: GARDEN.index("power:")] + pasted, encoding="utf-8")
    assert ws.rehearse(ws.read_trial(path)).results.simulated


def test_without_layout_or_season_it_says_so(tmp_path: Path) -> None:
    path = folder_of(GARDEN.replace("layout.csv}", "layout.csv, drawn: elsewhere}"), tmp_path)
    with pytest.raises(
        LayoutError, match=r"no layout.csv, and plots that were drawn elsewhere"
    ):
        ws.rehearse(ws.read_trial(path))
    bare = GARDEN.replace(", season: {start: 2027-05-10, end: 2027-09-27}", "")
    with pytest.raises(TrialError, match=r"no season in the trial file"):
        ws.rehearse(ws.read_trial(folder_of(bare, tmp_path)))
    with pytest.raises(TrialError, match=r"the seed -1; expected a whole number"):
        ws.rehearse(ws.read_trial(folder_of(GARDEN, tmp_path)), seed=-1)


LIVES = """\
  - {name: survival, kind: survival, at: [2027-07-01, 2027-10-11]}
  - {name: height, kind: growth, column: "height, cm", measured_in: cm, range: [1, 90]}
  - {name: vigor, kind: score, column: vigor, range: [0, 5]}
"""
ASSUMED = """\
    survival:
      alive_at_end: {hand: 0.5, wick: 0.9, drip: 0.7}
      causes: {drought: 0.6, disease: 0.4}
    height: {mean: {hand: 45, wick: 54, drip: 50}, plot_cv: 0.1, plant_cv: 0.25, start_size: 12}
    vigor: {mean: {hand: 2, wick: 4, drip: 3}, plot_sd: 0.4, plant_sd: 0.8}
  crew:
    plots_lost: 0.15
    plants_lost: 0.1
    not_found: 0.05
    replaced: 0.8
    visits_every_d: 10
    visits_spread_d: 4
    reading_cv: 0.02
"""
AWKWARD = """\
records:
  plants: {file: "my plants.csv", delimiter: ";", decimal: ",", dates: 31.12.25, header_row: 3}
  visits: {file: season.xlsx, sheet: Besuche, columns: {status: seen, observer: who}}
  measurements:
    file: sizes.csv
    dates: 12/31/2025
    columns: {"height, cm": {head: "height in mm", measured_in: mm, times: 2}}
  events: {file: season.xlsx, sheet: events, dates: 31/12/2025}
  weather: weather.csv
"""


def test_tables_are_written_as_the_trial_file_reads_them(tmp_path: Path) -> None:
    head = HEAD + AWKWARD
    trial = trial_of(LIVES, ASSUMED, head=head)
    rehearsal = ws.rehearse(trial, seed=6)
    codes = {q.code for q in rehearsal.results.queries}
    assert codes <= {"plots without records", "shrinking"}
    lines = rehearsal.files["my plants.csv"].decode().splitlines()
    assert lines[2].startswith("plot;plant;planted_on")
    assert ";15.03.27;" in lines[3]
    sizes = rehearsal.files["sizes.csv"].decode().splitlines()
    assert sizes[0].startswith("date,plot,plant,height in mm,vigor")
    first = rehearsal.season.tables["measurements"]["height, cm"].iloc[0]
    # 2 x mm / 10 = cm
    assert float(sizes[1].split(",")[3]) == pytest.approx(first * 10 / 2, rel=1e-4)
    lives = rehearsal.season.lives
    assert lives is not None
    assert (lives["fate"] == "not found").any()
    assert (lives["fate"] == "lost").any()
    assert lives["replaces"].notna().any()
    assert set(lives["cause"].dropna()) == {"drought", "disease"}
    late = lives[lives["replaces"].notna()]
    assert (late["planted_on"] > np.datetime64("2027-03-15")).all()
    weather = rehearsal.season.tables["weather"]
    assert len(weather) == 211
    assert (weather["tmax_c"] > weather["tmin_c"]).all()


def test_rounds_are_spread_and_end_on_the_dates_asked_for() -> None:
    rehearsal = ws.rehearse(trial_of(LIVES, ASSUMED), seed=6)
    visits = rehearsal.season.tables["visits"]
    days = (visits["date"] - np.datetime64("2027-03-15")).dt.days
    assert 206 <= days.max() <= 210  # the last round ends with the season
    by_round = sorted(set(days))
    assert any(b - a in (1, 2, 3, 4) for a, b in pairwise(by_round))
    july = (np.datetime64("2027-07-01") - np.datetime64("2027-03-15")).astype(int)
    assert any(july - 4 <= d <= july for d in by_round)


def test_lifetimes_in_days_where_the_trial_keeps_them() -> None:
    head = HEAD.replace(", season: {start: 2027-03-15, end: 2027-10-11}", "")
    head += "records: {lifetimes: lives.csv}\n"
    responses = "  - {name: survival, kind: survival, at: [90]}"
    assume = "    survival: {alive_at_end: {hand: 0.5, wick: 0.9, drip: 0.7}}"
    rehearsal = ws.rehearse(trial_of(responses, assume, head=head), seed=2)
    assert set(rehearsal.files) == {
        "trial.yaml",
        "layout.csv",
        "layout.record.json",
        "lives.csv",
    }
    lives = rehearsal.season.lives
    assert lives is not None
    dead = lives[lives["first_dead"].notna()]
    assert (dead["first_dead"] > dead["last_alive"]).all()
    assert lives["first_dead"].max() <= 90
    assert len(lives) == 90


def test_seasons_of_the_tables_agree_with_those_in_bulk() -> None:
    """One model, two faces: shares and sizes over many rehearsals' truths."""
    from wickstats.layout.randomize import draw
    from wickstats.simulate.assumed import NO_LOSSES
    from wickstats.simulate.one import draw_one
    from wickstats.simulate.resolve import season_model
    from wickstats.simulate.seasons import draw_seasons

    trial = trial_of(LIVES, ASSUMED)
    model = season_model(trial, draw(trial, 3), crew=NO_LOSSES)
    ones = [draw_one(model, seed) for seed in range(400)]
    alive = np.array([np.bincount(o.units[o.dies > 210], minlength=15) for o in ones])
    logs = np.array([np.bincount(o.units, np.log(o.sizes["height"])) / 6 for o in ones])
    many = {n: draw_seasons(model, n, 20_000, seed=1) for n in ("survival", "height")}
    cells = model.places.cells
    for name, drawn in (("survival", alive), ("height", logs)):
        for k in range(3):
            a, b = drawn[:, cells == k], many[name].values[:, cells == k]
            for power in (1, 2):
                center = b.mean()
                x = ((a - center) ** power if power == 2 else a).mean(axis=1)
                y = ((b - center) ** power if power == 2 else b).mean(axis=1)
                error = np.sqrt(x.var() / x.size + y.var() / y.size)
                assert abs(x.mean() - y.mean()) < 4 * error


BENCH = """\
format: 1
trial: {id: cords, place: bench}
factors: {cord: {applied_to: piece, levels: [{name: raw, reference: true}, {name: washed}]}}
design:
  type: randomized complete block
  blocks: 12
  blocked_by: run
  layout: layout.csv
  evaporation_controls: 2
records: {readings: readings.csv}
responses:
  - {name: rise, kind: rise, measure: height at 45 min, top_mm: 150}
  - {name: flow, kind: flow, head_mm: 100}
power:
  assume:
    rise: {mean: {raw: 90, washed: 110}, plot_cv: 0.05, block_cv: 0}
    flow: {mean: {raw: 20, washed: 30}, plot_cv: 0.05, block_cv: 0}
  crew: {plots_lost: 0, reading_cv: 0}
"""


def test_bench_readings_give_what_was_assumed() -> None:
    trial = parse_trial(BENCH.encode(), file="trial.yaml", folder=Path("nowhere"))
    rehearsal = ws.rehearse(trial, seed=2)
    assert rehearsal.results.queries == ()
    readings = rehearsal.files["readings.csv"].decode().splitlines()
    assert sum(",control 2," in line for line in readings) == 12 * 9  # runs times minutes
    for name, means in (("rise", (90, 110)), ("flow", (20, 30))):
        response = next(r for r in rehearsal.results.responses if r.name == name)
        rows = {m.treatment: m.estimate for m in response.means[:2]}
        for treatment, mean in zip(("raw", "washed"), means, strict=True):
            # 12 pieces, cv 0.05; controls take what evaporated off
            assert rows[treatment] == pytest.approx(mean, rel=4 * 0.05 / np.sqrt(12))
    tops = [line for line in readings if ",TRUE," in line]
    assert tops  # some pieces were wet to their top before the two hours were over
    assert all(",150,TRUE," in line for line in tops)


def test_dates_follow_their_example() -> None:
    assert style_of("31/12/2025") == "%d/%m/%Y"
    assert style_of("12-31-25") == "%m-%d-%y"
    assert style_of("2025.12.31") == "%Y.%m.%d"


def test_the_seal_is_over_layout_and_tables(beds: Path) -> None:
    trial = parse_trial(
        (beds / "inputs" / "trial.yaml").read_bytes(), file="trial.yaml", folder=beds
    )
    mark = trial.trial.simulated
    assert mark is not None
    names = sorted(p.name for p in (beds / "inputs").iterdir() if p.name != "trial.yaml")
    lines = [
        f"{n}:{hashlib.sha256((beds / 'inputs' / n).read_bytes()).hexdigest()}\n" for n in names
    ]
    assert mark.tables == hashlib.sha256("".join(lines).encode()).hexdigest()
    assert mark.seed == 3
