"""Shafts on the arcs have chains of exactly so many links, by an independent sum; the arm's travel and an idler by drawn lines."""

from __future__ import annotations

from math import atan2, cos, hypot, pi, sin

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

import ridesim
from ridesim.sizing.chain_fit import chain_fit, moved
from ridesim.sizing.layout import layout
from ridesim.sizing.loop import Round, laid_round
from ridesim.sizing.mounting import chain_path, idler, mounting
from ridesim.words import InputProblem

HERON = ridesim.load_build("heron_36v")
FOUND = mounting(HERON)
FREE = {"drive.centre_distance_mm": None}


def length_in_links(one: complex, other: complex, n1: int, n2: int, pitch_m: float) -> float:
    """A chain round two pitch circles: tangent points by the slope at which both normals are one direction, found by root search."""
    r1, r2 = (pitch_m / (2.0 * sin(pi / n)) for n in (n1, n2))
    centre = abs(other - one)

    def bent(angle):  # the line between both tangent points is at right angles to the radius
        first, second = (r1 * cos(angle), r1 * sin(angle)), (centre + r2 * cos(angle), r2 * sin(angle))
        return (second[0] - first[0]) * cos(angle) + (second[1] - first[1]) * sin(angle)

    angle = brentq(bent, 0.01, pi - 0.01)
    span = hypot(centre + (r2 - r1) * cos(angle), (r2 - r1) * sin(angle))
    return 2.0 * span / pitch_m + n1 * (2.0 * pi - 2.0 * angle) / (2.0 * pi) + n2 * 2.0 * angle / (2.0 * pi)


@given(step=st.floats(0.0, 1.0), arc=st.integers(0, 2), far=st.booleans())
def test_a_chain_round_any_place_of_an_arc_has_exactly_its_links(step, arc, far):
    found = FOUND
    chosen = found.arcs[arc]
    places = chosen.far if far else chosen.near
    at = places[round(step * (len(places) - 1))]
    axle = found.layout.axle + (found.layout.away * 0.025 if far else 0.0)
    assert length_in_links(at, axle, 11, 55, 0.0127) == pytest.approx(chosen.links, abs=1e-6)
    # and nothing is touched there
    assert abs(at - found.layout.axle) >= 0.305 + 0.060 - 1e-9
    assert abs(at - found.layout.pivot) >= 0.060 + 0.025 - 1e-9
    assert at.imag >= 0.060


@given(step=st.floats(0.0, 1.0))
def test_a_shaft_between_the_two_arcs_fits_by_the_travel_that_the_fit_says(step):
    """The axle moved by it along the arm: the distance of the centres is then the exact one."""
    found = FOUND
    near, far = found.arcs[1].near, found.arcs[1].far
    one = near[round(step * (len(near) - 1))]
    other = min(far, key=lambda each: abs(each - one))
    at = 0.3 * other + 0.7 * one
    fit = chain_fit(HERON.changed({**FREE, "drive.shaft_x_m": at.real, "drive.shaft_z_m": at.imag}))
    if fit.links == 110:
        moved_axle = found.layout.axle + found.layout.away * fit.move_mm / 1000.0
        assert abs(at - moved_axle) * 1000.0 == pytest.approx(fit.centre_mm, abs=1e-6)
        assert -1e-9 <= fit.move_mm


def test_the_drawn_chain_is_the_tight_one():
    found = mounting(HERON)
    assert chain_path(found).links == pytest.approx(found.fit.links, abs=1e-9)
    assert sum(chain_path(found).wraps) == pytest.approx(2.0 * pi)


@given(stated=st.floats(200.0, 600.0), along=st.floats(0.1, 1.0), more=st.floats(0.0, 40.0))
def test_the_adjuster_s_move_closes_the_triangle(stated, along, more):
    move = moved(stated, along, stated + more)
    assert (stated + move * along) ** 2 + move**2 * (1.0 - along**2) == pytest.approx((stated + more) ** 2)
    assert move >= more - 1e-9


