"""The audit of a report's folder: hashes, layout, every number, the second engine.

Serious: anything that a reader of the report would be misled by. Leans on archive,
core and ``recompute``.
"""

import hashlib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from wickstats.archive.folder import read_folder
from wickstats.archive.manifest import (
    MANIFEST_NAME,
    Manifest,
    compare,
    library_version,
    read_manifest,
)
from wickstats.archive.results_file import RESULTS_NAME, read_results
from wickstats.core.codec import to_plain
from wickstats.core.errors import ReportError
from wickstats.core.language import ENGLISH, LANGUAGES
from wickstats.core.results import Results
from wickstats.core.words import say
from wickstats.recheck.against import differences
from wickstats.recheck.compare import change_finding, compare_trees
from wickstats.recheck.files import (
    PAGE,
    changed_versions,
    rebuilt,
    versions_missing,
    versions_told,
)
from wickstats.recheck.findings import Audit, Finding
from wickstats.recheck.line_ends import restored
from wickstats.recheck.marks import is_simulated, mark_findings
from wickstats.recheck.recompute import INPUTS, Recomputed, recompute

# a folder whose manifest was taken out is still audited
KNOWN_BY = (MANIFEST_NAME, RESULTS_NAME)

Rebuilt = Callable[[Results, str], Mapping[str, bytes]]


def audit_folder(folder: Path, *, rebuild: Rebuilt, against: Path | None = None) -> Audit:
    """Recompute a report's folder, opened read-only.

    Parameters
    ----------
    folder
        What ``wickstats analyze`` wrote.
    rebuild
        Turns results and a language into the files of a report's folder.
    against
        A second report's folder that should say the same.

    Raises
    ------
    ReportError
        Where a folder is missing or is no report's folder at all.
    """
    files = read_folder(folder, KNOWN_BY)
    results, problems = recorded_results(files)
    trial_file = results.inputs[0].path if results is not None and results.inputs else None
    files, ends = restored(files, _quietly(files))
    language = _language(files)
    again = recompute(files, trial_file, lambda results: rebuild(results, language))
    extra = [*links(folder), *_hidden(folder), *problems, *ends]
    if against is not None and results is not None:
        extra.extend(_against(results, files, against))
    return judge(files, again, name=folder.name, results=results, extra=tuple(extra))


def judge(
    files: Mapping[str, bytes],
    again: Recomputed,
    *,
    name: str,
    results: Results | None,
    extra: tuple[Finding, ...] = (),
) -> Audit:
    """Hold a folder's files against its manifest, its records and a recomputation."""
    findings: list[Finding] = list(extra)
    manifest = _manifest(files, findings)
    if manifest is not None:
        findings.extend(change_finding(change) for change in compare(manifest, files))
    count = 0
    if RESULTS_NAME not in files:
        findings.append(Finding("serious", "file", RESULTS_NAME, say("audit not there")))
    if results is not None:
        findings.extend(_inputs(files, results))
        findings.extend(versions_told(files, results, manifest))
        if again.plain is None:
            sentence = say("audit no recompute", why=again.why_not or "")
            findings.append(Finding("serious", "number", RESULTS_NAME, sentence))
        else:
            wrong, count = compare_trees(
                _comparable(to_plain(results)), _comparable(again.plain)
            )
            findings.extend(wrong)
        findings.extend(_second(results))
        same = manifest is not None and not changed_versions(manifest)
        findings.extend(mark_findings(files, results, again, same_versions=same))
    if again.plain is not None:
        findings.extend(rebuilt(files, again.files, manifest))
    findings.extend(again.asked)
    return Audit(
        folder=name,
        trial=results.trial.id if results is not None else "",
        wickstats=library_version("wickstats"),
        findings=tuple(finding.asked() for finding in findings),
        recomputed=count,
        layout=_layout_words(results, drawn_again=again.plain is not None),
        second_engine=results.second_engine if results is not None else (),
        simulated=is_simulated(results, again),
        looked_at=again.looked_at,
    )


def _language(files: Mapping[str, bytes]) -> str:
    """The language that the manifest names, else the page's, where it has words here."""
    manifest = _quietly(files)
    if manifest is not None:
        return manifest.language if manifest.language in LANGUAGES else ENGLISH
    page = files.get(PAGE, b"")
    others = (name for name in LANGUAGES if name != ENGLISH)
    return next((name for name in others if f' lang="{name}"'.encode() in page), ENGLISH)


