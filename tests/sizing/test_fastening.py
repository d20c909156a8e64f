"""What bolts and straps must hold."""

from __future__ import annotations

import pytest

import ridesim
from ridesim.sizing.fastening import PROOF_MPA, STRESS_AREA_MM2, bolt_shears, plate_hold, restraint_n, strap_n
from ridesim.words import InputProblem


def test_shears_of_a_textbook_s_four_bolts():
    """Shigley, Mechanical Engineering Design, example 8-7 (from memory): 16 kN 425 mm aside, bolts 96 mm from their middle: 4 kN and 17.7 kN."""
    primary, secondary = bolt_shears(16_000.0, 16_000.0 * 0.425, 4, 96.0)
    assert primary == pytest.approx(4000.0)
    assert secondary == pytest.approx(17_700.0, abs=50.0)


def test_a_lorry_s_load_is_held_with_the_standard_s_shares():
    """EN 12195-1 (from memory): 0.8 of the weight forward, 0.5 backward and sideways."""
    assert restraint_n(1000.0) == pytest.approx({"forward": 7845.32, "backward": 4903.325, "sideways": 4903.325})


def test_two_straps_at_45_degrees_hold_their_share():
    """Each pulls along the vehicle with cos 45° · cos 45°, a half, of what is in it."""
    heron = ridesim.load_build("heron_36v")
    assert 2.0 * strap_n(heron) * 0.5 == pytest.approx(restraint_n(heron.total_mass_kg(aboard=False))["forward"])


def heron_with(**mount):
    return ridesim.load_build("heron_36v").changed({f"motor.mount.{key}": value for key, value in mount.items()})


def told(build):
    found = ridesim.compare(build, "harbour_festival", draws=0).findings[build.name]
    return [each for each in found if each.code == "plate-slips"]


def test_a_plate_holds_or_is_said_to_slip():
    good, weak = heron_with(), heron_with(thread_mm=5, strength_class="4.6", bolts=2, circle_mm=60.0, overhang_mm=60.0)
    assert plate_hold(good).holds > 1.5
    assert told(good) == []
    (finding,) = told(weak)
    assert finding.severity == "warning"
    assert finding.text.startswith(plate_hold(weak).sentence)


def test_the_grip_by_hand():
    """Two bolts M6 4.6 on 80 mm: preload 0.75 · 225 · 20.1, the chain 40 mm before the plate."""
    found = plate_hold(heron_with(thread_mm=6, strength_class="4.6", bolts=2, circle_mm=80.0, overhang_mm=40.0))
    pull = found.chain_pull_n
    assert found.preload_n == pytest.approx(0.75 * PROOF_MPA["4.6"] * STRESS_AREA_MM2[6])
    assert found.tension_n == pytest.approx(pull * 40.0 / (2 * 40.0) * 2.0)
    assert found.holds == pytest.approx(0.15 * (found.preload_n - found.tension_n) / found.shear_n)


def test_what_is_not_stated_is_named():
    bare = ridesim.load_build("heron_36v").changed({"motor.mount": None})
    with pytest.raises(InputProblem, match=r"motor\.mount: found nothing"):
        plate_hold(bare)
    assert told(bare) == []
    with pytest.raises(InputProblem, match="thread_mm"):
        heron_with(thread_mm=7)
