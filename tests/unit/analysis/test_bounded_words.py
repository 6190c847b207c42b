"""Sentences of bounded pairs where both sides lived alike."""

import pytest

from wickstats.analysis.bounds import of_hundred


@pytest.mark.parametrize(
    ("difference", "words"),
    [(0.0, "as many"), (0.004, "as many"), (0.05, "5 more"), (-0.25, "25 fewer")],
)
def test_no_difference_never_reads_as_none_alive(difference: float, words: str) -> None:
    assert of_hundred(difference) == words
