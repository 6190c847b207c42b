"""Reports of seasons that strain them; page one and the headings stand stored beside.

Each page was looked at when its text was stored. ``WICKSTATS_STORE=1`` stores the texts
anew: read what differs before it is kept. All numbers are invented.
"""

import os
import random
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from support_page import Element, parse_page

import wickstats as ws

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser
GOLDEN = Path(__file__).parent / "golden"
MARKUP = "<b>\"x\"</b> & <script>alert('1')</script> {{ 7 }} %s {0} $x^2$ =1+1 [red]"
ROUNDS = ("2027-05-03", "2027-06-14", "2027-08-02", "2027-10-04")
FIRST, LAST = ROUNDS[0], ROUNDS[-1]


class Season:
    """A trial file, a layout and tables that can be changed before they are written."""

    def __init__(self, arms: int, blocks: int, plants: int = 6) -> None:
        self.arms = ["hand", *(f"wick {k}" for k in range(1, arms))]
        self.blocks, self.plants = blocks, plants
        self.title, self.drawn, self.more, self.note = "An invented season", "elsewhere", "", ""
        self.responses = [f"{{name: survival, kind: survival, at: [{LAST}], better: more}}"]
        self.plan = "plan: {primary: survival, matters: {survival: {difference: 0.15}}}\n"
        self.chance, self.visited = 0.8, True  # a chance below 0: none lives
        self.columns: list[str] = []
        self.stream = random.Random(arms * 100 + blocks)

    def write(self, folder: Path) -> Path:
        """Write every file and return the trial's."""
        layout, visits, sizes = ["plot,block,watering"], ["date,plot,plant,status,note"], []
        sizes = [",".join(("date", "plot", "plant", *self.columns))]
        for block in range(1, self.blocks + 1):
            for k, arm in enumerate(self.arms):
                plot = f"b{block}-{k + 1}"
                layout.append(f"{plot},{block},{celled(arm)}")
                visits += self._plants(plot, min(self.chance + 0.01 * k, 1.0))
                for plant in range(1, self.plants + 1) if self.columns else ():
                    values = [
                        f"{20 + 2 * k + self.stream.gauss(0, 3):.1f}" for _ in self.columns
                    ]
                    sizes.append(",".join((LAST, plot, str(plant), *values)))
        tables = {"visits": visits} | ({"measurements": sizes} if self.columns else {})
        for name, lines in {"layout": layout, **tables}.items():
            (folder / f"{name}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
        records = ", ".join(f"{name}: {{file: {name}.csv}}" for name in tables)
        arms = ", ".join(
            f"{{name: {quoted(arm)}, reference: {str(k == 0).lower()}{self.more}}}"
            for k, arm in enumerate(self.arms)
        )
        (folder / "trial.yaml").write_text(
            "format: 1\n"
            f"trial: {{id: hard-use, title: {quoted(self.title)}, invented: true, "
            "season: {start: 2027-04-05, end: 2027-10-04}}\n"
            f"factors: {{watering: [{arms}]}}\n"
            "design: {type: randomized complete block, layout: layout.csv, "
            f"drawn: {self.drawn}, plants_per_plot: {self.plants}}}\n"
            f"records: {{{records}}}\n"
            "responses:\n" + "".join(f"  - {r}\n" for r in self.responses) + self.plan,
            encoding="utf-8",
        )
        return folder / "trial.yaml"

    def _plants(self, plot: str, chance: float) -> list[str]:
        if not self.visited:
            return [f"{day},{plot},,not visited,track flooded" for day in ROUNDS]
        out = []
        for plant in range(1, self.plants + 1):
            lives = self.stream.random() < chance
            ends = 4 if lives else self.stream.randrange(1, 4)
            for i, day in enumerate(ROUNDS):
                status = "alive" if i < ends else "dead"
                out.append(f"{day},{plot},{plant},{status},{celled(self.note)}")
        return out


def celled(text: str) -> str:
    """A cell of a table in double quotes."""
    return '"' + text.replace('"', '""') + '"'


def quoted(text: str) -> str:
    """A YAML text in double quotes."""
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _small() -> Season:
    return Season(2, 3)


def _large() -> Season:
    return Season(12, 20, plants=4)


def _ten() -> Season:
    season = Season(3, 4)
    season.columns = [f"leaf_{k}" for k in range(1, 10)]
    shape = "kind: measurement, measured_in: mm, better: more"
    season.responses += [f"{{name: leaf {k}, column: leaf_{k}, {shape}}}" for k in range(1, 10)]
    return season


def _no_plan() -> Season:
    season = Season(3, 5)
    season.plan = ""
    return season


def _not_at_random() -> Season:
    season = Season(3, 5)
    season.drawn = "not at random"
    return season


def _all_dead() -> Season:
    season = Season(3, 5)
    season.chance = -1.0
    return season


def _nobody() -> Season:
    season = Season(3, 5)
    season.visited = False
    return season


def _markup() -> Season:
    season = Season(3, 4)
    season.title = season.note = MARKUP
    season.arms = [f"{arm} {MARKUP}" for arm in season.arms]
    season.more = f", detail: {quoted(MARKUP)}"
    season.plan = ""
    return season


CASES = {
    "small": _small,
    "large": _large,
    "ten-responses": _ten,
    "no-plan": _no_plan,
    "not-at-random": _not_at_random,
    "all-dead": _all_dead,
    "nobody-visited": _nobody,
    "markup": _markup,
}


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory):
    """Case -> folder of its report, made once."""
    made: dict[str, Path] = {}

    def of(case: str) -> Path:
        if case not in made:
            home = tmp_path_factory.mktemp(case)
            trial = ws.read_trial(CASES[case]().write(home))
            results = ws.analyze(trial, ws.read_records(trial))
            made[case] = ws.write_report(results, home / "report")
        return made[case]

    return of


def told(page: Element) -> str:
    """Page one line by line, then the headings and figures of the rest."""
    one, *rest = page.all("section")
    lines = [e.text for e in one.all("h2", "h3", "p", "li", "figcaption", "summary")]
    lines += ["---", *(h.text for s in rest for h in s.all("h2", "h3"))]
    return "\n".join(" ".join(line.split()) for line in lines if line.strip()) + "\n"


@pytest.mark.parametrize("case", list(CASES))
def test_page_one_reads_as_stored(report, case: str) -> None:
    text = told(parse_page((report(case) / "report.html").read_bytes()))
    stored = GOLDEN / f"{case}.txt"
    if os.environ.get("WICKSTATS_STORE"):
        GOLDEN.mkdir(exist_ok=True)
        stored.write_text(text, encoding="utf-8")
    assert text == stored.read_text(encoding="utf-8")


@pytest.mark.parametrize("case", list(CASES))
def test_the_page_holds_together_in_a_browser(browser: "Browser", report, case: str) -> None:
    from axe_playwright_python.sync_playwright import Axe

    place = report(case) / "report.html"
    assert place.stat().st_size < 2_000_000
    context = browser.new_context(viewport={"width": 400, "height": 900}, bypass_csp=True)
    page = context.new_page()
    alerts: list[str] = []
    page.on("dialog", lambda dialog: (alerts.append(dialog.message), dialog.dismiss()))
    page.goto(place.as_uri())
    wide = page.evaluate("document.documentElement.scrollWidth")
    found = Axe().run(page).response["violations"]
    context.close()
    assert alerts == []
    assert wide <= 400
    assert [(v["id"], v["nodes"][0]["target"]) for v in found] == []
