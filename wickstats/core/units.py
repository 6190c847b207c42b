"""Units of measure and conversion between them, by their UCUM names.

Names are case-sensitive as in the Unified Code for Units of Measure (mm, kg, L,
degC is our plain spelling of its Cel). A compound is a quotient or product of known
units: ``kg/ha``, ``L/d``, ``mL/min``, ``kg/m3``, ``MJ/m2``. Every unit is a factor
to the base units meter, gram, second, kelvin and pascal, and an offset for the
temperatures. Leans on numpy.
"""

import re
from dataclasses import dataclass
from difflib import get_close_matches
from functools import lru_cache
from typing import TypeVar

import numpy as np

# length m, mass g, time s, temperature K, plain count 1; exponents in that order
_Dimension = tuple[int, int, int, int]
_NONE: _Dimension = (0, 0, 0, 0)
_LENGTH: _Dimension = (1, 0, 0, 0)
_AREA: _Dimension = (2, 0, 0, 0)
_VOLUME: _Dimension = (3, 0, 0, 0)
_MASS: _Dimension = (0, 1, 0, 0)
_TIME: _Dimension = (0, 0, 1, 0)
_WARMTH: _Dimension = (0, 0, 0, 1)
_PRESSURE: _Dimension = (-1, 1, -2, 0)
_ENERGY: _Dimension = (2, 1, -2, 0)

# The yard and pound agreement of 1959 fixes inch and pound; the US gallon is 231 cubic inches.
_INCH = 0.0254
_POUND = 453.59237
_GALLON = 231 * _INCH**3

_KNOWN: dict[str, tuple[float, float, _Dimension]] = {
    "um": (1e-6, 0, _LENGTH),
    "mm": (1e-3, 0, _LENGTH),
    "cm": (1e-2, 0, _LENGTH),
    "dm": (1e-1, 0, _LENGTH),
    "m": (1.0, 0, _LENGTH),
    "km": (1e3, 0, _LENGTH),
    "in": (_INCH, 0, _LENGTH),
    "ft": (12 * _INCH, 0, _LENGTH),
    "cm2": (1e-4, 0, _AREA),
    "m2": (1.0, 0, _AREA),
    "ha": (1e4, 0, _AREA),
    "km2": (1e6, 0, _AREA),
    "mm2": (1e-6, 0, _AREA),
    "mL": (1e-6, 0, _VOLUME),
    "cL": (1e-5, 0, _VOLUME),
    "dL": (1e-4, 0, _VOLUME),
    "L": (1e-3, 0, _VOLUME),
    "hL": (1e-1, 0, _VOLUME),
    "mm3": (1e-9, 0, _VOLUME),
    "cm3": (1e-6, 0, _VOLUME),
    "dm3": (1e-3, 0, _VOLUME),
    "m3": (1.0, 0, _VOLUME),
    "gal": (_GALLON, 0, _VOLUME),
    "mg": (1e-3, 0, _MASS),
    "g": (1.0, 0, _MASS),
    "dag": (1e1, 0, _MASS),
    "kg": (1e3, 0, _MASS),
    "t": (1e6, 0, _MASS),
    "oz": (_POUND / 16, 0, _MASS),
    "lb": (_POUND, 0, _MASS),
    "s": (1.0, 0, _TIME),
    "min": (60.0, 0, _TIME),
    "h": (3600.0, 0, _TIME),
    "d": (86400.0, 0, _TIME),
    "wk": (604800.0, 0, _TIME),
    "K": (1.0, 0, _WARMTH),
    "degC": (1.0, 273.15, _WARMTH),
    "degF": (5 / 9, 459.67 * 5 / 9, _WARMTH),
    "Pa": (1e3, 0, _PRESSURE),
    "hPa": (1e5, 0, _PRESSURE),
    "kPa": (1e6, 0, _PRESSURE),
    "MPa": (1e9, 0, _PRESSURE),
    "bar": (1e8, 0, _PRESSURE),
    "J": (1e3, 0, _ENERGY),
    "kJ": (1e6, 0, _ENERGY),
    "MJ": (1e9, 0, _ENERGY),
    "%": (1e-2, 0, _NONE),
    "1": (1.0, 0, _NONE),
}
# Spellings that people write; each means exactly one unit.
_ALSO = {
    "l": "L",
    "ml": "mL",
    "cl": "cL",
    "liter": "L",
    "liters": "L",
    "gram": "g",
    "grams": "g",
    "day": "d",
    "days": "d",
    "hours": "h",
    "minutes": "min",
    "Cel": "degC",
    "°C": "degC",
    "[degF]": "degF",
    "[in_i]": "in",
    "[ft_i]": "ft",
    "[lb_av]": "lb",
    "[oz_av]": "oz",
    "[gal_us]": "gal",
}
# The ending of a column's name -> the unit that it stands for.
_ENDINGS = {
    "m": "m",
    "cm": "cm",
    "mm": "mm",
    "kg": "kg",
    "g": "g",
    "mg": "mg",
    "t": "t",
    "l": "L",
    "ml": "mL",
    "d": "d",
    "h": "h",
    "min": "min",
    "c": "degC",
    "mpa": "MPa",
    "kpa": "kPa",
    "m2": "m2",
    "cm2": "cm2",
    "mm2": "mm2",
}


