"""What tests of pages share: the browser, and the invented oak season with its report."""

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from support_results import rich_results

import wickstats as ws
from wickstats.core.results import Results
from wickstats.report.page import report_page
from wickstats.report.write import write_report

if TYPE_CHECKING:
    from playwright.sync_api import Browser

ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def _chromium() -> str:
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        if os.environ.get("WICKSTATS_BROWSER") == "required":
            pytest.fail("no Chromium: apt-get install chromium")
        pytest.skip("no Chromium; to run this: apt-get install chromium")
    return found


@pytest.fixture(scope="module")
def browser() -> "Iterator[Browser]":
    """One Chromium for the module."""
    path = _chromium()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def oaks() -> Results:
    """The oak season of the demo, analyzed."""
    trial = ws.read_trial(Path(ws.__file__).parent / "demo" / "quarry-oaks" / "trial.yaml")
    return ws.analyze(trial, ws.read_records(trial))


@pytest.fixture(scope="session")
def oak_report(oaks: Results) -> tuple[bytes, dict[str, bytes]]:
    """Its page, and its pictures by file name."""
    return report_page(oaks)


@pytest.fixture(scope="session")
def address(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The page of a season with every kind of part, written."""
    place = write_report(rich_results(), tmp_path_factory.mktemp("page") / "report")
    return (Path(place) / "report.html").as_uri()
