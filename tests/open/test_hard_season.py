"""A season in which everything goes wrong, from the crew's files to the report's table.

Every plant's history is written out; its ending, what else is said of it, and where it
counts were worked out by hand from the rules of the record tables.
"""

from datetime import date, timedelta
from pathlib import Path

import pytest
from support import Tree, analyze_by_command, response
from support_page import Element, parse_page

START = date(2025, 4, 1)
PLOTS = [f"{arm}{block}" for block in range(1, 6) for arm in "HW"]
WEEKLY, FORTNIGHTLY = range(7, 113, 7), range(14, 113, 14)
TRIAL = """format: 1
trial: {id: hard-season, invented: true, season: {start: 2025-04-01, end: 2025-09-30}}
factors: {watering: [{name: hand, reference: true}, {name: wick}]}
design: {type: randomized complete block, layout: layout.csv, drawn: elsewhere}
records:
  plants: {file: plants.csv}
  visits: {file: visits.csv}
  events: {file: events.csv}
responses:
  - {name: survival, kind: survival, at: [2025-06-10], better: more}
plan: {primary: survival}
"""
# plant -> (first day, last day, what was noted other than alive); days from START
HISTORIES: dict[tuple[str, int], tuple[int, int, dict[int, str]]] = {
    # four ways to be dead by day 63
    ("H1", 1): (0, 63, {49: "doubtful", 56: "doubtful", 63: "dead"}),
    ("H1", 2): (0, 63, {49: "not found", 56: "not found", 63: "dead"}),
    ("H1", 3): (0, 63, {49: "not visited", 56: "not visited", 63: "dead"}),
    ("H1", 4): (0, 63, {49: "dead", 63: "dead"}),  # alive in between: the first is set aside
    # planted on day 35: dead at the next visit, dead that day, seen before it was there
    ("H2", 1): (42, 42, {42: "dead"}),
    ("H2", 2): (35, 35, {35: "dead"}),
    ("H2", 3): (28, 112, {}),
    ("H3", 1): (0, 112, dict.fromkeys(WEEKLY, "not found")),
    ("H3", 2): (0, 63, {}),  # stolen on day 65
    ("H3", 3): (0, -1, {}),  # no visit ever named it
    ("W1", 1): (
        0,
        112,
        {42: "doubtful", 70: "doubtful"} | dict.fromkeys((84, 98, 112), "not found"),
    ),
    ("W1", 2): (0, 14, {14: "dead"}),
    ("W1", 3): (0, 42, {}),  # replaced on day 56 by plant 5, not having been seen dead
    ("W1", 4): (0, 42, {42: "dead"}),  # replaced that day by 6, that on day 70 by 7
    ("W1", 5): (70, 112, {}),
    ("W1", 6): (56, 70, {70: "dead"}),
    ("W1", 7): (84, 112, {}),
}
# plot -> its last visit; W2 was flooded on day 84 and found dead
LAST = {"W2": 84, "W3": 70}
COUNTED = {
    "H4": lambda t: (4, 0, 0) if t < 28 else (3, 1, 0) if t < 70 else (2, 1, 1),
    "W4": lambda t: (3, 1, 0) if 56 <= t < 98 else (4, 0, 0),  # one dead was not dead
}
EVENTS = ((84, "W2", "flood damage,,"), (65, "H3", "theft,2,"), (56, "W1", "replaced,3,5"))
EVENTS += ((42, "W1", "replaced,4,6"), (70, "W1", "replaced,6,7"))

# kind -> hand, wick; endings first
BY_HAND = {
    "alive at the last visit": (9, 8),  # H2 3, H2 4, H3 4, two of H4, H5; W4, W5
    "alive, then no record for more than 14 days to the end": (0, 4),  # W3
    "dead, seen alive at an earlier visit": (5, 1),  # H1, one of H4; W1 4
    "dead at the first visit that saw it": (2, 1),  # H2 1, H2 2; W1 2
    "not found": (2, 1),  # H3 1, one of H4; W1 1
    "lost by itself (taken, washed away, or replaced unseen)": (1, 1),  # H3 2; W1 3
    "never seen after planting": (1, 0),  # H3 3
    "lost with its plot": (0, 4),  # W2
    "doubtful, later dead": (1, 0),
    "doubtful, later alive": (0, 1),
    "not found, later seen again": (1, 0),
    "not visited at least once": (1, 0),
    "seen dead, later alive": (1, 1),
    "replaced by a new plant": (0, 2),
    "planted more than 14 days after the first": (3, 0),
    "counted in its plot, without a name": (4, 4),
    "replacement plants": (0, 3),
}
ENDINGS = 8


def day(k: int) -> str:
    return (START + timedelta(days=k)).isoformat()


