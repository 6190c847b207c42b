"""The report's folder: page, pictures, tables, results, inputs, descriptions, manifest.

The same results give the same bytes. Leans on pages, archive and core.
"""

from pathlib import Path

from wickstats.archive.crate import package_files
from wickstats.archive.folder import archive_files, write_folder
from wickstats.core.errors import Problem, ReportError
from wickstats.core.language import ENGLISH, LANGUAGES
from wickstats.core.results import Results
from wickstats.report.page import report_page

PAGE_NAME = "report.html"


def report_files(results: Results, language: str = ENGLISH) -> dict[str, bytes]:
    """Return every file of the report's folder but the manifest, path -> bytes.

    Only page and figures know the language; all else is the same bytes in any.
    """
    page, figures = report_page(results, language)
    files = archive_files(results)
    files[PAGE_NAME] = page
    files.update({f"figures/{name}": data for name, data in figures.items()})
    return files | package_files(results, files)


def write_report(results: Results, folder: Path, language: str = ENGLISH) -> Path:
    """Write the report's folder and return its path.

    ``language``: of the page's frame, the advisor's part and the cautions.

    Raises
    ------
    ReportError
        Where the folder is not one of ours or is in use, or the language is not known.
    """
    if language not in LANGUAGES:
        raise ReportError([_unknown(language)])
    files = report_files(results, language)
    return write_folder(Path(folder), files, trial=results.trial.id, language=language)


def _unknown(language: str) -> Problem:
    known = ", ".join(LANGUAGES)
    return Problem(
        "language",
        "not a language of the report",
        repr(language),
        f"one of {known}",
        "leave it out for English, or name one of these",
    )
