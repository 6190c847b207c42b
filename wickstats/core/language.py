"""The language that a page is being written in: plural forms, decimal sign, dates.

Results are always told in English, so that results.json is the same bytes whatever page is
made of it. A part of a page in another language is written inside ``speaking``. Rules of a
language come from the Unicode locale data. Leans on babel.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from babel import Locale

ENGLISH = "en"
LANGUAGES = (ENGLISH, "es")

_spoken: ContextVar[str] = ContextVar("language", default=ENGLISH)


@contextmanager
def speaking(language: str) -> Iterator[None]:
    """Write words, numbers and dates in that language inside this.

    Raises
    ------
    ValueError
        For a language that the catalog does not hold.
    """
    if language not in LANGUAGES:
        raise ValueError(f"no words in the language {language!r}; there are {LANGUAGES}")
    token = _spoken.set(language)
    try:
        yield
    finally:
        _spoken.reset(token)


def spoken() -> str:
    """The language of the moment, as a BCP 47 tag."""
    return _spoken.get()


def plural_form(n: float) -> str:
    """The plural category of a count, e.g. "one" or "other" (Unicode plural rules)."""
    form: str = _locale(spoken()).plural_form(n)
    return form


def decimal_sign() -> str:
    """What stands between whole numbers and decimals."""
    return "." if spoken() == ENGLISH else _decimal_sign(spoken())


def day_in_words(day: date) -> str:
    """A date as people write it, e.g. "March 17, 2025" or "17 de marzo de 2025"."""
    from babel.dates import format_date

    return format_date(day, "long", locale=spoken())


@cache
def _locale(language: str) -> "Locale":
    from babel import Locale

    return Locale.parse(language)


@cache
def _decimal_sign(language: str) -> str:
    from babel.numbers import get_decimal_symbol

    return get_decimal_symbol(language)
