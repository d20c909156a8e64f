"""Fuses and breakers under drawn currents, and what is refused."""

from __future__ import annotations

from math import inf, isfinite

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ridesim import load_build
from ridesim.sizing.cable import ampacity_a, resistance_ohm, temperatures_c
from ridesim.sizing.lighting import strip_w_per_m, supplies
from ridesim.sizing.protection import Protection, choose, edges, kinds, opening_s, position, trips
from ridesim.vehicle.cable import awg_mm2
from ridesim.words import InputProblem

kind = st.sampled_from(sorted(kinds()))
pulses = st.lists(st.tuples(st.floats(0.01, 200.0), st.floats(0.0, 120.0)), min_size=1, max_size=20)


def trace(drawn, factor=1.0):
    """Steps of a current: each lasts so long and ends at once."""
    ends = np.cumsum([seconds for seconds, _ in drawn])
    time = np.repeat(np.append(0.0, ends), 2)[1:-1]
    return time, factor * np.repeat([amps for _, amps in drawn], 2)


@given(kind=kind, amps=st.floats(0.0, 900.0))
def test_a_constant_current_opens_when_the_curve_says(kind, amps):
    part = Protection(kind, 30.0)
    expected = opening_s(part, amps)
    found = trips(part, [0.0, 20_000.0], [amps, amps])
    assert found == pytest.approx(tuple(each if each <= 20_000.0 else inf for each in expected))


@given(kind=kind, drawn=pulses, factor=st.floats(1.0, 3.0))
def test_more_current_opens_no_later_and_the_quick_part_first(kind, drawn, factor):
    part = Protection(kind, 30.0)
    less, more = trips(part, *trace(drawn)), trips(part, *trace(drawn, factor))
    assert less[0] <= less[1]
    assert more[0] <= less[0] + 1e-6
    assert more[1] <= less[1] + 1e-6


@settings(max_examples=30)
@given(kind=kind, drawn=pulses)
def test_it_opens_when_a_fine_integration_of_the_same_body_does(kind, drawn):
    """Euler's steps, small against every time constant, are as warm then as the body that opens, and nowhere warmer where it does not."""
    part, (time, amps) = Protection(kind, 30.0), trace(drawn)
    fine = np.linspace(0.0, time[-1], 1001)
    fine_amps = np.interp(fine, time, amps)
    for edge, found in zip(edges()[kinds()[kind].curve], trips(part, fine, fine_amps), strict=True):
        excess = warmest = 0.0
        for begin, end, one, other in zip(fine[:-1], fine[1:], fine_amps[:-1], fine_amps[1:], strict=True):
            square = (one * one + one * other + other * other) / 3.0 / 900.0
            lag = float(edge.lags(np.array([np.sqrt(square)]), kinds()[kind].least_s)[0])
            span = min(end, found) - begin
            steps = min(400, max(1, int(40.0 * span / lag)))
            for _ in range(steps):
                excess += (square - excess) * min(1.0, span / steps / lag)
            warmest = max(warmest, excess)
            if found <= end:
                break
        assert warmest == pytest.approx(edge.opens_at, rel=0.03) if isfinite(found) else warmest < 1.03 * edge.opens_at


def test_it_remembers_its_heat_between_pulses():
    """Pulses of 1.6 times a breaker's rating that hold one by one open it when they follow one another closely."""
    part = Protection("breaker", 30.0)
    one = [(10.0, 48.0), (600.0, 0.0)] * 6
    close = [(10.0, 48.0), (3.0, 0.0)] * 12
    assert trips(part, *trace(one)) == (inf, inf)
    assert isfinite(trips(part, *trace(close))[0])


def test_a_hot_place_takes_from_a_thermal_breaker_s_rating():
    amps, time = [45.0, 45.0], [0.0, 1e6]
    assert trips(Protection("breaker", 50.0), time, amps, 25.0) == (inf, inf)
    assert isfinite(trips(Protection("breaker", 50.0), time, amps, 60.0)[0])
    assert trips(Protection("magnetic-breaker", 50.0), time, amps, 60.0) == (inf, inf)


@given(
    continuous=st.floats(0.0, 400.0),
    ampacity=st.floats(1.0, 400.0),
    volts=st.floats(6.0, 120.0),
    short=st.floats(0.0, 30_000.0),
    kind=kind,
)
def test_a_rating_keeps_every_rule_or_a_finding_says_which_not(continuous, ampacity, volts, short, kind):
    choice, part = choose(continuous, ampacity, volts, short, kind), kinds()[kind]
    if choice.rating_a is None:
        assert choice.finding is not None
        broken = {
            "protection-voltage": part.rated_voltage_v < volts,
            "protection-breaking": part.breaking_a < short,
            "protection-rating": part.ratings_a[-1] < 1.25 * continuous,
            "protection-above-cable": not any(1.25 * continuous <= each <= ampacity for each in part.ratings_a),
        }
        assert broken[choice.finding.code]
        return
    assert choice.finding is None
    assert choice.rating_a in part.ratings_a
    assert 1.25 * continuous * (1 - 1e-9) <= choice.rating_a <= ampacity * (1 + 1e-9)
    assert volts <= part.rated_voltage_v
    assert short <= part.breaking_a


