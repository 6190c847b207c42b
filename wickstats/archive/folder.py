"""Writing a report's folder whole or not at all, and reading it back.

The folder is built as ``.<name>.partial`` beside its place and then swapped in
by renaming; the earlier one waits as ``.<name>.old`` until the swap is done. One
lock per folder. A folder without a manifest of ours, or with files that the
manifest does not know, is never touched. Leans on core.
"""

import os
import shutil
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path, PurePosixPath

from wickstats.archive.manifest import (
    MANIFEST_NAME,
    Manifest,
    make_manifest,
    read_manifest,
    write_manifest,
)
from wickstats.archive.results_file import RESULTS_NAME, write_results
from wickstats.archive.tables import table_files
from wickstats.core.errors import Problem, ReportError
from wickstats.core.language import ENGLISH
from wickstats.core.results import Results


def archive_files(results: Results) -> dict[str, bytes]:
    """Return results.json, tables/*.csv and inputs/*: all but page and figures."""
    files = {RESULTS_NAME: write_results(results)}
    files.update({f"tables/{name}": data for name, data in table_files(results).items()})
    files.update({f"inputs/{path}": data for path, data in results.source_bytes.items()})
    return files


def write_folder(
    folder: Path, files: Mapping[str, bytes], *, trial: str, language: str = ENGLISH
) -> Path:
    """Write the files and their manifest as one folder; return its path.

    Parameters
    ----------
    folder
        Where it shall stand; its parent is made where it is missing.
    files
        Path in the folder (forward slashes) -> bytes, without the manifest.
    trial
        The trial's identifier, for the manifest.
    language
        The page's, for the manifest: an audit writes the page again in it.

    Raises
    ------
    ReportError
        Where something that is not ours stands there, where another run is
        writing the same folder, or where a path would leave the folder.
    """
    place = folder.resolve()
    for path in files:
        _safe(path)
    place.parent.mkdir(parents=True, exist_ok=True)
    with _lock(place):
        old = place.with_name(f".{place.name}.old")
        if old.exists() and not place.exists():
            old.rename(place)  # an earlier run stopped in the middle of the swap
        _check_ours(place)
        partial = place.with_name(f".{place.name}.partial")
        _remove(partial)
        _remove(old)
        try:
            _write_all(partial, files, make_manifest(files, trial=trial, language=language))
            if place.exists():
                place.rename(old)
            partial.rename(place)
        except BaseException:
            _remove(partial)
            if old.exists() and not place.exists():
                old.rename(place)
            raise
        _remove(old)
    return place


def read_folder(folder: Path, known_by: Sequence[str] = (MANIFEST_NAME,)) -> dict[str, bytes]:
    """Return every file of a report's folder (path with forward slashes -> bytes).

    Hidden files and folders and symbolic links are left out.

    Parameters
    ----------
    known_by
        A report's folder holds one of these files.

    Raises
    ------
    ReportError
        Where the folder is missing or is no report's folder.
    """
    if not any((folder / name).is_file() for name in known_by):
        raise ReportError(
            [
                Problem(
                    str(folder),
                    "not a report's folder",
                    "no manifest.json" if folder.is_dir() else "no such folder",
                    "a folder that wickstats analyze wrote",
                    "name the folder that holds report.html and manifest.json",
                )
            ]
        )
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
        and not path.is_symlink()
        and not any(part.startswith(".") for part in path.relative_to(folder).parts)
    }


def _safe(path: str) -> None:
    parts = PurePosixPath(path).parts
    bad = not parts or path.startswith("/") or "\\" in path or ".." in parts
    if bad or any(p.startswith(".") or ":" in p or "\0" in p for p in parts):
        raise ReportError(
            [
                Problem(
                    path,
                    "path outside the folder",
                    repr(path),
                    "a plain path inside the report's folder",
                    "rename the file",
                )
            ]
        )


def _check_ours(place: Path) -> None:
    if not place.exists():
        return
    if not place.is_dir():
        raise _refusal(place, "a file of that name")
    present = [p for p in sorted(place.rglob("*")) if not p.name.startswith(".")]
    if not present:
        return
    manifest = place / MANIFEST_NAME
    if not manifest.is_file():
        raise _refusal(place, "a folder without a manifest of wickstats")
    try:
        listed = {entry.path for entry in read_manifest(manifest.read_bytes()).files}
    except ReportError as error:
        raise _refusal(place, "a folder whose manifest is not readable") from error
    for path in present:
        name = path.relative_to(place).as_posix()
        if not path.is_dir() and name != MANIFEST_NAME and name not in listed:
            raise _refusal(place, f"a file in it that is not ours: {name}")


def _refusal(place: Path, found: str) -> ReportError:
    return ReportError(
        [
            Problem(
                place.name,
                "not overwritten",
                found,
                "no folder there, an empty one, or an earlier report of wickstats",
                "move what stands there elsewhere, or name another folder with --out",
            )
        ]
    )


def _write_all(partial: Path, files: Mapping[str, bytes], manifest: Manifest) -> None:
    for path, data in {**files, MANIFEST_NAME: write_manifest(manifest)}.items():
        target = partial.joinpath(*PurePosixPath(path).parts)
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)


def _remove(path: Path) -> None:
    if path.is_symlink() or path.is_file():
        path.unlink()
    elif path.exists():
        shutil.rmtree(path)


@contextmanager
def _lock(place: Path) -> Iterator[None]:
    """Hold ``.<name>.lock``; the system lets go of it also when a run is killed."""
    path = place.with_name(f".{place.name}.lock")
    while True:
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
        if not _try_lock(handle):
            os.close(handle)
            raise ReportError(
                [
                    Problem(
                        place.name,
                        "in use",
                        "another run is writing this folder",
                        "one run at a time",
                        "wait until it has finished, or name another folder with --out",
                    )
                ]
            )
        try:
            same = os.path.samestat(os.fstat(handle), path.stat())
        except FileNotFoundError:
            same = False
        if same:
            break
        os.close(handle)  # the holder before us took its lock file away: try again
    try:
        yield
    finally:
        if sys.platform == "win32":
            os.close(handle)
            path.unlink(missing_ok=True)
        else:
            path.unlink(missing_ok=True)
            os.close(handle)


def _try_lock(handle: int) -> bool:
    if sys.platform == "win32":
        import msvcrt

        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True
    import fcntl

    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
