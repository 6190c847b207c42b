"""Ways of tampering with a report's folder: each is found and named by file, row or key.

Each once with the manifest as it was and once with a manifest made anew.
"""

import functools
import json
from collections.abc import Callable
from typing import Any

import pytest
from support_audit import Season, audited
from support_tampering import (
    KINDS,
    ROWS,
    TOLD,
    Files,
    cell_raised,
    death_moved,
    figure_alternative_edited,
    figure_edited,
    figure_label_edited,
    link_edited,
    page_alternative_edited,
    page_edited,
    page_label_edited,
    results,
    seed_replaced,
    table_edited,
    text,
)

from wickstats.archive.manifest import make_manifest, read_manifest, write_manifest
from wickstats.core.codec import dump_json, parse_json
from wickstats.recheck.audit import judge, recorded_results
from wickstats.recheck.findings import Audit
from wickstats.recheck.recompute import Recomputed, recompute


@functools.cache
def season() -> Season:
    return audited("quarry-oaks")


@functools.lru_cache(maxsize=1)
def analyzed_again(inputs: tuple[tuple[str, bytes], ...]) -> Recomputed:
    """Recomputed once for the inputs last seen, whatever manifest stands beside them.

    Pages and pictures of other inputs are not what these tests are about: not drawn again.
    """
    return recompute(dict(inputs), "trial.yaml", lambda _: season().files)


def audit_of(files: Files) -> Audit:
    """As ``audit`` does it, but recomputed only where an input changed."""
    held = season()
    same = all(
        files.get(path) == data
        for path, data in held.files.items()
        if path.startswith("inputs/")
    )
    inputs = (item for item in files.items() if item[0] != "manifest.json")
    again = held.again if same else analyzed_again(tuple(inputs))
    recorded, extra = recorded_results(files)
    return judge(files, again, name="report", results=recorded, extra=tuple(extra))


def resized(files: Files, old: int, new: int) -> None:
    """Another size of a file in the crate's description."""
    text(files, "ro-crate-metadata.json", f'Size": "{old}"', f'Size": "{new}"')


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_tampering_is_found_and_named(kind: Callable[[Files], None]) -> None:
    files = dict(season().files)
    kind(files)
    assert files != season().files
    for new_manifest in (False, True):
        if new_manifest:
            files["manifest.json"] = write_manifest(make_manifest(files, trial="quarry-oaks"))
        findings = [f for f in audit_of(files).findings if f.serious]
        found = [f.place for f in findings]
        assert any(place.startswith(KINDS[kind]) for place in found), (new_manifest, found)
        if kind in TOLD:
            told = [f.sentence for f in findings if f.place.startswith(KINDS[kind])]
            assert any(TOLD[kind] in sentence for sentence in told), told
        if kind in ROWS and not new_manifest:
            assert any(f"{KINDS[kind]}, " in place and "row " in place for place in found)


def test_a_manifest_that_lies_about_itself_is_found() -> None:
    made = json.loads(season().files["manifest.json"])
    first = made["files"][0]["path"]
    rows = made["input_rows"][0]["path"]

    def audited_with(change: Callable[[dict[str, Any]], None]) -> list[tuple[str, str]]:
        held = json.loads(season().files["manifest.json"])
        change(held)
        files = {**season().files, "manifest.json": dump_json(held)}
        return [(f.place, f.kind) for f in audit_of(files).findings if f.serious]

    doubled = '"trial": "quarry-oaks",\n  "trial": "quarry-oaks"'
    twice = season().files["manifest.json"].decode().replace('"trial": "quarry-oaks"', doubled)
    files = {**season().files, "manifest.json": twice.encode()}
    assert [f.place for f in audit_of(files).findings if f.serious] == ["manifest.json"]
    for change, place in (
        (lambda held: held["files"].append(held["files"][0]), first),
        (lambda held: held["files"][0].update(size=1), first),
        (lambda held: held["input_rows"][0]["digests"].pop(), rows),
        (lambda held: held["input_rows"].pop(0), rows),
        (lambda held: held.update(trial="other"), "manifest.json"),
        (lambda held: held["files"].pop(0), first),
    ):
        assert audited_with(change) == [(place, "manifest")]


