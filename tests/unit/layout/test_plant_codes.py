"""Check letters of plants: every single slip and every swap of neighbors is noticed."""

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wickstats.layout.codes import LETTERS, is_code, with_check
from wickstats.layout.plant_codes import SIGNS, check_letter, plant_code, split_code

PLOTS = st.text(LETTERS, min_size=2, max_size=4).map(with_check)
NUMBERS = st.integers(1, 9999).map(str)
ANY = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def right(text: str) -> bool:
    """Whether a plant's code as a whole passes: the plot's own sign, and the letter."""
    said = split_code(text)
    if said is None or said[0] is None:
        return False
    return is_code(said[0]) and check_letter(said[0], said[1]) == said[2]


@given(PLOTS, NUMBERS)
def test_a_code_passes_and_splits_into_its_parts(plot: str, number: str) -> None:
    code = plant_code(plot, number)
    assert right(code)
    assert split_code(code) == (plot, number, code[-1])
    assert split_code(code.split("/")[1].lower()) == (None, number, code[-1])


@given(PLOTS, NUMBERS)
def test_every_single_wrong_sign_is_noticed(plot: str, number: str) -> None:
    code = plant_code(plot, number)
    for i, sign in enumerate(code):
        for other in ANY + "-/":
            if other != sign:
                assert not right(code[:i] + other + code[i + 1 :]), (code, i, other)


@given(PLOTS, NUMBERS)
def test_every_swap_of_neighbors_is_noticed(plot: str, number: str) -> None:
    code = plant_code(plot, number)
    for i in range(len(code) - 1):
        if code[i] != code[i + 1]:
            assert not right(code[:i] + code[i + 1] + code[i] + code[i + 2 :]), (code, i)


def test_another_plot_passes_about_once_in_thirteen() -> None:
    plots = [with_check(a + b) for a in LETTERS for b in LETTERS]
    letters = Counter(check_letter(plot, "3") for plot in plots)
    alike = sum(n * (n - 1) for n in letters.values()) / (len(plots) * (len(plots) - 1))
    assert alike == pytest.approx(1 / 13, abs=0.01)


def test_letters_are_none_that_are_misread_or_taken_for_a_clock() -> None:
    assert not set(SIGNS) & set("AEPOIQLSBZU0123456789")
    assert len(set(SIGNS)) == 13


def test_what_is_no_code() -> None:
    for text in ("3", "T3", "0T", "3B", "KA-4/", "KA-4/T", "33333T", ""):
        assert split_code(text) is None
