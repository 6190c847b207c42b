"""Identifiers: unambiguous, different, and every slip of the pen is noticed."""

from itertools import product

import pytest

from wickstats.layout.codes import ALPHABET, LETTERS, draw_codes, is_code, with_check
from wickstats.layout.stream import Stream

ALL = [with_check(a + b) for a, b in product(LETTERS, repeat=2)]


def test_alphabet() -> None:
    assert len(ALPHABET) == len(set(ALPHABET)) == 23
    assert not set("O0I1L") & set(ALPHABET)


def test_every_code_is_right_and_different() -> None:
    assert len(set(ALL)) == len(LETTERS) ** 2
    assert all(is_code(code) for code in ALL)


def test_every_wrong_character_is_noticed() -> None:
    """Exhaustive: each place of each code, each other sign of the alphabet."""
    for code in ALL:
        for at in (0, 1, 3):
            for sign in ALPHABET:
                if sign != code[at]:
                    assert not is_code(code[:at] + sign + code[at + 1 :])


def test_every_swap_is_noticed() -> None:
    """Exhaustive: neighbors (also across the hyphen) and any other two places."""
    for code in ALL:
        for i, j in ((0, 1), (1, 3), (0, 3)):
            signs = list(code)
            signs[i], signs[j] = signs[j], signs[i]
            assert "".join(signs) == code or not is_code("".join(signs))


def test_three_letters_too() -> None:
    for letters in product(LETTERS[::3], repeat=3):
        code = with_check("".join(letters))
        assert is_code(code)
        for at, sign in product((0, 1, 2, 4), ALPHABET):
            changed = code[:at] + sign + code[at + 1 :]
            assert is_code(changed) == (changed == code)


@pytest.mark.parametrize("count", [1, 24, 243, 244, 5000])
def test_drawn_codes(count: int) -> None:
    codes = draw_codes(count, Stream(3, "identifiers"))
    assert len(set(codes)) == count
    assert all(is_code(code) for code in codes)
    assert codes == draw_codes(count, Stream(3, "identifiers"))
    assert not {code[:-2] for code in codes} & {"JAN", "MAR", "APR", "MAY", "DEC"}


@pytest.mark.parametrize(
    "text", ["", "KA", "KA-", "-4", "K-4", "KO-4", "ka-4", "KA-44", "4A-K"]
)
def test_other_texts_are_no_codes(text: str) -> None:
    assert not is_code(text)
