"""Written, read back, verified; redrawn only with a reason; nothing lost on the way."""

import json
from pathlib import Path

import pandas as pd
import pytest
from support_layouts import BLOCKS, FREE, SPLIT, trial_of

from wickstats.core.errors import LayoutError
from wickstats.layout.plots import Layout
from wickstats.layout.randomize import randomize
from wickstats.layout.read import read_layout
from wickstats.layout.write import draw_and_write


def codes_of(error: LayoutError) -> list[str]:
    return [problem.code for problem in error.problems]


def test_written_and_read_back(tmp_path: Path) -> None:
    trial = trial_of(
        f"{BLOCKS}, blocks: 3, plants_per_plot: 6, plots_per_reservoir: {{B: 2}}", tmp_path
    )
    layout = randomize(trial, seed=9)
    assert not list(tmp_path.iterdir())
    layout.write()
    again = read_layout(trial)
    assert again.plots == layout.plots
    assert (again.seed, again.scheme, again.hash) == (9, layout.scheme, layout.hash)
    assert again.source_bytes["layout.csv"] == (tmp_path / "layout.csv").read_bytes()
    assert set(again.source_bytes) == {"layout.csv", "layout.record.json"}
    # the bytes of a layout that was never written say the same, but for the date
    assert layout.source_bytes["layout.csv"] == again.source_bytes["layout.csv"]
    mine = json.loads(layout.source_bytes["layout.record.json"])
    theirs = json.loads(again.source_bytes["layout.record.json"])
    assert mine.pop("claimed_on") is None
    assert len(theirs.pop("claimed_on")) == 10
    assert mine == theirs


def test_written_once(tmp_path: Path) -> None:
    trial = trial_of(f"{BLOCKS}, blocks: 3", tmp_path)
    layout = draw_and_write(trial)
    before = (tmp_path / "layout.csv").read_bytes()
    for again in (lambda: draw_and_write(trial), layout.write, randomize(trial).write):
        with pytest.raises(LayoutError):
            again()
    assert (tmp_path / "layout.csv").read_bytes() == before


def test_redraw_keeps_every_earlier_layout_and_its_reason(tmp_path: Path) -> None:
    trial = trial_of(f"{BLOCKS}, blocks: 3, seed: 4", tmp_path)
    draw_and_write(trial)
    tables = [(tmp_path / "layout.csv").read_text()]
    for reason in ("a block lies in the stream", "a tree fell"):
        layout = draw_and_write(trial, reason=reason)
        assert layout.seed != 4
        tables.append((tmp_path / "layout.csv").read_text())
    record = json.loads((tmp_path / "layout.record.json").read_text())
    assert record["seed"] == read_layout(trial).seed == randomize(trial).seed
    assert [e["given_up_because"] for e in record["earlier"]] == [
        "a block lies in the stream",
        "a tree fell",
    ]
    assert [e["layout"] for e in record["earlier"]] == tables[:2]
    assert record["earlier"][0]["seed"] == 4
    assert len(set(tables)) == 3


@pytest.mark.parametrize("reason", ["", "  "])
def test_redraw_without_reason(reason: str, tmp_path: Path) -> None:
    trial = trial_of(f"{BLOCKS}, blocks: 3", tmp_path)
    draw_and_write(trial)
    with pytest.raises(LayoutError) as caught:
        draw_and_write(trial, reason=reason)
    assert codes_of(caught.value) == ["no reason"]


def test_redraw_of_nothing(tmp_path: Path) -> None:
    with pytest.raises(LayoutError) as caught:
        draw_and_write(trial_of(f"{BLOCKS}, blocks: 3", tmp_path), reason="why")
    assert codes_of(caught.value) == ["nothing to redraw"]


def test_any_changed_cell_is_noticed(tmp_path: Path) -> None:
    trial = trial_of(f"{BLOCKS}, blocks: 2, plots_per_reservoir: {{B: 2}}", tmp_path)
    draw_and_write(trial)
    path = tmp_path / "layout.csv"
    lines = [line.split(",") for line in path.read_text().splitlines()]
    for i in range(1, len(lines)):
        for j in range(len(lines[0])):
            for new in ("", "A", "B", "1", "2", "9", "KA-4"):
                if new == lines[i][j]:
                    continue
                if lines[0][j] in ("row", "column") and not new:
                    continue  # a position that was not written down is no change
                changed = [list(line) for line in lines]
                changed[i][j] = new
                path.write_text("\n".join(",".join(line) for line in changed))
                with pytest.raises(LayoutError):
                    read_layout(trial)


def test_swapped_treatments_are_named(tmp_path: Path) -> None:
    trial = trial_of(f"{BLOCKS}, blocks: 2, seed: 3", tmp_path)
    draw_and_write(trial)
    path = tmp_path / "layout.csv"
    text = path.read_text()
    path.write_text(
        text.replace(",A\n", ",X\n").replace(",B\n", ",A\n").replace(",X\n", ",B\n")
    )
    with pytest.raises(LayoutError) as caught:
        read_layout(trial)
    assert set(codes_of(caught.value)) == {"layout changed"}
    assert {p.column for p in caught.value.problems} == {"watering"}
    assert len(caught.value.problems) == 4


