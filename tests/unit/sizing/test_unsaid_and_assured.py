"""Nothing assumed is told with what to write; assurance from degrees of freedom in the file."""

import json
from pathlib import Path

import numpy as np
import pytest
from scipy import stats
from support_simulate import trial_of

import wickstats as ws
from wickstats.cli.app import run
from wickstats.design.templates import template
from wickstats.models.power import t_power

TEXT = """\
format: 1
trial: {id: small, season: {start: 2027-03-15, end: 2027-10-11}}
factors: {watering: [{name: hand, reference: true}, {name: wick}]}
design: {type: randomized complete block, blocks: 6, plants_per_plot: 4, layout: l.csv}
responses:
  - {name: mass, kind: measurement, column: g, measured_in: g, better: more}
  - {name: lives, kind: survival, at: 2027-10-11, better: more}
  - {name: fruit, kind: yield, column: marketable_kg}
  - {name: ratio, kind: yield per liter, yield: fruit, better: more}
plan: {primary: PRIMARY, secondary: [fruit]}
"""
LEVELS = "{hand: 4, wick: 5}"


def power(tmp_path: Path, primary: str, rest: str, capsys, *more: str):
    file = tmp_path / "trial.yaml"
    file.write_text(TEXT.replace("PRIMARY", primary) + rest, encoding="utf-8")
    code = run(["power", str(file), "--seasons", "2500", *more])
    return code, capsys.readouterr()


CASES = [
    ("mass", "", "nothing assumed about mass", "power:\n  assume:\n    mass: {mean:"),
    (
        "mass",
        f"power:\n  assume:\n    fruit: {{mean: {LEVELS}, plot_cv: 0.1}}\n",
        "nothing assumed about mass",
        "paste under power: assume:",
    ),
    (
        "mass",
        f"power:\n  assume:\n    mass: {{mean: {LEVELS}}}\n",
        "no spread assumed for mass",
        "complete what stands under mass",
    ),
    (
        "lives",
        "power:\n  assume:\n    lives: {plot_correlation: 0.1}\n",
        "nothing assumed about lives",
        "alive_at_end: {hand: 0.7, wick: 0.7}",
    ),
    (
        "ratio",
        "power:\n  assume:\n    ratio: {liters: {hand: 9, wick: 9}, liters_cv: 0.1}\n",
        "nothing assumed about fruit",
        "    fruit: {mean: {hand: 3.5, wick: 3.5}, plot_cv: 0.10}",
    ),
]


@pytest.mark.parametrize(("primary", "rest", "found", "fix"), CASES)
def test_nothing_assumed_for_the_primary_is_told_with_what_to_write(
    tmp_path: Path, capsys, primary: str, rest: str, found: str, fix: str
) -> None:
    code, told = power(tmp_path, primary, rest, capsys)
    assert code == 1
    assert f"found     {found}" in told.err
    assert fix in told.err
    assert "column" not in told.err
    # degrees of freedom stand all the same
    assert "plot: residual" in told.out
    code, told = power(tmp_path, primary, rest, capsys, "--json")
    assert code == 1
    assert json.loads(told.out)["problems"][0]["found"] == found


def test_what_is_told_to_write_is_enough(tmp_path: Path, capsys) -> None:
    for primary, rest, _, _ in CASES[:2]:
        _, told = power(tmp_path, primary, rest, capsys)
        lines = told.err.split("put in what you expect:\n")[1].splitlines()
        pasted = "\n".join(line for line in lines if line.startswith(("power", " "))) + "\n"
        code, told = power(tmp_path, primary, rest + pasted, capsys)
        assert code == 0, told.err


def test_a_place_is_the_line_of_what_is_incomplete(tmp_path: Path, capsys) -> None:
    rest = f"power:\n  assume:\n    mass: {{mean: {LEVELS}}}\n"
    _, told = power(tmp_path, "mass", rest, capsys)
    line = (TEXT + rest).splitlines().index(f"    mass: {{mean: {LEVELS}}}") + 1
    assert f"trial.yaml, line {line}: missing assumption" in told.err


