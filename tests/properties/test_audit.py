"""A changed cell or number is named, with the manifest intact and with a new one."""

import copy
import csv
import io
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from support_audit import Season, audited

from wickstats.archive.manifest import compare, make_manifest, read_manifest, write_manifest
from wickstats.archive.results_file import read_results
from wickstats.core.codec import dump_json
from wickstats.core.errors import ReportError
from wickstats.demo.trials import TRIALS
from wickstats.recheck.audit import judge
from wickstats.recheck.compare import compare_trees


@pytest.fixture(params=TRIALS)
def season(request: pytest.FixtureRequest) -> Season:
    return audited(request.param)


def leaves(value: Any, path: str = "") -> Iterator[tuple[str, Any, Any]]:
    """Every leaf as (path, holder, key)."""
    items: list[tuple[Any, Any, str]] = []
    if isinstance(value, dict):
        items = [(k, v, f"{path}.{k}" if path else str(k)) for k, v in value.items()]
    elif isinstance(value, list):
        items = [(i, v, f"{path}[{i}]") for i, v in enumerate(value)]
    for key, item, where in items:
        if isinstance(item, dict | list):
            yield from leaves(item, where)
        else:
            yield where, value, key


def other(value: Any) -> Any:
    """Return a value of the same kind that is not the same."""
    if value is None:
        return 1.0
    if isinstance(value, bool):
        return not value
    if isinstance(value, int | float):
        return value * 1.001 + (0.001 if abs(value) < 1e-6 else 0)
    return value + "x"


def test_an_untouched_folder_has_no_serious_finding(season: Season) -> None:
    audit = judge(season.files, season.again, name="report", results=season.results)
    assert [f for f in audit.findings if f.serious] == []
    assert audit.recomputed > 500


def test_every_changed_leaf_is_named(season: Season) -> None:
    changed = copy.deepcopy(season.plain)
    touched = set()
    for path, holder, key in list(leaves(changed)):
        holder[key] = other(holder[key])
        touched.add(path)
    findings, _ = compare_trees(changed, season.again.plain)
    assert {f.place for f in findings} == touched


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.data())
def test_one_changed_number_is_found_whole(season: Season, data: st.DataObject) -> None:
    changed = copy.deepcopy(season.plain)
    path, holder, key = data.draw(st.sampled_from(list(leaves(changed))))
    holder[key] = other(holder[key])
    files = {**season.files, "results.json": dump_json(changed)}
    intact = [c.path for c in compare(read_manifest(files["manifest.json"]), files)]
    assert "results.json" in intact
    if data.draw(st.booleans()):
        files["manifest.json"] = write_manifest(make_manifest(files, trial="x"))
    try:
        results = read_results(files["results.json"])
    except ReportError:
        return  # a value that does not fit its type is refused with its key
    audit = judge(files, season.again, name="report", results=results)
    named = [f.place for f in audit.findings if f.serious]
    assert path in named or path.startswith("wickstats")


def test_every_changed_cell_names_its_file_and_row(season: Season) -> None:
    tables = {p: d for p, d in season.files.items() if p.startswith("inputs/")}
    manifest = make_manifest(tables, trial="x")
    checked = 0
    for path, content in tables.items():
        if not path.endswith(".csv"):
            (change,) = compare(manifest, {**tables, path: content[:-1] + b"~"})
            assert change.path == path
            continue
        rows = list(csv.reader(io.StringIO(content.decode("utf-8"))))
        own = make_manifest({path: content}, trial="x")
        for j in range(len(rows[0])):
            # one column's cells in every row at once: every row must be named
            texts = [",".join([*row[:j], row[j] + "9", *row[j + 1 :]]) for row in rows]
            (change,) = compare(own, {path: ("\n".join(texts) + "\n").encode()})
            assert change.path == path
            assert [r for _, r in change.rows] == list(range(1, len(rows) + 1))
            checked += len(rows)
    assert checked > 50


def test_a_changed_input_under_a_new_manifest_is_named(season: Season) -> None:
    for path in [p for p in season.files if p.startswith("inputs/")]:
        files = {**season.files, path: season.files[path] + b"\n"}
        files["manifest.json"] = write_manifest(make_manifest(files, trial="x"))
        audit = judge(files, season.again, name="report", results=season.results)
        assert path in [f.place for f in audit.findings if f.serious]
