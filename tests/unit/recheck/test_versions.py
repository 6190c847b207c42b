"""Differences between two reports are counted by area."""

import pytest

from wickstats.recheck.findings import Finding
from wickstats.recheck.versions import area_of, areas


@pytest.mark.parametrize(
    ("place", "area"),
    [
        ("inputs[2].sha256", "inputs"),
        ("trial.matters.survival.difference", "plan and layout"),
        ("exclusions[0].reason", "exclusions and queries"),
        ("responses[0].comparisons[1].sentence", "verdicts and sentences"),
        ("responses[0].comparisons[1].estimate", "numbers"),
    ],
)
def test_each_place_has_its_area(place: str, area: str) -> None:
    assert area_of(place) == area


def test_areas_are_counted_and_silence_is_kept() -> None:
    assert areas([]) == []
    places = ("inputs[0].rows", "responses[0].n", "responses[0].m")
    (note,) = areas([Finding("serious", "against", p, "x") for p in places])
    assert note.sentence.endswith("inputs 1, numbers 2")
    assert note.weight == "note"
