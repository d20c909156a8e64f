"""Resistances to motion: air density, rolling, air, grade, effective mass."""

from __future__ import annotations

from math import inf, sqrt

from ridesim.physics.compiled import compiled

GRAVITY = 9.80665
"""Standard acceleration of gravity, ISO 80000-3. [m/s²]"""
GAS_CONSTANT_AIR = 287.05
"""Specific gas constant of dry air. [J/(kg K)]"""
_GAUSS = (
    (0.1834346424956498, 0.3626837833783620),
    (0.5255324099163290, 0.3137066458778873),
    (0.7966664774136267, 0.2223810344533745),
    (0.9602898564975363, 0.1012285362903763),
)
"""Places and weights of eight points, each on both sides of the middle."""


@compiled
def air_pressure(altitude: float) -> float:
    """Pressure of the standard atmosphere in the troposphere.

    MODEL.md (1.1).

    Parameters
    ----------
    altitude : float
        Geopotential height above sea level, -500 to 11 000. [m]

    Returns
    -------
    float
        Pressure. [Pa]

    References
    ----------
    ISO 2533:1975, Standard Atmosphere: p = p0 (T/T0)^5.25588, T = 288.15 - 0.0065 h.
    """
    return float(101_325.0 * (1.0 - 0.0065 * altitude / 288.15) ** 5.25588)


@compiled
def air_density(altitude: float, temperature: float) -> float:
    """Density of dry air at the standard pressure of an altitude and a given temperature.

    MODEL.md (1.2).

    Parameters
    ----------
    altitude : float
        Geopotential height. [m]
    temperature : float
        Air temperature. [°C]

    Returns
    -------
    float
        ρ = p/(R T). [kg/m³]

    References
    ----------
    Ideal gas law; ISO 2533:1975 for the pressure.
    """
    return air_pressure(altitude) / (GAS_CONSTANT_AIR * (temperature + 273.15))


@compiled
def slope_sine(grade: float) -> float:
    """Sine of the slope angle θ = atan(grade).

    MODEL.md (1.3).

    Parameters
    ----------
    grade : float
        Rise over run, 0.0833 for 1:12. [-]

    Returns
    -------
    float
        sin θ. [-]

    References
    ----------
    Geometry: sin(atan g) = g/√(1 + g²).
    """
    return grade / sqrt(1.0 + grade * grade)


@compiled
def slope_cosine(grade: float) -> float:
    """Cosine of the slope angle θ = atan(grade).

    MODEL.md (1.3).

    Parameters
    ----------
    grade : float
        Rise over run. [-]

    Returns
    -------
    float
        cos θ. [-]

    References
    ----------
    Geometry: cos(atan g) = 1/√(1 + g²).
    """
    return 1.0 / sqrt(1.0 + grade * grade)


@compiled
def rolling_force(mass: float, grade: float, coefficient: float) -> float:
    """Rolling resistance of a vehicle in motion: m g cosθ c_rr.

    MODEL.md (1.4).

    Parameters
    ----------
    mass : float
        Vehicle with load. [kg]
    grade : float
        Rise over run. [-]
    coefficient : float
        Rolling coefficient, surface factor included. [-]

    Returns
    -------
    float
        Force against motion. [N]

    References
    ----------
    Gillespie, Fundamentals of Vehicle Dynamics, rolling resistance (from memory).
    """
    return mass * GRAVITY * slope_cosine(grade) * coefficient


@compiled
def grade_force(mass: float, grade: float) -> float:
    """Weight along the slope: m g sinθ.

    MODEL.md (1.5).

    Parameters
    ----------
    mass : float
        Vehicle with load. [kg]
    grade : float
        Rise over run. [-]

    Returns
    -------
    float
        Force against motion, positive uphill. [N]

    References
    ----------
    Statics.
    """
    return mass * GRAVITY * slope_sine(grade)


@compiled
def air_force(density: float, drag_area: float, speed: float, headwind: float) -> float:
    """Air resistance: ½ ρ A_d (v + w)|v + w|.

    MODEL.md (1.6).

    Parameters
    ----------
    density : float
        Air density. [kg/m³]
    drag_area : float
        Drag coefficient × frontal area. [m²]
    speed : float
        Road speed. [m/s]
    headwind : float
        Wind from ahead, negative from behind. [m/s]

    Returns
    -------
    float
        Force against motion; negative with a strong tail wind. [N]

    References
    ----------
    Definition of the drag coefficient, any textbook of fluid mechanics.
    """
    wind = speed + headwind
    return 0.5 * density * drag_area * wind * abs(wind)


@compiled
def coast_time(
    fast: float, slow: float, mass: float, rotating: float, coefficient: float, drag_area: float, density: float,
    grade: float, headwind: float,
) -> float:  # fmt: skip
    """Time in which a vehicle that rolls freely slows down from one speed to another.

    MODEL.md (1.9).

    Parameters
    ----------
    fast, slow : float
        Speed at the start and at the end. [m/s]
    mass : float
        Vehicle with load. [kg]
    rotating : float
        What the turning wheels add to it. [kg]
    coefficient : float
        Rolling coefficient. [-]
    drag_area : float
        Drag coefficient × frontal area. [m²]
    density : float
        Air density. [kg/m³]
    grade : float
        Rise over run. [-]
    headwind : float
        Wind from ahead. [m/s]

    Returns
    -------
    float
        ∫ (m + m_r)/(F_r + F_g + F_a) dv; infinite where it does not slow down. [s]

    References
    ----------
    Newton's second law; the forces as (1.4) to (1.6). Gauss-Legendre quadrature, Abramowitz & Stegun, table 25.4.
    """
    level = rolling_force(mass, grade, coefficient) + grade_force(mass, grade)
    middle, half = 0.5 * (fast + slow), 0.5 * (fast - slow)
    time = 0.0
    for place, weight in _GAUSS:
        for speed in (middle - half * place, middle + half * place):
            force = level + air_force(density, drag_area, speed, headwind)
            if force <= 0.0:
                return inf
            time += weight * half * (mass + rotating) / force
    return time


@compiled
def effective_mass(mass: float, wheel_inertia: float, radius: float, rotor_inertia: float, ratio: float) -> float:
    """Mass with the rotating parts at the wheel: m + J_wheels/r² + J_rotor G²/r².

    MODEL.md (1.7).

    Parameters
    ----------
    mass : float
        Vehicle with load. [kg]
    wheel_inertia, rotor_inertia : float
        All wheels together; the motor's rotor. [kg m²]
    radius : float
        Rolling radius of the driven wheel. [m]
    ratio : float
        Motor turns a wheel turn. [-]

    Returns
    -------
    float
        Effective mass. [kg]

    References
    ----------
    Gillespie, Fundamentals of Vehicle Dynamics, effective mass (from memory).
    """
    return mass + (wheel_inertia + rotor_inertia * ratio * ratio) / (radius * radius)