class UnitError(ValueError):
    """A unit is not known, or two units measure different things."""


_Number = TypeVar("_Number", float, np.ndarray)


@dataclass(frozen=True, slots=True)
class Conversion:
    """``ours = theirs * factor + offset``."""

    factor: float
    offset: float = 0.0

    def apply(self, theirs: _Number) -> _Number:
        """Numbers in their unit become numbers in ours; 123 mm are exactly 12.3 cm."""
        whole = round(1 / self.factor) if 0 < self.factor < 1 else 0
        if whole and float(f"{1 / whole:.15g}") == self.factor:
            return theirs / whole + self.offset  # dividing rounds once, as a reader does
        return theirs * self.factor + self.offset

    @property
    def changes_nothing(self) -> bool:
        """The two units are the same."""
        return self.factor == 1.0 and self.offset == 0.0


def _one(name: str) -> tuple[float, float, _Dimension]:
    found = _KNOWN.get(_ALSO.get(name, name))
    if found is not None:
        return found
    near = get_close_matches(name, [*_KNOWN, *_ALSO], n=1, cutoff=0.5)
    hint = f" (the nearest known one is {near[0]!r})" if near else ""
    raise UnitError(f"the unit {name!r} is not known{hint}")


def _parse(name: str) -> tuple[float, float, _Dimension]:
    text = re.sub(r"\{[^{}]*\}", "", name).strip()  # an annotation such as {plant} has no size
    over, *under = text.split("/")
    parts = [(p, 1) for p in over.split(".")] + [(p, -1) for u in under for p in u.split(".")]
    parts = [(p.strip(), sign) for p, sign in parts if p.strip() or sign < 0]
    if not parts:
        return 1.0, 0.0, _NONE
    if len(parts) == 1 and parts[0][1] == 1:
        return _one(parts[0][0])
    factor = 1.0
    total = [0, 0, 0, 0]
    for part, sign in parts:
        size, _, dimension = _one(part) if part else (1.0, 0.0, _NONE)
        factor *= size**sign
        total = [t + sign * d for t, d in zip(total, dimension, strict=True)]
    return factor, 0.0, (total[0], total[1], total[2], total[3])


@lru_cache(maxsize=512)
def conversion(theirs: str, ours: str) -> Conversion:
    """How a number in ``theirs`` becomes one in ``ours``.

    Any name converts into itself, also one that is not known (a score, a user's unit).

    Raises
    ------
    UnitError
        For an unknown unit, or for two units that measure different things.
    """
    if theirs.strip() == ours.strip():
        return Conversion(1.0)
    factor_a, offset_a, dimension_a = _parse(theirs)
    factor_b, offset_b, dimension_b = _parse(ours)
    if dimension_a != dimension_b:
        raise UnitError(f"{theirs!r} cannot be turned into {ours!r}")
    # decimal units divide to a factor with rounding noise; fifteen digits take it off
    factor = float(f"{factor_a / factor_b:.15g}")
    return Conversion(factor, float(f"{(offset_a - offset_b) / factor_b:.15g}"))


def unknown_unit(name: str) -> str | None:
    """None for a known unit; of an unknown one the nearest known unit, or ""."""
    try:
        _parse(name)
    except UnitError:
        near = get_close_matches(name, [*_KNOWN, *_ALSO], n=1, cutoff=0.6)
        return near[0] if near else ""
    return None


def unit_of_name(column: str) -> str | None:
    """The unit that a column's name ends in, e.g. "cm" for ``height_cm``, or None."""
    _, mark, ending = column.rpartition("_")
    return _ENDINGS.get(ending) if mark else None