def test_a_mass_one_percent_larger_is_named_by_row_and_by_the_numbers_that_it_moves() -> None:
    """One pick of one plot, in the workbook's own XML; the season's total moves by less."""
    held = audited("garden-peppers")
    files = dict(held.files)
    before = cell_raised(files, "inputs/season.xlsx", "picks", "E60", 1.01)
    assert before > 0
    again = recompute(files, "trial.yaml", lambda _: held.files)
    for new_manifest in (False, True):
        if new_manifest:
            made = make_manifest(files, trial=held.trial)
            files["manifest.json"] = write_manifest(made)
        recorded, _ = recorded_results(files)
        outcome = judge(files, again, name="report", results=recorded)
        found = [f for f in outcome.findings if f.serious]
        places = [f.place for f in found]
        assert "inputs/season.xlsx" in places
        if not new_manifest:
            assert "inputs/season.xlsx, sheet picks row 60" in places
        moved = [f for f in found if f.place.endswith(".estimate")]
        assert any("fruit mass" in f.sentence for f in moved)


def test_numbers_that_an_input_moved_are_named_too() -> None:
    files = dict(season().files)
    death_moved(files)
    files["manifest.json"] = write_manifest(make_manifest(files, trial="quarry-oaks"))
    found = [f.place for f in audit_of(files).findings if f.serious]
    assert any(place.startswith("responses[0].curves") for place in found)


