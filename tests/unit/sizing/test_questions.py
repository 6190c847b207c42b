"""Questions before planting: verdicts, split, what-ifs, curve; on the screen and as JSON."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from support_simulate import HEAD, trial_of

import wickstats as ws
from wickstats.cli.app import run
from wickstats.core.errors import TrialError
from wickstats.design.read import parse_trial
from wickstats.models.power import t_power
from wickstats.sizing.plots import sizes_of
from wickstats.sizing.prices import prices_of
from wickstats.sizing.run import Means, Progress

ROOT = Path(__file__).parents[3]
OAKS = ROOT / "wickstats" / "demo" / "quarry-oaks" / "trial.yaml"
TEXT = """\
format: 1
trial: {id: small, season: {start: 2027-03-01, end: 2027-09-27}}
factors: {watering: [{name: hand, reference: true}, {name: wick}]}
design:
  type: randomized complete block
  blocks: 6
  plants_per_plot: 4
  plots_per_reservoir: {wick: 1}
  layout: layout.csv
responses:
  - {name: mass, kind: measurement, column: g, measured_in: g, better: more}
plan: {primary: mass, matters: {mass: {difference: 6}}}
water: {visits_every_d: 7}
power:
  assume: {mass: {mean: {hand: 40, wick: 46}, plot_sd: 3, plant_sd: 8}}
  budget: BUDGET
costs:
  currency: EUR
  wage_per_hour: 10
  items:
    - {what: pot, for: [wick], each: 12, per: plot, lasts_seasons: 3}
    - {what: seedling, each: 2, per: plant}
    - {what: fence, each: 100, per: trial}
  hours_per_visit: {hand: 0.1, wick: 0}
  travel: {km_per_visit: 10, per_km: 0.5}
