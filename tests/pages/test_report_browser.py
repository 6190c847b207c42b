"""The page in a browser: accessibility rules, and no sideways scrolling on a phone."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from support_bench import WASHED, bench_trial, run_layout, volumes
from support_results import rich_results

import wickstats as ws
from wickstats.core.responses import UnitValue
from wickstats.core.results import SecondEngineRow
from wickstats.pages.figures.diagnostics import diagnostics
from wickstats.pages.figures.forest import forest
from wickstats.pages.figures.palette import looks
from wickstats.recheck.findings import Audit, Finding
from wickstats.recheck.page import audit_page
from wickstats.report.write import write_report

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def audit_address(tmp_path_factory: pytest.TempPathFactory) -> str:
    """An audit's page with findings and a long second opinion."""
    finding = Finding("serious", "number", "responses[0].means[2].low", "recorded 1, not 2")
    rows = tuple(
        SecondEngineRow(f"mean {i}", 1.0 + i, 1.0 + i, i != 3, None) for i in range(20)
    )
    audit = Audit(
        folder="a-folder",
        trial="hill-hazels",
        wickstats="0.1.0",
        findings=(finding,) * 3,
        layout="The layout is the one that its seed gives.",
        second_engine=rows,
        recomputed=100,
    )
    place = tmp_path_factory.mktemp("audit") / "audit.html"
    place.write_bytes(audit_page(audit))
    return place.as_uri()


