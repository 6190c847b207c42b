"""Words, plural forms, numbers and dates in the language spoken.

Plural categories and signs are those of the Unicode locale data (CLDR, through babel);
"17 de marzo de 2025" is how the Royal Spanish Academy's orthography (2010) writes dates, from
memory.
"""

from datetime import date

import pytest
from babel import Locale

from wickstats.core.language import (
    LANGUAGES,
    day_in_words,
    decimal_sign,
    plural_form,
    speaking,
    spoken,
)
from wickstats.core.numbers import (
    confidence_level,
    fixed,
    interval,
    number,
    percent,
    with_interval,
)
from wickstats.core.words import recorded, say
from wickstats.core.words.plural import Plural

THIN = "\N{NARROW NO-BREAK SPACE}"


def test_english_is_spoken_where_nothing_is_said_and_after_every_part() -> None:
    assert spoken() == "en"
    with speaking("es"):
        assert spoken() == "es"
        with speaking("en"):
            assert spoken() == "en"
        assert spoken() == "es"
    assert spoken() == "en"
    with pytest.raises(KeyError), speaking("es"):
        say("no such key")
    assert spoken() == "en"


def test_a_language_without_words_is_refused() -> None:
    with pytest.raises(ValueError, match="no words in the language 'fr'"), speaking("fr"):
        pass


@pytest.mark.parametrize("language", LANGUAGES)
def test_plural_forms_are_those_of_the_locale_data(language: str) -> None:
    rule = Locale.parse(language).plural_form
    with speaking(language):
        for n in (0, 1, 2, 5, 11, 21, 1.0, 1.5, 1_000_000):
            assert plural_form(n) == rule(n)


def test_counts_take_their_form() -> None:
    assert [say("count plants", n=n) for n in (0, 1, 2)] == ["0 plants", "1 plant", "2 plants"]
    with speaking("es"):
        told = [say("count plants", n=n) for n in (0, 1, 2, 1_000_000)]
    assert told == ["0 plantas", "1 planta", "2 plantas", "1000000 plantas"]
    with pytest.raises(TypeError, match="no number"):
        Plural("one", "other").of("1")
    with pytest.raises(TypeError, match="no number"):
        Plural("one", "other").of(n=True)


def test_numbers_have_the_sign_of_the_language() -> None:
    values = (0.0427, 1234.5, -0.5, None)
    assert [fixed(v, 2) for v in values] == [
        "0.04",
        f"1{THIN}234.50",
        "\N{MINUS SIGN}0.50",
        "—",
    ]
    with speaking("es"):
        assert decimal_sign() == ","
        assert [fixed(v, 2) for v in values] == [
            "0,04",
            f"1{THIN}234,50",
            "\N{MINUS SIGN}0,50",
            "—",
        ]
        assert number(0.04271) == "0,0427"
        assert number(1.234e-12) == "1,23e\N{MINUS SIGN}12"
        assert percent(0.0004, 1) == "<0,1\N{NO-BREAK SPACE}%"
        assert confidence_level(0.999) == "99,9\N{NO-BREAK SPACE}%"
        assert interval(0.5, 1.25) == "0,500 a 1,25"
        assert with_interval(2.5, 1.25, None) == ("2,50", "1,25 a sin límite superior")
    assert with_interval(2.5, 1.25, None) == ("2.50", "1.25 to no upper limit")


def test_days_are_written_as_people_write_them() -> None:
    day = date(2025, 3, 17)
    assert day_in_words(day) == "March 17, 2025"
    with speaking("es"):
        assert day_in_words(day) == "17 de marzo de 2025"


def test_what_is_recorded_stays_english() -> None:
    with speaking("es"):
        assert recorded("blocks") == "blocks"
        assert recorded("range", low="1", high="2") == "1 to 2"
        assert say("range", low="1", high="2") == "1 a 2"
