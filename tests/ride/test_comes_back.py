"""Every ride comes back, soon, with its energy accounted for: random builds and days, slipped decimal points, and cases that once did not."""

from __future__ import annotations

from datetime import time
from typing import Any

import numpy as np
import pytest

from ridesim.choose import compare
from ridesim.day import Activity, Day, Leg, Route, Trace, load_day
from ridesim.ride.batch import ride_all
from ridesim.ride.core.kept import MOST_ROWS
from ridesim.ride.simulate import simulate
from ridesim.vehicle import Build, load_build
from tests.long import LONG
from tests.ride.machines import day_of, make_build, trace_of

SEEDS = range(300 if LONG else 60)


def ride_of(build: Build, day: Day):
    rides = ride_all([build], day, keep_rows=True)
    return rides[0], int(rides.runs[0]["tries"])


def between(draw: np.random.Generator, low: float, high: float) -> float:
    """A number that is as often in each decade."""
    return float(np.exp(draw.uniform(np.log(low), np.log(high))))


def sometimes(draw: np.random.Generator, low: float, high: float, otherwise: float = 0.0) -> float:
    return between(draw, low, high) if draw.random() < 0.5 else otherwise


def random_build(draw: np.random.Generator) -> Build:
    """Wider than a maker would weld: gears, motors, packs and controllers that do not suit each other."""
    battery_a = between(draw, 10, 300)
    chemistry = str(draw.choice(["lead-acid-agm", "lead-acid-flooded", "lithium-nmc", "lithium-iron-phosphate"]))
    table: dict[str, Any] = {
        "name": "random",
        "vehicle": {
            "rolling_radius_m": draw.uniform(0.1, 0.4), "rolling_coefficient": between(draw, 0.004, 0.04),
            "drag_area_m2": between(draw, 0.2, 3), "wheels_inertia_kgm2": between(draw, 0.01, 3),
            "breakaway_factor": sometimes(draw, 1.01, 2.5, 1.0), "mass": [{"item": "all", "mass_kg": between(draw, 40, 600)}],
        },
        "rider": {"mass_kg": draw.uniform(40, 110)},
        "motor": {
            "resistance_ohm": between(draw, 0.01, 1), "brush_drop_v": sometimes(draw, 0.1, 2), "mass_kg": between(draw, 2, 30),
            "friction_torque_nm": sometimes(draw, 0.01, 1), "viscous_nm_per_rad_s": sometimes(draw, 1e-5, 3e-3),
            "rotor_inertia_kgm2": sometimes(draw, 1e-4, 0.05),
        },
        "drive": {
            "gearbox_ratio": sometimes(draw, 1, 12, 1.0), "motor_teeth": int(draw.integers(8, 20)),
            "wheel_teeth": int(draw.integers(15, 80)), "efficiency": draw.uniform(0.6, 0.99), "freewheel": bool(draw.random() < 0.5),
        },
        "controller": {
            "max_battery_current_a": battery_a, "max_motor_current_a": battery_a * draw.uniform(0.7, 3), "max_voltage_v": 90.0,
            "on_resistance_ohm": sometimes(draw, 1e-3, 0.05), "standby_current_a": draw.uniform(0, 0.3), "ramp_s": sometimes(draw, 0.05, 5),
        },
        "pack": {
            "chemistry": chemistry, "block_capacity_ah": between(draw, 4, 150), "block_resistance_ohm": between(draw, 0.003, 0.1),
            "rated_hours": float(draw.choice([1, 5, 20])), "block_mass_kg": between(draw, 1, 30),
        },
        "lighting": {"supply": "main-pack", "load": [{"name": "lamp", "power_w": between(draw, 5, 300)}]},
    }  # fmt: skip
    if draw.random() < 0.4:
        table["motor"] |= {"kind": "series-wound", "series_constant_nm_per_a2": between(draw, 3e-4, 2e-2)}
        table["motor"] |= {"saturation_current_a": between(draw, 15, 300)}
    else:
        table["motor"] |= {"kind": "permanent-magnet", "torque_constant_nm_per_a": between(draw, 0.03, 1)}
    if draw.random() < 0.5:
        table["controller"] |= {"cutoff_action": "cut-out", "restart_delay_s": between(draw, 0.2, 10)}
    if chemistry.startswith("lithium"):
        table["pack"] |= {"cells_in_series": int(draw.integers(4, 20)), "blocks_in_series": 1}
    else:
        table["pack"] |= {"blocks_in_series": int(draw.integers(1, 6))}
    return Build.model_validate(table)


