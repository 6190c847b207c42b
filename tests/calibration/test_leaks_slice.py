"""Leaks that nobody noted: a slice of the search held to its bounds, and the stored study."""

import json
from math import sqrt
from pathlib import Path

import leak_run
import pytest
from leak_run import LeakCell

STORED = Path(leak_run.__file__).with_name("leaks.json")
CELLS = json.loads(STORED.read_text(encoding="utf-8"))["cells"]


def four(rate: float, n: int) -> float:
    """Four standard errors of a rate."""
    return 4.0 * sqrt(rate * (1.0 - rate) / n)


@pytest.mark.parametrize("cell", [LeakCell(3, 0.0), LeakCell(3, 2.0), LeakCell(6, 3.0)])
def test_a_slice_finds_leaks_with_few_false_alarms(cell: LeakCell) -> None:
    found = leak_run.run_leaks(cell, 60, 11)
    if cell.extra:
        bound = leak_run.FOUND[cell.extra]
        assert found["leaks"] > 30
        assert found["found"] >= bound - four(bound, found["leaks"])
    else:
        assert found["false"] <= leak_run.MOST_FALSE + four(leak_run.MOST_FALSE, 60)


def test_the_stored_study_keeps_its_bounds() -> None:
    assert [LeakCell(**c["settings"]) for c in CELLS] == leak_run.leak_cells()
    for cell in CELLS:
        extra = cell["settings"]["extra"]
        if extra:
            assert cell["found"] >= leak_run.FOUND[extra], cell["settings"]
        else:
            assert cell["false"] <= leak_run.MOST_FALSE, cell["settings"]


def test_the_page_tells_what_the_study_found() -> None:
    """The words beside every ledger are no better than the worst setting."""
    from wickstats.core.words import say

    told = say("ledger note")
    of = leak_run.summarize_leaks(CELLS)
    for extra, tenths in (("1", 1), ("2", 6), ("3", 8)):
        assert of["found"][extra] >= tenths / 10 - 0.05
    assert "1 of 10 that took as much again as a week's use, 6 of 10 that took twice" in told
    assert "8 of 10 that took three times as much" in told
    assert of["false"] <= 0.035
    assert "3 of 100 seasons" in told