def test_a_ratio_follows_from_its_yield_and_the_planned_liters(tmp_path: Path, capsys) -> None:
    """Log SD from both coefficients of variation; liters vary by 10 % where nothing is said."""
    rest = (
        f"water: {{planned_l: {{hand: 300, wick: 150}}}}\n"
        f"power:\n  assume:\n    fruit: {{mean: {LEVELS}, plot_cv: 0.2}}\n"
    )
    code, told = power(tmp_path, "ratio", rest, capsys, "--json")
    assert code == 0
    rows = json.loads(told.out)["rows"]
    (row,) = [r for r in rows if r["response"] == "ratio" and r["note"].startswith("power")]
    assert row["difference"] == pytest.approx(5 / 4 * 2)
    se = np.sqrt(2 * (np.log1p(0.04) + np.log1p(0.01)) / 6)
    assert row["power"] == pytest.approx(t_power(np.log(2.5), se, 5), rel=1e-9)
    assert "liters are taken to vary by 10\N{NO-BREAK SPACE}%" in row["note"]


BESIDE = """\
format: 1
trial: {id: small, season: {start: 2027-03-15, end: 2027-10-11}}
factors: {watering: [{name: hand, reference: true}, {name: wick}]}
design: {type: randomized complete block, blocks: 6, plants_per_plot: 4, layout: l.csv}
responses:
  - {name: fruit, kind: yield, column: marketable_kg}
  - {name: ratio, kind: yield per liter, yield: fruit, water: delivered, better: more}
  - {name: used, kind: water used, water: delivered, better: less}
plan: {primary: used, secondary: [fruit, ratio]}
water: {planned_l: {hand: 300, wick: 150}}
power:
  assume:
    fruit: {mean: {hand: 4, wick: 5}, plot_cv: 0.2}
    ratio: {liters: {hand: 90, wick: 60}, liters_cv: 0.3}
"""


