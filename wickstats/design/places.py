"""Where a part of a trial file stands, asked for after the file was read.

Leans on the readers of this package; the file's own bytes are walked again, which is
only done to tell a problem or a note.
"""

from typing import Any

from wickstats.design.findings import Findings, Path, Place
from wickstats.design.trial import Trial


def places(trial: Trial) -> tuple[Findings, dict[str, Any]]:
    """Places of all keys and values, and the plain values of the walk."""
    from wickstats.design.shapes import trial_spec
    from wickstats.design.source import parse

    out = Findings(trial.file)
    root = parse(trial.source, out) if trial.source else None
    values: Any = {} if root is None else trial_spec().read(root, (), out)
    return out, values if isinstance(values, dict) else {}


def place_of(trial: Trial, path: Path) -> Place | None:
    """Line and column of the value at a path; None for a trial that was not read from text."""
    if not trial.source:
        return None
    return places(trial)[0].place(path)


def place_of_file(trial: Trial, table: str, file: str) -> Place | None:
    """Line and column at which a table of the records names a file."""
    from wickstats.design.shapes import SOURCE_PATH

    if not trial.source:
        return None
    out, values = places(trial)
    for source in values.get("records", {}).get(table, ()):
        if source.get("file") == file:
            return out.place(source[SOURCE_PATH])
    return None
