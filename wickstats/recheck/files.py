"""Pages, tables and pictures held against what the recomputed results give.

With the same versions every byte must agree. With others, tables must agree as numbers do
and the page in its words; pictures are then named in a note. Leans on archive, core and
``contents``.
"""

from collections.abc import Mapping

from wickstats.archive.manifest import LIBRARIES, MANIFEST_NAME, Manifest, library_version
from wickstats.archive.results_file import RESULTS_NAME
from wickstats.core.results import Results
from wickstats.core.words import say
from wickstats.recheck.contents import told_difference
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
    if changed:
        words = say("audit not rebuilt", versions=", ".join(changed))
        out.append(Finding("note", "note", MANIFEST_NAME, words))
    pictures = []
    for path, data in again.items():
        if path.startswith(INPUTS) or path == RESULTS_NAME:
            continue  # held against their digests and leaf by leaf
        if path not in files:
            out.append(Finding("serious", "file", path, say("audit not there")))
            continue
        if files[path] == data:
            continue
        told = told_difference(path, files[path], data, loosely=bool(changed))
        if not changed:
            sentence = say("audit rebuilt", told=told or say("audit bytes differ"))
            out.append(Finding("serious", "file", path, sentence))
        elif path.endswith(".svg"):
            pictures.append(path)
        elif told is not None:
            out.append(Finding("serious", "file", path, say("audit says other", told=told)))
    if pictures:
        sentence = say("audit pictures", count=len(pictures))
        out.append(Finding("note", "file", ", ".join(pictures), sentence))
    own = {*again, MANIFEST_NAME, RESULTS_NAME}
    out.extend(
        Finding("serious", "file", path, say("audit not ours"))
        for path in files
        if path not in own and not path.startswith(INPUTS)
    )
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
