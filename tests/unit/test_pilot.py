"""A pilot of one treatment: nothing is compared, variation is told, the next trial sized."""

import pytest

import wickstats as ws
from wickstats.core.errors import AnalysisError, TrialError

PILOT = """format: 1
trial: {id: first-try, invented: true, season: {start: 2026-05-01, end: 2026-09-30}}
factors:
  watering: [{name: cotton wick, detail: 6 mm}]
design: {type: TYPE, SIZE, plants_per_plot: 6, layout: layout.csv, seed: 12}
responses:
  - {name: alive, kind: survival, at: [2026-09-30]}
  - {name: height, kind: measurement, column: height_cm, better: more}
  - {name: fruit, kind: yield, column: mass_kg}
records:
  plants: {file: plants.csv}
  visits: {file: visits.csv}
  measurements: {file: sizes.csv}
  picks: {file: picks.csv}
plan: {primary: alive, secondary: [height]}
power:
  assume:
    alive: {alive_at_end: {cotton wick: 0.8}, plot_correlation: 0.1}
    height: {mean: {cotton wick: 40}, plot_cv: 0.1, plant_cv: 0.2}
    fruit: {mean: {cotton wick: 3}, plot_cv: 0.2}
"""
BLOCKED = ("randomized complete block", "blocks: 4, replicates: 3")


def written(folder, kind=BLOCKED, change=("", "")):
    folder.mkdir(exist_ok=True)
    file = folder / "trial.yaml"
    text = PILOT.replace("TYPE", kind[0]).replace("SIZE", kind[1])
    file.write_text(text.replace(*change))
    return file


@pytest.fixture(scope="module")
def rehearsal(tmp_path_factory):
    trial = ws.read_trial(written(tmp_path_factory.mktemp("pilot")))
    return ws.rehearse(trial, 5)


def test_nothing_is_compared_and_the_mean_is_told(rehearsal):
    results = rehearsal.results
    assert all(r.tests == () and r.comparisons == () for r in results.responses)
    height = next(r for r in results.responses if r.name == "height")
    (mean,) = height.means
    values = [u.value for u in height.unit_summary.values]
    assert mean.estimate == pytest.approx(sum(values) / len(values), rel=1e-12)
    # whole blocks of one treatment: the blocks' own means, three degrees of freedom
    blocks = {}
    for unit in height.unit_summary.values:
        blocks.setdefault(unit.block, []).append(unit.value)
    means = [sum(b) / len(b) for b in blocks.values()]
    center = sum(means) / 4
    se = (sum((m - center) ** 2 for m in means) / 3 / 4) ** 0.5
    # a little wider, as plots lost plants: of two standard errors the wider counts
    assert se * (1 - 1e-12) <= mean.se < 1.01 * se
    assert mean.df == pytest.approx(3.0, abs=0.02)
    assert [(d.stratum, d.term) for d in results.degrees_of_freedom] == [
        ("block", "block"),
        ("plot", "residual"),
    ]


def test_page_one_says_that_nothing_was_compared(rehearsal, tmp_path):
    page = (ws.write_report(rehearsal.results, tmp_path / "out") / "report.html").read_text()
    for words in (
        "We tried one way, as a pilot: cotton wick (6 mm). Nothing was set against it.",
        "A pilot compares nothing. It shows what such plots come to:",
        " of 100 plants alive (",
        "Plots treated alike differ by about",
        "A trial that sets ways of watering against each other.",
    ):
        assert words in page
    for words in ("Plots were compared within", "NOT AT RANDOM", "gives no verdict"):
        assert words not in page


def test_pilot_sizes_the_trial_that_compares(rehearsal, tmp_path):
    report = tmp_path / "out"
    ws.write_report(rehearsal.results, report)
    text = PILOT.replace("TYPE, SIZE", "randomized complete block, blocks: 6")
    text = text.replace("detail: 6 mm}", "detail: 6 mm}, {name: buried pot, reference: true}")
    text = text.split("power:")[0].replace(
        "secondary: [height]", "matters: {height: {difference: 6}}"
    )
    text = text.replace("primary: alive", "primary: height").replace("first-try", "next")
    (tmp_path / "next.yaml").write_text(text)
    planned = ws.power(ws.read_trial(tmp_path / "next.yaml"), past=report)
    row = next(r for r in planned.past.rows if r.response == "height")
    assert 0.05 < row.power < 1.0


@pytest.mark.parametrize(
    "kind",
    [
        BLOCKED,
        ("completely randomized", "replicates: 9"),
        ("row-column", "rows: 3, columns: 4"),
    ],
)
def test_a_pilot_is_drawn(kind, tmp_path):
    layout = ws.randomize(ws.read_trial(written(tmp_path / "pilot", kind)))
    assert {p.treatment for p in layout.plots} == {"cotton wick"}


@pytest.mark.parametrize(
    "kind",
    [("Latin square", "squares: 2"), ("incomplete block", "block_size: 2, replicates: 8")],
)
def test_designs_made_of_comparisons_are_refused(kind, tmp_path):
    with pytest.raises(TrialError) as caught:
        ws.read_trial(written(tmp_path / "pilot", kind))
    assert f"{kind[0]} with one treatment" in [p.found for p in caught.value.problems]


def test_no_power_and_no_second_year_of_a_pilot(tmp_path):
    trial = ws.read_trial(written(tmp_path / "pilot"))
    planned = ws.power(trial)
    assert planned.rows == ()
    assert "A pilot of one treatment compares nothing" in " ".join(planned.notes)
    with pytest.raises(AnalysisError, match=r"compares nothing|first year"):
        ws.power(trial, second_year=True)


@pytest.mark.parametrize(
    ("change", "found"),
    [
        (
            ("plan: {", "plan: {comparisons: [{factor: watering, compare: all pairs}], "),
            "comparisons in a trial of one treatment",
        ),
        (
            ("design:", "  mulch: [bare, straw]\ndesign:"),
            "one level of watering, beside other factors",
        ),
    ],
)
def test_one_level_where_it_cannot_be(change, found, tmp_path):
    with pytest.raises(TrialError) as caught:
        ws.read_trial(written(tmp_path / "pilot", change=change))
    assert found in [p.found for p in caught.value.problems]
