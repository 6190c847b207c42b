"""The smallest p that a layout allows, by stratum; restrictions with plots on a reservoir."""

from pathlib import Path

import numpy as np
import pytest
import yaml

import wickstats as ws
from wickstats.cli.app import run
from wickstats.layout.few import few_lines, smallest_p_by_stratum
from wickstats.models.redraw.terms import redraw_term


def write(folder: Path, design: dict, factors: dict, **more) -> Path:
    trial = {
        "format": 1,
        "trial": {"id": "few"},
        "factors": factors,
        "design": {"layout": "layout.csv", "seed": 11, **design},
        **more,
    }
    file = folder / "trial.yaml"
    file.write_text(yaml.safe_dump(trial, sort_keys=False), "utf-8")
    return file


def one(levels: str) -> dict:
    return {"arm": [{"name": name} for name in levels]}


def split(kind: tuple[str, str]) -> dict:
    return {
        "line": {"applied_to": kind[0], "levels": [{"name": n} for n in "ab"]},
        "mulch": {"applied_to": kind[1], "levels": [{"name": n} for n in "xyz"]},
    }


@pytest.mark.parametrize(
    ("design", "factors", "wanted"),
    [
        # two names exchanged in every block: 2 of 2^3 layouts
        ({"type": "randomized complete block", "blocks": 3}, one("ab"), {"plot": 2 / 8}),
        # 3! of 6!/(2! 2! 2!)
        ({"type": "completely randomized", "replicates": 2}, one("abc"), {"plot": 6 / 90}),
        # names of the two arms with two units each may change, the third may not
        (
            {"type": "completely randomized", "replicates": {"a": 2, "b": 2, "c": 3}},
            one("abc"),
            {"plot": 2 / 210},
        ),
        # 12 and 576 Latin squares of orders 3 and 4 (from memory)
        ({"type": "Latin square"}, one("abc"), {"plot": 6 / 12}),
        ({"type": "Latin square"}, one("abcd"), {"plot": 24 / 576}),
        ({"type": "Latin square", "squares": 2}, one("abc"), {"plot": 6 / 144}),
        (
            {"type": "split-plot", "blocks": 4},
            split(("whole plot", "subplot")),
            {"whole plot": 2 / 16, "subplot": 6 / 6**8},
        ),
        (
            {"type": "strip-plot", "blocks": 3},
            split(("row strip", "column strip")),
            {"row strip": 2 / 8, "column strip": 6 / 6**3},
        ),
    ],
)
def test_smallest_p_by_counting(tmp_path: Path, design, factors, wanted) -> None:
    layout = ws.randomize(ws.read_trial(write(tmp_path, design, factors)))
    assert smallest_p_by_stratum(layout) == pytest.approx(wanted)


def test_no_re_randomization_ever_gives_less(tmp_path: Path) -> None:
    """Values that follow the layout as far as they can give just that p."""
    design = {"type": "randomized complete block", "blocks": 3}
    layout = ws.randomize(ws.read_trial(write(tmp_path, design, one("ab"))))
    cells = np.array([0 if plot.levels["arm"] == "a" else 1 for plot in layout.plots])
    blocks = [plot.block for plot in layout.plots]
    noise = np.random.default_rng(1).normal(0, 1e-3, cells.size)
    found = redraw_term(100.0 * cells + noise, cells, blocks=blocks, seed=1, stream="s")
    assert found.p == smallest_p_by_stratum(layout)["plot"]


def test_the_command_says_where_p_stays_above_five_percent(tmp_path: Path, capsys) -> None:
    file = write(
        tmp_path, {"type": "split-plot", "blocks": 4}, split(("whole plot", "subplot"))
    )
    assert run(["randomize", str(file)]) == 0
    printed = capsys.readouterr().out
    assert "give a p below 0.12 in the stratum whole plot" in printed
    assert "in the stratum subplot" not in printed


def test_large_trials_are_told_nothing(tmp_path: Path) -> None:
    design = {"type": "randomized complete block", "blocks": 6}
    layout = ws.randomize(ws.read_trial(write(tmp_path, design, one("abcd"))))
    assert few_lines(layout) == []


def test_an_order_of_units_can_be_kept_with_several_plots_on_a_reservoir(
    tmp_path: Path,
) -> None:
    design = {
        "type": "randomized complete block",
        "blocks": 4,
        "plots_per_reservoir": {"a": 2},
        "keep": ["no treatment at an end of every block"],
    }
    for seed in range(20):
        layout = ws.randomize(
            ws.read_trial(write(tmp_path, {**design, "seed": seed}, one("abc")))
        )
        ends = []
        for block in "1234":
            arms = [plot.levels["arm"] for plot in layout.plots if plot.block == block]
            assert sorted(arms) == ["a", "a", "b", "c"]
            ends.append({arms[0], arms[-1]})
        assert not set.intersection(*ends)


def test_the_report_says_what_incomplete_blocks_keep(tmp_path: Path) -> None:
    file = write(
        tmp_path,
        {"type": "incomplete block", "block_size": 2, "replicates": 3},
        one("abcd"),
        records={"measurements": {"file": "sizes.csv"}},
        responses=[
            {
                "name": "size",
                "kind": "measurement",
                "column": "cm",
                "measured_in": "cm",
                "better": "more",
            }
        ],
        plan={"primary": "size", "matters": {"size": {"difference": 0.5}}},
    )
    assert run(["randomize", str(file)]) == 0
    plots = (tmp_path / "layout.csv").read_text("utf-8").splitlines()[1:]
    values = np.random.default_rng(3).normal(10, 2, len(plots))
    lines = [
        f"{row.split(',')[0]},{value:.3f}" for row, value in zip(plots, values, strict=True)
    ]
    (tmp_path / "sizes.csv").write_text("plot,cm\n" + "\n".join(lines) + "\n", "utf-8")
    assert run(["analyze", str(file), "--out", str(tmp_path / "out")]) == 0
    page = (tmp_path / "out" / "report.html").read_text("utf-8")
    # balanced for 4 treatments in blocks of 2: t (k - 1) / (k (t - 1)) = 2/3
    assert "67\N{NO-BREAK SPACE}% of the information of complete blocks" in page
    assert "units of each treatment would be needed" in page
    assert run(["audit", str(tmp_path / "out")]) == 0
