"""Power before planting, against published and library values."""

from pathlib import Path

import numpy as np
import pytest

import wickstats as ws
from wickstats.api import power, read_trial
from wickstats.design.read import parse_trial
from wickstats.models.power import t_power

HEAD = """format: 1
trial: {id: sized}
factors:
  watering:
    - {name: hand, reference: true}
    - {name: wick}
"""


def planned(folder: Path, design: str, assume: str, plan: str = "") -> dict[str, float | None]:
    path = folder / "trial.yaml"
    text = HEAD + f"design: {{{design}, layout: layout.csv}}\n"
    text += "records: {measurements: {file: sizes.csv}}\n"
    text += "responses: [{name: size, kind: measurement, column: size_cm, measured_in: cm, "
    text += f"better: more}}]\n{plan}power: {{assume: {{size: {{{assume}}}}}}}\n"
    path.write_text(text, encoding="utf-8")
    rows = power(read_trial(path)).rows
    found: dict[str, float | None] = {}
    for row in rows:
        kind = row.note.split(";")[0]
        found[kind] = row.power if kind.startswith("power") else row.difference
        if "blocks needed" in kind:
            found[kind] = row.blocks
    return found


def test_two_sample_power_is_the_published_one(tmp_path: Path) -> None:
    """Cohen (1988), d = 0.5, n = 64 a group: power 0.80 (computed: 0.8015)."""
    found = planned(
        tmp_path,
        "type: completely randomized, replicates: 64",
        "mean: {hand: 10, wick: 10.5}, plot_sd: 1",
    )
    assert found["power for the assumed difference"] == pytest.approx(0.8015, abs=5e-5)
    assert found["blocks needed for the assumed difference"] == 64


def test_two_sample_power_agrees_with_statsmodels(tmp_path: Path) -> None:
    from statsmodels.stats.power import TTestIndPower

    found = planned(
        tmp_path,
        "type: completely randomized, replicates: 20",
        "mean: {hand: 10, wick: 11}, plot_sd: 1",
    )
    peer = TTestIndPower().power(1.0, 20, 0.05)
    assert found["power for the assumed difference"] == pytest.approx(peer, abs=1e-9)


def test_blocks_cost_degrees_of_freedom(tmp_path: Path) -> None:
    """With 4 blocks of 2 a difference of two SD is shown with 0.49 (computed, noncentral F)."""
    found = planned(
        tmp_path,
        "type: randomized complete block, blocks: 4",
        "mean: {hand: 10, wick: 12}, plot_sd: 1",
    )
    assert found["power for the assumed difference"] == pytest.approx(0.49, abs=0.005)


def test_a_treatment_on_a_single_unit_is_never_judged() -> None:
    """As the analysis gives no verdict on it, no chance is told of one."""
    text = ALONE.replace("SIZES", "{hand: 5, wick: 1, pot: 4}")
    planned = ws.power(parse_trial(text.encode(), file="trial.yaml", folder=Path("nowhere")))
    assert "wick would stand on a single unit" in planned.warnings[-1]
    kinds = {(r.comparison, r.note.split(";")[0]): r for r in planned.rows}
    told = kinds["wick against hand", "power for the assumed difference"]
    assert told.power is None
    assert "single independently set up unit" in (told.not_estimable or "")
    assert kinds["pot against hand", "power for the assumed difference"].power is not None
    needed = kinds["wick against hand", "blocks needed for the assumed difference"]
    assert needed.blocks is not None
    assert needed.blocks >= 2
    assert planned.questions is not None
    chances = {c.comparison: c for c in planned.questions.chances}
    assert (chances["wick against hand"].shown, chances["wick against hand"].cannot_tell) == (
        0,
        1,
    )
    assert chances["pot against hand"].shown > 0.1


def test_what_cannot_be_reckoned_is_told_in_words() -> None:
    text = ALONE.replace("SIZES", "5").replace("difference: 0.2", "difference: 0.72")
    planned = ws.power(
        parse_trial(text.encode(), file="trial.yaml", folder=Path("nowhere")), seasons=0
    )
    rows = [r for r in planned.rows if r.note.startswith("blocks needed for the difference")]
    assert [r.blocks for r in rows] == [None, None]
    assert all(
        "no difference as large as what matters" in (r.not_estimable or "") for r in rows
    )
    assert any("do not differ at all" in note for note in planned.notes)
    assert any("no difference as large as what matters" in line for line in planned.lines())


ALONE = """\
format: 1
trial: {id: alone, season: {start: 2027-03-15, end: 2027-10-11}}
factors: {way: [{name: hand, reference: true}, {name: wick}, {name: pot}]}
design: {type: completely randomized, replicates: SIZES, plants_per_plot: 6, layout: l.csv}
responses:
  - {name: lives, kind: survival, at: 2027-10-11, better: more}
  - {name: size, kind: measurement, column: height_cm, measured_in: cm, better: more}
plan:
  primary: lives
  secondary: [size]
  comparisons: [{factor: way, compare: each with the reference}]
  matters: {lives: {difference: 0.2}}
power:
  assume:
    lives: {alive_at_end: {hand: 0.5, wick: 0.8, pot: 0.9}, plot_correlation: 0.1}
    size: {mean: {hand: 40, wick: 45, pot: 44}, plot_sd: 0, plant_sd: 0}
"""