def _quietly(files: Mapping[str, bytes]) -> Manifest | None:
    """The manifest, or None where there is none to read, which is told elsewhere."""
    try:
        return read_manifest(files.get(MANIFEST_NAME, b""))
    except ReportError:
        return None


def links(folder: Path) -> list[Finding]:
    """A finding for every symbolic link: none is followed."""
    return [
        Finding("serious", "link", path.relative_to(folder).as_posix(), say("audit link"))
        for path in sorted(folder.rglob("*"))
        if path.is_symlink()
    ]


def _hidden(folder: Path) -> list[Finding]:
    """A note on files that are not looked at, since file managers leave such behind."""
    names = [path.relative_to(folder) for path in sorted(folder.rglob("*")) if path.is_file()]
    told = [n.as_posix() for n in names if any(part.startswith(".") for part in n.parts)]
    sentence = say("audit hidden", n=len(told))
    return [Finding("note", "file", ", ".join(told), sentence)] if told else []


def recorded_results(files: Mapping[str, bytes]) -> tuple[Results | None, list[Finding]]:
    """Read results.json; where it cannot be read, a finding says why."""
    data = files.get(RESULTS_NAME)
    if data is None:
        return None, []
    try:
        return read_results(data), []
    except ReportError as error:
        return None, [
            Finding(
                "serious",
                "number",
                p.file,
                say("audit results unreadable", found=p.found, expected=p.expected),
            )
            for p in error.problems
        ]


def _manifest(files: Mapping[str, bytes], findings: list[Finding]) -> Manifest | None:
    if MANIFEST_NAME not in files:
        sentence = say("audit manifest missing")
        findings.append(Finding("serious", "manifest", MANIFEST_NAME, sentence))
        return None
    try:
        manifest = read_manifest(files[MANIFEST_NAME])
    except ReportError as error:
        findings.extend(
            Finding(
                "serious",
                "manifest",
                MANIFEST_NAME,
                say("audit manifest unreadable", found=p.found),
            )
            for p in error.problems
        )
        return None
    findings.extend(versions_missing(manifest))
    if manifest.language not in (None, *LANGUAGES):
        sentence = say("audit language", language=manifest.language)
        findings.append(Finding("serious", "manifest", MANIFEST_NAME, sentence))
    return manifest


def _inputs(files: Mapping[str, bytes], results: Results) -> list[Finding]:
    """Hold the archived inputs against the digests that results.json recorded."""
    out = []
    for item in results.inputs:
        data = files.get(INPUTS + item.path)
        if data is None:
            out.append(
                Finding("serious", "input", INPUTS + item.path, say("audit input missing"))
            )
            continue
        found = hashlib.sha256(data).hexdigest()
        if found != item.sha256:
            sentence = say("audit input", recorded=item.sha256[:12], found=found[:12])
            out.append(Finding("serious", "input", INPUTS + item.path, sentence))
    read = {INPUTS + item.path for item in results.inputs}
    out.extend(
        Finding("serious", "input", path, say("audit input extra"))
        for path in files
        if path.startswith(INPUTS) and path not in read
    )
    return out


def _comparable(plain: dict[str, Any]) -> dict[str, Any]:
    """Leave out what a later version of the program may rightly say otherwise."""
    return {key: value for key, value in plain.items() if key != "wickstats"}


def _second(results: Results) -> list[Finding]:
    return [
        Finding(
            "serious",
            "second engine",
            row.what,
            say("audit second disagrees", theirs=row.theirs, ours=row.ours),
        )
        for row in results.second_engine
        if row.agrees is False
    ]


def _against(results: Results, files: Mapping[str, bytes], other: Path) -> list[Finding]:
    held = read_folder(other, KNOWN_BY)
    theirs, problems = recorded_results(held)
    held, _ = restored(held, _quietly(held))
    return problems if theirs is None else differences(results, theirs, files, held)


def _layout_words(results: Results | None, *, drawn_again: bool) -> str:
    if results is None:
        return ""
    if not drawn_again or (results.layout.drawn == "here" and results.layout.seed is None):
        return say("audit layout unknown")
    keys = {
        "here": "audit layout here",
        "elsewhere": "audit layout elsewhere",
        "not at random": "audit layout not random",
    }
    return say(keys.get(results.layout.drawn, "audit layout elsewhere"))