def random_route(draw: np.random.Generator) -> Route:
    return Route("random", tuple(
        Leg(between(draw, 5, 3000), between(draw, 2, 40), sometimes(draw, 0.1, 9) * draw.choice([-1.0, 1.0]), "gravel", sometimes(draw, 1, 60))
        for _ in range(draw.integers(1, 9))
    ))  # fmt: skip


def random_trace(draw: np.random.Generator) -> Trace:
    """Speeds and grades that jump about, with a coast in some."""
    points = int(draw.integers(3, 14))
    times = np.cumsum([0.0] + [between(draw, 0.5, 120) for _ in range(points - 1)])
    speeds = np.array([sometimes(draw, 1, 40) for _ in range(points)])
    if draw.random() < 0.4:
        speeds[draw.integers(1, points)] = np.nan
    return Trace("random", times, speeds, draw.normal(0.0, 3.0, points) * (draw.random(points) < 0.5))


def random_days(draw: np.random.Generator) -> list[Day]:
    """A day of laps with a charge, one of a trace, one of both with a rest."""
    fields = {
        "ambient_c": draw.uniform(-5, 35), "rider_acceleration_mps2": between(draw, 0.1, 3), "braking_mps2": between(draw, 0.2, 3),
        "headwind_mps": draw.normal(0, 4), "start_state_of_charge": sometimes(draw, 0.05, 1, 1.0),
    }  # fmt: skip
    laps = Activity(name="laps", route=random_route(draw), laps=int(draw.integers(1, 6)), lighting=1.0)
    charge = Activity(name="charge", duration_min=draw.uniform(5, 200), charge_current_a=between(draw, 1, 30))
    trace = Activity(name="trace", trace=random_trace(draw), repeats=int(draw.integers(1, 10)), lighting=1.0)
    rest = Activity(name="rest", start=time(18), duration_min=30.0)
    return [day_of(laps, charge, laps, **fields), day_of(trace, **fields), day_of(trace, rest, laps, **fields)]


@pytest.mark.parametrize("seed", SEEDS)
def test_random_builds_come_back(seed):
    draw = np.random.default_rng([7, seed])
    build = random_build(draw)
    for day in random_days(draw):
        ride, tries = ride_of(build, day)
        assert ride.moments.given_up_s is None
        assert tries < 500_000
        assert abs(ride.outcome.ledger_residual) < 2e-5


def test_a_hill_that_once_never_ended():
    """A series-wound motor, stalled where the grade rises, was released and held again without end as the grade fell."""
    changes = {
        "motor__kind": "series-wound", "motor__torque_constant_nm_per_a": None, "motor__series_constant_nm_per_a2": 0.0039,
        "motor__saturation_current_a": 37.0, "motor__rated_power_w": None, "motor__rated_voltage_v": None,
        "controller__max_battery_current_a": 54.0, "controller__max_motor_current_a": 98.0, "drive__freewheel": True,
        "drive__gearbox_ratio": 1.0, "drive__wheel_teeth": 46, "drive__motor_teeth": 13, "pack__blocks_in_series": 2,
        "vehicle__mass": [{"item": "all", "mass_kg": 280.0}], "vehicle__rolling_coefficient": 0.0128,
    }  # fmt: skip
    build = make_build(**changes)
    trace = trace_of((0.0, 0.0), (21.0, 14.6), (27.0, 1.2), (60.0, 5.5), grades=(0.5, 1.07, 2.33, -0.01))
    ride, tries = ride_of(build, day_of(Activity(name="hill", trace=trace)))
    assert ride.moments.worst_stall_s > 1.0  # it does stall on the way
    assert tries < 2000


