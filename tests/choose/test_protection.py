"""The protection of a lithium pack: when the day's current opens it."""

from __future__ import annotations

import numpy as np
import pytest

from ridesim import compare, load_build
from ridesim.choose.findings.protection import opens_s
from ridesim.words import InputProblem


@pytest.mark.parametrize(
    ("limit", "bears", "moment"),
    [
        (5.0, 4.0, 9.0),  # the ramp from 0 to 10 A in 10 s passes 5 A at 5 s
        (5.0, 14.9, 19.9),  # and comes back to it at 20 s
        (5.0, 15.1, None),
        (5.0, 0.0, 5.0),
        (10.5, 0.0, None),
    ],
)
def test_a_current_drawn_by_hand(limit, bears, moment):
    """Up to 10 A in 10 s, 5 s of 10 A, down to nothing in 10 s: by proportion."""
    clock, current = np.array([0.0, 10.0, 15.0, 25.0]), np.array([0.0, 10.0, 10.0, 0.0])
    found = opens_s(clock, current, limit, bears)
    assert found == (None if moment is None else pytest.approx(moment))


def test_a_current_that_is_above_from_first_to_last():
    assert opens_s(np.array([3.0, 9.0]), np.array([7.0, 7.0]), 5.0, 2.0) == pytest.approx(5.0)
    assert opens_s(np.array([3.0, 9.0]), np.array([7.0, 7.0]), 5.0, 7.0) is None


def opened(**keys):
    build = load_build("heron_lithium").changed({f"pack.{key}": value for key, value in keys.items()})
    (candidate,) = compare(build, "harbour_festival").candidates
    return candidate.ride, [each for each in candidate.findings if each.code == "protection-opens"]


def test_the_finding_names_the_moment_and_the_ride_s_current_agrees():
    ride, (finding,) = opened(protection_current_a=15.0, protection_s=2.0)
    assert finding.severity == "stop"
    moment = finding.numbers["clock_s"]
    assert min(ride.at(moment - back)["pack_current_a"] for back in (1.9, 1.0, 0.0)) >= 15.0
    earlier = ride.frame[ride.frame["clock_s"] < moment - 2.0]
    assert (earlier["pack_current_a"] < 15.0).any()
    highest = ride.outcome.highest_pack_current_a
    assert not opened(protection_current_a=highest + 0.1, protection_s=0.0)[1]
    assert opened(protection_current_a=highest - 0.5, protection_s=0.0)[1]
    assert not opened()[1]


def test_lead_acid_has_none():
    with pytest.raises(
        InputProblem, match=r"pack.protection_current_a: found 40 A for lead-acid-agm; expected a lithium pack"
    ):
        load_build("heron_36v").changed({"pack.protection_current_a": 40.0})
