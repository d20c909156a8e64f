"""Distances and times of published driving cycles, through the trace reader and through ``simulate``.

Sources
-------
ECE-15: UN R83 Type I Part One, text reprinted at lawinsider.com/clause/test-cycle/_1 (READ): 195 s; idle 60, declutched
    deceleration 9, gear change 8, acceleration 36, steady 57, deceleration 25 s; 1.013 km, four cycles 4.052 km; 19 km/h.
    Operations 19 to 25: Central Motor Vehicles Rules 1989 (India) p. 627 Table I (READ); operations 1 to 18 from memory,
    confirmed by those sums.
EUDC: dieselnet.com/standards/cycles/ece_eudc.php (READ): 400 s, average 62.59 km/h with stops, highest 120 km/h.
Whole European cycle: 1180 s, 33.6 km/h, 11.007 km, UN R83 (memory).
Indian cycle for two- and three-wheelers: operation end times UN WP.29-133-10 (2004), chart data (READ); six cycles 3.94 km,
    21.9 km/h, acceleration below 0.65 m/s², IIT Kanpur, Indian Drive Cycles and RDE Program, 2021, abstract (READ).
"""

from __future__ import annotations

import numpy as np
import pytest

from ridesim import simulate
from ridesim.day import load_trace

ECE_TOLERANCE = 0.003
"""The regulation's 1.013 km is a rounded "theoretical distance"; its own table of operations adds up to 1.0146 km (+ 0.16 %).
0.3 % still tells this reading from the one with operation 22 held at 35 km/h (1.0183 km, + 0.5 %) and from the 0.994 km of
average-speed tables in circulation."""
ORDINARY = {"rolling_coefficient": 0.015, "drag_area_m2": 0.6}
ECE_ENDS_S = (155, 163, 176, 178, 185, 188, 195)
IDC_ENDS_S = (16, 22, 26, 30, 32, 37, 42, 45, 49, 51, 59, 66, 69, 76, 78, 85, 94, 101, 108)


def _seconds(trace, wanted) -> float:
    """Time of the intervals whose start and end speed satisfy a condition. [s]"""
    before, after = trace.speed_kmh[:-1], trace.speed_kmh[1:]
    return float(np.diff(trace.time_s)[wanted(before, after)].sum())


def _corners(trace) -> set[float]:
    """Times at which the slope of the speed changes. [s]"""
    slope = np.diff(trace.speed_kmh) / np.diff(trace.time_s)
    return {
        float(t)
        for t, before, after in zip(trace.time_s[1:-1], slope[:-1], slope[1:], strict=True)
        if abs(before - after) > 0.01
    }


def test_ece_15_times_of_un_r83():
    trace = load_trace("ece15_urban")
    assert _seconds(trace, lambda a, b: (a == 0) & (b == 0)) == 60.0
    assert _seconds(trace, lambda a, b: b > a) == 36.0
    # Of the 8 s of gear changes the 2 s of operation 22 dip from 35 to 32 km/h, as operation 23's printed -0.86 m/s² implies.
    assert _seconds(trace, lambda a, b: b < a) == 9.0 + 25.0 + 2.0
    assert _seconds(trace, lambda a, b: (a == b) & (a > 0)) == 57.0 + 8.0 - 2.0
    assert _corners(trace) >= {float(end) for end in ECE_ENDS_S[:-1]}


@pytest.mark.parametrize(
    ("name", "seconds", "average_kmh", "half_digit"),
    [
        ("ece15_urban", 195.0, 19.0, 0.5),
        ("eudc_extra_urban", 400.0, 62.59, 0.005),
        ("idc_two_three_wheeler", 108.0, 21.9, 0.05),
    ],
)
def test_duration_and_average_speed(name, seconds, average_kmh, half_digit):
    trace = load_trace(name)
    assert trace.duration_s == seconds
    assert 3.6 * trace.length_m / trace.duration_s == pytest.approx(average_kmh, abs=half_digit)


def test_highest_speed_of_the_extra_urban_cycle():
    assert load_trace("eudc_extra_urban").fastest_kmh == 120.0


def test_indian_cycle_times_distance_and_acceleration():
    """3.94 km is 6 × 0.658 km = 3.948 km cut after two decimals, not rounded: so 3.94 to 3.95."""
    trace = load_trace("idc_two_three_wheeler")
    assert {float(end) for end in IDC_ENDS_S[:-1]} == _corners(trace)
    assert 3.94 <= 6.0 * trace.length_m / 1000.0 < 3.95
    acceleration = float((np.diff(trace.speed_kmh) / np.diff(trace.time_s)).max()) / 3.6
    assert 0.64 < acceleration < 0.65


@pytest.mark.parametrize(
    ("name", "repeats", "published_km", "relative"),
    [
        ("ece15_urban", 1, 1.013, ECE_TOLERANCE),
        ("ece15_urban", 4, 4.052, ECE_TOLERANCE),
        ("eudc_extra_urban", 1, 62.59 * 400.0 / 3600.0, 0.005 / 62.59),
        ("idc_two_three_wheeler", 6, 3.945, 0.005 / 3.945),  # 3.94 cut: 3.94 to 3.95, see above
    ],
)
def test_a_strong_build_rides_the_published_distance(name, repeats, published_km, relative, ideal_build, make_day):
    """Stronger than the cycle asks, with ordinary resistances: it follows the trace, so it covers the cycle's distance."""
    trace = load_trace(name)
    ride = simulate(ideal_build(200.0, vehicle=ORDINARY), make_day({"trace": trace, "repeats": repeats}))
    assert ride.outcome.finished
    assert ride.outcome.seconds_below_command == 0.0
    assert ride.outcome.distance_km == pytest.approx(published_km, rel=relative)
    commanded = np.interp(
        ride.frame["time_s"] % trace.duration_s, trace.time_s - trace.time_s[0], trace.speed_kmh / 3.6
    )
    assert np.abs(ride.frame["speed_mps"] - commanded).max() < 1e-6


def test_whole_european_cycle(ideal_build, make_day):
    """1180 s, 33.6 km/h, 11.007 km (memory): four urban cycles and the extra-urban one without a pause.

    Distance to 0.1 %: the urban tables carry their + 0.16 % on a third of the way (see above).
    """
    day = make_day({"trace": load_trace("ece15_urban"), "repeats": 4}, {"trace": load_trace("eudc_extra_urban")})
    ride = simulate(ideal_build(200.0, vehicle=ORDINARY), day)
    seconds = ride.stages[-1].end_s - ride.stages[0].start_s
    assert seconds == pytest.approx(1180.0, abs=1e-6)
    assert ride.outcome.distance_km == pytest.approx(11.007, rel=0.001)
    assert ride.outcome.distance_km * 3600.0 / seconds == pytest.approx(33.6, abs=0.05)
