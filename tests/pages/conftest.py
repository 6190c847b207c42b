"""The browser of the tests that look at pages."""

import os
import shutil
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

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
