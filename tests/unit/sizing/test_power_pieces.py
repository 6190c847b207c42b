"""Power of split-plots and strip-plots, against seasons simulated here and closed forms.

The simulation shares no code with the product: pieces and units with normal errors, the
classical analysis of each stratum by hand (Yates 1935; Cochran & Cox 1957, chapter 7, from
memory), 20,000 seasons, fixed seed, four Monte Carlo errors.
"""

from pathlib import Path

import numpy as np
import pytest
import yaml
from scipy import stats

import wickstats as ws
from wickstats.cli.app import run

SEASONS = 20_000
WHOLE_SD, SUB_SD = 1.5, 2.0


def write(folder: Path, design: dict, factors: dict, means: dict, comparisons: list, **spread):
    trial = {
        "format": 1,
        "trial": {"id": "pieces"},
        "factors": factors,
        "design": {"layout": "layout.csv", "seed": 3, **design},
        "records": {"measurements": {"file": "sizes.csv"}},
        "responses": [
            {"name": "size", "kind": "measurement", "column": "cm", "measured_in": "cm"}
        ],
        "plan": {"primary": "size", "comparisons": comparisons},
        "power": {"assume": {"size": {"mean": means, **spread}}},
    }
    file = folder / "trial.yaml"
    file.write_text(yaml.safe_dump(trial, sort_keys=False), "utf-8")
    return file


def tiers(line: str, mulch: str) -> dict:
    lines = [{"name": "a", "reference": True}, {"name": "b"}]
    mulches = [{"name": "x", "reference": True}, {"name": "y"}, {"name": "z"}]
    return {
        "line": {"applied_to": line, "levels": lines},
        "mulch": {"applied_to": mulch, "levels": mulches},
    }


SPLIT, STRIP = tiers("whole plot", "subplot"), tiers("row strip", "column strip")
MEANS = np.array([[20.0, 21.0, 23.0], [22.0, 23.0, 25.0]])
NAMED = {
    f"{a} x {m}": float(MEANS[i, j]) for i, a in enumerate("ab") for j, m in enumerate("xyz")
}
COMPARISONS = [
    {"factor": "line", "compare": "each with the reference"},
    {"factor": "mulch", "name": "z against x", "weights": {"z": 1, "x": -1}},
    {"factor": "line", "compare": "each with the reference", "within": "mulch"},
]


def pieces(folder: Path, design: dict, factors: dict = SPLIT, **more: float) -> Path:
    """Two lines by three mulches; ``more``: what is said of whole plots."""
    return write(folder, design, factors, NAMED, COMPARISONS, plot_sd=SUB_SD, **more)


def rows_of(file: Path, blocks: float) -> dict[str, float]:
    found = ws.power(ws.read_trial(file))
    return {
        row.comparison: row.power
        for row in found.rows
        if row.note.startswith("power for") and row.blocks == blocks
    }


def shown(estimate, se, df):
    """Share of seasons in which the 95 % interval leaves zero out, and its error."""
    hits = np.abs(estimate) > stats.t.ppf(0.975, df) * se
    share = hits.mean()
    return share, 4 * np.sqrt(share * (1 - share) / len(hits))


def test_a_split_plot_shows_its_factors_as_often_as_simulated_seasons(tmp_path: Path) -> None:
    b = 5
    file = pieces(tmp_path, {"type": "split-plot", "blocks": b}, whole_plot_sd=WHOLE_SD)
    got = rows_of(file, b)
    rng = np.random.default_rng(20250317)
    y = MEANS + rng.normal(0, SUB_SD, (SEASONS, b, 2, 3))
    y += rng.normal(0, WHOLE_SD, (SEASONS, b, 2, 1)) + rng.normal(0, 3, (SEASONS, b, 1, 1))
    whole = y.mean(axis=3)
    difference = whole[:, :, 1] - whole[:, :, 0]
    se = difference.std(axis=1, ddof=1) / np.sqrt(b)
    share, room = shown(difference.mean(axis=1), se, b - 1)
    assert got["b against a"] == pytest.approx(share, abs=room)
    # sub-plots: what is left beside whole plots and the cells
    left = y - y.mean(axis=3, keepdims=True)
    left = left - left.mean(axis=1, keepdims=True)
    df = 2 * (b - 1) * 2
    mse = np.square(left).sum(axis=(1, 2, 3)) / df
    between = y[..., 2].mean(axis=(1, 2)) - y[..., 0].mean(axis=(1, 2))
    share, room = shown(between, np.sqrt(2 * mse / (2 * b)), df)
    assert got["z against x"] == pytest.approx(share, abs=room)