@pytest.mark.parametrize(
    ("key", "value"),
    [
        *(("motor.torque_constant_nm_per_a", value) for value in (1.05, 2.0, 4.0, 9.5)),
        ("motor.viscous_nm_per_rad_s", 0.2), ("motor.mass_kg", 0.065), ("motor.friction_torque_nm", 10.0),
        ("drive.gearbox_ratio", 30.0), ("vehicle.rolling_radius_m", 0.03),
    ],
)  # fmt: skip
def test_a_slipped_decimal_point_is_answered(key, value):
    ride, tries = ride_of(load_build("heron_36v").changed({key: value}), load_day("harbour_festival"))
    assert ride.moments.given_up_s is None
    assert tries < 250_000
    assert abs(ride.outcome.ledger_residual) < 5e-6


def test_what_cannot_be_computed_is_given_up_and_the_finding_names_the_value():
    build, day = load_build("heron_36v").changed({"pack.polarisation_time_s": 1e-6}), load_day("harbour_festival")
    candidate = compare(build, day).candidates[0]
    found = {finding.code: finding for finding in candidate.findings}["not-computed"]
    assert found.severity == "stop"
    assert "pack.polarisation_time_s" in found.text
    assert not candidate.ride.outcome.finished
    assert "calculation given up" in repr(candidate.ride)


def test_rows_are_thinned_and_the_figures_are_not():
    """Ten thousand laps finish; they keep at most so many rows, and end as they do when none are kept."""
    lap = Route("lap", (Leg(20.0, 8.0, 0.0, "asphalt", 2.0), Leg(20.0, 12.0, 1.0, "asphalt", 0.0)))
    cool = {"motor__winding_to_case_k_per_w": 0.02, "motor__case_to_air_k_per_w": 0.02}
    endless = {"pack__block_capacity_ah": 10_000.0, "pack__block_resistance_ohm": 0.004, "pack__block_mass_kg": 9.0}
    build = make_build(**cool, **endless)
    day = day_of(Activity(name="laps", route=lap, laps=10_000))
    ride, _ = ride_of(build, day)
    bare = simulate(build, day, keep_rows=False)
    assert ride.outcome.finished
    assert ride.outcome == bare.outcome
    assert MOST_ROWS // 3 < len(ride.rows) <= MOST_ROWS
    assert ride.frame["distance_m"].iloc[-1] == pytest.approx(400_000.0, rel=1e-3)


def test_a_month_of_shows_finishes():
    """31 days of 28 activities each."""
    lap = Route("lap", (Leg(200.0, 8.0, 0.0, "asphalt", 10.0),))
    activities = [
        Activity(name="ride", day=number, start=time(8 + hour // 2, 30 * (hour % 2)), route=lap)
        if hour % 2
        else Activity(name="charge", day=number, start=time(8 + hour // 2), duration_min=20.0, charge_current_a=8.0)
        for number in range(1, 32)
        for hour in range(28)
    ]
    ride, _ = ride_of(make_build(), day_of(*activities))
    assert ride.outcome.finished
    assert ride.outcome.distance_km == pytest.approx(31 * 14 * 0.2)


def test_a_slow_float_rides_as_steady_motion_says():
    """Geared to 2 km/h at most, its speed settles within milliseconds: distance and energy are those of the settled speed."""
    build = make_build(motor__torque_constant_nm_per_a=1.0, motor__rated_power_w=None, motor__rated_voltage_v=None)
    trace = trace_of((0.0, 0.0), (60.0, 10.0), (3660.0, 10.0))
    ride, tries = ride_of(build, day_of(Activity(name="float", trace=trace)))
    fine = simulate(build, ride.day, fineness=4.0)
    assert tries < 20_000
    assert ride.outcome.distance_km == pytest.approx(fine.outcome.distance_km, rel=1e-5)
    assert ride.outcome.energy_wh == pytest.approx(fine.outcome.energy_wh, rel=1e-5)
    speeds = ride.frame.set_index("time_s")["speed_mps"]
    settled = speeds.loc[100.0:].to_numpy()
    resisting = 0.018 * build.total_mass_kg() * 9.80665 + 0.5 * 1.2 * 0.7 * settled**2
    # K ω + V_br + I R with I from the resistance: the voltage of a full pack under a small current.
    omega = settled * build.drive.ratio / 0.3
    current = resisting * 0.3 / (build.drive.ratio * build.drive.efficiency) + 0.1 + 0.0002 * omega
    volts = omega + 1.0 + 0.085 * current
    assert np.all((volts > 36.0) & (volts < 40.0))
