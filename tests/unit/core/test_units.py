"""Units of measure against the definitions they stand on."""

import numpy as np
import pytest

from wickstats.core.units import UnitError, conversion, unit_of_name


@pytest.mark.parametrize(
    ("value", "theirs", "ours", "expected"),
    [
        (123.0, "mm", "cm", 12.3),
        (250.0, "g", "kg", 0.25),
        (330.0, "mL", "L", 0.33),
        (1.0, "m3", "L", 1000.0),
        (1.0, "kg/m3", "g/L", 1.0),
        (1.0, "t/ha", "kg/m2", 0.1),
        (1.0, "L/m2", "mm", 1.0),  # one millimeter of water on one square meter is a liter
        (1.0, "mL/min", "L/d", 1.44),
        (15.0, "bar", "MPa", 1.5),
        (20.0, "degC", "degF", 68.0),
        (0.0, "degC", "K", 273.15),
        # exact by the international yard and pound agreement of 1959
        (1.0, "in", "cm", 2.54),
        (1.0, "lb", "g", 453.59237),
        # 231 cubic inches; UCUM [gal_us]
        (1.0, "gal", "L", 3.785411784),
    ],
)
def test_a_number_in_their_unit_becomes_ours(
    value: float, theirs: str, ours: str, expected: float
) -> None:
    assert conversion(theirs, ours).apply(value) == pytest.approx(expected, rel=1e-14)


def test_millimeters_become_centimeters_as_a_reader_divides() -> None:
    whole = np.arange(1.0, 2000.0)
    assert (conversion("mm", "cm").apply(whole) == whole / 10).all()


@pytest.mark.parametrize("unit", ["cm", "leaves", "{plant}"])
def test_a_unit_turns_into_itself_even_if_nobody_knows_it(unit: str) -> None:
    assert conversion(unit, unit).changes_nothing


@pytest.mark.parametrize(
    ("theirs", "ours", "words"),
    [
        ("kg", "cm", "'kg' cannot be turned into 'cm'"),
        ("MM", "cm", "the unit 'MM' is not known"),
        ("klg", "kg", "the nearest known one is 'kg'"),
        ("", "cm", "cannot be turned"),
    ],
)
def test_what_cannot_be_turned_is_refused(theirs: str, ours: str, words: str) -> None:
    with pytest.raises(UnitError, match=words):
        conversion(theirs, ours)


def test_endings_of_names() -> None:
    assert unit_of_name("height_cm") == "cm"
    assert unit_of_name("applied_l") == "L"
    assert unit_of_name("vigor") is None
    assert unit_of_name("leaf_count") is None