def test_a_strip_plot_shows_both_factors_as_often_as_simulated_seasons(tmp_path: Path) -> None:
    b = 6
    file = pieces(tmp_path, {"type": "strip-plot", "blocks": b}, STRIP, whole_plot_sd=WHOLE_SD)
    got = rows_of(file, b)
    rng = np.random.default_rng(20251013)
    y = MEANS + rng.normal(0, SUB_SD, (SEASONS, b, 2, 3)) + rng.normal(0, 3, (SEASONS, b, 1, 1))
    y += rng.normal(0, WHOLE_SD, (SEASONS, b, 2, 1)) + rng.normal(
        0, WHOLE_SD, (SEASONS, b, 1, 3)
    )
    rows = y.mean(axis=3)
    difference = rows[:, :, 1] - rows[:, :, 0]
    se = difference.std(axis=1, ddof=1) / np.sqrt(b)
    share, room = shown(difference.mean(axis=1), se, b - 1)
    assert got["b against a"] == pytest.approx(share, abs=room)
    columns = y.mean(axis=2)
    left = columns - columns.mean(axis=2, keepdims=True)
    left = left - left.mean(axis=1, keepdims=True)
    mse = np.square(left).sum(axis=(1, 2)) / (2 * (b - 1))
    between = (columns[:, :, 2] - columns[:, :, 0]).mean(axis=1)
    share, room = shown(between, np.sqrt(2 * mse / b), 2 * (b - 1))
    assert got["z against x"] == pytest.approx(share, abs=room)


def test_a_comparison_across_strata_is_close_to_simulated_seasons(tmp_path: Path) -> None:
    """Satterthwaite's df are an approximation: within 1.5 points."""
    b = 5
    file = pieces(tmp_path, {"type": "split-plot", "blocks": b}, whole_plot_sd=WHOLE_SD)
    got = rows_of(file, b)
    rng = np.random.default_rng(7)
    y = MEANS + rng.normal(0, SUB_SD, (SEASONS, b, 2, 3))
    y += rng.normal(0, WHOLE_SD, (SEASONS, b, 2, 1))
    whole = y.mean(axis=3)
    gap = whole[:, :, 1] - whole[:, :, 0]
    first = 3 * gap.var(axis=1, ddof=1) / 2  # mean square of whole plots, per unit
    left = y - y.mean(axis=3, keepdims=True)
    left = left - left.mean(axis=1, keepdims=True)
    second = np.square(left).sum(axis=(1, 2, 3)) / (4 * (b - 1))
    parts = first * 2 / (3 * b), second * 2 * 2 / (3 * b)
    df = sum(parts) ** 2 / (parts[0] ** 2 / (b - 1) + parts[1] ** 2 / (4 * (b - 1)))
    estimate = y[:, :, 1, 0].mean(axis=1) - y[:, :, 0, 0].mean(axis=1)
    share, room = shown(estimate, np.sqrt(sum(parts)), df)
    assert got["b against a (x)"] == pytest.approx(share, abs=room + 0.015)


def test_blocks_needed_reach_the_target_and_one_less_does_not(tmp_path: Path) -> None:
    def blocks_and_power(b: int):
        file = pieces(tmp_path, {"type": "split-plot", "blocks": b}, whole_plot_sd=WHOLE_SD)
        found = ws.power(ws.read_trial(file)).rows
        needed = {
            r.comparison: r.blocks
            for r in found
            if r.note.startswith("blocks needed for the a")
        }
        return needed, rows_of(file, b)

    needed, _ = blocks_and_power(5)
    for name in ("b against a", "z against x"):
        blocks = int(needed[name])
        again, power = blocks_and_power(blocks)
        assert again[name] == blocks
        assert power[name] >= 0.8
        assert blocks_and_power(blocks - 1)[1][name] < 0.8


def test_whole_plots_without_blocks_are_sized_in_replicates(tmp_path: Path) -> None:
    file = pieces(tmp_path, {"type": "split-plot", "replicates": 4}, whole_plot_sd=WHOLE_SD)
    found = ws.power(ws.read_trial(file))
    assert (found.blocks, found.word) == (4, "replicates")
    # closed form: two groups of four whole plots, df 6 (t test of whole-plot means)
    variance = WHOLE_SD**2 + SUB_SD**2 / 3
    shift = 2.0 / np.sqrt(variance * 2 / 4)
    at = stats.t.ppf(0.975, 6)
    wanted = stats.nct.sf(at, 6, shift) + stats.nct.cdf(-at, 6, shift)
    assert rows_of(file, 4)["b against a"] == pytest.approx(wanted, abs=1e-9)


def test_what_is_not_said_of_whole_plots_is_asked_for(tmp_path: Path, capsys) -> None:
    file = pieces(tmp_path, {"type": "split-plot", "blocks": 5})
    assert run(["power", str(file)]) == 0
    printed = capsys.readouterr().out
    assert "add whole_plot_cv" in printed
    assert "z against x" in printed
    assert "b against a" not in printed
    assert "\n\n\n" not in printed


def test_unequal_replication_shows_the_range_of_replicates(tmp_path: Path, capsys) -> None:
    file = write(
        tmp_path,
        {"type": "completely randomized", "replicates": {"a": 6, "b": 3}},
        {"line": [{"name": "a", "reference": True}, {"name": "b"}]},
        {"a": 20.0, "b": 24.0},
        [{"factor": "line", "compare": "each with the reference"}],
        plot_sd=SUB_SD,
    )
    assert run(["power", str(file)]) == 0
    printed = capsys.readouterr().out
    assert "With 3 to 6 replicates" in printed
