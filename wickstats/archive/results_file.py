"""results.json: frozen results to bytes and back, strictly.

``read_results(write_results(x)) == x`` but for ``source_bytes``, which stand as
files under ``inputs/``. Leans on core.
"""

from wickstats.core.codec import dump_json, from_plain, parse_json
from wickstats.core.errors import Problem, ReportError
from wickstats.core.results import RESULTS_FORMAT, Results

RESULTS_NAME = "results.json"


def write_results(results: Results) -> bytes:
    """Return the bytes of results.json.

    Raises
    ------
    ValueError
        For a number that is not finite.
    """
    return dump_json(results)


def read_results(data: bytes, *, file: str = RESULTS_NAME) -> Results:
    """Read results.json back into the frozen tree.

    Parameters
    ----------
    data
        The file's bytes.
    file
        Its name, for the problem's place.

    Raises
    ------
    ReportError
        For bytes that are not strict JSON, another format number, or a value
        that is missing, unknown or of the wrong type (named by its path).
    """
    try:
        plain = parse_json(data)
    except (ValueError, RecursionError) as error:
        raise _unreadable(file, "not strict JSON", str(error)) from error
    found = plain.get("results_format") if isinstance(plain, dict) else None
    if found != RESULTS_FORMAT or isinstance(found, bool):
        raise ReportError(
            [
                Problem(
                    file,
                    "another format",
                    f"results_format {found!r}",
                    f"results_format {RESULTS_FORMAT}",
                    "read it with the version of wickstats that wrote it "
                    "(key wickstats of the file)",
                )
            ]
        )
    try:
        results: Results = from_plain(Results, plain)
    except ValueError as error:
        raise _unreadable(file, "a value does not fit", str(error).lstrip(".: ")) from error
    return results


def _unreadable(file: str, code: str, found: str) -> ReportError:
    return ReportError(
        [
            Problem(
                file,
                code,
                found,
                "the file as wickstats wrote it",
                "analyze the trial again, or fetch the file from the archive",
            )
        ]
    )
