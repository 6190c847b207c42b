"""Whatever small crews write down: no number of the results or the page is not a number.

Random histories of few plants at few visits, every state and cause of the record tables,
replacements and lost plots among them, through reading, analysis, results.json and page.
"""

import json
import re

from hypothesis import given, settings
from hypothesis import strategies as st
from support_page import parse_page
from support_records import frame, small_layout, small_trial

import wickstats as ws
from wickstats.archive.results_file import write_results
from wickstats.core.errors import AnalysisError, RecordsError
from wickstats.records.read import read_records
from wickstats.report.page import report_page

PLOTS = ("A1", "A2", "A3", "007", "B2")
DAYS = ("2025-03-10", "2025-04-10", "2025-05-10", "2025-06-10")
STATES = ("alive", "alive", "alive", "dead", "dead", "doubtful", "not found", "not visited", "")
CAUSES = ("", "drought", "browsing", "disease", "unknown")
SURVIVAL = {"name": "survival", "kind": "survival", "better": "more"}
EVENTS = ("", "flood damage,,", "theft,1,", "replaced,1,9", "replaced,2,")


@st.composite
def seasons(draw):
    """Tables of visits and events, as text."""
    plants = draw(st.integers(1, 3))
    days = DAYS[: draw(st.integers(1, 4))]
    # some seasons lose nothing, some everything
    pool = draw(st.sampled_from((STATES, ("alive",), ("dead",), ("alive", "dead"))))
    lines = ["date,plot,plant,status,cause"]
    for plot in PLOTS[: draw(st.integers(2, 5))]:
        for plant in range(1, plants + 1):
            for day in days:
                state = draw(st.sampled_from(pool))
                if state:
                    cause = draw(st.sampled_from(CAUSES)) if state == "dead" else ""
                    lines.append(f"{day},{plot},{plant},{state},{cause}")
    events = ["date,plot,what,plant,new_plant"]
    for plot in PLOTS:
        event = draw(st.sampled_from(EVENTS)) if draw(st.booleans()) else ""
        if event:
            events.append(f"{draw(st.sampled_from(days))},{plot},{event}")
    return plants, "\n".join(lines), "\n".join(events)


def analyzed(season):
    """Results of one season, None where its tables are refused in words."""
    plants, visits, events = season
    trial, layout = small_trial(responses=(SURVIVAL,)), small_layout(plants)
    tables = {"visits": frame(visits)}
    if "\n" in events:
        tables["events"] = frame(events)
    try:
        return ws.analyze(trial, read_records(trial, layout, tables))
    except (RecordsError, AnalysisError):
        return None


def strict(text: bytes) -> object:
    """JSON without NaN or infinity."""

    def refuse(word: str) -> None:
        raise AssertionError(f"{word} in results.json")

    return json.loads(text, parse_constant=refuse)


@settings(max_examples=12)
@given(season=seasons())
def test_results_hold_numbers_or_reasons_and_the_page_only_words(season):
    results = analyzed(season)
    if results is None:
        return
    (tree,) = strict(write_results(results))["responses"]
    for row in (*tree["comparisons"], *tree["sensitivity"], *tree["means"]):
        assert row["estimate"] is not None or row.get("not_estimable"), row
        low, high = row["low"], row["high"]
        if low is not None and high is not None:
            assert low <= high
    for row in tree["tests"]:
        assert row["p"] is not None or row.get("not_estimable"), row
    page, figures = report_page(results)
    assert not re.search(r"\b(nan|inf|infinity)\b", parse_page(page).text, re.I)
    for drawn in figures.values():
        assert not re.search(rb"[\s>\"](nan|inf)[\s<\",]", drawn, re.I)