@pytest.fixture(scope="module")
def bench_address(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The page of a bench trial of two factors."""
    folder = tmp_path_factory.mktemp("bench")
    trial, layout = bench_trial(folder, WASHED), run_layout(4)
    flow = volumes(layout, np.exp(np.random.default_rng(6).normal(1, 0.1, len(layout))))
    read = ws.read_layout(trial, layout)
    results = ws.analyze(trial, ws.read_records(trial, tables={"readings": flow}, layout=read))
    return (Path(ws.write_report(results, folder / "report")) / "report.html").as_uri()


@pytest.fixture(scope="module")
def many_address(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Pictures of fifteen treatments with long names, and of numbers with many digits."""
    arms = [f"{c} cord x {w}" for c in ("thin synthetic", "thick synthetic", "polyester felt",
            "acrylic yarn", "cotton") for w in ("over a rim", "vented", "sealed")]  # fmt: skip
    stream = np.random.default_rng(3)
    values = tuple(
        UnitValue(f"{i}-{b}", str(b), None, arm, v, 1, float(i), v - i)
        for i, arm in enumerate(arms)
        for b, v in enumerate((i + stream.normal(0, 0.1, 4)).tolist())
    )
    first = rich_results().responses[1]
    response = replace(first, unit_summary=replace(first.unit_summary, values=values))
    rows = tuple(
        replace(first.comparisons[0], measure="ratio", matters=1.25, within=arm, absolute=None,
                estimate=0.00372, low_adjusted=0.00315, high_adjusted=0.00438)
        for arm in ("vented", "over a rim", "sealed") * 8
    )  # fmt: skip
    drawn = [
        f'<div class="{kind}">{picture.decode()}</div>'
        for kind in ("wide", "narrow")
        for picture in (
            diagnostics(response, arms, looks(arms), arms[1], narrow=kind == "narrow"),
            forest(rows, looks(arms), "ratio", narrow=kind == "narrow"),
        )
    ]
    style = "@media(max-width:700px){.wide{display:none}}"
    style += "@media(min-width:700px){.narrow{display:none}}"
    place = tmp_path_factory.mktemp("many") / "many.html"
    place.write_text(f"<style>{style}</style>{''.join(drawn)}", encoding="utf-8")
    return place.as_uri()


@pytest.fixture(scope="module")
def simulated_address(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The page of a simulated season, with its mark over everything."""
    place = write_report(rich_results(simulated=True), tmp_path_factory.mktemp("s") / "report")
    return (Path(place) / "report.html").as_uri()


@pytest.mark.parametrize("kind", ["bench_address", "simulated_address"])
def test_other_kinds_of_season_break_no_rule_and_read_down_only(
    browser: "Browser", request: pytest.FixtureRequest, kind: str
) -> None:
    """Enlarged fourfold, in the dark; without pictures and long tables, looked at below."""
    from axe_playwright_python.sync_playwright import Axe

    page = _open(browser, request.getfixturevalue(kind), 320, "dark")
    wide = page.evaluate("document.documentElement.scrollWidth")
    rest = "svg, tbody tr:nth-child(n+4)"  # rows repeat each other
    page.evaluate(f"document.querySelectorAll('{rest}').forEach(e => e.remove())")
    found = Axe().run(page).response["violations"]
    page.context.close()
    assert [(v["id"], [n["target"] for n in v["nodes"]][:3]) for v in found] == []
    assert wide <= 320


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
@pytest.mark.parametrize("kind", ["address", "audit_address"])
def test_no_accessibility_rule_is_broken(
    browser: "Browser", request: pytest.FixtureRequest, kind: str, width: int, scheme: str
) -> None:
    from axe_playwright_python.sync_playwright import Axe

    page = _open(browser, request.getfixturevalue(kind), width, scheme)
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    found = Axe().run(page).response["violations"]
    page.context.close()
    assert [(v["id"], [n["target"] for n in v["nodes"]][:3]) for v in found] == []


@pytest.mark.parametrize("width", [1280, 768, 400, 360])
def test_every_figure_is_whole_and_its_text_large_enough(
    browser: "Browser", address: str, width: int
) -> None:
    page = _open(browser, address, width, "light")
    found = page.evaluate(
        """() => [...document.querySelectorAll('.picture')].map(box => {
            const seen = [...box.querySelectorAll('svg')]
                .filter(s => s.getClientRects().length);
            const frame = seen[0].getBoundingClientRect();
            const scale = frame.width / seen[0].viewBox.baseVal.width;
            const texts = [...seen[0].querySelectorAll('text')]
                .filter(t => t.textContent.trim());
            const sizes = texts.map(t => scale * parseFloat(getComputedStyle(t).fontSize));
            const outside = texts.filter(t => {
                const b = t.getBoundingClientRect();
                return b.left < frame.left - 1 || b.right > frame.right + 1
                    || b.top < frame.top - 1 || b.bottom > frame.bottom + 1;
            }).map(t => t.textContent);
            return {n: seen.length, kind: seen[0].getAttribute('class'), right: frame.right,
                    left: frame.left, scrolls: box.scrollWidth > box.clientWidth,
                    least: Math.min(...sizes), outside};
        })"""
    )
    page.context.close()
    assert len(found) == 15
    for figure in found:
        assert figure["n"] == 1
        assert figure["kind"] == ("narrow" if width < 736 else "wide")
        assert figure["left"] >= 0
        assert figure["right"] <= width
        assert not figure["scrolls"]
        assert figure["least"] >= (8.5 if width == 768 else 9.5)
        assert figure["outside"] == []


@pytest.mark.parametrize("kind", ["address", "audit_address"])
@pytest.mark.parametrize("width", [1280, 400])
def test_nothing_but_tables_in_their_box_is_wider_than_the_screen(
    browser: "Browser", request: pytest.FixtureRequest, kind: str, width: int
) -> None:
    page = _open(browser, request.getfixturevalue(kind), width, "light")
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    wide = page.evaluate(
        """() => [...document.querySelectorAll('body *')].filter(e =>
            !e.closest('table') && !e.closest('svg') && !e.matches('.skip')
            && e.getBoundingClientRect().right > window.innerWidth + 1)
            .map(e => e.tagName + ' ' + e.textContent.slice(0, 60))"""
    )
    page.context.close()
    assert wide == []


def test_closed_tables_stand_open_in_print(browser: "Browser", address: str) -> None:
    page = _open(browser, address, 1280, "light")
    looked = """() => [...document.querySelectorAll('details')].map(d => {
        const table = d.querySelector('table');
        return [table.checkVisibility({contentVisibilityAuto: true}),
                d.getBoundingClientRect().height, table.getBoundingClientRect().height];
    })"""
    on_screen = page.evaluate(looked)
    page.emulate_media(media="print")
    page.evaluate("new Promise(r => requestAnimationFrame(() => requestAnimationFrame(r)))")
    in_print = page.evaluate(looked)
    page.context.close()
    assert len(on_screen) > 5
    for (seen, closed, _), (printed, whole, table) in zip(on_screen, in_print, strict=True):
        assert not seen
        assert printed
        assert whole > max(table, closed)


def test_banners_read_on_paper_where_grounds_are_not_printed(
    browser: "Browser", simulated_address: str
) -> None:
    page = _open(browser, simulated_address, 1280, "dark")
    page.emulate_media(media="print")
    found = page.evaluate(
        """() => { const s = getComputedStyle(document.querySelector('.banner'));
            return [s.color, s.backgroundColor, s.borderTopStyle]; }"""
    )
    page.context.close()
    assert found == ["rgb(0, 0, 0)", "rgba(0, 0, 0, 0)", "solid"]


def test_the_mark_has_room_of_its_own_on_every_sheet(
    browser: "Browser", simulated_address: str
) -> None:
    page = _open(browser, simulated_address, 1280, "light")
    page.emulate_media(media="print")
    mark, banner, kept = page.evaluate(
        """() => [document.querySelector('.mark').getBoundingClientRect().bottom,
            document.querySelector('.banner').getBoundingClientRect().top,
            getComputedStyle(document.body).boxDecorationBreak]"""
    )
    page.context.close()
    assert 0.0 < mark <= banner
    assert kept == "clone"  # the room is kept on each sheet, not on the first alone


@pytest.mark.parametrize("width", [1280, 400, 360])
def test_the_page_never_scrolls_sideways(browser: "Browser", address: str, width: int) -> None:
    page = _open(browser, address, width, "light")
    widths = page.evaluate("[document.documentElement.scrollWidth, window.innerWidth]")
    page.context.close()
    assert widths[0] <= widths[1]


@pytest.mark.parametrize("width", [1280, 400])
@pytest.mark.parametrize("kind", ["address", "bench_address", "many_address"])
def test_labels_in_pictures_do_not_lie_on_each_other(
    browser: "Browser", request: pytest.FixtureRequest, kind: str, width: int
) -> None:
    page = _open(browser, request.getfixturevalue(kind), width, "light")
    overlaps = page.evaluate(
        """() => [...document.querySelectorAll('svg')].flatMap(svg => {
            const boxes = [...svg.querySelectorAll('text')].map(t => [t.textContent,
                t.getBoundingClientRect()]).filter(([t, b]) => t.trim() && b.width);
            const frame = svg.getBoundingClientRect();
            const out = [];
            boxes.forEach(([t, b], i) => {
                if (b.left < frame.left - 1 || b.right > frame.right + 1
                    || b.top < frame.top - 1) out.push(['cut', t]);
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
