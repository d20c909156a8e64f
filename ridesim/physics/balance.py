"""Where the weight lies and what follows: measured centre of gravity, limits of lifting wheels, of grip, of leaning. SI units."""

from __future__ import annotations

from math import asin, atan, cos, inf, pi, sin, tan

from ridesim.physics.compiled import compiled
from ridesim.physics.road import GRAVITY


@compiled
def height_by_lifting(
    front_level: float, front_lifted: float, total: float, wheelbase: float, front_radius: float, rear_radius: float, lift: float
) -> float:  # fmt: skip
    """Height of the centre of gravity from the front axle's load, level and with the rear axle raised.

    MODEL.md (13.1).

    Parameters
    ----------
    front_level, front_lifted : float
        Load on the front axle on level ground, and with the rear axle raised. [kg]
    total : float
        Whole mass. [kg]
    wheelbase : float
        Distance between the axles. [m]
    front_radius, rear_radius : float
        Height of each axle above its own ground. [m]
    lift : float
        How far the rear wheel's ground is raised. [m]

    Returns
    -------
    float
        Height above level ground. [m]

    References
    ----------
    Moments about the front axle in both positions; for wheels of one size the form of the VW Crafter body-builder guidelines,
    section 3.5, equations (3) to (9), with unequal wheels that of formuladen.com 32033.
    """
    level = asin((rear_radius - front_radius) / wheelbase)
    raised = asin((rear_radius + lift - front_radius) / wheelbase)
    above = wheelbase * (front_lifted - front_level) / (total * (tan(raised) - tan(level)))
    behind = wheelbase * (1.0 - front_level / total) + above * tan(level)
    return front_radius + behind * sin(level) + above * cos(level)


@compiled
def wheelie_acceleration(ahead_of_rear: float, height: float, slope: float) -> float:
    """Acceleration from which the front wheel lifts.

    MODEL.md (13.2).

    Parameters
    ----------
    ahead_of_rear : float
        Centre of gravity ahead of the rear contact. [m]
    height : float
        Centre of gravity above ground. [m]
    slope : float
        Rise over run, uphill positive. [-]

    Returns
    -------
    float
        a = g (b cos α/h − sin α); below 0 where it tips over backwards standing still. [m/s²]

    References
    ----------
    Moments about the rear contact; Cossalter, Motorcycle Dynamics (from memory).
    """
    angle = atan(slope)
    return GRAVITY * (ahead_of_rear * cos(angle) / height - sin(angle))


@compiled
def stoppie_deceleration(behind_front: float, height: float, slope: float) -> float:
    """Deceleration from which the rear wheel lifts.

    MODEL.md (13.3).

    Parameters
    ----------
    behind_front : float
        Centre of gravity behind the front contact. [m]
    height : float
        Centre of gravity above ground. [m]
    slope : float
        Rise over run, uphill positive. [-]

    Returns
    -------
    float
        a = g ((L − b) cos α/h + sin α). [m/s²]

    References
    ----------
    Moments about the front contact; Cossalter, Motorcycle Dynamics (from memory).
    """
    angle = atan(slope)
    return GRAVITY * (behind_front * cos(angle) / height + sin(angle))


@compiled
def steepest_by_grip(
    friction: float, wheelbase: float, ahead_of_rear: float, height: float, rolling: float, rear: bool
) -> float:
    """Steepest slope that the driven wheel's grip holds, climbing slowly.

    MODEL.md (13.4).

    Parameters
    ----------
    friction : float
        Coefficient of friction of tyre and ground. [-]
    wheelbase : float
        Distance between the axles. [m]
    ahead_of_rear : float
        Centre of gravity ahead of the rear contact. [m]
    height : float
        Centre of gravity above ground. [m]
    rolling : float
        Rolling coefficient. [-]
    rear : bool
        The rear axle is driven, else the front.

    Returns
    -------
    float
        Rise over run: uphill the weight moves to the rear. tan α = (μ (L − b)/L − c)/(1 − μ h/L) for a driven rear axle,
        (μ b/L − c)/(1 + μ h/L) for a front one; infinite where the rear grips however steep it is. [-]

    References
    ----------
    Equilibrium along and across the slope, moments about the other axle. Without rolling
    resistance g tan α is the largest acceleration on the level, a = μ g (L − b)/(L − μ h), Gillespie (from memory).
    """
    if rear:
        rest = 1.0 - friction * height / wheelbase
        return inf if rest <= 0.0 else (friction * (wheelbase - ahead_of_rear) / wheelbase - rolling) / rest
    return (friction * ahead_of_rear / wheelbase - rolling) / (1.0 + friction * height / wheelbase)


@compiled
def bar_force(mass: float, height: float, lean: float, bar_height: float) -> float:
    """Sideways force at the handlebar that holds a leaning two-wheeler.

    MODEL.md (13.5).

    Parameters
    ----------
    mass : float
        Vehicle without its rider. [kg]
    height : float
        Centre of gravity above ground, upright. [m]
    lean : float
        From upright. [rad]
    bar_height : float
        Handlebar above ground, upright. [m]

    Returns
    -------
    float
        F = m g h sin φ/h_b, at a right angle to the vehicle's plane. [N]

    References
    ----------
    Moments about the line of the tyres' contacts.
    """
    return mass * GRAVITY * height * sin(lean) / bar_height


@compiled
def tip_slope(half_track: float, height: float, share: float) -> float:
    """Cross slope, or sideways acceleration over g, at which a vehicle on three or four wheels tips.

    MODEL.md (13.6).

    Parameters
    ----------
    half_track : float
        Half the distance between the two wheels of an axle. [m]
    height : float
        Centre of gravity above ground. [m]
    share : float
        Centre of gravity's distance from a single wheel, along the vehicle, over the wheelbase; 1 on four wheels. [-]

    Returns
    -------
    float
        tan φ = (t/2)·s/h. [-]

    References
    ----------
    Moments about the line through the outer wheels' contacts, or from the single wheel's to an outer one's; suspension and tyres rigid.
    """
    return half_track * share / height


@compiled
def lean_until_lost(limit: float, mass: float, height: float, bar_height: float) -> float:
    """Lean beyond which a sideways force at the handlebar does not hold it any more.

    MODEL.md (13.5), solved for the lean.

    Parameters
    ----------
    limit : float
        Force. [N]
    mass, height, bar_height : float
        As in :func:`bar_force`.

    Returns
    -------
    float
        [rad]

    References
    ----------
    Moments about the line of the tyres' contacts.
    """
    share = limit * bar_height / (mass * GRAVITY * height)
    return asin(share) if share < 1.0 else 0.5 * pi
