"""What a first-time user runs into: mistakes that were once met with silence or a fault."""

from pathlib import Path


from wickstats.api import analyze, randomize, read_records, read_trial
from wickstats.core.results import Results

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
    assert found.what == "design, factors, responses and plan"
    assert found.planned == "as they were when the layout was drawn"
    assert found.done.startswith("the trial file was changed after the draw")
