"""Water in a tube: surface tension, viscosity, density; how high and how fast it rises.

Checks of units and orders of magnitude, not predictions: a cord is no tube. SI units but for
degrees Celsius.

    sigma(T)   surface tension, N/m: 0.2358 (1 - T/Tc)^1.256 (1 - 0.625 (1 - T/Tc)),
               Tc = 647.096 K (IAPWS R1-76(2014), from memory)
    mu(T)      viscosity, Pa s, at 0.1 MPa: 1e-6 sum a_i (T/300 K)^b_i (Patek and others
               2009, J. Phys. Chem. Ref. Data 38:21, from memory)
    rho(T)     density, kg/m3 (Tanaka and others 2001, Metrologia 38:301, from memory)
    Jurin      h = 2 sigma cos(theta) / (rho g r)
    Washburn   L = sqrt(sigma r cos(theta) t / (2 mu)) (Washburn 1921, Phys. Rev. 17:273)
    upright    t = (8 mu / (rho g r^2)) (h ln(h / (h - x)) - x), h Jurin's height

Leans on nothing.
"""

import math

GRAVITY = 9.80665
REFERENCE_C = 20.0
COLDEST_C, WARMEST_C = 0.0, 60.0  # of water at a bench
_KELVIN = 273.15
_CRITICAL = 647.096
_VISCOSITY = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))


def surface_tension(temperature_c: float) -> float:
    """Of water against air, N/m."""
    left = 1.0 - (temperature_c + _KELVIN) / _CRITICAL
    return float(0.2358 * left**1.256 * (1.0 - 0.625 * left))


def viscosity(temperature_c: float) -> float:
    """Of liquid water, Pa s."""
    scaled = (temperature_c + _KELVIN) / 300.0
    return float(1e-6 * sum(a * scaled**b for a, b in _VISCOSITY))


def density(temperature_c: float) -> float:
    """Of water, kg/m3."""
    away = (temperature_c - 3.983035) ** 2 * (temperature_c + 301.797)
    return 999.97495 * (1.0 - away / (522528.9 * (temperature_c + 69.34881)))


def jurin_height(radius_m: float, temperature_c: float = 20.0, angle_deg: float = 0.0) -> float:
    """Height at which the column's weight holds the surface, m."""
    pull = 2.0 * surface_tension(temperature_c) * math.cos(math.radians(angle_deg))
    return pull / (density(temperature_c) * GRAVITY * radius_m)


def jurin_radius(height_m: float, temperature_c: float = 20.0) -> float:
    """Radius, m, of the widest tube that holds water at a height."""
    return jurin_height(1.0, temperature_c) / height_m


def washburn_length(
    radius_m: float, seconds: float, temperature_c: float = 20.0, angle_deg: float = 0.0
) -> float:
    """Length wetted in a level tube, m."""
    pull = surface_tension(temperature_c) * math.cos(math.radians(angle_deg))
    return math.sqrt(pull * radius_m * seconds / (2.0 * viscosity(temperature_c)))


def washburn_radius(slope: float, temperature_c: float = 20.0) -> float:
    """Radius, m, of the tube that fills at a slope of so many m per root second."""
    return 2.0 * viscosity(temperature_c) * slope**2 / surface_tension(temperature_c)


def upright_seconds(radius_m: float, height_m: float, temperature_c: float = 20.0) -> float:
    """Time that an upright tube takes to fill to a height below Jurin's, s.

    Raises
    ------
    ValueError
        Where the height is not below Jurin's.
    """
    most = jurin_height(radius_m, temperature_c)
    if not 0.0 <= height_m < most:
        raise ValueError("the height must lie below Jurin's")
    rate = density(temperature_c) * GRAVITY * radius_m**2 / (8.0 * viscosity(temperature_c))
    return (most * math.log(most / (most - height_m)) - height_m) / rate


def to_reference(temperature_c: float) -> float:
    """Factor that turns a viscous flow at this temperature into the one at 20 degC."""
    return viscosity(temperature_c) / viscosity(REFERENCE_C)
