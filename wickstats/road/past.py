"""A past report's folder as the start of the next season's sizes.

Only results.json is read, and only where the manifest says that it is the one that was
written; ``audit`` tells whether it follows from its records. Leans on archive and sizing.
"""

import hashlib
from pathlib import Path

from wickstats.archive.folder import read_folder
from wickstats.archive.manifest import MANIFEST_NAME, compare, read_manifest
from wickstats.archive.results_file import RESULTS_NAME, read_results
from wickstats.core.errors import Problem, ReportError
from wickstats.core.words import say
from wickstats.sizing.past import PastSeason


def read_past(folder: Path) -> PastSeason:
    """Read a report's folder.

    Raises
    ------
    ReportError
        Where it is no report's folder, or its results are not the ones that were written.
    """
    files = read_folder(folder)
    changes = compare(read_manifest(files[MANIFEST_NAME]), files)
    for change in changes:
        if change.path == RESULTS_NAME:
            raise ReportError(
                [
                    Problem(
                        f"{folder.name}/{RESULTS_NAME}",
                        "changed since it was written",
                        f"the file is {change.what}: not the one that the manifest lists",
                        "the file as wickstats wrote it",
                        "fetch the folder from the archive, or analyze that season again",
                    )
                ]
            )
    data = files.get(RESULTS_NAME)
    if data is None:
        raise ReportError(
            [
                Problem(
                    f"{folder.name}/{RESULTS_NAME}",
                    "missing file",
                    "no results.json",
                    "the file as wickstats wrote it",
                    "fetch the folder from the archive, or analyze that season again",
                )
            ]
        )
    results = read_results(data, file=f"{folder.name}/{RESULTS_NAME}")
    notes = []
    if changes:
        notes.append(say("past changed", files=", ".join(c.path for c in changes[:3])))
    if results.simulated:
        notes.append(say("past simulated"))
    return PastSeason(results, hashlib.sha256(data).hexdigest(), tuple(notes), data)
