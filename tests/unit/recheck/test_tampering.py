"""Ways of tampering with a report's folder: each is found and named by file, row or key.

Each once with the manifest as it was and once with a manifest made anew.
"""

import functools
import io
import json
import re
import zipfile
from collections.abc import Callable
from typing import Any

import pytest
from support_audit import Season, audited

from wickstats.archive.manifest import make_manifest, read_manifest, write_manifest
from wickstats.core.codec import dump_json, parse_json
from wickstats.recheck.audit import judge, recorded_results
from wickstats.recheck.findings import Audit
from wickstats.recheck.recompute import recompute

Files = dict[str, bytes]
VISITS, LAYOUT = "inputs/visits.csv", "inputs/layout.csv"
RECORD, TRIAL = "inputs/layout.record.json", "inputs/trial.yaml"


def lines(files: Files, path: str, change: Callable[[list[str]], None]) -> None:
    held = files[path].decode("utf-8").split("\n")
    change(held)
    files[path] = "\n".join(held).encode("utf-8")


def text(files: Files, path: str, old: str, new: str) -> None:
    before = files[path].decode("utf-8")
    assert old in before, (path, old)
    files[path] = before.replace(old, new, 1).encode("utf-8")


def results(files: Files, change: Callable[[dict[str, Any]], None]) -> None:
    plain = parse_json(files["results.json"])
    change(plain)
    files["results.json"] = dump_json(plain)


def death_moved(files: Files) -> None:
    def change(held: list[str]) -> None:
        for k, line in enumerate(held):
            own = line.split(",")[1:3]
            before = [j for j in range(k) if held[j].split(",")[1:3] == own]
            if ",dead," in line and before and ",alive," in held[before[-1]]:
                held[before[-1]] = held[before[-1]].replace(",alive,", ",dead,")
                return
        raise AssertionError("no death after a visit")

    lines(files, VISITS, change)


def row_deleted(files: Files) -> None:
    lines(files, VISITS, lambda held: held.pop(40))


def row_doubled(files: Files) -> None:
    lines(files, VISITS, lambda held: held.insert(40, held[40]))


def size_changed(files: Files) -> None:
    """A size 1 % larger, in the workbook's own XML."""
    out = io.BytesIO()
    packed = io.BytesIO(files["inputs/sizes.xlsx"])
    with zipfile.ZipFile(packed) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            data = old.read(name)
            if name.endswith("sheet1.xml"):
                data = re.sub(
                    rb'(<c r="[A-Z]+60"[^>]*><v>)(\d{2,3})(</v>)',
                    lambda m: m[1] + f"{float(m[2]) * 1.01:g}".encode() + m[3],
                    data,
                )
            new.writestr(name, data)
    files["inputs/sizes.xlsx"] = out.getvalue()


def labels_swapped(files: Files) -> None:
    def change(held: list[str]) -> None:
        one, two = held[1].split(","), held[3].split(",")
        held[1], held[3] = ",".join([two[0], *one[1:]]), ",".join([one[0], *two[1:]])

    lines(files, LAYOUT, change)


def layout_edited(files: Files) -> None:
    text(files, LAYOUT, "capillary wick", "gravity wick")


def record_edited(files: Files) -> None:
    text(files, RECORD, '"claimed_on": "2025', '"claimed_on": "2024')


def seed_replaced(files: Files) -> None:
    text(files, RECORD, "20250317", "20250318")


def exclusion_hidden(files: Files) -> None:
    results(files, lambda plain: plain["exclusions"].pop())


def query_removed(files: Files) -> None:
    results(files, lambda plain: plain["queries"].pop())


def plan_changed(files: Files) -> None:
    text(files, TRIAL, "confidence: 0.95", "confidence: 0.90")


def margin_widened(files: Files) -> None:
    text(files, TRIAL, "survival: {difference: 0.10}", "survival: {difference: 0.30}")


def primary_swapped(files: Files) -> None:
    text(files, TRIAL, "primary: survival", "primary: height")
    text(files, TRIAL, "secondary: [height]", "secondary: [survival]")