def test_the_arm_s_travel_by_a_drawn_circle():
    """Wheel 60 mm up and 30 mm down on a circle about the pivot: the chain's length by the independent sum."""
    found = mounting(HERON)
    axle = found.layout.axle + found.layout.away * found.fit.move_mm / 1000.0
    pivot, shaft = found.layout.pivot, found.shaft
    radius = abs(axle - pivot)
    assert found.swing.up_mm[[0, -1]].tolist() == pytest.approx([-30.0, 60.0])
    for height, need in zip(found.swing.up_mm, found.swing.need_mm, strict=True):
        z = axle.imag + height / 1000.0
        x = pivot.real - (radius**2 - (z - pivot.imag) ** 2) ** 0.5
        assert length_in_links(shaft, complex(x, z), 11, 55, 0.0127) * 12.7 - 110 * 12.7 == pytest.approx(
            need, abs=1e-5
        )


def test_a_shaft_at_the_pivot_feels_no_travel_and_the_calmest_place_is_the_least():
    build = HERON.changed({"vehicle.pivot_x_m": 0.475, "vehicle.pivot_z_m": 0.374, "drive.shaft_room_mm": 1.0})
    assert mounting(build).swing.spread_mm == pytest.approx(0.0, abs=1e-3)
    assert mounting(build).touches == "the swinging arm's pivot by 26 mm"
    found = mounting(HERON)
    at, calm = found.calmest
    assert calm.spread_mm <= found.swing.spread_mm + 0.05
    beside = HERON.changed({**FREE, "drive.shaft_x_m": at.real, "drive.shaft_z_m": at.imag + 0.03})
    assert mounting(beside).swing.spread_mm > calm.spread_mm
    assert mounting(HERON.changed({"vehicle.pivot_x_m": None, "vehicle.pivot_z_m": None})).swing is None
    high = HERON.changed({"vehicle.pivot_z_m": 0.60, "vehicle.pivot_x_m": 0.40})
    assert mounting(high).swing.loose
    assert "may jump" in mounting(high).swing.sentence


def test_an_idler_takes_up_the_slack():
    """Circles drawn anew: the chain that goes inside the idler has the length of its links."""
    short = HERON.changed({"drive.centre_distance_mm": 474.0})
    fit = chain_fit(short)
    found = idler(fit)
    assert found.links == fit.links == 110
    r1, r2, rk = (12.7 / (2.0 * sin(pi / n)) for n in (11, 55, 13))
    # The span's middle and outward side, with the small sprocket to the right and the slack span below.
    lean = np.arcsin((r2 - r1) / 474.0)
    normal = np.array([np.sin(lean), -np.cos(lean)])
    middle = 0.5 * (r2 * normal + np.array([474.0, 0.0]) + r1 * normal)
    centre = middle + normal * (rk - found.press_mm)

    def inner(
        one, radius
    ):  # length of an inner tangent, and how its circle is wrapped: angle of the tangent's direction
        gap = centre - one
        d = hypot(*gap)
        return (d * d - (radius + rk) ** 2) ** 0.5, atan2(gap[1], gap[0]), np.arcsin((radius + rk) / d)

    left, way, tilt = inner(np.zeros(2), r2)
    right, back, lift = inner(np.array([474.0, 0.0]), r1)
    direction_in, direction_out = way + tilt, back + pi - lift
    top = 474.0 * np.cos(lean)
    about_idler = direction_in - direction_out
    wrap_small = (pi - lean) - direction_out
    wrap_large = direction_in - (pi - lean)
    assert found.in_mesh == pytest.approx(13 * about_idler / (2.0 * pi), abs=1e-6)
    assert found.wrap_degrees == pytest.approx(np.degrees(wrap_small % (2.0 * pi)), abs=1e-6)
    length = (left + right + top) / 12.7 + (
        13 * about_idler + 11 * (wrap_small % (2 * pi)) + 55 * (wrap_large % (2 * pi))
    ) / (2 * pi)
    assert length == pytest.approx(110.0, abs=1e-6)
    assert found.wrap_degrees > fit.wrap_degrees
    exact = HERON.changed({"drive.centre_distance_mm": fit.centre_mm + 0.05})
    assert chain_fit(exact).links == 112
    assert idler(chain_fit(exact), teeth=9).slack_mm == pytest.approx(2 * 12.7 - 0.1, abs=0.1)


