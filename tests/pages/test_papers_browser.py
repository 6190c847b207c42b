"""Papers in a browser: accessibility rules, no sideways scrolling, nothing cut on paper."""

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import wickstats as ws
from wickstats.demo.trials import copy_demo

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser
PAPERS = {
    *("index", "map", "checklist", "key/key", "labels-plants", "labels-plots"),
    *(f"sheet-{name}" for name in ("events", "measurements", "plants", "visits", "water")),
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Blind papers of the terrace trial."""
    home = copy_demo(tmp_path_factory.mktemp("demo"))[0]
    trial_file = home / "trial.yaml"
    text = trial_file.read_text(encoding="utf-8")
    trial_file.write_text(
        text.replace("plan:\n", "plan:\n  blind: true\n", 1), encoding="utf-8"
    )
    return ws.papers(ws.read_trial(trial_file), home / "papers", visits=1)


def test_these_are_all_papers(folder: Path) -> None:
    made = {p.relative_to(folder).with_suffix("").as_posix() for p in folder.rglob("*.html")}
    assert made == PAPERS


@pytest.mark.parametrize("name", sorted(PAPERS))
def test_papers_break_no_rule_and_fit_a_phone(
    browser: "Browser", folder: Path, name: str
) -> None:
    from axe_playwright_python.sync_playwright import Axe

    for width in (1000, 400):
        context = browser.new_context(viewport={"width": width, "height": 900}, bypass_csp=True)
        page = context.new_page()
        page.goto((folder / f"{name}.html").as_uri())
        found = Axe().run(page).response["violations"] if width == 400 else []
        wide = page.evaluate("document.documentElement.scrollWidth")
        context.close()
        assert [(v["id"], v["nodes"][0]["target"]) for v in found] == []
        assert wide <= width


@pytest.mark.parametrize("name", ["map", "sheet-visits", "labels-plants"])
@pytest.mark.parametrize("size", [(190, 277), (196, 259)])  # A4 and letter less 10 mm margins
def test_nothing_is_wider_than_the_paper(
    browser: "Browser", folder: Path, name: str, size: tuple[int, int]
) -> None:
    per_mm = 96 / 25.4
    page = browser.new_page(
        viewport={"width": int(size[0] * per_mm), "height": int(size[1] * per_mm)}
    )
    page.emulate_media(media="print")
    page.goto((folder / f"{name}.html").as_uri())
    found = page.evaluate(
        """() => [document.documentElement.scrollWidth - window.innerWidth,
            Math.max(0, ...[...document.querySelectorAll('.drawing')].map(
                d => d.getBoundingClientRect().bottom - window.innerHeight)),
            Math.max(0, ...[...document.querySelectorAll('.labels')].map(
                d => d.getBoundingClientRect().height - window.innerHeight)),
            Math.max(0, ...[...document.querySelectorAll('.label .words')].map(
                d => d.scrollWidth - d.clientWidth))]"""
    )
    page.close()
    assert max(found) <= 0