def _first(plain: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = plain["responses"][0]["comparisons"][0]
    return found


def estimate_edited(files: Files) -> None:
    results(files, lambda plain: _first(plain).update(estimate=0.42))


def p_edited(files: Files) -> None:
    results(files, lambda plain: _first(plain).update(p=0.049))


def sentence_edited(files: Files) -> None:
    results(files, lambda plain: _first(plain).update(sentence="The wick always wins."))


def verdict_dropped(files: Files) -> None:
    results(files, lambda plain: _first(plain).update(verdict=None))


def _one(files: Files, start: str, end: str) -> str:
    return next(path for path in files if path.startswith(start) and path.endswith(end))


def figure_edited(files: Files) -> None:
    path = _one(files, "figures/survival", ".svg")
    files[path] = re.sub(rb"(\d)\.(\d)", rb"\2.\1", files[path], count=1)


def figure_data_edited(files: Files) -> None:
    """The table behind the curves."""
    text(files, "tables/survival-curves.csv", "1.0", "0.9")


def table_edited(files: Files) -> None:
    text(files, "tables/survival-comparisons.csv", "0.", "1.")


def page_edited(files: Files) -> None:
    text(files, "report.html", "hand watering", "no watering")


def version_edited(files: Files) -> None:
    results(files, lambda plain: plain.update(wickstats="9.9.9"))


def results_removed(files: Files) -> None:
    del files["results.json"]


def table_removed(files: Files) -> None:
    del files["tables/queries.csv"]


def page_removed(files: Files) -> None:
    del files["report.html"]


def trial_removed(files: Files) -> None:
    del files[TRIAL]


def file_added(files: Files) -> None:
    files["tables/better.csv"] = b"a,b\n1,2\n"


def nonsense(files: Files) -> None:
    files["results.json"] = b'{"results_format": 1, "results_format": 1}'


KINDS: dict[Callable[[Files], None], str] = {
    death_moved: VISITS,
    row_deleted: VISITS,
    row_doubled: VISITS,
    size_changed: "inputs/sizes.xlsx",
    labels_swapped: LAYOUT,
    layout_edited: LAYOUT,
    record_edited: RECORD,
    seed_replaced: RECORD,
    exclusion_hidden: "exclusions[1]",
    query_removed: "queries[",
    plan_changed: TRIAL,
    margin_widened: TRIAL,
    primary_swapped: TRIAL,
    estimate_edited: "responses[0].comparisons[0].estimate",
    p_edited: "responses[0].comparisons[0].p",
    sentence_edited: "responses[0].comparisons[0].sentence",
    verdict_dropped: "responses[0].comparisons[0].verdict",
    figure_edited: "figures/survival",
    figure_data_edited: "tables/survival-curves.csv",
    table_edited: "tables/survival-comparisons.csv",
    page_edited: "report.html",
    version_edited: "wickstats",
    results_removed: "results.json",
    table_removed: "tables/queries.csv",
    page_removed: "report.html",
    trial_removed: TRIAL,
    file_added: "tables/better.csv",
    nonsense: "results.json",
}
ROWS = {death_moved, row_deleted, row_doubled, size_changed, labels_swapped, layout_edited}


@functools.cache
def season() -> Season:
    return audited("quarry-oaks")


def audit_of(files: Files) -> Audit:
    """As ``audit`` does it, but recomputed only where an input changed."""
    held = season()
    same = all(
        files.get(path) == data
        for path, data in held.files.items()
        if path.startswith("inputs/")
    )
    # pages and pictures of other inputs are not what these tests are about: not drawn again
    again = held.again if same else recompute(files, "trial.yaml", lambda _: held.files)
    recorded, extra = recorded_results(files)
    return judge(files, again, name="report", results=recorded, extra=tuple(extra))


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_tampering_is_found_and_named(kind: Callable[[Files], None]) -> None:
    files = dict(season().files)
    kind(files)
    assert files != season().files
    for new_manifest in (False, True):
        if new_manifest:
            files["manifest.json"] = write_manifest(make_manifest(files, trial="quarry-oaks"))
        found = [f.place for f in audit_of(files).findings if f.serious]
        assert any(place.startswith(KINDS[kind]) for place in found), (new_manifest, found)
        if kind in ROWS and not new_manifest:
            assert any(f"{KINDS[kind]}, " in place and "row " in place for place in found)


def test_numbers_that_an_input_moved_are_named_too() -> None:
    files = dict(season().files)
    death_moved(files)
    files["manifest.json"] = write_manifest(make_manifest(files, trial="quarry-oaks"))
    found = [f.place for f in audit_of(files).findings if f.serious]
    assert any(place.startswith("responses[0].curves") for place in found)


@pytest.mark.parametrize(
    ("kind", "place"),
    [(table_edited, "tables/survival-comparisons.csv"), (page_edited, "report.html")],
)
def test_a_forged_library_version_hides_nothing(
    kind: Callable[[Files], None], place: str
) -> None:
    """With other versions told, tables are held as numbers and the page by its words."""
    files = dict(season().files)
    kind(files)
    made = json.loads(write_manifest(make_manifest(files, trial="quarry-oaks")))
    made["libraries"]["matplotlib"] = "0.0.1"
    files["manifest.json"] = dump_json(made)
    audit = audit_of(files)
    assert place in [f.place for f in audit.findings if f.serious]
    assert any("matplotlib 0.0.1 then" in f.sentence for f in audit.findings)


def test_other_versions_alone_are_no_serious_finding() -> None:
    files = dict(season().files)
    figure_edited(files)  # as another version may draw it
    text(files, "tables/survival-units.csv", "0.875", "0.8750000000001")
    made = json.loads(write_manifest(make_manifest(files, trial="quarry-oaks")))
    made["libraries"]["matplotlib"] = "0.0.1"
    files["manifest.json"] = dump_json(made)
    audit = audit_of(files)
    assert [f for f in audit.findings if f.serious] == []
    assert any("1 pictures are not the ones" in f.sentence for f in audit.findings)
    assert read_manifest(files["manifest.json"]).libraries["matplotlib"] == "0.0.1"


def test_the_layout_is_not_vouched_for_where_nothing_was_recomputed() -> None:
    files = dict(season().files)
    seed_replaced(files)
    assert "could not be checked" in audit_of(files).layout
    assert "drawn again from its seed" in audit_of(dict(season().files)).layout
