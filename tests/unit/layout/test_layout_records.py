"""Every design type: written, read back, verified from its record, changed cells noticed."""

import json
from pathlib import Path

import pytest
from support_layouts import BLOCKS, SPLIT_SPLIT, STRIPS, letters, trial_of

from wickstats.core.errors import LayoutError
from wickstats.layout.randomize import randomize
from wickstats.layout.read import read_layout
from wickstats.layout.write import draw_and_write

TYPES = {
    "Latin squares": ("type: Latin square, squares: 2", letters(3)),
    "split-split-plot": ("type: split-plot, blocks: 2", SPLIT_SPLIT),
    "split-plot without blocks": (
        "type: split-plot, replicates: 2, plots_per_reservoir: {x: 2}",
        "w: {applied_to: whole plot, levels: [A, B]}, n: {applied_to: plot, levels: [x, y]}",
    ),
    "strip-plot": ("type: strip-plot, blocks: 2", STRIPS),
    "incomplete blocks": ("type: incomplete block, block_size: 2, replicates: 3", letters(4)),
    "resolvable": (
        "type: incomplete block, block_size: 2, replicates: 3, resolvable: true",
        letters(4),
    ),
    "rows and columns": ("type: row-column, rows: 2, columns: 3, replicates: 2", letters(4)),
    "reservoirs in incomplete blocks": (
        "type: incomplete block, block_size: 2, replicates: 3, plots_per_reservoir: {A: 3}",
        letters(4),
    ),
    "reservoirs in rows and columns": (
        "type: row-column, rows: 4, columns: 4, plots_per_reservoir: {B: 2}",
        letters(4),
    ),
    "reservoirs where strips cross": (
        "type: strip-plot, blocks: 2, plots_per_reservoir: {A: 2}",
        STRIPS,
    ),
    "reference twice": (f"{BLOCKS}, blocks: 2, replicates: {{A: 2}}", letters(3)),
}


@pytest.mark.parametrize("name", TYPES)
def test_written_and_read_back(name: str, tmp_path: Path) -> None:
    design, factors = TYPES[name]
    trial = trial_of(f"{design}, plants_per_plot: 4", tmp_path, factors=factors)
    layout = randomize(trial, seed=9)
    layout.write()
    again = read_layout(trial)
    assert again.plots == layout.plots
    assert again.applied_to == layout.applied_to
    assert (again.seed, again.hash) == (9, layout.hash)
    mine = json.loads(layout.source_bytes["layout.record.json"])
    theirs = json.loads(again.source_bytes["layout.record.json"])
    mine.pop("claimed_on"), theirs.pop("claimed_on")
    assert mine == theirs


@pytest.mark.parametrize("name", TYPES)
def test_any_changed_cell_is_noticed(name: str, tmp_path: Path) -> None:
    design, factors = TYPES[name]
    trial = trial_of(design, tmp_path, factors=factors)
    draw_and_write(trial)
    path = tmp_path / "layout.csv"
    lines = [line.split(",") for line in path.read_text().splitlines()]
    for i in (1, len(lines) // 2, len(lines) - 1):
        for j in range(len(lines[0])):
            for new in ("", "A", "B", "1", "2", "9", "KA-4"):
                if new == lines[i][j]:
                    continue
                if lines[0][j] in ("row", "column", "subplot") and not new:
                    continue  # a place that was not written down is no change
                changed = [list(line) for line in lines]
                changed[i][j] = new
                path.write_text("\n".join(",".join(line) for line in changed))
                with pytest.raises(LayoutError):
                    read_layout(trial)


def test_the_plan_of_the_record_prevails(tmp_path: Path) -> None:
    """A later search may find a better plan; the layout stays what its record says."""
    design, factors = TYPES["incomplete blocks"]
    trial = trial_of(design, tmp_path, factors=factors)
    randomize(trial, seed=3).write()
    path = tmp_path / "layout.record.json"
    record = json.loads(path.read_text())
    assert record["base_plan"] == ["0 1", "0 2", "0 3", "1 2", "1 3", "2 3"] or len(
        set(record["base_plan"])
    ) == len(record["base_plan"])
    other = list(reversed(record["base_plan"]))
    path.write_text(json.dumps(record | {"base_plan": other}))
    with pytest.raises(LayoutError) as caught:
        read_layout(trial)
    assert {p.code for p in caught.value.problems} == {"layout changed"}
    (tmp_path / "layout.csv").unlink()
    assert randomize(trial).plan == tuple(
        tuple(int(label) for label in line.split()) for line in other
    )


@pytest.mark.parametrize("plan", [["0 1", "x 2"], ["0 1"], "0 1", [[0, 1]]])
def test_a_plan_that_is_none(plan: object, tmp_path: Path) -> None:
    design, factors = TYPES["incomplete blocks"]
    trial = trial_of(design, tmp_path, factors=factors)
    randomize(trial, seed=3).write()
    path = tmp_path / "layout.record.json"
    record = json.loads(path.read_text())
    path.write_text(json.dumps(record | {"base_plan": plan}))
    if plan == ["0 1"]:  # of other sizes: the plan for the sizes is taken
        assert read_layout(trial).seed == 3
        return
    with pytest.raises(LayoutError) as caught:
        read_layout(trial)
    assert caught.value.problems[0].code == "unreadable record"


def test_redraw_keeps_the_earlier_layout_of_any_type(tmp_path: Path) -> None:
    for name, (design, factors) in TYPES.items():
        folder = tmp_path / name.replace(" ", "-")
        folder.mkdir()
        trial = trial_of(f"{design}, seed: 5", folder, factors=factors)
        draw_and_write(trial)
        before = (folder / "layout.csv").read_text()
        layout = draw_and_write(trial, reason="the wall fell")
        record = json.loads((folder / "layout.record.json").read_text())
        assert record["earlier"][0]["layout"] == before
        assert record.get("drawn_how") == layout.drawn_how
        assert read_layout(trial).plots == layout.plots


def test_how_it_was_drawn_stands_in_the_record(tmp_path: Path) -> None:
    trial = trial_of("type: Latin square", tmp_path, factors=letters(7))
    draw_and_write(trial)
    record = json.loads((tmp_path / "layout.record.json").read_text())
    assert "343 steps of the random walk of Jacobson and Matthews (1996)" in record["drawn_how"]
    small = randomize(trial_of("type: Latin square", factors=letters(5)), seed=1)
    assert "all 161,280 Latin squares of order 5" in str(small.drawn_how)
