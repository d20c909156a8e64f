"""Random but sensible builds, routes and days for property tests."""

from __future__ import annotations

from datetime import time
from typing import Any

import numpy as np
from hypothesis import strategies as st

from ridesim.day import Activity, Day, Leg, Route, Trace
from ridesim.vehicle import Build

SERIES_WOUND = {
    "motor__kind": "series-wound", "motor__torque_constant_nm_per_a": None, "motor__series_constant_nm_per_a2": 0.0025,
    "motor__saturation_current_a": 80.0,
}  # fmt: skip
"""Changes that make the test's motor a series-wound one."""


def make_build(**changes: Any) -> Build:
    """A permanent-magnet, lead-acid build; ``changes`` are dotted keys with ``__`` for the dot."""
    table: dict[str, Any] = {
        "name": "test",
        "vehicle": {
            "mass": [{"item": "all", "mass_kg": 120.0}], "rolling_radius_m": 0.3, "rolling_coefficient": 0.018,
            "drag_area_m2": 0.7, "wheels_inertia_kgm2": 0.6,
        },
        "motor": {
            "kind": "permanent-magnet", "torque_constant_nm_per_a": 0.105, "resistance_ohm": 0.085, "brush_drop_v": 1.0,
            "friction_torque_nm": 0.1, "viscous_nm_per_rad_s": 0.0002, "rotor_inertia_kgm2": 0.0012, "insulation_class": "F",
            "rated_power_w": 450.0, "rated_voltage_v": 36.0, "mass_kg": 6.5,
        },
        "drive": {"gearbox_ratio": 3.0, "motor_teeth": 11, "wheel_teeth": 55, "efficiency": 0.88},
        "controller": {"max_battery_current_a": 40.0, "max_motor_current_a": 80.0, "max_voltage_v": 80.0},
        "pack": {"chemistry": "lead-acid-agm", "blocks_in_series": 3, "block_capacity_ah": 22.0},
    }  # fmt: skip
    for key, value in changes.items():
        *path, last = key.split("__")
        section = table
        for step in path:
            section = section.setdefault(step, {})
        if value is None:
            section.pop(last, None)
        else:
            section[last] = value
    return Build.model_validate(table)


def day_of(*activities: Activity, **fields: Any) -> Day:
    """A day from its activities; the first starts at 13:00 unless it says otherwise."""
    first = activities[0]
    if first.start is None:
        first = first.model_copy(update={"start": time(13)})
    return Day(activity=(first, *activities[1:]), **fields)


def trace_of(*points: tuple[float, float], grades: tuple[float, ...] | None = None) -> Trace:
    """A trace from (seconds, km/h) points."""
    times, speeds = np.array(points, dtype=float).T
    slope = np.zeros(len(times)) if grades is None else np.array(grades, dtype=float)
    return Trace("test", times, speeds, slope)


@st.composite
def builds(draw: st.DrawFn) -> Build:
    """Builds a maker could weld: both motor kinds, all chemistries, 24 to 60 V."""
    series_wound = draw(st.booleans())
    chemistry = draw(
        st.sampled_from(
            ["lead-acid-agm", "lead-acid-gel", "lead-acid-flooded", "lithium-iron-phosphate", "lithium-nmc"]
        )
    )
    changes: dict[str, Any] = {
        "vehicle__mass": [{"item": "all", "mass_kg": draw(st.floats(60.0, 300.0))}],
        "vehicle__rolling_radius_m": draw(st.floats(0.15, 0.35)),
        "vehicle__rolling_coefficient": draw(st.floats(0.0, 0.04)),
        "vehicle__drag_area_m2": draw(st.floats(0.0, 1.5)),
        "drive__gearbox_ratio": draw(st.floats(1.0, 4.0)),
        "drive__freewheel": draw(st.booleans()),
        "motor__resistance_ohm": draw(st.floats(0.03, 0.2)),
        "motor__rated_power_w": None,
        "motor__rated_voltage_v": None,
        "motor__winding_to_case_k_per_w": 0.4,
        "motor__case_to_air_k_per_w": 0.9,
        "controller__max_battery_current_a": draw(st.floats(20.0, 80.0)),
        "controller__max_motor_current_a": draw(st.floats(40.0, 160.0)),
        "pack__chemistry": chemistry,
        "pack__block_capacity_ah": draw(st.floats(10.0, 60.0)),
    }
    if series_wound:
        changes |= {
            **SERIES_WOUND,
            "motor__series_constant_nm_per_a2": draw(st.floats(0.001, 0.004)),
            "motor__saturation_current_a": draw(st.floats(40.0, 200.0)),
        }
    else:
        changes["motor__torque_constant_nm_per_a"] = draw(st.floats(0.06, 0.16))
    if chemistry.startswith("lithium"):
        changes |= {"pack__cells_in_series": draw(st.integers(8, 16)), "pack__blocks_in_series": 1}
    else:
        changes["pack__blocks_in_series"] = draw(st.integers(2, 5))
    return make_build(**changes)


@st.composite
def routes(draw: st.DrawFn) -> Route:
    """Short routes that end with a stop, so that laps and activities can be cut there."""
    count = draw(st.integers(1, 4))
    legs = [
        Leg(
            length_m=draw(st.floats(20.0, 150.0)),
            speed_kmh=draw(st.floats(4.0, 25.0)),
            grade_percent=draw(st.floats(-4.0, 3.0)),
            surface=draw(st.sampled_from(["asphalt", "paving", "gravel"])),
            stop_s=draw(st.sampled_from([0.0, 5.0, 20.0])) if i < count - 1 else 10.0,
        )
        for i in range(count)
    ]
    return Route("random", tuple(legs))


@st.composite
def days(draw: st.DrawFn) -> Day:
    """A route, a stand, perhaps a charge, and a trace."""
    route = draw(routes())
    speed = draw(st.floats(3.0, 25.0))
    trace = trace_of((0.0, 0.0), (10.0, speed), (40.0, speed), (50.0, 0.5 * speed), (70.0, 0.0), (80.0, 0.0))
    activities = [
        Activity(name="ride", route=route, laps=draw(st.integers(1, 3)), lighting=draw(st.floats(0.0, 1.0))),
        Activity(
            name="stand", duration_min=draw(st.floats(1.0, 60.0)), charge_current_a=draw(st.sampled_from([0.0, 4.0]))
        ),
        Activity(name="crawl", trace=trace, repeats=draw(st.integers(1, 4))),
    ]
    return day_of(
        *activities,
        ambient_c=draw(st.floats(-10.0, 35.0)),
        headwind_mps=draw(st.floats(-3.0, 5.0)),
        start_state_of_charge=draw(st.floats(0.3, 1.0)),
    )