def test_where_it_is_not_stated_it_is_drawn_in_line_with_the_adjuster_and_the_room_is_told():
    unknown = HERON.changed({"drive.shaft_x_m": None, "drive.shaft_z_m": None})
    found = mounting(unknown)
    arm = complex(0.58, 0.39 - 0.305)
    assert found.shaft == pytest.approx(complex(0.0, 0.305) + 0.480 * arm / abs(arm))
    assert chain_path(found).links == pytest.approx(found.fit.links)
    rigid = mounting(unknown.changed({"vehicle.pivot_x_m": None, "vehicle.pivot_z_m": None}))
    assert rigid.shaft == pytest.approx(complex(0.480, 0.305))
    assert found.clear_tyre_mm == pytest.approx(115.0)
    assert found.slack_span == "lower"
    front = HERON.changed({"vehicle.driven_axle": "front", "drive.shaft_x_m": 0.9, "drive.shaft_z_m": 0.305})
    assert layout(front).away == pytest.approx(layout(front).axle - layout(front).pivot, rel=1.0)
    assert mounting(front).slack_span == "upper"
    thick = HERON.changed({"vehicle.tyre": "120/80-16"})
    assert layout(thick).tyre_m > 0.305 - 1e-9


def test_places_that_disagree_with_the_tape_are_told_and_the_tape_counts():
    odd = HERON.changed({"drive.centre_distance_mm": 300.0})
    assert abs(layout(odd).arm) == pytest.approx(0.300)
    found = {f.code: f for f in ridesim.compare(odd, "harbour_festival", draws=0).findings[odd.name]}
    assert found["chain-places-disagree"].numbers["off_mm"] == pytest.approx(180.0, abs=0.1)
    assert "chain-places-disagree" not in {
        f.code for f in ridesim.compare(HERON, "harbour_festival", draws=0).findings[HERON.name]
    }


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"drive.shaft_x_m": 0.0, "drive.shaft_z_m": 0.305}, r"drive\.shaft_x_m: found the place of the wheel's axle"),
        (
            {"vehicle.pivot_x_m": 0.0, "vehicle.pivot_z_m": 0.305},
            r"vehicle\.pivot_x_m: found the place of the wheel's axle",
        ),
        (
            {"drive.shaft_x_m": 0.1, "drive.shaft_z_m": 0.305, "drive.centre_distance_mm": None},
            "found 100 mm; expected more than 140 mm",
        ),
    ],
)
def test_places_that_cannot_be_are_named(keys, words):
    odd = HERON.changed(keys)
    with pytest.raises(InputProblem, match=words):
        mounting(odd)
    (found,) = [
        f for f in ridesim.compare(odd, "harbour_festival", draws=0).findings[odd.name] if f.code.startswith("chain")
    ]
    assert found.code == "chain-not-judged"


def test_a_front_wheel_and_a_shaft_behind_it_are_drawn_and_judged():
    front = HERON.changed({"vehicle.driven_axle": "front", "drive.shaft_x_m": 0.905, "drive.shaft_z_m": 0.374,
                           "vehicle.pivot_x_m": None, "vehicle.pivot_z_m": None})  # fmt: skip
    found = mounting(front)
    assert found.layout.away == 1.0
    assert all(at.real <= 1.38 for at in found.arcs[1].near)
    assert chain_path(found).links == pytest.approx(found.fit.links)
    assert found.level_degrees == pytest.approx(8.3, abs=0.1)


def test_a_loop_is_that_of_a_belt_round_equal_circles():
    """Two circles of 9 teeth's radius, 40 pitches apart: twice the distance, and 9 links round both halves."""
    radius = 0.5 / sin(pi / 9)
    found = laid_round((Round(0j, radius, 1, 9), Round(40.0 + 0j, radius, 1, 9)), 1.0)
    assert found.links == pytest.approx(2 * 40.0 + 9.0)
    assert found.wraps == pytest.approx((pi, pi))
    with pytest.raises(InputProblem, match="two that overlap"):
        laid_round((Round(0j, 3.0, 1, 9), Round(1.0 + 0j, 1.0, 1, 9)), 1.0)


def test_a_stage_behind_the_last_chain_has_no_arcs_but_a_fit():
    chain = {"kind": "chain", "driver_teeth": 11, "driven_teeth": 33, "chain": "428", "centre_distance_mm": 300.0}
    build = HERON.changed({"drive": {"stage": [chain, {"kind": "spur", "driver_teeth": 20, "driven_teeth": 40}]}})
    assert chain_fit(build).links % 2 == 0
    with pytest.raises(InputProblem, match="another stage behind the last chain"):
        mounting(build)
    with pytest.raises(InputProblem, match="no chain with teeth"):
        mounting(HERON.changed({"drive": {"stage": [{"kind": "worm", "ratio": 20.0}]}}))
