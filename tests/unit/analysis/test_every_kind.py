"""One invented season that holds every kind of history, and the page's table about it.

The visits are written below plant by plant; every number of the table was counted by hand
from them. A1 and 007 are hand watered; A2, A3 and B2 stand on capillary wicks.
"""

import pytest
from support_page import parse_page
from support_records import frame, small_layout, small_trial

from wickstats.records.read import read_records
from wickstats.report.page import report_page
from wickstats.road.season import compose

DAYS = ("2025-03-15", "2025-04-15", "2025-05-15", "2025-06-15")
# plot, plant: what each visit saw; - no row, a alive, d dead, ? doubtful, n not found,
# v not visited
SEEN = {
    ("A1", "1"): "aadd",  # dead between two visits
    ("A1", "2"): "dddd",  # dead at first sight, within 14 days of planting
    ("A1", "3"): "a?dd",  # doubtful, then dead
    ("A1", "4"): "a?aa",  # doubtful, then alive
    ("A1", "5"): "aaaa",
    ("007", "1"): "aa??",  # doubtful to the end
    ("007", "2"): "aann",  # not found
    ("007", "3"): "anaa",  # not found, then found
    ("007", "4"): "adaa",  # dead, then alive
    ("007", "5"): "----",  # never seen after planting
    ("A2", "1"): "avaa",  # not visited once
    ("A2", "2"): "aa--",  # no record for more than 14 days to the end
    ("A2", "3"): "--aa",  # planted late
    ("A2", "4"): "aadd",  # dead, and replaced by 9
    ("A2", "9"): "---a",  # the replacement
    ("B2", "1"): "aaaa",  # with its plot lost in June
    ("B2", "2"): "aaaa",
}
WORDS = {"a": "alive", "d": "dead", "?": "doubtful", "n": "not found", "v": "not visited"}
LATE = {("A2", "3"): "2025-04-20", ("A2", "9"): "2025-05-20"}

# kind -> (how the death is known, hand watering, capillary wick)
EXPECTED = {
    "alive at the last visit": ("from the right", 4, 4),  # two of A3, counted
    "alive, then no record for more than 14 days to the end": ("from the right", 0, 1),
    "doubtful to the end": ("from the right", 1, 0),
    "dead, seen alive at an earlier visit": ("between two visits", 2, 2),
    "dead at the first visit that saw it": ("from the left", 1, 0),
    "not found": ("from the right", 1, 0),
    "never seen after planting": ("-", 1, 0),
    "lost with its plot": ("-", 0, 2),
    "of these: doubtful, later dead": ("-", 1, 0),
    "of these: doubtful, later alive": ("-", 1, 0),
    "of these: not found, later seen again": ("-", 1, 0),
    "of these: not visited at least once": ("-", 0, 1),
    "of these: seen dead, later alive": ("-", 1, 0),
    "of these: replaced by a new plant": ("-", 0, 1),
    "of these: planted more than 14 days after the first": ("-", 0, 1),
    "of these: counted in its plot, without a name": ("-", 0, 3),
    "beside these: replacement plants": ("-", 0, 1),
}


@pytest.fixture(scope="module")
def page():
    visits = ["date,plot,plant,status,alive_n,dead_n,not_found_n"]
    for (plot, plant), states in SEEN.items():
        for day, state in zip(DAYS, states, strict=True):
            if state != "-":
                visits.append(f"{day},{plot},{plant},{WORDS[state]},,,")
    # A3 was counted: three alive, then two and one dead
    visits += [f"{day},A3,,,3,0,0" for day in DAYS[:2]]
    visits += [f"{day},A3,,,2,1,0" for day in DAYS[2:]]
    plants = ["plot,plant,planted_on,replaces"]
    for plot, plant in SEEN:
        replaces = "4" if (plot, plant) == ("A2", "9") else ""
        plants.append(f"{plot},{plant},{LATE.get((plot, plant), '2025-03-01')},{replaces}")
    events = ["date,plot,what,plant,new_plant"]
    events += ["2025-05-20,A2,replaced,4,9", "2025-06-20,B2,flood damage,,"]
    tables = {
        "visits": frame("\n".join(visits)),
        "plants": frame("\n".join(plants)),
        "events": frame("\n".join(events)),
    }
    trial = small_trial(responses=({"name": "survival", "kind": "survival"},))
    season = read_records(trial, small_layout(None), tables)
    return parse_page(report_page(compose(trial, season))[0])


def table_of(page) -> dict[str, list[str]]:
    found = next(
        t for t in page.all("table") if "history, and how it counts" in t.all("caption")[0].text
    )
    return {
        cells[0]: cells[1:]
        for row in found.all("tr")
        if (cells := [cell.text.strip() for cell in row.children])
    }


def test_the_table_tells_every_kind_how_many_and_how_it_counts(page) -> None:
    rows = table_of(page)
    assert rows.pop("History")[:3] == ["hand watering", "capillary wick", "All"]
    total = rows.pop("planted first, all")
    found = {kind: (cells[3], int(cells[0]), int(cells[1])) for kind, cells in rows.items()}
    assert found == EXPECTED
    assert all(int(c[2]) == int(c[0]) + int(c[1]) for c in rows.values())
    assert all(len(cells[4]) > 10 for cells in rows.values())  # how it counts, in words
    endings = [v for k, v in EXPECTED.items() if not k.startswith(("of these", "beside"))]
    assert [int(total[0]), int(total[1])] == [
        sum(v[1] for v in endings),
        sum(v[2] for v in endings),
    ]
    assert [int(total[0]), int(total[1])] == [10, 9]


def test_not_found_as_dead_and_both_extremes_stand_beside(page) -> None:
    for words in (
        "plants not seen counted alive",
        "plants not seen counted dead",
        "plants not found counted dead",
        "plants not seen counted against the first treatment",
        "plants not seen counted in favor of the first treatment",
        "doubtful plants dated back to the first doubt",
        "replacements counted in the place of the plants they replaced",
    ):
        assert f"({words})" in page.text


def test_plants_without_a_state_on_the_day_are_accounted_for(page) -> None:
    assert (
        "alive when last seen on 2025-04-15, more than 14 days before 2025-06-15" in page.text
    )
