"""The page in a browser: accessibility rules, and no sideways scrolling on a phone."""

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from support_results import rich_results

from wickstats.report.write import write_report

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser

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


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The rich season's page."""
    place = write_report(rich_results(), tmp_path_factory.mktemp("page") / "report")
    return (Path(place) / "report.html").as_uri()


def _open(browser: "Browser", address: str, width: int, scheme: str) -> "Page":
    context = browser.new_context(
        viewport={"width": width, "height": 900},
        color_scheme="dark" if scheme == "dark" else "light",
        bypass_csp=True,  # the checker is a script, and the page allows none
    )
    page = context.new_page()
    page.goto(address)
    return page


@pytest.mark.parametrize("width", [1280, 400])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_accessibility_rule_is_broken(
    browser: "Browser", address: str, width: int, scheme: str
) -> None:
    from axe_playwright_python.sync_playwright import Axe

    page = _open(browser, address, width, scheme)
    found = Axe().run(page).response["violations"]
    page.context.close()
    assert [(v["id"], [n["target"] for n in v["nodes"]][:3]) for v in found] == []


@pytest.mark.parametrize("width", [1280, 400])
def test_the_page_never_scrolls_sideways(browser: "Browser", address: str, width: int) -> None:
    page = _open(browser, address, width, "light")
    widths = page.evaluate("[document.documentElement.scrollWidth, window.innerWidth]")
    page.context.close()
    assert widths[0] <= widths[1]


def test_labels_in_pictures_do_not_lie_on_each_other(browser: "Browser", address: str) -> None:
    page = _open(browser, address, 1280, "light")
    overlaps = page.evaluate(
        """() => [...document.querySelectorAll('svg')].flatMap(svg => {
            const boxes = [...svg.querySelectorAll('text')].map(t => [t.textContent,
                t.getBoundingClientRect()]).filter(([t]) => t.trim());
            const frame = svg.getBoundingClientRect();
            const out = [];
            boxes.forEach(([t, b], i) => {
                if (b.left < frame.left - 1 || b.right > frame.right + 1) out.push(['cut', t]);
                boxes.slice(i + 1).forEach(([u, c]) => {
                    const w = Math.min(b.right, c.right) - Math.max(b.left, c.left);
                    const h = Math.min(b.bottom, c.bottom) - Math.max(b.top, c.top);
                    if (w > 2 && h > 4.5 && !/^[0-9, ]+$/.test(t)) out.push([t, u]);
                });
            });
            return out;
        })"""
    )
    page.context.close()
    assert overlaps == []


def test_nothing_is_asked_of_the_network(browser: "Browser", address: str) -> None:
    context = browser.new_context()
    page = context.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(address)
    context.close()
    assert asked == [address]
