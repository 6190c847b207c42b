"""The map of designs with larger pieces and parts that lie apart: read on one sheet."""

import re
from pathlib import Path

import pytest

import wickstats as ws
from wickstats.crew.write import write_papers
from wickstats.pages.figures.field_map import FieldMap, MapPlot, is_tall, map_svg, names_fit

SPLIT = """\
format: 1
trial: {{id: split}}
factors:
  watering:
    applied_to: whole plot
    levels: [{{name: hand, reference: true}}, {{name: wick}}]
  mulch: {{applied_to: subplot, levels: [{{name: none}}, {{name: straw}}, {{name: gravel}}]}}
design: {{type: split-plot, blocks: 3, plants_per_plot: 2, seed: 7, layout: layout.csv}}
records: {{visits: visits.csv}}
responses: [{{name: survival, kind: survival, at: [2025-09-30]}}]
plan: {{primary: survival, blind: {blind}}}
"""


def grid(parts: int, rows: int, columns: int, *, long: float | None = None) -> FieldMap:
    """Parts of equal size; plots 3 m wide and ``long`` m deep."""
    plots = tuple(
        MapPlot(part, r, c, f"P{part}{r}{c}", "", None, k)
        for k, (part, r, c) in enumerate(
            ((p, r, c) for p in range(parts) for r in range(rows) for c in range(columns)), 1
        )
    )
    names = tuple(f"square {k + 1}" for k in range(parts))
    return FieldMap(plots, names, 3.0 if long else None, long)


def size_of(field: FieldMap) -> tuple[float, float]:
    box = re.search(rb'viewBox="0 0 ([\d.]+) ([\d.]+)"', map_svg(field))
    assert box is not None
    return float(box[1]), float(box[2])


def test_parts_stand_side_by_side_where_plots_print_larger() -> None:
    deep = grid(2, 5, 5, long=5.0)
    one = size_of(grid(1, 5, 5, long=5.0))
    assert size_of(deep)[1] < 1.2 * one[1]
    assert is_tall(grid(1, 40, 4))
    assert not is_tall(grid(1, 4, 6))
    wide = grid(2, 2, 8)  # wide parts stay below each other
    assert size_of(wide)[1] > 1.5 * size_of(grid(1, 2, 8))[1] - 128


def test_letters_stand_for_names_that_would_print_too_small() -> None:
    names = ["hand watering", "capillary wick"]
    assert names_fit(names, grid(1, 4, 6))
    assert not names_fit(names, grid(1, 40, 4))  # one sheet for forty rows
    assert not names_fit(names, grid(1, 4, 20))
    assert not names_fit(
        ["a name of many words that goes on and on and does not end"], grid(1, 4, 6)
    )


@pytest.fixture
def papers(tmp_path: Path, request: pytest.FixtureRequest) -> dict[str, str]:
    blind = "true" if request.param else "false"
    (tmp_path / "trial.yaml").write_text(SPLIT.format(blind=blind), encoding="utf-8")
    trial = ws.read_trial(tmp_path / "trial.yaml")
    ws.randomize(trial).write()
    written = write_papers(trial, ws.read_layout(trial), tmp_path / "papers")
    return {
        n: (written.folder / n).read_text(encoding="utf-8")
        for n in written.files
        if n.endswith((".svg", ".html"))
    }


@pytest.mark.parametrize("papers", [False], indirect=True)
def test_whole_plots_are_marked_and_listed(papers: dict[str, str]) -> None:
    """Between two whole plots of a block runs one line, told from both sides."""
    assert papers["map.svg"].count('stroke-width="1.7"') == 3 * 2
    assert "Whole plot" in papers["map.html"]


@pytest.mark.parametrize("papers", [True], indirect=True)
def test_whole_plots_are_hidden_with_the_treatments(papers: dict[str, str]) -> None:
    assert papers["map.svg"].count('stroke-width="1.7"') == 0
    assert "Whole plot" not in papers["map.html"]


def test_no_text_lies_under_the_circles_for_the_arrows() -> None:
    svg = map_svg(grid(1, 12, 3)).decode()
    circle = re.search(r'<circle cx="([\d.]+)" cy="[\d.]+" r="38"', svg)
    assert circle is not None
    told = re.findall(r'<text x="84" y="[\d.]+" font-size="14">([^<]+)<', svg)
    assert " ".join(told) == "not to scale: sizes of plots are not stated"
    left = float(circle[1]) - 38
    assert all(84 + 14 * 0.58 * len(line) <= left for line in told)
