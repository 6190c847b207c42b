"""Power claimed and reached, and the blind second year: the stored study and a slice of it."""

import json
from math import sqrt
from pathlib import Path

import numpy as np
import power_run
import pytest

STORED = Path(power_run.__file__).parent
STUDY = json.loads((STORED / "power.json").read_text(encoding="utf-8"))
SUMMARY = json.loads((STORED / "summary.json").read_text(encoding="utf-8"))["power"]


def test_every_setting_is_there_and_the_summary_follows() -> None:
    for name, cells in (
        ("claims", power_run.claim_cells()),
        ("second", power_run.second_cells()),
    ):
        assert [c["settings"] for c in STUDY[name]] == [c.settings() for c in cells]
    assert power_run.summarize_power(STUDY["claims"], STUDY["second"]) == SUMMARY


def test_claimed_power_is_reached_within_a_point_and_a_half() -> None:
    for cell in STUDY["claims"]:
        assert cell["seasons"] >= 40_000
        assert abs(cell["claimed"] - cell["reached"]) <= 0.015, cell["settings"]


def test_a_blind_second_year_rejects_a_true_null_in_six_percent_at_most() -> None:
    for cell in STUDY["second"]:
        assert cell["trials"] >= 10_000
        assert cell["rejection"] <= 0.06, cell["settings"]
    assert {c["settings"]["blocks"] for c in STUDY["second"]} == {3, 4, 5, 6, 7, 8}


SLICE = [c for c in power_run.claim_cells() if c.blocks in (4, 8)][::6]


@pytest.mark.parametrize("cell", SLICE, ids=lambda c: c.key)
def test_a_slice_of_claims(cell: power_run.ClaimCell) -> None:
    found = power_run.run_claim(cell, 5_000, seed=11)
    p = found["claimed"]
    error = sqrt(p * (1 - p) / 5_000) * (1.0 if cell.kind == "size" else sqrt(2.0))
    assert abs(p - found["reached"]) <= 4 * error + 1e-4


def test_a_second_year_by_whole_data() -> None:
    """Plots one by one, both years fitted by least squares, reject and grow as often."""
    from wickstats.models.batch.layout import lay_batch
    from wickstats.models.batch.strata import judge_units

    cell = power_run.SecondCell(4, 3, 0.7)
    short = power_run.run_second(cell, 40_000, seed=5)
    rng = np.random.default_rng(6)
    trials = 4_000
    first = 0.7 * rng.standard_normal((trials, 4, 3))
    within = first - first.mean(axis=2, keepdims=True)
    whole = np.maximum(power_run._blocks(np.sqrt((within**2).sum(axis=(1, 2)) / 8), 3), 4)
    rejected = 0
    for n in np.unique(whole):
        these = np.flatnonzero(whole == n)
        later = 0.7 * rng.standard_normal((these.size, n - 4, 3))
        y = np.concatenate([first[these], later], axis=1).reshape(these.size, -1)
        layout = lay_batch(
            np.tile(np.arange(3), n),
            3,
            contrasts=[[-1, 1, 0]],
            blocks=np.repeat(np.arange(n), 3),
        )
        rejected += int((judge_units(layout, y).contrasts.p < 0.05).sum())
    assert abs(whole.mean() - short["rejection_blocks"]) < 4 * whole.std() / sqrt(trials)
    rate = short["rejection"]
    assert abs(rejected / trials - rate) < 4 * sqrt(rate * (1 - rate) / trials)