def test_changed_trial_file_is_told_apart(tmp_path: Path) -> None:
    draw_and_write(trial_of(f"{BLOCKS}, blocks: 2, seed: 3", tmp_path))
    other = trial_of(f"{BLOCKS}, blocks: 2, seed: 3", tmp_path, factors="watering: [B, A, C]")
    with pytest.raises(LayoutError) as caught:
        read_layout(other)
    assert "the trial file was changed" in caught.value.problems[0].fix


def test_a_plan_that_changed_leaves_the_layout_as_drawn(tmp_path: Path) -> None:
    draw_and_write(trial_of(f"{BLOCKS}, blocks: 2, seed: 3", tmp_path))
    planned = trial_of(f"{BLOCKS}, blocks: 2, seed: 3", tmp_path, more="plan: {blind: true}\n")
    layout = read_layout(planned)
    assert layout.hash != randomize(planned, seed=3).hash


def test_unreadable_record(tmp_path: Path) -> None:
    trial = trial_of(f"{BLOCKS}, blocks: 2, seed: 3", tmp_path)
    draw_and_write(trial)
    path = tmp_path / "layout.record.json"
    for text in ("", "[]", '{"seed": 3}', path.read_text().replace(": 3", ': "3"')):
        path.write_text(text)
        with pytest.raises(LayoutError) as caught:
            read_layout(trial)
        assert codes_of(caught.value) == ["unreadable record"]


TABLE = "plot;block;watering\n1;1;A\n2;1;B\n3;1;C\n4;2;C\n5;2;A\n6;2;B\n"


def read(text: str, design: str, tmp_path: Path, **more: str) -> Layout:
    (tmp_path / "layout.csv").write_text(text, encoding="utf-8")
    return read_layout(trial_of(design, tmp_path, **more))


@pytest.mark.parametrize("sign", [",", ";", "\t"])
def test_tables_from_spreadsheets(sign: str, tmp_path: Path) -> None:
    text = "\ufeff" + TABLE.replace(";", sign).replace("\n", "\r\n") + f"{sign}{sign}\r\n"
    layout = read(text, f"{BLOCKS}, drawn: elsewhere", tmp_path)
    assert [p.treatment for p in layout.plots] == list("ABCCAB")
    assert layout.seed is None
    assert layout.drawn == "elsewhere"


def test_frame_and_file_agree(tmp_path: Path) -> None:
    design = f"{BLOCKS}, drawn: elsewhere, plants_per_plot: 4"
    frame = pd.DataFrame(
        {"plot": [1, 2, 3, 4, 5, 6], "block": [1.0] * 3 + [2.0] * 3, "watering": list("ABCCAB")}
    )
    by_frame = read_layout(trial_of(design, tmp_path), frame)
    by_file = read(TABLE, design, tmp_path)
    assert by_frame.plots == by_file.plots
    assert by_frame.plots[0].plants == 4
    (tmp_path / "layout.csv").write_bytes(by_frame.source_bytes["layout-in-memory.csv"])
    assert read_layout(trial_of(design, tmp_path)).plots == by_frame.plots


def test_drawn_frame_comes_back(tmp_path: Path) -> None:
    trial = trial_of(f"{FREE}, replicates: {{A: 3, B: 2, C: 2}}", tmp_path)
    layout = randomize(trial, seed=1)
    frame = layout.frame().drop(columns=["unit", "treatment"])
    assert read_layout(trial, frame).plots == layout.plots


def test_whole_plots_named_anew_in_each_block(tmp_path: Path) -> None:
    rows = [
        f"{b}-{w}-{s},{b},{w},V{w},N{s}"
        for b in (1, 2)
        for w in (1, 2, 3)
        for s in (0, 1, 2, 3)
    ]
    text = "plot,block,whole_plot,variety,nitrogen\n" + "\n".join(rows)
    design = "type: split-plot, blocks: 2, drawn: elsewhere"
    layout = read(text, design, tmp_path, factors=SPLIT)
    assert len({p.whole_plot for p in layout.plots}) == 6
    assert layout.plots[0].whole_plot == "1/1"


def test_reservoir_that_spans_blocks_is_one_unit(tmp_path: Path) -> None:
    text = "plot,block,watering,reservoir\n1,1,A,T\n2,1,B,\n3,2,A,T\n4,2,B,\n5,2,C,\n6,1,C,\n"
    layout = read(text, f"{BLOCKS}, drawn: elsewhere", tmp_path)
    assert layout.unit_of == {"1": "T", "2": "2", "3": "T", "4": "4", "5": "5", "6": "6"}
