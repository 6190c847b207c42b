"""Layouts of the bench: runs, coils and pieces, drawn here and read from elsewhere."""

from pathlib import Path

import pytest
from support_bench import CORD, WASHED, coil_layout

import wickstats as ws
from wickstats.design.trial import Trial
from wickstats.layout.plots import Layout
from wickstats.layout.structure import degrees

TEXT = """
format: 1
trial: {{id: coils, place: bench}}
factors:
{factors}
design: {{type: {type}, blocks: 3, replicates: 2, layout: layout.csv, seed: 7}}
"""


VECTOR = ["4n", "4y", "1n", "3n", "3y", "2y", "1y", "2n"]


def trial_of(folder: Path, factors: str, kind: str) -> Trial:
    (folder / "trial.yaml").write_text(TEXT.format(factors=factors, type=kind), "utf-8")
    return ws.read_trial(folder / "trial.yaml")


def told(layout: Layout) -> list[tuple[str, str, str]]:
    return [(str(p.run), str(p.coil), p.treatment) for p in layout.plots]


def test_every_run_holds_a_piece_of_every_coil_for_each_treatment(tmp_path: Path) -> None:
    layout = ws.randomize(trial_of(tmp_path, f"{CORD}\n{WASHED}", "split-plot"))
    coils = {"1": "A", "2": "A", "3": "B", "4": "B"}
    wanted = {
        (run, coil, f"{cord} x {washed}")
        for run in "123"
        for coil, cord in coils.items()
        for washed in ("no", "yes")
    }
    assert len(layout.plots) == len(wanted) == 24
    assert set(told(layout)) == wanted


def test_the_order_in_a_run_is_a_vector_that_never_changes(tmp_path: Path) -> None:
    layout = ws.randomize(trial_of(tmp_path, f"{CORD}\n{WASHED}", "split-plot"))
    first = [f"{p.coil}{p.levels['washing'][0]}" for p in layout.plots if p.run == "1"]
    assert first == VECTOR


def test_strata_are_runs_coils_and_pieces(tmp_path: Path) -> None:
    layout = ws.randomize(trial_of(tmp_path, f"{CORD}\n{WASHED}", "split-plot"))
    rows = {(r.stratum, r.term): r.df for r in degrees(layout)}
    assert rows == {
        ("block", "block"): 2,
        ("coil", "cord"): 1,
        ("coil", "residual"): 2,
        ("piece", "washing"): 1,
        ("piece", "cord x washing"): 1,
        ("piece", "residual"): 16,
    }


def test_coils_are_the_units_without_a_factor_of_pieces(tmp_path: Path) -> None:
    layout = ws.randomize(trial_of(tmp_path, CORD, "randomized complete block"))
    assert len(layout.plots) == 12
    assert set(layout.unit_of.values()) == {"1", "2", "3", "4"}
    rows = {(r.stratum, r.term): r.df for r in degrees(layout)}
    assert rows == {("coil", "treatment"): 1, ("coil", "residual"): 2}


@pytest.mark.parametrize(
    ("factors", "kind"),
    [(f"{CORD}\n{WASHED}", "split-plot"), (CORD, "randomized complete block")],
)
def test_a_drawn_layout_reads_back_and_an_edited_coil_is_named(
    factors: str, kind: str, tmp_path: Path
) -> None:
    trial = trial_of(tmp_path, factors, kind)
    drawn = ws.randomize(trial)
    drawn.write()
    again = ws.read_layout(trial)
    assert again.plots == drawn.plots
    path = tmp_path / "layout.csv"
    lines = path.read_text("utf-8").splitlines()
    heads = lines[0].split(",")
    first = lines[1].split(",")
    for column in ("coil", "whole_plot"):
        if column in heads:
            place = heads.index(column)
            # the other coil of the same cord
            first[place] = {"1": "2", "2": "1", "3": "4", "4": "3"}[first[place]]
    lines[1] = ",".join(first)
    path.write_text("\n".join(lines) + "\n", "utf-8")
    with pytest.raises(ws.LayoutError, match=r"column coil: layout changed"):
        ws.read_layout(trial)


def test_a_layout_from_elsewhere_needs_only_runs_and_coils(tmp_path: Path) -> None:
    trial = trial_of(tmp_path, f"{CORD}\n{WASHED}", "split-plot")
    text = (tmp_path / "trial.yaml").read_text("utf-8").replace("seed: 7", "drawn: elsewhere")
    (tmp_path / "trial.yaml").write_text(text, "utf-8")
    trial = ws.read_trial(tmp_path / "trial.yaml")
    layout = ws.read_layout(trial, coil_layout(2, 3))
    assert {p.block for p in layout.plots} == {"1", "2", "3"}
    assert {p.whole_plot for p in layout.plots} == {"c0", "c1", "c2", "c3"}
    rows = {(r.stratum, r.term): r.df for r in degrees(layout)}
    assert rows["coil", "residual"] == 2
    assert rows["piece", "residual"] == 16


def test_numbers_of_whole_plots_do_not_turn_one_coil_into_several(tmp_path: Path) -> None:
    trial = trial_of(tmp_path, f"{CORD}\n{WASHED}", "split-plot")
    text = (tmp_path / "trial.yaml").read_text("utf-8").replace("seed: 7", "drawn: elsewhere")
    (tmp_path / "trial.yaml").write_text(text, "utf-8")
    trial = ws.read_trial(tmp_path / "trial.yaml")
    frame = coil_layout(2, 3)
    frame["whole_plot"] = frame["run"].astype(str) + frame["coil"].str[-1]  # 10, 11, ... 33
    layout = ws.read_layout(trial, frame)
    rows = {(r.stratum, r.term): r.df for r in degrees(layout)}
    assert rows["coil", "residual"] == 2  # and not one for each coil and run
    frame["whole_plot"] = "1"
    with pytest.raises(ws.LayoutError, match=r"whole plot.*with pieces of more than one coil"):
        ws.read_layout(trial, frame)
