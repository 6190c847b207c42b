"""Pieces of cord on the page: a line for every piece, how they differ, those at the top."""

from pathlib import Path

import numpy as np
import pytest
from support_bench import FLOW, RISE, WASHED, bench_trial, heights, run_layout, volumes

import wickstats as ws
from wickstats.core.results import Results
from wickstats.pages.figures.bench import piece_lines
from wickstats.pages.figures.palette import looks


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> tuple[Results, str, Path]:
    folder = tmp_path_factory.mktemp("bench")
    trial = bench_trial(folder, WASHED, responses=f"{FLOW}\n{RISE}")
    layout = run_layout(4)
    rng = np.random.default_rng(6)
    flow = volumes(layout, np.exp(rng.normal(1, 0.1, len(layout))))
    grown = heights(layout, np.where(layout["washing"] == "yes", 230.0, 150.0))
    both = flow.merge(grown, on=["run", "plot", "minutes"], how="outer")
    results = ws.analyze(
        trial,
        ws.read_records(trial, tables={"readings": both}, layout=ws.read_layout(trial, layout)),
    )
    ws.write_report(results, folder / "report")
    return results, (folder / "report" / "report.html").read_text("utf-8"), folder / "report"


def test_every_piece_has_its_line_and_pieces_at_the_top_are_told(
    page: tuple[Results, str, Path],
) -> None:
    results, html, folder = page
    assert html.count("Pieces of cord") == 2
    assert "Rise: height against the root of time" in html
    assert "Flow: volume against time" in html
    assert html.count("at least 200") >= 4
    assert "pieces that stood at the top hide how much pieces differ" in html
    assert "Between pieces of one treatment: coefficient of variation" in html
    pieces = (folder / "tables" / "rise-pieces.csv").read_text("utf-8").splitlines()
    assert len(pieces) == 1 + 8
    readings = (folder / "tables" / "rise-readings.csv").read_text("utf-8").splitlines()
    assert len(readings) == 1 + 8 * 5
    assert results.response("rise").bench is not None


def test_a_picture_holds_one_line_and_one_end_for_each_piece(
    page: tuple[Results, str, Path],
) -> None:
    bench = page[0].response("rise").bench
    assert bench is not None
    groups = {p.piece: p.treatment for p in bench.pieces}
    arms = ("no", "yes")
    svg = piece_lines(bench.pieces, groups, arms, looks(arms), "height").decode()
    for arm in arms:
        assert f">{arm}</text>" in svg
    few = piece_lines(bench.pieces[:2], groups, arms, looks(arms), "height").decode()
    # every piece adds its line and its end
    assert svg.count("<path") - few.count("<path") >= 6
    again = piece_lines(bench.pieces, groups, arms, looks(arms), "height").decode()
    assert again == svg