@pytest.mark.parametrize(
    ("kind", "place"),
    [
        (table_edited, "tables/survival-comparisons.csv"),
        (page_edited, "report.html"),
        (page_label_edited, "report.html"),
        (page_alternative_edited, "report.html"),
        (link_edited, "report.html"),
        (figure_alternative_edited, "figures/survival-curves.svg"),
        (figure_label_edited, "figures/survival"),
    ],
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
    assert any(f.place.startswith(place) for f in audit.findings if f.serious)
    assert any("matplotlib 0.0.1 then" in f.sentence for f in audit.findings)


def test_other_versions_alone_are_no_serious_finding() -> None:
    files = dict(season().files)
    figure_edited(files)  # as another version may draw it
    text(files, "tables/survival-units.csv", "0.875", "0.8750000000001")
    size = len(season().files["tables/survival-units.csv"])
    resized(files, size, size + 10)
    made = json.loads(write_manifest(make_manifest(files, trial="quarry-oaks")))
    made["libraries"]["matplotlib"] = "0.0.1"
    files["manifest.json"] = dump_json(made)
    audit = audit_of(files)
    assert [f for f in audit.findings if f.serious] == []
    (note,) = [f for f in audit.findings if f.place.startswith("figures/survival")]
    assert note.sentence.startswith("it says the same, but is not drawn as these versions")
    assert read_manifest(files["manifest.json"]).libraries["matplotlib"] == "0.0.1"


def test_a_path_moved_on_the_page_under_other_versions_is_told() -> None:
    files = dict(season().files)
    size = len(files["report.html"])
    text(files, "report.html", ' d="M', ' d="M9')
    resized(files, size, size + 1)
    made = json.loads(write_manifest(make_manifest(files, trial="quarry-oaks")))
    made["libraries"]["matplotlib"] = "0.0.1"
    files["manifest.json"] = dump_json(made)
    audit = audit_of(files)
    assert audit.serious == 0
    assert ("note", "report.html") in [(f.weight, f.place) for f in audit.findings]


def test_versions_taken_out_or_replaced_are_told() -> None:
    def told(change: Callable[[dict[str, Any]], None]) -> list[tuple[str, str]]:
        held = json.loads(season().files["manifest.json"])
        change(held)
        files = {**season().files, "manifest.json": dump_json(held)}
        found = [f for f in audit_of(files).findings if f.place == "manifest.json"]
        return [(f.weight, f.sentence) for f in found]

    assert told(lambda held: held["libraries"].pop("scipy")) == [
        ("serious", "the manifest names no version of scipy")
    ]
    ((weight, sentence),) = told(lambda held: held.update(python="3.9.1"))
    assert (weight, sentence[:28]) == ("note", "written under Python 3.9.1, ")
    ((weight, sentence),) = told(lambda held: held["libraries"].update(scipy="0.1"))
    assert weight == "note"
    assert sentence.startswith("the manifest names other versions (scipy 0.1 then, ")
    assert sentence.endswith("every file is, byte for byte, what the versions here give")


def test_a_report_of_an_earlier_wickstats_is_no_serious_finding() -> None:
    now = season().results.wickstats
    files = {
        path: data.replace(f"wickstats {now}".encode(), b"wickstats 0.0.9")
        if path == "report.html"
        else data
        for path, data in season().files.items()
    }
    files["results.json"] = files["results.json"].replace(
        f'"wickstats": "{now}"'.encode(), b'"wickstats": "0.0.9"'
    )
    made = json.loads(write_manifest(make_manifest(files, trial="quarry-oaks")))
    made["wickstats"] = "0.0.9"
    files["manifest.json"] = dump_json(made)
    audit = audit_of(files)
    assert [f.place for f in audit.findings if f.serious] == []
    assert any("wickstats 0.0.9 then" in f.sentence for f in audit.findings)


def test_another_seed_in_the_trial_file_is_a_question() -> None:
    """With every digest made anew: the layout is the one of the record, not of that seed."""
    files = dict(season().files)
    text(files, "inputs/trial.yaml", "seed: 20250317", "seed: 5")
    found = [f for f in audit_of(files).findings if f.kind == "layout"]
    assert [(f.weight, f.place) for f in found] == [("question", "inputs/trial.yaml")]
    assert "names the seed 5, the layout's record 20250317" in found[0].sentence


def test_last_digits_of_another_machine_are_a_note_and_a_forged_size_is_not() -> None:
    files = dict(season().files)
    text(files, "tables/survival-units.csv", "0.875", "0.8750000000001")
    size = len(season().files["tables/survival-units.csv"])
    resized(files, size, size + 10)
    files["manifest.json"] = write_manifest(make_manifest(files, trial="quarry-oaks"))
    audit = audit_of(files)
    assert [f.place for f in audit.findings if f.serious] == []
    (note,) = [f for f in audit.findings if "other last digits" in f.sentence]
    assert note.weight == "note"
    assert "tables/survival-units.csv" in note.place
    files = dict(season().files)
    resized(files, size, size + 1)
    files["manifest.json"] = write_manifest(make_manifest(files, trial="quarry-oaks"))
    found = [f.sentence for f in audit_of(files).findings if f.serious]
    assert found[0].endswith(f"is told as {size + 1}, it is {size}")


@pytest.mark.parametrize("path", ["results.json", "ro-crate-metadata.json"])
def test_values_in_another_order_are_a_question(path: str) -> None:
    """With a manifest made anew: nobody is misled, and still it is not as it was written."""
    files = dict(season().files)
    held = parse_json(files[path])
    if path == "results.json":
        files[path] = dump_json(dict(reversed(list(held.items()))))
    else:
        held["@graph"].reverse()
        files[path] = dump_json(held)
    files["manifest.json"] = write_manifest(make_manifest(files, trial="quarry-oaks"))
    audit = audit_of(files)
    assert [f.place for f in audit.findings if f.serious] == []
    (told,) = [f for f in audit.findings if "another order" in f.sentence]
    assert (told.place, told.weight) == (path, "question")
    assert told.ask
    assert not [f for f in audit.findings if "last digits of another" in f.sentence]
    assert not [f for f in audit.findings if "other last digits" in f.sentence]


def test_sentences_that_differ_late_are_told_from_there() -> None:
    held = season().plain["responses"][0]["comparisons"][0]["sentence"]

    def change(plain: dict[str, Any]) -> None:
        plain["responses"][0]["comparisons"][0]["sentence"] = f"{held[:-12]}99 more)."

    files = dict(season().files)
    results(files, change)
    (told,) = [f.sentence for f in audit_of(files).findings if f.place.endswith("[0].sentence")]
    assert "99 more" in told
    assert held[-12:] in told


def test_the_layout_is_not_vouched_for_where_nothing_was_recomputed() -> None:
    files = dict(season().files)
    seed_replaced(files)
    assert "could not be checked" in audit_of(files).layout
    assert "drawn again from its seed" in audit_of(dict(season().files)).layout
