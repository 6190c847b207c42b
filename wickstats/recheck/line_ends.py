"""Line ends that a version-control program changed, told as such and changed back.

A file whose digest is the recorded one once its line ends are all of one kind says the same;
it is audited as it was written. Leans on archive and core.
"""

import hashlib
from collections.abc import Mapping

from wickstats.archive.manifest import Manifest
from wickstats.core.words import say
from wickstats.recheck.findings import Finding

MOST_NAMED = 5


def restored(
    files: Mapping[str, bytes], manifest: Manifest | None
) -> tuple[dict[str, bytes], list[Finding]]:
    """Return the files with their recorded line ends, and one note that names those changed.

    Parameters
    ----------
    files
        Path in the folder -> bytes.
    manifest
        What recorded the digests; None leaves every file as it is.
    """
    out = dict(files)
    changed = []
    for entry in manifest.files if manifest is not None else ():
        data = files.get(entry.path)
        if data is None or _digest(data) == entry.sha256:
            continue
        plain = with_line_feeds(data)
        for other in (plain, plain.replace(b"\n", b"\r\n")):
            if _digest(other) == entry.sha256:
                out[entry.path] = other
                changed.append(entry.path)
                break
    return out, _note(changed)


def with_line_feeds(data: bytes) -> bytes:
    """The bytes with plain line feeds for pairs of carriage return and line feed."""
    return data.replace(b"\r\n", b"\n")


def _note(paths: list[str]) -> list[Finding]:
    if not paths:
        return []
    named = paths[:MOST_NAMED]
    if len(paths) > MOST_NAMED:
        named = [*named, say("audit and more", n=len(paths) - MOST_NAMED)]
    sentence = say("audit line ends", n=len(paths))
    return [Finding("note", "line ends", ", ".join(named), sentence)]


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
