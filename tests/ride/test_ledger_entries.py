"""Single entries of the energy ledger against closed forms; that all of them add up says nothing about each."""

from __future__ import annotations

from math import atan, cos, exp, sin

import pytest

from ridesim.day import Activity
from ridesim.physics.pack import smoothed
from ridesim.physics.road import air_density
from ridesim.ride.simulate import simulate
from tests.ride.machines import SERIES_WOUND, day_of, make_build, trace_of

UP, CRUISE, DOWN = 20.0, 60.0, 8.0
"""Seconds of speeding up, of riding steadily, of braking."""
SPEED = 6.0
FREE = {"drive__freewheel": True, "motor__rotor_inertia_kgm2": 0.0, "vehicle__wheels_inertia_kgm2": 0.0}


def trapezium(grade: float = 0.0):
    """Up to SPEED, along it, and down to a stand."""
    ends = (0.0, 0.0), (UP, 3.6 * SPEED), (UP + CRUISE, 3.6 * SPEED), (UP + CRUISE + DOWN, 0.0)
    return day_of(Activity(name="trapezium", trace=trace_of(*ends, grades=(grade,) * 4)))


@pytest.mark.parametrize("grade", [0.0, 1.5, -2.0])
def test_road_and_brake(grade):
    """Constant accelerations: v² grows evenly with the way, v³ and v⁴ with the time. All within 0.01 %."""
    build = make_build(**FREE)
    ride = simulate(build, trapezium(grade))
    assert ride.outcome.seconds_below_command == 0.0
    mass, slope = build.total_mass_kg(), atan(grade / 100.0)
    weight, metres = mass * 9.80665, SPEED * (UP / 2.0 + CRUISE + DOWN / 2.0)
    half_air = 0.5 * air_density(0.0, 20.0) * 0.7
    joules = {
        "rolling": 0.018 * weight * cos(slope) * metres,
        "height": weight * sin(slope) * metres,
        "air": half_air * SPEED**3 * (UP / 4.0 + CRUISE + DOWN / 4.0),
    }
    # While it brakes, rolling, air and slope take their part of the kinetic energy; the brake takes the rest.
    braking = 0.5 * mass * SPEED**2 - half_air * SPEED**3 * DOWN / 4.0
    joules["brake"] = braking - weight * (0.018 * cos(slope) + sin(slope)) * SPEED * DOWN / 2.0
    for name, expected in joules.items():
        assert 3600.0 * ride.ledger[name] == pytest.approx(expected, rel=1e-4, abs=1e-6), name


def test_the_chain_takes_its_share_of_what_the_motor_gives():
    """Uphill all the way: what reaches the road, times 1/η - 1."""
    build = make_build(**FREE)
    ledger = simulate(build, trapezium(1.5)).ledger
    kinetic = 0.5 * build.total_mass_kg() * SPEED**2 / 3600.0
    # What slows it down while it brakes is given by the kinetic energy, not by the motor.
    braking_metres, metres = SPEED * DOWN / 2.0, SPEED * (UP / 2.0 + CRUISE + DOWN / 2.0)
    half_air = 0.5 * air_density(0.0, 20.0) * 0.7
    driven = (ledger["rolling"] + ledger["height"]) * (1.0 - braking_metres / metres) + kinetic
    driven += half_air * SPEED**3 * (UP / 4.0 + CRUISE) / 3600.0
    assert ledger["chain"] == pytest.approx(driven * (1.0 / 0.88 - 1.0), rel=1e-4)


def test_lights_and_standby_of_a_stand():
    """P/0.90 from the rested voltage; both flow at the terminals, a little below it."""
    lighting = {"supply": "main-pack", "load": [{"name": "lamp", "power_w": 36.0}]}
    build = make_build(lighting=None)
    build = build.changed({"lighting": lighting, "pack.block_capacity_ah": 200.0, "controller.standby_current_a": 0.5})
    day = day_of(Activity(name="stand", duration_min=60.0, lighting=1.0), controller_on=True)
    ride = simulate(build, day)
    volts = float(ride.rows["pack_voltage_v"].mean())
    assert ride.ledger["standby"] == pytest.approx(0.5 * volts, rel=2e-3)
    assert ride.ledger["lights"] == pytest.approx(36.0 / 0.9, rel=1e-2)


def test_a_current_over_a_minute_is_a_filter_of_a_minute():
    """Half a minute of a steady current I leaves (1 - e^(-1/2)) I, whatever the pack's polarisation."""
    assert smoothed(0.0, 20.0, 20.0, 30.0, 60.0) == pytest.approx(20.0 * (1.0 - exp(-0.5)))
    assert smoothed(5.0, 0.0, 60.0, 60.0, 60.0) == pytest.approx(60.0 * exp(-1.0) + 5.0 * exp(-1.0))
    for polarisation in ({}, {"pack__polarisation_resistance_ohm": 0.0}, {"pack__polarisation_time_s": 5.0}):
        build = make_build(controller__standby_current_a=8.0, **polarisation)
        ride = simulate(build, day_of(Activity(name="stand", duration_min=1.0), controller_on=True))
        assert ride.moments.sustained_current_a == pytest.approx(8.0 * (1.0 - exp(-1.0)), rel=1e-6)


def downhill(kmh: float = 60.0, **fields):
    ends = (0.0, 0.0), (20.0, kmh), (80.0, kmh), (110.0, 0.0)
    return day_of(Activity(name="downhill", trace=trace_of(*ends, grades=(-12.0,) * 4)), **fields)


def test_downhill_the_diodes_carry_current_back():
    """Held back below the 60 km/h it is asked for: the circuit's own equation, at the warmth of the motor there; the ledger closes."""
    build = make_build()
    ride = simulate(build, downhill(start_state_of_charge=0.5))
    row = ride.at("13:01:15")
    omega = row.speed_mps * build.drive.ratio / 0.3
    resistance = 0.085 * (1.0 + 0.00393 * (row.winding_c - 20.0))
    constant = 0.105 * (1.0 - 0.0020 * (row.case_c - 20.0))
    on = build.controller.on_resistance_ohm
    # The voltage at the terminals already holds the sag R_0 I.
    assert -row.motor_current_a == pytest.approx(
        (constant * omega - 1.0 - 0.8 - row.pack_voltage_v) / (resistance + on), rel=2e-3
    )
    assert row.duty == pytest.approx(1.0)
    assert row.pack_current_a == pytest.approx(row.motor_current_a + build.controller.standby_current_a, abs=0.02)
    assert row.state_of_charge > 0.5
    assert abs(ride.outcome.ledger_residual) < 1e-6
    assert ride.moments.return_a == pytest.approx(-row.pack_current_a, rel=0.05)
    begins = ride.moments.return_mps * build.drive.ratio / 0.3 * 0.105
    assert begins == pytest.approx(
        simulate(build, downhill(5.0, start_state_of_charge=0.5)).at("13:01:00").pack_voltage_v + 1.8, rel=5e-3
    )


def test_a_full_pack_takes_no_charge_from_it():
    ride = simulate(make_build(), downhill())
    assert ride.outcome.end_state_of_charge <= 1.0
    assert ride.ledger["charge not stored"] > 0.9 * ride.moments.return_v / 50.0


@pytest.mark.parametrize("changes", [{"drive__freewheel": True}, SERIES_WOUND], ids=["freewheel", "series-wound"])
def test_neither_a_freewheel_nor_a_series_wound_motor_drives_current_back(changes):
    ride = simulate(make_build(**changes), downhill())
    assert ride.moments.return_mps is None
    assert ride.rows["motor_current_a"].min() >= 0.0
