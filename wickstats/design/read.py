"""A trial file's text becomes a checked trial, or every problem with its place.

Reading goes bytes, tree, one typed walk, checks between parts, values. Leans on the
other modules of this package.
"""

from contextlib import suppress
from pathlib import Path
from typing import Any

from wickstats.core.errors import Problem, TrialError
from wickstats.design.findings import Findings, Stopped
from wickstats.design.rules import check_parts
from wickstats.design.shapes import SOURCE_PATH, trial_spec
from wickstats.design.source import parse
from wickstats.design.specs import MISSING
from wickstats.design.trial import Trial


def read_trial(path: Path) -> Trial:
    """Read and check a trial file.

    Raises
    ------
    TrialError
        Holding every problem with its line and column.
    """
    path = Path(path)
    data = _bytes(path)
    return parse_trial(data, file=path.name, folder=path.resolve().parent)


def parse_trial(data: bytes, *, file: str, folder: Path) -> Trial:
    """Check a trial file's bytes as if they stood in ``folder`` under that name.

    Raises
    ------
    TrialError
        Holding every problem with its line and column.
    """
    out = Findings(file)
    values: Any = MISSING
    with suppress(Stopped):
        root = parse(data, out)
        if root is not None:
            out.values[()] = root.place
            values = trial_spec().read(root, (), out)
        if values is not MISSING:
            check_parts(values, folder, out)
    if out.problems:
        raise TrialError(out.sorted())
    records = {
        table: tuple({k: v for k, v in s.items() if k != SOURCE_PATH} for s in sources)
        for table, sources in values.get("records", {}).items()
    }
    return Trial.model_validate(
        {**values, "records": records, "file": file, "folder": str(folder), "source": data}
    )


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except (FileNotFoundError, NotADirectoryError):
        found = f"no file {path.name} in {path.parent}"
    except IsADirectoryError:
        found = f"{path.name} is a folder"
    except PermissionError:
        found = f"{path.name} may not be read"
    raise TrialError(
        [
            Problem(
                file=path.name,
                code="missing file",
                found=found,
                expected="a trial file",
                fix="give the path of a trial file, or make one with the command new",
            )
        ]
    ) from None
