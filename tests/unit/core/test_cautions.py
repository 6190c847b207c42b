"""Cautions: every step defers, every hazard of the work is named somewhere."""

import pytest

from wickstats.core.words import CATALOG
from wickstats.core.words.cautions import STEPS, cautions_of


@pytest.mark.parametrize("step", STEPS)
def test_every_step_defers_to_law_and_trained_people(step: str) -> None:
    told = cautions_of(step)
    assert "Follow local law and code" in told[-1]
    assert "licensed or trained people" in told[-1]
    assert len(set(told)) == len(told)


def test_every_caution_is_printed_at_some_step() -> None:
    written = {key for key in CATALOG if key.startswith("caution ")}
    written -= {"caution title", "caution supply"}  # a heading; a remark of the analysis
    used = {f"caution {name}" for names in STEPS.values() for name in names}
    assert used <= set(CATALOG)
    assert {key for key in written if key in used} == used


@pytest.mark.parametrize(
    ("step", "words"),
    [
        ("laying out", ("buried lines", "Private lines", "hand", "protected")),
        ("building", ("air gap", "cure", "tipping", "extra-low voltage", "certified")),
        ("bench", ("melted cord", "gloves", "label")),
        ("refilling", ("kilogram", "ladder", "not drinking water", "Confusion in heat")),
        ("visiting", ("phone signal", "Snakes", "dry grass", "mosquitoes")),
        ("supply", ("backflow", "lids", "axle", "overhead")),
    ],
)
def test_water_glue_digging_heat_and_height_where_the_step_is(
    step: str, words: tuple[str, ...]
) -> None:
    text = " ".join(cautions_of(step))
    for word in words:
        assert word in text, word


def test_nothing_calls_a_step_safe() -> None:
    for step in STEPS:
        for sentence in cautions_of(step)[:-1]:
            assert "safe" not in sentence.replace("safety sheet", "")
