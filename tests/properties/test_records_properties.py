"""What must hold for any season's tables: order and storage of rows do not matter."""

import io
import random
import tempfile
from pathlib import Path
from typing import Any

import hypothesis.strategies as st
import openpyxl
import pandas as pd
from hypothesis import given, settings
from support_records import HEIGHT, WATER, small_layout, small_trial

from wickstats.design.tables import STATUS_WORDS
from wickstats.records.read import read_records
from wickstats.records.season import Season

DAYS = st.sampled_from(("2025-04-01", "2025-05-01", "2025-06-01", "2025-07-01", "2026-01-01"))
PLOTS = st.sampled_from(("A1", "A2", "A3", "007", "B2"))
PLANTS = st.sampled_from(("1", "2", "3", "x"))
SIZES = st.one_of(st.just(""), st.integers(1, 500).map(lambda n: str(n / 2)))
LITERS = st.one_of(st.just(""), st.integers(0, 40).map(lambda n: str(n / 2)))

VISITS = st.lists(st.tuples(DAYS, PLOTS, PLANTS, st.sampled_from(STATUS_WORDS)), max_size=30)
MEASURED = st.lists(st.tuples(DAYS, PLOTS, PLANTS, SIZES), max_size=20)
POURED = st.lists(st.tuples(DAYS, PLOTS, LITERS, LITERS, LITERS), max_size=15)
HAPPENED = st.lists(
    st.tuples(
        DAYS,
        PLOTS,
        st.sampled_from(("replaced", "flood damage", "leak", "reservoir empty")),
        st.sampled_from(("", "1", "2")),
        st.sampled_from(("", "9")),
    ),
    max_size=4,
)
HEADS = {
    "visits": ["date", "plot", "plant", "status"],
    "measurements": ["date", "plot", "plant", "height_cm"],
    "water": ["date", "plot", "applied_l", "level_before_l", "level_after_l"],
    "events": ["date", "plot", "what", "plant", "new_plant"],
}
TABLES = st.fixed_dictionaries(
    {"visits": VISITS, "measurements": MEASURED, "water": POURED, "events": HAPPENED}
)
Tables = dict[str, list[tuple[str, ...]]]


def frames(tables: Tables) -> dict[str, pd.DataFrame]:
    return {name: pd.DataFrame(rows, columns=HEADS[name]) for name, rows in tables.items()}


def in_memory(tables: Tables) -> Season:
    trial = small_trial(responses=(HEIGHT,), water=WATER)
    return read_records(trial, small_layout(), frames(tables))


def said(season: Season) -> dict[str, Any]:
    """All that a season says, without places."""
    out: dict[str, Any] = {
        name: frame.drop(columns=["file", "row"]).to_csv(index=False)
        for name, frame in season.tables.items()
    }
    for name in ("lives", "ledger", "ledger_by_plot"):
        out[name] = getattr(season, name).to_csv(index=False)
    out["dry"], out["lost"] = season.dry, dict(season.lost_plots)
    out["queries"] = sorted(q.code for q in season.queries)
    out["excluded"] = len(season.exclusions)
    return out


@settings(max_examples=40, deadline=None)
@given(TABLES, st.integers(0, 10_000))
def test_the_order_of_rows_does_not_matter(tables: Tables, seed: int) -> None:
    shuffler = random.Random(seed)
    shuffled = {name: shuffler.sample(rows, len(rows)) for name, rows in tables.items()}
    assert said(in_memory(shuffled)) == said(in_memory(tables))


def typed(cell: str, head: str) -> Any:
    """A cell as a spreadsheet would hold it."""
    if cell == "":
        return None
    if head == "date":
        return pd.Timestamp(cell).to_pydatetime()
    if head.endswith(("_l", "_cm")) or (cell.isdigit() and not cell.startswith("0")):
        return float(cell)
    return cell


def write(folder: Path, tables: Tables, kind: str) -> dict[str, Any]:
    """The tables as files: one csv each, or sheets of one workbook."""
    if kind == "csv":
        for name, frame in frames(tables).items():
            frame.to_csv(folder / f"{name}.csv", index=False)
        return {name: {"file": f"{name}.csv"} for name in tables}
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for name, rows in tables.items():
        sheet = book.create_sheet(name)
        sheet.append(HEADS[name])
        for row in rows:
            sheet.append([typed(c, h) for c, h in zip(row, HEADS[name], strict=True)])
    buffer = io.BytesIO()
    book.save(buffer)
    (folder / "season.xlsx").write_bytes(buffer.getvalue())
    return {name: {"file": "season.xlsx", "sheet": name} for name in tables}


@settings(max_examples=15, deadline=None)
@given(TABLES)
def test_text_workbook_and_memory_say_the_same(tables: Tables) -> None:
    tables = {name: rows for name, rows in tables.items() if rows} or {"visits": []}
    for name in ("visits", "water"):
        tables.setdefault(name, [])
    expected = said(in_memory(tables))
    for kind in ("csv", "xlsx"):
        with tempfile.TemporaryDirectory() as name:
            records = write(Path(name), tables, kind)
            trial = small_trial(name, records, (HEIGHT,), WATER)
            found = said(read_records(trial, small_layout()))
        assert found == expected, kind


@settings(max_examples=40, deadline=None)
@given(TABLES)
def test_every_row_is_used_or_listed(tables: Tables) -> None:
    season = in_memory(tables)
    listed = {(x.file, x.row) for x in season.exclusions}
    for name, rows in tables.items():
        file = f"{name} (in memory)"
        used = set(season.tables[name]["row"])
        unused = {row for where, row in listed if where == file}
        assert used | unused == set(range(2, len(rows) + 2))
        if name != "measurements":  # there a row may lose one quantity and keep another
            assert not used & unused


@settings(max_examples=40, deadline=None)
@given(TABLES)
def test_death_never_comes_before_the_last_life(tables: Tables) -> None:
    lives = in_memory(tables).lives
    assert lives is not None
    dead = lives[lives["first_dead"].notna()]
    assert (dead["fate"] == "dead").all()
    assert not (dead["last_alive"] >= dead["first_dead"]).any()
    assert not lives.duplicated(["plot", "plant"]).any()
