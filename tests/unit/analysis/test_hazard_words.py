"""Ratios of death rates through ws.analyze: when they are descriptive, and what they say then.

All deaths lie between the same two visits, so that the ratio is one of logarithms of shares
alive, log(share)/log(share), in a model without blocks; with blocks the second engine and R
check it elsewhere.
"""

import math

import pytest
from analysis_makers import survival_season

import wickstats as ws

HAND, WICK = (4, 6, 3, 5, 4, 2, 5), (8, 10, 7, 9, 8, 7, 9)


def rate(blocks: int, plants: int = 12, times: int = 1, **more):
    alive = {
        "hand": [times * a for a in HAND[:blocks]],
        "wick": [times * a for a in WICK[:blocks]],
    }
    trial, _, season = survival_season(alive, plants * times, reference="hand", **more)
    found = ws.analyze(trial, season).response("survival")
    (row,) = [c for c in found.sensitivity if c.measure == "hazard ratio"]
    return row, found


@pytest.mark.parametrize("blocks", [2, 3, 5, 6, 7])
def test_below_six_blocks_a_ratio_is_descriptive_without_p_or_verdict(blocks: int) -> None:
    row, found = rate(blocks)
    assert ("descriptive: fewer than 6 blocks" in row.name) == (blocks < 6)
    assert (row.p is None) == (blocks < 6)
    assert row.verdict is None
    assert 0.0 < row.low < row.estimate < row.high
    # twelve deaths or so a block: no word about sparse ones
    assert not any("deaths a block" in c for c in found.cautions)


def test_few_deaths_a_block_are_told_and_give_no_p() -> None:
    alive = {"hand": (11, 10, 11, 10, 12, 11), "wick": (12, 11, 12, 12, 11, 12)}
    trial, _, season = survival_season(alive, 12, reference="hand")
    found = ws.analyze(trial, season).response("survival")
    (row,) = [c for c in found.sensitivity if c.measure == "hazard ratio"]
    assert "descriptive: fewer than 8 deaths a block" in row.name
    assert row.p is None
    # nine deaths in six blocks; two and seven of them tell little of a ratio
    assert math.log(row.high / row.low) >= 2 * 1.959 * math.sqrt(1 / 2 + 1 / 7) * 0.9
    (text,) = [c for c in found.cautions if c.startswith("Ratios of death rates rest on")]
    assert "1.5 deaths a block" in text
    assert "Read the shares alive" in text


def test_without_blocks_the_ratio_is_that_of_log_shares() -> None:
    # closed form: one step, chance of dying 1 - exp(-exp(eta)) in each arm
    row, _ = rate(7, design="completely randomized")
    expected = math.log(sum(WICK) / (7 * 12)) / math.log(sum(HAND) / (7 * 12))
    assert row.estimate == pytest.approx(expected, rel=1e-7)
    assert row.p is not None
