"""The report's folder: page, pictures, tables, results, inputs, descriptions, manifest.

The same results give the same bytes. Leans on pages, archive and core.
"""

from pathlib import Path

from wickstats.archive.crate import package_files
from wickstats.archive.folder import archive_files, write_folder
from wickstats.core.results import Results
from wickstats.report.page import report_page

PAGE_NAME = "report.html"


def report_files(results: Results) -> dict[str, bytes]:
    """Return every file of the report's folder but the manifest, path -> bytes."""
    page, figures = report_page(results)
    files = archive_files(results)
    files[PAGE_NAME] = page
    files.update({f"figures/{name}": data for name, data in figures.items()})
    return files | package_files(results, files)


def write_report(results: Results, folder: Path) -> Path:
    """Write the report's folder and return its path.

    Raises
    ------
    ReportError
        Where the folder is not one of ours or is in use.
    """
    return write_folder(Path(folder), report_files(results), trial=results.trial.id)