def test_a_cable_warms_to_its_insulation_s_limit_at_its_ampacity_and_stays_below_under_less():
    time = np.arange(0.0, 7200.0, 10.0)
    ampacity = ampacity_a(10, 90, 40, 2)
    at_it = temperatures_c(10, 90, 40, 2, time, np.full(time.shape, ampacity))
    assert at_it[-1] == pytest.approx(90.0, abs=0.01)
    assert (np.diff(at_it) > -1e-9).all()
    assert temperatures_c(10, 90, 40, 2, time, np.full(time.shape, 0.7 * ampacity))[-1] < 70.0
    assert temperatures_c(10, 90, 40, 2, [0.0, 30.0], [20.0 * ampacity, 0.0])[-1] > 200.0


@pytest.mark.parametrize(
    ("asked", "place", "found"),
    [
        (lambda: ampacity_a(16, 77, 30, 2), "insulation_c", "77 °C"),
        (lambda: ampacity_a(16, "PVC", 30, 2), "insulation_c", "“PVC”"),
        (lambda: ampacity_a(0.5, 105, 30, 2), "section_mm2", "0.5 mm²"),
        (lambda: ampacity_a(16, 105, 105, 2), "ambient_c", "105 °C"),
        (lambda: ampacity_a(16, 105, 30, 0), "bundled", "0"),
        (lambda: resistance_ohm(16, 0.0, 20), "length_m", "0 m"),
        (lambda: resistance_ohm(0.0, 1.0, 20), "section_mm2", "0 mm²"),
        (lambda: awg_mm2("five"), "awg", "“five”"),
        (lambda: awg_mm2(41), "awg", "“41”"),
        (lambda: choose(10, 20, 12, 100, "blad"), "kind", "“blad”"),
        (lambda: choose(-1, 20, 12, 100, "blade"), "continuous_a", "-1 A"),
        (lambda: choose(10, 20, 0, 100, "blade"), "volts", "0 V"),
        (lambda: trips(Protection("blade", 0.0), [0, 1], [1, 1]), "rating_a", "0 A"),
        (lambda: trips(Protection("blade", 5.0), [0, 1, 2], [1, 1]), "current_a", "3 moments, 2 currents"),
        (lambda: trips(Protection("blade", 5.0), [0, 2, 1], [1, 1, 1]), "time_s", "a time before the one in front of it"),
        (lambda: trips(Protection("blade", 5.0), [0, 1], [1, float("nan")]), "current_a", "a value that is no number"),
        (lambda: list(position("main", -1.0, False)), "protection_distance_m", "-1 m"),
        (lambda: strip_w_per_m(60, 3, 0.0, 12), "group_a", "0 A"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_named(asked, place, found):
    with pytest.raises(InputProblem) as raised:
        asked()
    assert (raised.value.place, raised.value.found) == (place, found)


def test_a_strip_by_its_watts_a_metre():
    """5 m of 14.4 W/m are 72 W: by multiplication, on paper."""
    heron = load_build("heron_36v")
    strip = {"name": "strip", "strip_length_m": 5.0, "strip_w_per_m": 14.4}
    assert heron.changed({"lighting.load": [strip]}).lighting.power_w == pytest.approx(72.0)
    by_foot = {"name": "strip", "strip_length_ft": 5.0 / 0.3048, "strip_w_per_ft": 14.4 * 0.3048}
    assert heron.changed({"lighting.load": [by_foot]}).lighting.power_w == pytest.approx(72.0)
    for wrong, place in (
        ({"power_w": 5.0}, "strip_length_m"),
        ({"strip_w_per_m": None}, "strip_w_per_m"),
        ({"strip_length_m": 0.0}, "strip_length_m"),
    ):
        with pytest.raises(InputProblem) as raised:
            heron.changed({"lighting.load": [{k: v for k, v in {**strip, **wrong}.items() if v is not None}]})
        assert raised.value.place == f"lighting.load[1].{place}"
    with pytest.raises(InputProblem, match=r"load\[1\].power_w: found nothing"):
        heron.changed({"lighting.load": [{"name": "lamp"}]})


def test_lights_on_a_block_of_their_own_and_on_the_pack():
    both = supplies("heron_36v", "harbour_festival")
    assert both.own_spare_km > both.converter_spare_km
    assert 0.0 < both.own_left < 1.0
    assert both.converter_ah > 0.0
    assert "Keep the own block" in repr(both)
    with pytest.raises(InputProblem, match="lighting: found nothing; expected a build with lights"):
        supplies(load_build("heron_36v").changed({"lighting": None}), "harbour_festival")
