"""Dates at which survival is asked for and no visit served: what is asked, word by word."""

from datetime import date

import pytest
from support_records import frame, small_layout, small_trial

from wickstats.records.read import read_records

PLOTS = ("A1", "A2", "A3", "007", "B2")
DATE_WITHOUT = (
    "visits (in memory), column date: date without a visit: found no visit within 14 days of "
    "2025-05-15; expected a visit near every date at which survival is asked for; to mend it: "
    "name the date of a visit in `at`; as it stands the shares alive are those of the last "
    "visit before"
)
PLOTS_WITHOUT = (
    "visits (in memory), column plot: plots not visited: found {n} of 5 plots with living "
    "plants without a visit within 14 days of 2025-05-15: {plots}; expected all of them "
    "visited near a date at which survival is asked for; to mend it: type in what is missing, "
    "or go there if it is not too late; as it stands they are left out of the shares alive at "
    "that date"
)


def asked(at: str, rows: dict[str, dict[str, str]], events: str = "") -> list[str]:
    """Queries; ``rows``: day -> plot -> state of its three plants."""
    lines = ["date,plot,plant,status"]
    for day, plots in rows.items():
        lines += [f"{day},{plot},{k},{state}" for plot, state in plots.items() for k in "123"]
    tables = {"visits": frame("\n".join(lines))}
    if events:
        tables["events"] = frame(f"date,plot,what\n{events}")
    survival = {"name": "survival", "kind": "survival", "at": (date.fromisoformat(at),)}
    trial = small_trial(responses=(survival,))
    return [str(q) for q in read_records(trial, small_layout(), tables).queries]


WHOLE = dict.fromkeys(PLOTS, "alive")


def but(*plots: str, **states: str) -> dict[str, str]:
    kept = {plot: "alive" for plot in PLOTS if plot not in plots}
    return {plot: states.get(plot, state) for plot, state in kept.items()}


@pytest.mark.parametrize(
    ("at", "rows", "queries"),
    [
        # a visit near the date, before it or after
        ("2025-05-15", {"2025-05-01": WHOLE}, []),
        ("2025-05-15", {"2025-04-01": WHOLE, "2025-05-29": WHOLE}, []),
        # none near it, and the season went on
        ("2025-05-15", {"2025-04-30": WHOLE, "2025-05-30": WHOLE}, [DATE_WITHOUT]),
        # the date may still have its visit
        ("2025-05-15", {"2025-04-01": WHOLE}, []),
        (
            "2025-05-15",
            {"2025-04-01": WHOLE, "2025-05-14": but("A2", "B2")},
            [PLOTS_WITHOUT.format(n=2, plots="A2, B2")],
        ),
        # a row that says that nobody went is no visit
        (
            "2025-05-15",
            {"2025-04-01": WHOLE, "2025-05-14": but(A2="not visited")},
            [PLOTS_WITHOUT.format(n=1, plots="A2")],
        ),
        # nobody need go where all were dead before
        ("2025-05-15", {"2025-04-01": but(A2="dead"), "2025-05-14": but("A2")}, []),
    ],
)
def test_dates_and_plots_without_a_visit(at: str, rows: dict, queries: list[str]) -> None:
    assert asked(at, rows) == queries


def test_lost_plots_are_not_asked_about() -> None:
    rows = {"2025-04-01": WHOLE, "2025-05-14": but("A2")}
    assert asked("2025-05-15", rows, "2025-04-20,A2,flood damage") == []
