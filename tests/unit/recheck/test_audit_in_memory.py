"""Reports of tables given in memory hold all that an audit needs to compute them again."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import wickstats as ws
from wickstats.demo.trials import copy_demo
from wickstats.design.trial import Trial
from wickstats.records.memory import csv_bytes, frame_of_csv, text_columns


@pytest.fixture(scope="module")
def trial(tmp_path_factory: pytest.TempPathFactory) -> Trial:
    folder = copy_demo(tmp_path_factory.mktemp("memory"))[0]
    return ws.read_trial(folder / "trial.yaml")


def tables_of(trial: Trial) -> dict[str, pd.DataFrame]:
    """The demo's tables as a notebook would hold them: dates, categories, nullable numbers."""
    folder = Path(trial.folder)
    visits = pd.read_csv(folder / "visits.csv", parse_dates=["date"])
    visits["status"] = visits["status"].astype("category")
    visits["plant"] = visits["plant"].astype("Int64")
    plants = pd.read_csv(folder / "plants.csv", dtype={"plant": "Int64"})
    heights = pd.DataFrame(
        {
            "date": np.repeat(np.datetime64("2025-10-13"), len(plants)),
            "plot": plants["plot"].astype("string"),
            "plant": plants["plant"].astype(float),
            "height_cm": [None if i % 7 == 0 else 20 + i / 3 for i in range(len(plants))],
            "note": [
                'said "fine", he\nwent on\r' if i == 3 else "" for i in range(len(plants))
            ],
        }
    )
    return {"measurements": heights, "visits": visits, "plants": plants}


@pytest.mark.parametrize("given", ["file", "frame", "object", "drawn"])
def test_audit_computes_everything_again(trial: Trial, given: str, tmp_path: Path) -> None:
    table = pd.read_csv(Path(trial.folder) / "layout.csv")
    layout = {
        "file": None,
        "frame": table,
        "object": ws.read_layout(trial, table),
        "drawn": ws.randomize(trial),
    }[given]
    season = ws.read_records(trial, tables=tables_of(trial), layout=layout)
    folder = ws.write_report(ws.analyze(trial, season), tmp_path / "report")
    audit = ws.audit(folder)
    assert [f for f in audit.findings if f.serious] == []
    assert audit.recomputed > 500
    named = {p.name for p in (folder / "inputs").iterdir()}
    expected = {"trial.yaml", "visits-in-memory.csv", "plants-in-memory.csv"}
    assert expected | {"measurements-in-memory.csv"} <= named
    assert ("layout-in-memory.csv" in named) == (given in ("frame", "object"))


def test_a_changed_cell_of_a_table_in_memory_is_serious(trial: Trial, tmp_path: Path) -> None:
    season = ws.read_records(trial, tables=tables_of(trial))
    folder = ws.write_report(ws.analyze(trial, season), tmp_path / "report")
    path = folder / "inputs" / "measurements-in-memory.csv"
    lines = path.read_bytes().split(b"\n")
    lines[9] = lines[9].replace(b"2025-10-13", b"2025-10-12")
    path.write_bytes(b"\n".join(lines))
    found = [f.place for f in ws.audit(folder).findings if f.serious]
    assert "inputs/measurements-in-memory.csv, row 9" in found  # row 5 holds two lines
    assert any(place.startswith("inputs[") for place in found)


def test_types_do_not_matter(trial: Trial) -> None:
    """The same table as text and as typed columns gives the same results."""
    typed = tables_of(trial)
    text = {
        name: pd.DataFrame(dict(zip(*text_columns(frame), strict=True)))
        for name, frame in typed.items()
    }
    one = ws.analyze(trial, ws.read_records(trial, tables=typed))
    two = ws.analyze(trial, ws.read_records(trial, tables=text))
    assert one.to_dict() == two.to_dict()


@pytest.mark.parametrize(
    ("cells", "text"),
    [
        (pd.to_datetime(["2025-03-17", None]), ["2025-03-17", ""]),
        (pd.to_datetime(["2025-03-17 10:30"]), ["2025-03-17 10:30:00"]),
        (
            pd.to_datetime(["2025-03-17 23:30"]).tz_localize("Asia/Tokyo"),
            ["2025-03-17 23:30:00"],
        ),
        (pd.Series([np.datetime64("2025-03-17", "ns")], dtype=object), ["2025-03-17"]),
        (pd.array([1, None], dtype="Int64"), ["1", ""]),
        ([1.0, np.nan, 0.1, 1e300, -0.0], ["1", "", "0.1", "1e+300", "0"]),
        (pd.Categorical(["alive", None]), ["alive", ""]),
        (pd.array([True, None], dtype="boolean"), ["TRUE", ""]),
        (["007", "a,b", 'q"q', "two\nlines", "cr\r", " x "],) * 2,
        ([np.int64(3), np.float64(2.5), "x", None], ["3", "2.5", "x", ""]),
    ],
)
def test_cells_as_text_and_back(cells: object, text: list[str]) -> None:
    heads, columns = text_columns(pd.DataFrame({"c": cells}))
    assert columns[0].tolist() == text
    data = csv_bytes(heads, columns)
    back = frame_of_csv(data)
    assert back["c"].tolist() == text
    assert csv_bytes(*text_columns(back)) == data


@pytest.mark.parametrize("data", [b"a,b\n1,2,3\n", b'a\n"1\n', b"a\n\xff\n"])
def test_archived_table_that_is_none(data: bytes) -> None:
    with pytest.raises(ValueError, match=r"cells|end of data|utf-8"):
        frame_of_csv(data)
