"""Stages of a drive add up to the short form, and what they lose is felt on the road."""

from __future__ import annotations

import pytest

from ridesim.forms import validate
from ridesim.ride.simulate import simulate
from ridesim.ride.steady import top_speed_kmh
from ridesim.vehicle import Drive
from ridesim.words import InputProblem
from tests.reference.plain_solution import reference_ride
from tests.ride.machines import day_of, make_build, trace_of
from tests.ride.test_against_reference import Resolved, assert_alike


def drive(*stages, **keys) -> Drive:
    return validate(Drive, {"stage": list(stages), **keys}, "drive.toml")


CHAIN = {"kind": "chain", "driver_teeth": 11, "driven_teeth": 55}


def test_ratios_multiply_and_drags_come_to_the_motor_s_shaft():
    found = drive(
        {"kind": "planetary", "ratio": 4.0, "drag_nm": 0.08},
        {"kind": "spur", "driver_teeth": 20, "driven_teeth": 40},
        CHAIN,
    )
    assert found.ratio == pytest.approx(4.0 * 2.0 * 5.0)
    assert (found.motor_teeth, found.wheel_teeth, found.gearbox_ratio) == (11, 55, pytest.approx(8.0))
    assert found.efficiency == pytest.approx(0.95 * 0.97 * 0.95)
    assert found.drag_nm == pytest.approx(0.08 + 0.02 / 4.0)
    assert found.in_words == "40 (11:55)"


def test_stages_are_the_short_form_they_add_up_to():
    long = drive({"kind": "spur", "ratio": 3.0, "efficiency": 0.9, "drag_nm": 0.0}, {**CHAIN, "efficiency": 0.95})
    short = validate(Drive, {"gearbox_ratio": 3.0, "motor_teeth": 11, "wheel_teeth": 55, "efficiency": 0.9 * 0.95}, "d")
    for key in ("ratio", "efficiency", "drag_nm", "motor_teeth", "wheel_teeth"):
        assert getattr(long, key) == pytest.approx(getattr(short, key))


def test_a_slider_moves_the_sprocket_of_stages():
    build = make_build(drive={"stage": [{"kind": "planetary", "ratio": 3.0}, CHAIN]})
    assert build.changed({"drive.motor_teeth": 12}).drive.ratio == pytest.approx(3.0 * 55.0 / 12.0)


SMALL = {"kind": "chain", "driver_teeth": 12, "driven_teeth": 36, "chain": "25", "centre_distance_mm": 150.0}
LARGE = {**CHAIN, "chain": "428", "centre_distance_mm": 480.0, "adjuster_travel_mm": 20.0}


def test_a_chain_is_stated_with_its_stage_and_the_last_one_s_in_short():
    found = drive(SMALL, LARGE)
    first, last = found.chains
    assert (first.where, first.driver_teeth, first.driven_teeth, first.chain) == ("drive.stage[1]", 12, 36, "25")
    assert (last.where, last.chain, last.centre_distance_mm) == ("drive", "428", 480.0)
    assert (found.chain, found.centre_distance_mm, found.adjuster_travel_mm) == ("428", 480.0, 20.0)
    assert (first.before, first.after) == (1.0, pytest.approx(5.0))
    assert (last.before, last.after) == (pytest.approx(3.0), 1.0)
    assert first.efficiency_after == 0.95
    # What the short form says is said of the last chain, also where a stage behind it has the sprockets.
    assert drive(SMALL, LARGE, chain="520").chains[-1].chain == "520"
    behind = drive(LARGE, {"kind": "spur", "driver_teeth": 20, "driven_teeth": 40})
    assert behind.chain == "428"
    assert (behind.chains[-1].driver_teeth, behind.chains[-1].after) == (11, 2.0)
    assert drive({"kind": "worm", "ratio": 20.0}).chains == ()


def test_which_way_the_wheel_turns():
    """A pair of spur gears reverses, two of them do not; a worm turns the axis (the gears' own geometry)."""
    spur, worm = {"kind": "spur", "ratio": 2.0}, {"kind": "worm", "ratio": 20.0}
    assert [drive(*each).way for each in ((CHAIN,), (spur, CHAIN), (spur, spur, CHAIN), (worm, CHAIN))] == [1, -1, 1, 0]
    short = [
        validate(Drive, {"motor_teeth": 11, "wheel_teeth": 55, "gearbox_ratio": each}, "d").way for each in (1.0, 3.0)
    ]
    assert short == [1, None]


@pytest.mark.parametrize(
    ("stage", "place"),
    [
        ({"kind": "spur", "ratio": 2.0, "chain": "428"}, "stage[1].chain"),
        ({"kind": "chain", "ratio": 2.0, "centre_distance_mm": 300.0}, "stage[1].centre_distance_mm"),
        ({"kind": "worm"}, "stage[1].ratio"),
        ({"kind": "worm", "ratio": 20.0, "driver_teeth": 1, "driven_teeth": 20}, "stage[1].ratio"),
        ({"kind": "spur", "driver_teeth": 12}, "stage[1].ratio"),
        ({"kind": "rope", "ratio": 2.0}, "stage[1].kind"),
    ],
)
def test_a_stage_that_says_too_much_or_too_little(stage, place):
    with pytest.raises(InputProblem) as problem:
        drive(stage)
    assert problem.value.place == place


@pytest.mark.thorough
def test_a_worm_is_felt_and_its_drag_is_the_reference_s():
    """Efficiency 0.5 to 0.8 (from memory), and a torque under any load: the chain's loss holds both, the motor is not heated by them."""
    plain = make_build(drive={"stage": [{"kind": "spur", "ratio": 3.0}, CHAIN]})
    worm = make_build(drive={"stage": [{"kind": "worm", "ratio": 3.0, "drag_nm": 0.3}, CHAIN]})
    assert top_speed_kmh(worm) < top_speed_kmh(plain) - 0.5
    day = day_of(trace_activity())
    found, truth = simulate(worm, day), reference_ride(Resolved(worm), day, compiled_rhs=True)
    assert_alike(found.outcome, truth, worm, day)
    assert found.ledger_wh["chain"] == pytest.approx(truth.ledger["chain"], rel=1e-3)
    assert found.ledger_wh["motor friction"] == pytest.approx(truth.ledger["motor_friction"], rel=1e-3)


def trace_activity():
    from ridesim.day import Activity

    loop = trace_of((0.0, 0.0), (15.0, 12.0), (120.0, 12.0), (130.0, 0.0), (140.0, 0.0))
    return Activity(name="loop", trace=loop, repeats=4)
