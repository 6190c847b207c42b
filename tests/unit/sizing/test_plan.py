"""Power before planting, against published and library values."""

from pathlib import Path

import pytest

from wickstats.api import power, read_trial

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
