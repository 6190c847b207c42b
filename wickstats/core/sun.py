"""The sun over a place: declination, length of the day, radiation above the air.

Symbols: J day of the year; phi latitude, delta declination, omega sunset hour angle (rad);
dr inverse relative distance of the sun; Ra radiation above the air, MJ/m2 and day.

    dr = 1 + 0.033 cos(2 pi J/365)                                     (equation 23)
    delta = 0.409 sin(2 pi J/365 - 1.39)                               (equation 24)
    omega = arccos(-tan phi tan delta)                                 (equation 25)
    Ra = 24*60/pi Gsc dr (omega sin phi sin delta + cos phi cos delta sin omega)   (21)
    N = 24 omega/pi                                                    (equation 34)

with Gsc = 0.0820 MJ/m2 and minute. Allen, Pereira, Raes & Smith (1998), FAO Irrigation and
Drainage Paper 56, chapter 3; equation numbers from memory. Where the sun does not set, or
does not rise, omega is pi or 0. Leans on the standard library only.
"""

import math
from dataclasses import dataclass

_SOLAR_CONSTANT = 0.0820


@dataclass(frozen=True, slots=True)
class Sun:
    """One day's sun.

    Attributes
    ----------
    day_length_h
        Hours from sunrise to sunset (N).
    radiation
        Radiation above the air (Ra), MJ/m2 and day.
    """

    day_length_h: float
    radiation: float


def sun_over(latitude: float, day_of_year: int) -> Sun:
    """The sun on a day of the year (1 to 366) at a latitude in degrees, north positive."""
    phi = math.radians(latitude)
    angle = 2.0 * math.pi * day_of_year / 365.0
    distance = 1.0 + 0.033 * math.cos(angle)
    declination = 0.409 * math.sin(angle - 1.39)
    omega = math.acos(min(max(-math.tan(phi) * math.tan(declination), -1.0), 1.0))
    height = omega * math.sin(phi) * math.sin(declination)
    height += math.cos(phi) * math.cos(declination) * math.sin(omega)
    above = 24.0 * 60.0 / math.pi * _SOLAR_CONSTANT * distance * height
    return Sun(24.0 * omega / math.pi, max(above, 0.0))