"""


def small(budget: float = 1_000, text: str = TEXT):
    return parse_trial(
        text.replace("BUDGET", str(budget)).encode(), file="trial.yaml", folder=Path("nowhere")
    )


def test_prices_by_hand() -> None:
    trial = small()
    prices = prices_of(trial, sizes_of(trial))
    assert prices is not None
    # 210 days, a visit every 7: 30 visits; travel 30 x 10 x 0.5, the fence
    assert prices.fixed == pytest.approx(150 + 100)
    assert prices.block == pytest.approx(30 * 0.1 * 10 + 12 / 3)
    assert prices.plant == pytest.approx(2 * 2)
    assert prices.cost(6, 4) == pytest.approx(250 + 6 * (34 + 16))
    assert prices.blocks(550, 4) == 6
    assert prices.blocks(549.9, 4) == 5


def test_answers_of_an_exact_trial_by_hand() -> None:
    asked = ws.power(small()).questions
    assert asked is not None

    def power(blocks: int, plants: int) -> float:
        se = np.sqrt(2 * (9 + 64 / plants) / blocks)
        return t_power(6, se, blocks - 1)

    assert not asked.simulated
    one = asked.chances[0]
    assert one.shown == pytest.approx(power(6, 4), rel=1e-9)
    parts = (one.same, one.better, one.worse, one.no_worse, one.no_better, one.cannot_tell)
    assert sum(parts) == pytest.approx(1, abs=1e-9)
    assert one.better + one.worse <= one.shown + 1e-9
    for point in asked.curve:
        assert point.power == pytest.approx(power(point.blocks, 4), rel=1e-9)
    # all splits cost no more than the plan's 550 EUR, and hold as many blocks as that pays
    for split in asked.splits:
        assert split.cost is not None
        assert split.cost <= 550 < split.cost + 34 + 4 * split.plants
        assert split.power == pytest.approx(power(split.blocks, split.plants), rel=1e-9)
    best = next(s for s in asked.splits if s.best)
    assert best.power >= max(s.power for s in asked.splits) - 0.001
    changes = {w.what: (w.blocks, w.power) for w in asked.what_ifs}
    assert changes["one block is lost"] == (5, pytest.approx(power(5, 4), rel=1e-9))
    assert changes["the whole budget"] == (15, pytest.approx(power(15, 4), rel=1e-9))
    assert changes["half the budget"] == (5, pytest.approx(power(5, 4), rel=1e-9))
    assert any(what.startswith("two blocks share each reservoir") for what in changes)


def test_without_prices_plants_are_kept() -> None:
    text = TEXT[: TEXT.index("costs:")].replace("  budget: BUDGET\n", "")
    asked = ws.power(small(text=text)).questions
    assert asked is not None
    assert asked.currency is None
    for split in asked.splits:
        assert split.blocks == 24 // split.plants
    assert {w.blocks for w in asked.what_ifs} == {6, 5, 3}


def test_a_budget_for_less_than_two_blocks_is_refused_before_anything(monkeypatch) -> None:
    monkeypatch.setattr("wickstats.sizing.questions.simulate", None)
    with pytest.raises(TrialError) as caught:
        ws.power(small(budget=340))
    (problem,) = caught.value.problems
    assert problem.code == "budget too small"
    assert problem.found == "a budget of 340 EUR"
    assert problem.expected == "enough for two blocks: 350 EUR"
    assert problem.line == TEXT[: TEXT.index("budget:")].count("\n") + 1
    assert ws.power(small(budget=350), seasons=0).questions is not None


def test_a_plan_whose_p_stays_above_five_percent_is_told() -> None:
    text = TEXT.replace("blocks: 6", "blocks: 4")
    told: list[str] = []
    means = Means(warn=told.append)
    planned = ws.power(small(text=text), means=means)
    assert "a p below 0.12" in " ".join(planned.warnings)  # 2 of 2^4 layouts
    assert told == list(planned.warnings)
    assert planned.lines()[2] == told[0]  # before any chance
    assert ws.power(small()).warnings == ()


def test_one_block_is_told_and_nothing_is_simulated(monkeypatch) -> None:
    monkeypatch.setattr("wickstats.sizing.questions.simulate", None)
    lives = "  - {name: survival, kind: survival, at: 2027-10-11}"
    assume = "    survival: {alive_at_end: {hand: 0.5, wick: 0.9, drip: 0.9}}"
    head = HEAD.replace("blocks: 5", "blocks: 1")
    planned = ws.power(trial_of(lives, assume, head=head))
    assert planned.questions is None
    assert any("no degrees of freedom are left" in w for w in planned.warnings)


def test_a_budget_without_prices_is_told() -> None:
    text = TEXT[: TEXT.index("costs:")].replace("BUDGET", "900")
    asked = ws.power(small(text=text)).questions
    assert asked is not None
    assert any("the file has no costs" in note for note in asked.notes)


def test_shares_are_simulated_and_say_so(capsys) -> None:
    assert run(["power", str(OAKS), "--seasons", "2500", "--blocks", "4,8"]) == 0
    text = capsys.readouterr().out
    assert "simulated, with its Monte Carlo error (+-, in points): 2,500 seasons" in text
    assert "height: reckoned with the noncentral t" in text
    assert "the chance that this trial cannot tell capillary wick against hand watering" in text
    assert run(["power", str(OAKS), "--seasons", "2500", "--blocks", "4,8", "--json"]) == 0
    asked = json.loads(capsys.readouterr().out)["questions"]
    assert asked["simulated"] is True
    assert [p["blocks"] for p in asked["curve"]] == [4, 8]
    by_seasons = [c for c in asked["chances"] if c["seasons"] is not None]
    assert {c["response"] for c in by_seasons} == {"survival"}
    for c in by_seasons:
        # the closed form is told to be within 0.1 of simulated seasons
        assert abs(c["shown"] - c["closed_form"]) < 0.1
        assert c["error"] == pytest.approx(
            np.sqrt(c["shown"] * (1 - c["shown"]) / 2500), rel=0.1
        )
    # lives compared in other ways, by as many seasons
    assert {(b["quantity"], b["comparison"] is None) for b in asked["beside"]} == {
        ("restricted mean survival time to day 210", False),
        ("log-rank score, treatment", True),
    }
    assert {b["seasons"] for b in asked["beside"]} == {2500}


def test_shares_near_certainty_can_be_bounded() -> None:
    lives = "  - {name: survival, kind: survival, at: 2027-10-11}"
    assume = "    survival: {alive_at_end: {hand: 0.5, wick: 0.99, drip: 0.99}}"
    asked = ws.power(trial_of(lives, assume), seasons=2500).questions
    assert asked is not None
    assert (asked.chances[0].one_fate or 0.0) > 0.3
    assert asked.chances[0].shown > 0.5


def test_an_interrupted_simulation_says_how_far_it_came() -> None:
    def stop(progress: Progress) -> None:
        if progress.done >= 7500:
            raise KeyboardInterrupt

    trial = ws.read_trial(OAKS)
    planned = ws.power(trial, seasons=20_000, means=Means(watch=stop))
    assert planned.questions is not None
    assert planned.questions.interrupted
    assert planned.questions.seasons == 7500
    assert any("Interrupted after 7,500 of" in line for line in planned.lines())


def test_interrupted_from_the_keyboard_the_program_ends_well(tmp_path: Path) -> None:
    code = "from wickstats.cli.app import main; main()"
    words = [
        "power",
        str(OAKS),
        "--seasons",
        "2000000",
        "--blocks",
        "6",
        "--keep",
        str(tmp_path),
    ]
    env = {**os.environ, "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(
        [sys.executable, "-c", code, *words],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=env,
    ) as process:  # fmt: skip
        for _ in range(600):
            if len(list(tmp_path.glob(".power-*/part-*.json"))) >= 3:
                break
            time.sleep(0.05)
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=60)
    assert process.returncode == 0, err
    assert "Interrupted after" in out
    assert "simulated seasons in" in err  # what it would cost was told before
    assert "Traceback" not in err


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--scheduler", "tcp://10.1.2.3:8786"], "on another machine without encryption"),
        (["--blocks", "1,4"], "numbers from 2 to 400"),
        (["--blocks", "six"], "numbers from 2 to 400"),
        (["--seasons", "-1"], "-1"),
    ],
)
def test_misuse_is_told(words: list[str], says: str, capsys) -> None:
    assert run(["power", str(OAKS), *words]) == 2
    assert says in capsys.readouterr().err


def test_a_second_year_needs_its_first(capsys) -> None:
    assert run(["power", str(OAKS), "--second-year"]) == 1
    assert "--second-year needs the first year's report" in capsys.readouterr().err
