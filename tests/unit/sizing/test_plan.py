"""Power before planting, against published and library values."""

from pathlib import Path

import pytest

import wickstats as ws
from wickstats.api import power, read_trial
from wickstats.design.read import parse_trial

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
