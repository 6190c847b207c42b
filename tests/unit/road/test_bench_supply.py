"""Reservoirs by the flow of cords at the bench: the demo, by hand."""

import math
from importlib.resources import files
from pathlib import Path
from statistics import NormalDist

import pytest

import wickstats as ws
from wickstats.core.numbers import said_liters

DEMO = Path(str(files("wickstats"))) / "demo" / "bench-cords"


def test_volumes_follow_from_the_flow_of_one_wick() -> None:
    trial = ws.read_trial(DEMO / "trial.yaml")
    results = ws.analyze(trial, ws.read_records(trial))
    bench = results.response("flow").bench
    assert bench is not None
    plan = results.supply.reservoirs
    assert plan is not None
    assert ws.supply(trial).reservoirs == plan
    spread = math.sqrt(math.log1p((bench.piece_cv or 0.0) ** 2))
    upper = math.exp(spread * NormalDist().inv_cdf(0.95) - spread**2 / 2)
    means = {row.treatment: row.mean for row in bench.spread}
    assert {need.treatment for need in plan.needs} == set(means)
    for need in plan.needs:
        rate = (means[need.treatment] or 0.0) * 24 / 1000  # mL/h to L a day
        assert need.rate_l_d == pytest.approx(rate, rel=1e-12)
        assert need.volume_l == pytest.approx(rate * upper * need.every_d, rel=1e-9)
        assert need.with_reserve_l == pytest.approx(2 * need.volume_l, rel=1e-12)
        assert need.loss_from == "bench flow"
    assert len(plan.sentences) == len(means)
    assert any("one wick gives" in sentence for sentence in plan.sentences)


def test_small_flows_are_told_in_milliliters() -> None:
    assert [said_liters(v) for v in (0.0143, 0.48, 0.9996, 6.14, 52.5)] == [
        "14.3 mL",
        "480 mL",
        "1 L",
        "6.14 L",
        "52.5 L",
    ]
