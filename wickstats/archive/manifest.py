"""manifest.json: what a report's folder holds, so that a change can be named.

Every file but the manifest itself stands with its SHA-256 and size; every input
table also with a short digest per row, so that not only the file but the row
that changed can be told. Rows are counted as a spreadsheet counts them: row 1
is the first. Leans on core and, for workbooks, python-calamine.
"""

import hashlib
import io
import platform
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version

from wickstats.core.codec import dump_json, from_plain, parse_json
from wickstats.core.errors import Problem, ReportError
from wickstats.core.language import ENGLISH

MANIFEST_NAME = "manifest.json"
MANIFEST_FORMAT = 1
MADE_BY = "wickstats"
LIBRARIES = (
    "numpy", "scipy", "pandas", "pyyaml", "pydantic", "statsmodels", "lifelines",
    "matplotlib", "seaborn", "jinja2", "python-calamine", "openpyxl", "babel",
)  # fmt: skip
ROW_DIGITS = 16  # hex digits: enough to find a row; the file's own hash guards it


@dataclass(frozen=True, slots=True)
class FileEntry:
    """A file of the folder: path with forward slashes, digest, bytes."""

    path: str
    sha256: str
    size: int


@dataclass(frozen=True, slots=True)
class TableRows:
    """Short digests of one input table's rows, row 1 first; ``sheet`` in a workbook."""

    path: str
    sheet: str | None
    digests: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Manifest:
    """Everything that manifest.json says; ``language`` where the page's is not English."""

    made_by: str
    format: int
    trial: str
    wickstats: str
    python: str
    libraries: Mapping[str, str]
    files: tuple[FileEntry, ...]
    input_rows: tuple[TableRows, ...]
    language: str | None = None


@dataclass(frozen=True, slots=True)
class Change:
    """A difference between a folder and its manifest.

    ``what`` is changed, missing, unlisted, misdescribed (its digest is right, its size or its
    rows are not) or listed twice; ``rows`` the rows that differ where that can be told, as
    (sheet or None, row).
    """

    path: str
    what: str
    rows: tuple[tuple[str | None, int], ...] = ()


def make_manifest(
    files: Mapping[str, bytes], *, trial: str, language: str = ENGLISH
) -> Manifest:
    """Describe the files of a folder (path in the folder -> bytes)."""
    entries = tuple(
        FileEntry(path, hashlib.sha256(data).hexdigest(), len(data))
        for path, data in sorted(files.items())
        if path != MANIFEST_NAME
    )
    rows: list[TableRows] = []
    for path, data in sorted(files.items()):
        if path.startswith("inputs/"):
            rows.extend(row_digests(path, data))
    return Manifest(
        made_by=MADE_BY,
        format=MANIFEST_FORMAT,
        trial=trial,
        wickstats=library_version("wickstats"),
        python=platform.python_version(),
        libraries={name: library_version(name) for name in LIBRARIES},
        files=entries,
        input_rows=tuple(rows),
        language=None if language == ENGLISH else language,
    )


def library_version(name: str) -> str:
    """Return an installed package's version, or "not installed"."""
    try:
        return version(name)
    except PackageNotFoundError:
        return "not installed"


def write_manifest(manifest: Manifest) -> bytes:
    """Return the bytes of manifest.json."""
    return dump_json(manifest)


def read_manifest(data: bytes) -> Manifest:
    """Read manifest.json strictly.

    Raises
    ------
    ReportError
        Where the bytes are not a manifest of ours.
    """
    try:
        manifest: Manifest = from_plain(Manifest, parse_json(data))
    except (ValueError, RecursionError) as error:
        raise _not_ours(str(error).lstrip(".: ")) from error
    if manifest.made_by != MADE_BY or manifest.format != MANIFEST_FORMAT:
        raise _not_ours(f"made_by {manifest.made_by!r}, format {manifest.format}")
    return manifest


def _not_ours(found: str) -> ReportError:
    return ReportError(
        [
            Problem(
                MANIFEST_NAME,
                "not a manifest of wickstats",
                found,
                f"made_by {MADE_BY!r}, format {MANIFEST_FORMAT}",
                "choose a folder that wickstats wrote",
            )
        ]
    )


