"""Sentences at the bench: its own words, names and keys as they are."""

import pytest

from wickstats.core.language import speaking
from wickstats.core.words import say
from wickstats.core.words.places import at_place, of_place


@pytest.mark.parametrize(
    ("field", "bench"),
    [
        (
            "Plots were compared within {blocks} blocks.",
            "Pieces were compared within {blocks} runs.",
        ),
        ("more blocks would tell this season", "more runs would tell this trial"),
        ("a whole plot, then its plots", "a coil, then its pieces"),
        ("add plot_cv; blocks under design", "add plot_cv; blocks under design"),
        ("a split-plot; season: {{start: 1}}", "a split-plot; season: {{start: 1}}"),
        ("a whole season outdoors", "a whole season outdoors"),
        ("a ladder on firm ground", "a ladder on firm footing"),
        ("blockades in seasonal plotting", "blockades in seasonal plotting"),
    ],
)
def test_words_change_at_the_bench_and_nowhere_else(field: str, bench: str) -> None:
    assert of_place(field) == field
    with at_place("bench"):
        assert of_place(field) == bench
    with at_place("field"):
        assert of_place(field) == field


def test_names_of_users_stay_as_they_are() -> None:
    with at_place("bench"):
        told = say("verdict changes", block="plot 3", name="season block", verdict="the same")
    assert told == "without run plot 3, season block: the same"


def test_other_languages_keep_their_own_words() -> None:
    with at_place("bench"), speaking("es"):
        assert of_place("plot") == "piece"  # the sentence itself is not asked for in Spanish
        spanish = say("advisor title")
    with speaking("es"):
        assert say("advisor title") == spanish
