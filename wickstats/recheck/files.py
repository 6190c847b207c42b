"""Pages, tables and pictures held against what the recomputed results give.

With the same versions every byte must agree. With others, tables must agree as numbers do
and the page in its words; pictures are then named in a note. Leans on archive, core and
``contents``.
"""

import platform
from collections.abc import Mapping
from urllib.parse import unquote

from wickstats.archive.crate import CRATE_NAME
from wickstats.archive.manifest import LIBRARIES, MANIFEST_NAME, Manifest, library_version
from wickstats.archive.results_file import RESULTS_NAME
from wickstats.core.codec import parse_json
from wickstats.core.results import Results
from wickstats.core.words import say
from wickstats.recheck.contents import SIZE_KEY, only_order, told_difference
from wickstats.recheck.findings import Finding
from wickstats.recheck.recompute import INPUTS

PAGE = "report.html"


def versions_told(
    files: Mapping[str, bytes], results: Results, manifest: Manifest | None
) -> list[Finding]:
    """Results, manifest and page must name one trial and one version of wickstats."""
    told = results.wickstats
    out = []
    if manifest is not None and manifest.wickstats != told:
        sentence = say("audit version", there=manifest.wickstats, here=told)
        out.append(Finding("serious", "number", "wickstats", sentence))
    if manifest is not None and manifest.trial != results.trial.id:
        sentence = say("audit manifest trial", there=manifest.trial, here=results.trial.id)
        out.append(Finding("serious", "manifest", MANIFEST_NAME, sentence))
    page = files.get(PAGE)
    if page is not None and f"wickstats {told}".encode() not in page:
        sentence = say("audit version page", here=told)
        out.append(Finding("serious", "file", PAGE, sentence))
    return out


def rebuilt(
    files: Mapping[str, bytes], again: Mapping[str, bytes], manifest: Manifest | None
) -> list[Finding]:
    """Name every file that is not what the recomputed results give."""
    changed = changed_versions(manifest)
    out: list[Finding] = []
    pictures, alike = [], []
    same = True
    for path, data in again.items():
        if path.startswith(INPUTS) or path == RESULTS_NAME:
            continue  # held against their digests and leaf by leaf
        if path not in files:
            out.append(Finding("serious", "file", path, say("audit not there")))
            continue
        if files[path] == data or (not changed and _same_values(path, files[path], data)):
            continue
        same = False
        told = told_difference(path, files[path], data, loosely=bool(changed))
        if told is None and path.endswith((".csv", ".json")):
            alike.append(path)
        elif not changed:
            sentence = say("audit rebuilt", told=told or say("audit bytes differ"))
            out.append(Finding("serious", "file", path, sentence))
        elif told is not None:
            out.append(Finding("serious", "file", path, say("audit says other", told=told)))
        elif path.endswith((".svg", ".html")):
            pictures.append(path)
    if pictures:
        sentence = say("audit pictures", n=len(pictures))
        out.append(Finding("note", "file", ", ".join(pictures), sentence))
    if alike:
        sentence = say("audit alike", n=len(alike))
        out.append(Finding("note", "file", ", ".join(alike), sentence))
    out.extend(_sizes(files))
    out.extend([] if changed else _reordered(files, again))
    if changed:
        key = "audit same anyway" if same else "audit not rebuilt"
        words = say(key, versions=", ".join(changed))
        out.append(Finding("note", "note", MANIFEST_NAME, words))
    own = {*again, MANIFEST_NAME, RESULTS_NAME}
    out.extend(
        Finding("serious", "file", path, say("audit not ours"))
        for path in files
        if path not in own and not path.startswith(INPUTS)
    )
    return out


def _same_values(path: str, found: bytes, given: bytes) -> bool:
    """Whether a file differs in its order or in sizes alone, which are told elsewhere."""
    return path.endswith(".json") and only_order(found, given, sizes=False)


def _reordered(files: Mapping[str, bytes], again: Mapping[str, bytes]) -> list[Finding]:
    """JSON files with the very same values in another order or spacing."""
    return [
        Finding("question", "file", path, say("audit order"))
        for path, data in again.items()
        if path.endswith(".json")
        and not path.startswith(INPUTS)
        and files.get(path, data) != data
        and only_order(files[path], data, sizes=True)
    ]


def _sizes(files: Mapping[str, bytes]) -> list[Finding]:
    """The crate's sizes must be those of the folder's own files."""
    try:
        graph = parse_json(files.get(CRATE_NAME, b"{}")).get("@graph", [])
        told = {unquote(e["@id"]): e[SIZE_KEY] for e in graph if SIZE_KEY in e}
    except (ValueError, RecursionError, AttributeError, KeyError, TypeError):
        return []  # told as an edited file
    wrong = [p for p, size in told.items() if p in files and str(len(files[p])) != str(size)]
    return [
        Finding(
            "serious",
            "file",
            CRATE_NAME,
            say("audit size told", path=path, told=told[path], size=len(files[path])),
        )
        for path in wrong
    ]


def versions_missing(manifest: Manifest) -> list[Finding]:
    """A manifest must name every version; another Python is told."""
    out = []
    missing = [name for name in LIBRARIES if name not in manifest.libraries]
    if missing:
        sentence = say("audit versions missing", names=", ".join(missing))
        out.append(Finding("serious", "manifest", MANIFEST_NAME, sentence))
    now = platform.python_version()
    if manifest.python != now:
        sentence = say("audit python", then=manifest.python, now=now)
        out.append(Finding("note", "note", MANIFEST_NAME, sentence))
    return out


def changed_versions(manifest: Manifest | None) -> list[str]:
    """Versions that the manifest names and this program does not have, in words."""
    if manifest is None:
        return []
    now = {name: library_version(name) for name in LIBRARIES}
    changed = [
        f"{name} {then} then, {now.get(name, 'not installed')} now"
        for name, then in manifest.libraries.items()
        if now.get(name) != then
    ]
    if manifest.wickstats != library_version("wickstats"):
        changed.insert(0, f"wickstats {manifest.wickstats} then")
    return changed
