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
def steepest_by_grip(friction: float, load_share: float, height_share: float, rolling: float) -> float:
    """Steepest slope that the driven wheel's grip holds, climbing slowly.

    MODEL.md (13.4).

    Parameters
    ----------
    friction, load_share, height_share : float
        As in :func:`grip_force`.
    rolling : float
        Rolling coefficient. [-]

    Returns
    -------
    float
        Rise over run: tan α = (μ s − c)/(1 − μ h/L), uphill the weight moves to the rear; infinite where the rear grips however steep
        it is. [-]

    References
    ----------
    Where :func:`grip_force` is what grade and rolling take. Without rolling resistance g tan α is the largest acceleration on the level,
    for a driven rear axle a = μ g (L − b)/(L − μ h), Gillespie (from memory).
    """
    rest = 1.0 - friction * height_share
    return inf if rest <= 0.0 else (friction * load_share - rolling) / rest


@compiled
def grip_force(friction: float, load_share: float, height_share: float, load: float, rolling: float) -> float:
    """Largest pull that the driven tyre passes on to the ground.

    MODEL.md (13.7).

    Parameters
    ----------
    friction : float
        Coefficient of friction of tyre and ground. [-]
    load_share : float
        Share of the weight on the driven axle, standing on the level. [-]
    height_share : float
        Height of the centre of gravity over the wheelbase for a driven rear axle, less than 0 for a front one: the pull loads the
        rear axle and takes load off the front one. [-]
    load : float
        Weight across the slope, m g cos α. [N]
    rolling : float
        Rolling resistance, which the pull meets at the ground and not at the centre of gravity. [N]

    Returns
    -------
    float
        F = μ (s m g cos α − (h/L) R)/(1 − μ h/L); infinite where the rear grips however hard it pulls. [N]

    References
    ----------
    Moments about the other axle's contact, and F = μ N; slope, acceleration and air all act at the centre of gravity, so that the limit
    is the same standing on a slope and accelerating on the level. Gillespie, Fundamentals of Vehicle Dynamics (from memory).
    """
    rest = 1.0 - friction * height_share
    return inf if rest <= 0.0 else max(0.0, friction * (load_share * load - height_share * rolling) / rest)


@compiled
def bar_force(mass: float, height: float, lean: float, lever: float) -> float:
    """Force at the handlebar that holds a leaning two-wheeler.

    MODEL.md (13.5).

    Parameters
    ----------
    mass : float
        Vehicle without its rider. [kg]
    height : float
        Centre of gravity above ground, upright. [m]
    lean : float
        From upright. [rad]
    lever : float
        From the line of the contacts to where it is held: the handlebar's height, or the far grip's distance. [m]

    Returns
    -------
    float
        F = m g h sin φ/l, at a right angle to the lever. [N]

    References
    ----------
    Moments about the line of the tyres' contacts.
    """
    return mass * GRAVITY * height * sin(lean) / lever


@compiled
def tip_slope(aside: float, height: float) -> float:
    """Cross slope, or sideways acceleration over g, at which a vehicle tips over an edge.

    MODEL.md (13.6).

    Parameters
    ----------
    aside : float
        How far the edge, a line from one wheel's or stand's contact to another's, lies aside of the centre of gravity. [m]
    height : float
        Centre of gravity above ground. [m]

    Returns
    -------
    float
        tan φ = a/h. [-]

    References
    ----------
    Moments about the edge; suspension and tyres rigid.
    """
    return aside / height


@compiled
def lean_until_lost(limit: float, mass: float, height: float, lever: float) -> float:
    """Lean beyond which a force at the handlebar does not hold it any more.

    MODEL.md (13.5), solved for the lean.

    Parameters
    ----------
    limit : float
        Force. [N]
    mass, height, lever : float
        As in :func:`bar_force`.

    Returns
    -------
    float
        [rad]

    References
    ----------
    Moments about the line of the tyres' contacts.
    """
    share = limit * lever / (mass * GRAVITY * height)
    return asin(share) if share < 1.0 else 0.5 * pi


@compiled
def crest_slope(clearance: float, wheelbase: float) -> float:
    """Slope of a ramp at whose crest, where the level begins, a vehicle touches the ground midway between its axles.

    MODEL.md (13.8).

    Parameters
    ----------
    clearance : float
        Ground clearance midway between the axles. [m]
    wheelbase : float
        Distance between the axles. [m]

    Returns
    -------
    float
        Rise over run: tan β with tan(β/2) = 2 c/L. [-]

    References
    ----------
    Lines from both contacts to a point at that height; the ramp angle of ISO 612 (from memory).
    """
    half = 2.0 * clearance / wheelbase
    return inf if half >= 1.0 else 2.0 * half / (1.0 - half * half)
