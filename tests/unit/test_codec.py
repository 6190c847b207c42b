"""Values to JSON and back."""

from dataclasses import dataclass

import pytest

from wickstats.core.codec import dump_json, from_plain, parse_json, to_plain


@dataclass(frozen=True)
class Inner:
    """A small value."""

    x: float | None
    tags: tuple[str, ...] = ()


@dataclass(frozen=True)
class Outer:
    """A value that holds values."""

    name: str
    inner: tuple[Inner, ...]
    not_estimable: str | None = None


def test_a_value_comes_back_unchanged() -> None:
    value = Outer("a", (Inner(0.1 + 0.2, ("p", "q")), Inner(None)))
    assert from_plain(Outer, parse_json(dump_json(value))) == value


def test_infinite_numbers_are_refused() -> None:
    with pytest.raises(ValueError, match="not finite"):
        to_plain(Inner(float("nan")))


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ('{"a": 1, "a": 2}', "stands twice"),
        ('{"a": NaN}', "not allowed"),
        ('{"a": 1e999}', "out of range"),
        ("[" * 51 + "]" * 51, "deeper than 50"),
    ],
)
def test_unsafe_json_is_refused(text: str, why: str) -> None:
    with pytest.raises(ValueError, match=why):
        parse_json(text.encode())