@pytest.mark.parametrize(
    ("scale", "told", "same"),
    [
        # plots' variance is r/(1 - r) of the plants': 0.2/0.8 of 8^2 is 4^2
        ("as measured", "plot_correlation: 0.2, plant_sd: 8", "plot_sd: 4, plant_sd: 8"),
        ("as measured", "plot_correlation: 0.2, plant_cv: 0.3", "plot_cv: 0.15, plant_cv: 0.3"),
        ("log", "plot_correlation: 0.5, plant_cv: 0.3", "plot_cv: 0.3, plant_cv: 0.3"),
    ],
)
def test_a_plot_correlation_of_sizes_tells_the_plots_part(
    scale: str, told: str, same: str
) -> None:
    text = """\
format: 1
trial: {id: told}
factors: {w: [{name: a, reference: true}, {name: b}]}
design: {type: randomized complete block, blocks: 6, plants_per_plot: 5, layout: l.csv}
responses: [{name: h, kind: measurement, column: h_cm, measured_in: cm, scale: SCALE}]
plan: {primary: h, comparisons: [{factor: w, compare: each with the reference}]}
power: {assume: {h: {mean: {a: 40, b: 47}, SPREAD}}}
"""
    powers = []
    for spread in (told, same):
        given = text.replace("SCALE", scale).replace("SPREAD", spread)
        trial = parse_trial(given.encode(), file="trial.yaml", folder=Path("nowhere"))
        powers.append(ws.power(trial, seasons=0).rows[0].power)
    assert powers[0] == pytest.approx(powers[1], rel=1e-9)
    if scale == "as measured" and "_sd" in told:
        se = np.sqrt(2 * (16 + 64 / 5) / 6)
        assert powers[0] == pytest.approx(t_power(7, se, 5), rel=1e-9)


SPREADS = [
    ("measurement", "plot_sd: 4, plot_cv: 0.1", "plot_cv and plot_sd both"),
    ("measurement", "plant_sd: 4, plant_cv: 0.1", "plant_cv and plant_sd both"),
    (
        "measurement",
        "plot_sd: 4, plant_sd: 3, plot_correlation: 0.1",
        "plot_sd and plot_correlation both",
    ),
    (
        "measurement",
        "plot_correlation: 0.1",
        "plot_correlation without plant_cv or plant_sd",
    ),
    ("yield", "plot_cv: 0.2, plant_cv: 0.3", "plant_cv for a response of kind yield"),
    ("count", "plot_sd: 4", "plot_sd for a response of kind count"),
]


@pytest.mark.parametrize(("kind", "spread", "found"), SPREADS)
def test_what_would_be_left_unused_is_refused(kind: str, spread: str, found: str) -> None:
    column = {"measurement": "h_cm, measured_in: cm", "yield": "mass_kg", "count": "count"}
    text = f"""\
format: 1
trial: {{id: told}}
factors: {{w: [{{name: a, reference: true}}, {{name: b}}]}}
design: {{type: randomized complete block, blocks: 6, plants_per_plot: 5, layout: l.csv}}
responses: [{{name: h, kind: {kind}, column: {column[kind]}}}]
plan: {{primary: h, comparisons: [{{factor: w, compare: each with the reference}}]}}
power: {{assume: {{h: {{mean: {{a: 40, b: 47}}, {spread}}}}}}}
"""
    with pytest.raises(ws.TrialError) as caught:
        parse_trial(text.encode(), file="trial.yaml", folder=Path("nowhere"))
    assert found in [p.found for p in caught.value.problems]


def test_sizes_are_told_on_the_side_where_the_difference_is_assumed() -> None:
    """Less water: a smallest ratio below 1; and the tables stand in one order."""
    text = """\
format: 1
trial: {id: side}
factors: {w: [{name: a, reference: true}, {name: b}, {name: c}]}
design: {type: randomized complete block, blocks: 6, layout: l.csv}
responses:
  - {name: y, kind: yield, column: mass_kg, scale: as measured}
  - {name: u, kind: water used, water: delivered, better: less}
plan: {primary: y, secondary: [u], matters: {y: {difference: 1}, u: {ratio: 1.25}}}
water: {planned_l: {a: 300, b: 200, c: 320}}
power: {assume: {y: {mean: {a: 5, b: 5, c: 4}, plot_sd: 0.8}, u: {liters_cv: 0.1}}}
"""
    trial = parse_trial(text.encode(), file="trial.yaml", folder=Path("nowhere"))
    planned = ws.power(trial, seasons=0)
    found = {(r.response, r.comparison[0], r.note.split(";")[0]): r for r in planned.rows}
    smallest, matters = (
        "smallest detectable difference",
        "blocks needed for the difference that matters",
    )
    assert found["y", "c", smallest].difference == pytest.approx(
        -(found["y", "b", smallest].difference or 0.0)
    )
    assert found["u", "b", smallest].difference == pytest.approx(
        1 / (found["u", "c", smallest].difference or 1.0)
    )
    assert found["y", "c", matters].difference == -1
    assert found["u", "b", matters].difference == pytest.approx(0.8)
    assert found["u", "c", matters].difference == pytest.approx(1.25)
    heads = [line for line in planned.lines() if line in HEADS]
    assert heads == HEADS


HEADS = [
    "Power for the assumed difference",
    "Smallest detectable difference",
    "Blocks needed for the assumed difference",
    "Blocks needed for the difference that matters",
]
