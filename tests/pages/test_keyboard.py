"""By keyboard alone, and enlarged fourfold (WCAG 2.2: 2.1.1, 2.4.1, 2.4.7, 1.4.10)."""

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser
FOCUSED = """() => {
    const e = document.activeElement, box = e.getBoundingClientRect(), s = getComputedStyle(e);
    return {tag: e.tagName, href: e.getAttribute('href'), role: e.getAttribute('role'),
            seen: box.width > 0 && box.bottom > 0 && box.top < innerHeight && box.left >= 0,
            marked: s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 1};
}"""


@pytest.fixture
def page(browser: "Browser", address: str) -> "Page":
    """It, at the size of a small laptop."""
    page = browser.new_page(viewport={"width": 1024, "height": 768})
    page.goto(address)
    return page


def test_the_first_key_offers_to_skip_and_does(page: "Page") -> None:
    page.keyboard.press("Tab")
    first = page.evaluate(FOCUSED)
    assert (first["tag"], first["href"], first["seen"]) == ("A", "#main", True)
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"
    page.keyboard.press("Tab")
    assert page.evaluate("document.querySelector('main').contains(document.activeElement)")
    page.close()


def test_every_stop_is_seen_marked_and_left_again(page: "Page") -> None:
    stops = page.evaluate(
        "document.querySelectorAll('a[href], summary, [tabindex=\"0\"]').length"
    )
    bad, n = [], 0
    for _ in range(stops + 5):
        page.keyboard.press("Tab")
        now = page.evaluate(FOCUSED)
        if now["tag"] == "BODY":  # past the last one: nothing held the focus
            break
        n += 1
        if not (now["seen"] and now["marked"]):
            bad.append((n, now))
    page.close()
    assert bad == []
    assert n >= 20


def test_closed_tables_open_and_close_with_a_key(page: "Page") -> None:
    page.locator("summary").first.focus()
    states = []
    for key in ("Enter", "Space"):
        page.keyboard.press(key)
        states.append(page.evaluate("document.querySelector('details').open"))
    page.close()
    assert states == [True, False]


def test_enlarged_fourfold_the_page_still_reads_down_only(
    browser: "Browser", address: str
) -> None:
    page = browser.new_page(viewport={"width": 320, "height": 256})
    page.goto(address)
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    wide = page.evaluate("document.documentElement.scrollWidth")
    cut = page.evaluate(
        """() => [...document.querySelectorAll('h1, h2, h3, p, li, dd, figcaption, summary')]
            .filter(e => e.scrollWidth > e.clientWidth + 1 && e.clientWidth > 0
                && getComputedStyle(e).display !== 'inline')
            .map(e => e.textContent.slice(0, 60))"""
    )
    page.close()
    assert wide <= 320
    assert cut == []