def compare(manifest: Manifest, files: Mapping[str, bytes]) -> tuple[Change, ...]:
    """Name every file (and, in input tables, every row) that differs from the manifest."""
    changes: list[Change] = []
    listed = {entry.path: entry for entry in manifest.files}
    counts = Counter(entry.path for entry in manifest.files)
    for path, entry in listed.items():
        if counts[path] > 1:
            changes.append(Change(path, "listed twice"))
        if path not in files:
            changes.append(Change(path, "missing"))
        elif hashlib.sha256(files[path]).hexdigest() != entry.sha256:
            changes.append(Change(path, "changed", _changed_rows(manifest, path, files[path])))
        elif entry.size != len(files[path]) or not _rows_told(manifest, path, files[path]):
            changes.append(Change(path, "misdescribed"))
    changes.extend(
        Change(path, "unlisted")
        for path in sorted(files)
        if path not in listed and path != MANIFEST_NAME
    )
    return tuple(changes)


def _rows_told(manifest: Manifest, path: str, data: bytes) -> bool:
    """Whether the digests of an unchanged input's rows are those of its rows."""
    told = tuple(r for r in manifest.input_rows if r.path == path)
    return told == (row_digests(path, data) if path.startswith("inputs/") else ())


def _changed_rows(
    manifest: Manifest, path: str, data: bytes
) -> tuple[tuple[str | None, int], ...]:
    before = {r.sheet: r.digests for r in manifest.input_rows if r.path == path}
    if not before:
        return ()
    after = {r.sheet: r.digests for r in row_digests(path, data)}
    found: list[tuple[str | None, int]] = []
    for sheet in sorted(before.keys() | after.keys(), key=str):
        found.extend(
            (sheet, n) for n in _differing(before.get(sheet, ()), after.get(sheet, ()))
        )
    return tuple(found)


def _differing(old: tuple[str, ...], new: tuple[str, ...]) -> list[int]:
    """Rows of the new table that are not the old ones; an inserted row shifts no blame."""
    if len(old) == len(new):
        return [i + 1 for i, (a, b) in enumerate(zip(old, new, strict=True)) if a != b]
    head = 0
    while head < min(len(old), len(new)) and old[head] == new[head]:
        head += 1
    tail = 0
    while tail < min(len(old), len(new)) - head and old[-1 - tail] == new[-1 - tail]:
        tail += 1
    return list(range(head + 1, max(len(new) - tail, head + 1) + 1))


def row_digests(path: str, data: bytes) -> tuple[TableRows, ...]:
    """Return short digests of a text file's or a workbook's rows.

    A workbook that cannot be opened has none: its file's own hash still guards it.
    """
    if path.lower().endswith(".xlsx"):
        return _workbook_digests(path, data)
    return (TableRows(path, None, tuple(_short(row) for row in _logical_rows(data))),)


def _short(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()[:ROW_DIGITS]


def _logical_rows(data: bytes) -> list[bytes]:
    """Split at line ends that are not inside quotes, as table readers do."""
    rows: list[bytes] = []
    held: list[bytes] = []
    quotes = 0
    for line in data.splitlines(keepends=True):
        held.append(line)
        quotes += line.count(b'"')
        if quotes % 2 == 0:
            rows.append(b"".join(held).rstrip(b"\r\n"))
            held, quotes = [], 0
    if held:
        rows.extend(line.rstrip(b"\r\n") for line in held)
    return rows


def _workbook_digests(path: str, data: bytes) -> tuple[TableRows, ...]:
    from python_calamine import CalamineError, CalamineWorkbook

    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(data))
        sheets = {
            name: book.get_sheet_by_name(name).to_python(skip_empty_area=False)
            for name in book.sheet_names
        }
    except (CalamineError, OSError, ValueError):
        return ()
    return tuple(
        TableRows(path, name, tuple(_short(_row_text(row)) for row in rows))
        for name, rows in sheets.items()
    )


def _row_text(row: Sequence[object]) -> bytes:
    return "\x1f".join(f"{type(cell).__name__}:{cell!r}" for cell in row).encode("utf-8")