def visits() -> list[str]:
    rows = []
    for plot in PLOTS:
        for t in WEEKLY if plot[0] == "H" else FORTNIGHTLY:
            if t > LAST.get(plot, 112):
                continue
            if plot in COUNTED:
                rows.append(f"{day(t)},{plot},,,{','.join(map(str, COUNTED[plot](t)))}")
                continue
            for k in range(1, 8):
                if k > 4 and (plot, k) not in HISTORIES:
                    continue
                begin, end, noted = HISTORIES.get((plot, k), (0, 112, {}))
                drowned = "dead" if (plot, t) == ("W2", 84) else "alive"
                if begin <= t <= end:
                    rows.append(f"{day(t)},{plot},{k},{noted.get(t, drowned)},,,")
    # a second row that says otherwise: neither is used
    return [*rows, f"{day(49)},H5,1,dead,,,"]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Tree, Path]:
    folder = tmp_path_factory.mktemp("season") / "hard"
    folder.mkdir()
    late = {("H2", k): 35 for k in (1, 2, 3)}
    tables = {
        "layout.csv": ["plot,block,watering,plants"]
        + [f"{p},{p[1]},{'hand' if p[0] == 'H' else 'wick'},4" for p in PLOTS],
        "plants.csv": ["plot,plant,planted_on"]
        + [
            f"{p},{k},{day(late.get((p, k), 0))}"
            for p in PLOTS
            if p not in COUNTED
            for k in range(1, 5)
        ],
        "visits.csv": ["date,plot,plant,status,alive_n,dead_n,not_found_n", *visits()],
        "events.csv": ["date,plot,what,plant,new_plant"]
        + [f"{day(t)},{plot},{what}" for t, plot, what in EVENTS],
    }
    for name, lines in tables.items():
        (folder / name).write_text("\n".join(lines) + "\n", encoding="utf-8")
    (folder / "trial.yaml").write_text(TRIAL, encoding="utf-8")
    return analyze_by_command(folder, folder.parent), folder.parent / "report"


def rows_of(page: Element, caption: str) -> list[list[str]]:
    found = next(t for t in page.all("table") if caption in t.all("caption")[0].text)
    return [[c.text for c in row.children] for row in found.all("tr")]


def test_every_history_is_counted_once_and_told_how_it_counts(made: tuple[Tree, Path]) -> None:
    lives = response(made[0], "survival")["plant_lives"]
    found = {
        r["kind"]: (r["by_treatment"]["hand"], r["by_treatment"]["wick"])
        for r in lives["histories"]
    }
    assert found == BY_HAND
    endings = [r for r in lives["histories"] if r["part"] == "ending"]
    assert len(endings) == ENDINGS
    # every plant planted first has one ending: ten plots of four
    assert sum(r["total"] for r in endings) == 40
    observed = {r["kind"]: r["observed"] for r in endings}
    assert observed["dead at the first visit that saw it"] == "from the left"
    assert observed["dead, seen alive at an earlier visit"] == "between two visits"
    assert observed["not found"] == observed["alive at the last visit"] == "from the right"
    assert all(r["handled"] for r in lives["histories"])


def test_the_page_shows_that_table_with_its_sums(made: tuple[Tree, Path]) -> None:
    page = parse_page((made[1] / "report.html").read_bytes())
    heads, *rows = rows_of(page, "Every plant's history, and how it counts")
    assert heads == [
        "History",
        "hand",
        "wick",
        "All",
        "How the death is known",
        "How it counts",
    ]
    told = {row[0].split(": ")[-1]: (int(row[1]), int(row[2])) for row in rows}
    assert told.pop("planted first, all") == (20, 20)
    assert told == BY_HAND
    assert all(row[5] for row in rows if row[0] != "planted first, all")


def test_visits_more_often_to_one_arm_are_named(made: tuple[Tree, Path]) -> None:
    survival = response(made[0], "survival")
    (text,) = [c for c in survival["cautions"] if c.startswith("Visits were not spaced alike")]
    assert "hand median 7.00 days between visits, mean 7.00" in text
    assert "wick median 14.0 days between visits, mean 14.0" in text
    assert "those of wick look later, and those of hand earlier" in text
    page = parse_page((made[1] / "report.html").read_bytes())
    assert text in page.text
    rows = {row[0]: row[1:] for row in rows_of(page, "Visits by treatment")}
    assert rows["hand"][1:3] == ["7.00", "7.00"]
    assert rows["wick"][1:3] == ["14.00", "14.00"]


def test_not_found_plants_count_as_alive_dead_and_on_either_side(
    made: tuple[Tree, Path],
) -> None:
    names = [c["name"] for c in response(made[0], "survival")["sensitivity"]]
    for label in (
        "plants not found counted dead",
        "plants not seen counted alive",
        "plants not seen counted dead",
        "plants not seen counted against the first treatment",
        "plants not seen counted in favor of the first treatment",
        "doubtful plants dated back to the first doubt",
    ):
        assert any(label in name for name in names), (label, names)


def test_every_row_left_out_and_every_doubt_has_its_place(made: tuple[Tree, Path]) -> None:
    tree = made[0]
    codes = sorted(q["code"] for q in tree["queries"])
    assert codes == [
        "alive after dead",  # H1 4
        "alive after dead",  # W4, counted
        "conflicting duplicates",  # H5 1
        "dead in a lost plot",  # W2
        "replaced but not dead",  # W1 3
        "seen before planting",  # H2 3
    ]
    assert all(q["file"] and q["fix"] for q in tree["queries"])
    reasons = [x["reason"] for x in tree["exclusions"]]
    assert sorted(set(reasons)) == [
        "before the plant was planted",
        next(r for r in reasons if r.startswith("contradicts another of rows")),
        "dead, but seen alive later",
        "the plot was lost",
    ]


def test_the_stand_counts_living_replacements_wherever_they_stand(
    made: tuple[Tree, Path],
) -> None:
    rows = {r["treatment"]: r for r in response(made[0], "survival")["plant_lives"]["stand"]}
    wick = rows["wick"]
    # by day 70: plant 5 lives, 6 is dead, 7 was planted that day; W2 is lost
    assert (wick["places"], wick["replacements"], wick["replacements_alive"]) == (16, 3, 2)
    # W1 1; W3, W4 (one seen dead there lived later), W5
    assert wick["originals_alive"] == 13
    assert rows["hand"]["replacements"] == 0
