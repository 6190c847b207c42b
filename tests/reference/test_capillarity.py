"""Water in tubes against published tables.

Surface tension: IAPWS R1-76(2014), iapws.org/relguide/Surf-H2O.html; its formula and the
values here are from memory, computed. Density and viscosity: from memory. Jurin and
Lucas-Washburn (1921, Phys. Rev. 17:273): computed from the formulas.
"""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wickstats.core.capillary import (
    density,
    jurin_height,
    jurin_radius,
    surface_tension,
    to_reference,
    upright_seconds,
    viscosity,
    washburn_length,
    washburn_radius,
)

TENSION = {
    0.01: 75.65,
    5: 74.94,
    10: 74.22,
    15: 73.49,
    20: 72.74,
    25: 71.97,
    30: 71.19,
    40: 69.60,
    50: 67.94,
}
JURIN_MM = {20: {1: 14.86, 0.5: 29.72, 0.1: 148.6, 0.05: 297.2, 0.01: 1486}}
JURIN_MM[25] = {1: 14.72, 0.5: 29.44, 0.1: 147.2, 0.05: 294.4, 0.01: 1472}
WASHBURN_MM = {10: (19.06, 60.26, 147.6), 50: (42.61, 134.7, 330.1), 100: (60.26, 190.5, 466.8)}


@pytest.mark.parametrize(("celsius", "mn"), TENSION.items())
def test_surface_tension_of_water(celsius: float, mn: float) -> None:
    assert 1000 * surface_tension(celsius) == pytest.approx(mn, abs=0.0051)


def test_density_and_viscosity_of_water() -> None:
    assert density(20) == pytest.approx(998.21, abs=0.0051)
    assert density(25) == pytest.approx(997.05, abs=0.0051)
    assert 1000 * viscosity(20) == pytest.approx(1.0016, abs=0.00051)
    assert 1000 * viscosity(25) == pytest.approx(0.890, abs=0.00051)


@pytest.mark.parametrize(
    ("celsius", "radius_mm", "height"),
    [(t, r, h) for t, rows in JURIN_MM.items() for r, h in rows.items()],
)
def test_jurin_height(celsius: float, radius_mm: float, height: float) -> None:
    found = 1000 * jurin_height(radius_mm / 1000, celsius)
    assert found == pytest.approx(height, rel=5e-4)
    assert jurin_radius(found / 1000, celsius) == pytest.approx(radius_mm / 1000, rel=1e-12)


@pytest.mark.parametrize(
    ("radius_um", "seconds", "length"),
    [
        (r, t, mm)
        for r, row in WASHBURN_MM.items()
        for t, mm in zip((1, 10, 60), row, strict=True)
    ],
)
def test_washburn_length(radius_um: float, seconds: float, length: float) -> None:
    found = 1000 * washburn_length(radius_um * 1e-6, seconds)
    assert found == pytest.approx(length, rel=5e-4)
    slope = found / 1000 / math.sqrt(seconds)
    assert washburn_radius(slope) == pytest.approx(radius_um * 1e-6, rel=1e-9)


@given(st.floats(1e-6, 1e-3), st.floats(1.0, 1e4), st.floats(1.0, 45.0))
def test_wetted_length_squared_grows_with_time_and_radius(
    radius: float, seconds: float, celsius: float
) -> None:
    one = washburn_length(radius, seconds, celsius) ** 2
    assert washburn_length(radius, 2 * seconds, celsius) ** 2 == pytest.approx(2 * one)
    assert washburn_length(2 * radius, seconds, celsius) ** 2 == pytest.approx(2 * one)


@given(st.floats(1e-6, 1e-3), st.floats(0.01, 0.99))
def test_upright_rise_is_slower_than_level_and_never_passes_jurin(
    radius: float, share: float
) -> None:
    height = share * jurin_height(radius)
    seconds = upright_seconds(radius, height)
    assert washburn_length(radius, seconds) > height
    with pytest.raises(ValueError, match="below Jurin"):
        upright_seconds(radius, jurin_height(radius))


def test_water_is_about_two_percent_thinner_for_a_degree() -> None:
    """Common practice, no source."""
    for celsius in range(12, 30):
        assert 0.015 < 1 - to_reference(celsius + 1) / to_reference(celsius) < 0.03
    assert to_reference(20.0) == 1.0