@pytest.mark.parametrize(
    ("own", "ratio", "cv", "beside"),
    [
        ("", 60 / 90, 0.3, True),
        ("    used: {liters_cv: 0.2}\n", 60 / 90, 0.2, True),
        ("    used: {plot_cv: 0.25}\n", 60 / 90, 0.25, True),
        ("    used: {mean: {hand: 80, wick: 70}, plot_cv: 0.1}\n", 70 / 80, 0.1, False),
        ("    used: {liters: {hand: 80, wick: 70}}\n", 70 / 80, 0.1, False),
    ],
)
def test_water_used_takes_the_liters_beside_a_yield_per_liter(
    tmp_path: Path, capsys, own: str, ratio: float, cv: float, beside: bool
) -> None:
    """Its own numbers first; then the ratio's, never what was planned (half as much)."""
    file = tmp_path / "trial.yaml"
    file.write_text(BESIDE + own, encoding="utf-8")
    assert run(["power", str(file), "--seasons", "2500", "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)["rows"]
    (row,) = [r for r in rows if r["response"] == "used" and r["note"].startswith("power")]
    assert row["difference"] == pytest.approx(ratio)
    se = np.sqrt(2 * np.log1p(cv**2) / 6)
    assert row["power"] == pytest.approx(t_power(np.log(ratio), se, 5), rel=1e-9)
    assert ("its liters are those assumed for ratio" in row["note"]) is beside


@pytest.mark.parametrize("like", ["field", "garden", "bench"])
def test_new_trials_can_be_sized_and_rehearsed(tmp_path: Path, like: str, capsys) -> None:
    for name, text in template(like, "mine").items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    file = str(tmp_path / "trial.yaml")
    assert run(["power", file, "--seasons", "0"]) == 0
    assert "this trial has" in capsys.readouterr().out.splitlines()[2]


def test_assurance_by_drawing_the_variance() -> None:
    """Against 200,000 draws of s^2 df/chi-square(df); exact at the stated spread."""
    head = TEXT.split("responses:")[0]
    size = "  - {name: mass, kind: measurement, column: g, measured_in: g, better: more}"
    assume = f"    mass: {{mean: {LEVELS}, plot_sd: 0.8, plant_sd: 0.4, spread_df: 8}}"
    rest = "plan: {primary: mass, matters: {mass: {difference: 1.5}}}\n"
    planned = ws.power(trial_of(size, assume, head=head, rest=rest))
    (row,) = planned.assured
    se = np.sqrt(2 * (0.64 + 0.16 / 4) / 6)
    assert row.power == pytest.approx(t_power(1.5, se, 5), rel=1e-9)
    wide = np.sqrt(8 / stats.chi2.ppf(0.2, 8))
    assert row.upper == pytest.approx(t_power(1.5, se * wide, 5), rel=1e-9)
    rng = np.random.default_rng(5)
    drawn = np.sqrt(8 / rng.chisquare(8, 200_000)) * se
    cut = stats.t.ppf(0.975, 5)
    shift = 1.5 / drawn
    chances = 1 - stats.nct.cdf(cut, 5, shift) + stats.nct.cdf(-cut, 5, shift)
    assert row.assurance == pytest.approx(chances.mean(), abs=4 * chances.std() / 447)
    assert any("known by 8" in line for line in planned.lines())
    assert not any("No assurance is told" in line for line in planned.lines())


def test_without_degrees_of_freedom_it_is_told_why_there_is_no_assurance() -> None:
    size = "  - {name: mass, kind: measurement, column: g, measured_in: g, better: more}"
    assume = "    mass: {mean: {hand: 4, wick: 5, drip: 5}, plot_sd: 0.8}"
    planned = ws.power(trial_of(size, assume, rest="plan: {primary: mass}\n"))
    assert planned.assured == ()
    assert any("Write spread_df under its assumptions" in line for line in planned.lines())


def test_shares_and_counts_never_vary_less_than_single_plants_do() -> None:
    lives = "  - {name: it, kind: survival, at: 2027-10-11}"
    counts = "  - {name: it, kind: count, column: count}"
    for response, assume in (
        (lives, "alive_at_end: {hand: 0.4, wick: 0.8, drip: 0.8}, plot_correlation: 0.0"),
        (counts, "mean: {hand: 20, wick: 40, drip: 40}, plot_cv: 0.0"),
    ):
        text = f"    it: {{{assume}, spread_df: 5}}"
        planned = ws.power(trial_of(response, text), seasons=0)
        for row in planned.assured:
            # a smaller variance cannot be: the average lies below the stated spread's chance
            assert row.upper < row.assurance < row.power


def test_more_coils_not_more_runs_tell_cords_apart(tmp_path: Path, capsys) -> None:
    """Runs cut from the same coils: var 2 (coil/c + piece/(c runs washings)), df 2 (c - 1)."""
    for name, text in template("bench", "mine").items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    assert run(["power", str(tmp_path / "trial.yaml"), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    means = {"c": (70 + 95) / 2, "p": (90 + 100) / 2}
    every = np.array([70, 95, 90, 100.0])
    piece, coil = np.mean((0.08 * every) ** 2), np.mean((0.05 * every) ** 2)

    def chance(coils: int) -> float:
        se = np.sqrt(2 * (coil / coils + piece / (coils * 4 * 2)))
        return t_power(means["p"] - means["c"], se, 2 * (coils - 1))

    curve = {p["blocks"]: p["power"] for p in found["questions"]["curve"]}
    for coils, power in curve.items():
        assert power == pytest.approx(chance(coils), rel=1e-6)
    rows = [r for r in found["rows"] if r["response"] == "rise"]
    needed = next(r for r in rows if r["note"].startswith("blocks needed for the assumed"))
    assert chance(int(needed["blocks"])) >= 0.8 > chance(int(needed["blocks"]) - 1)
