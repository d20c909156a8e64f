"""Chains and tyres against printed values; each source stands beside its check."""

from __future__ import annotations

import pytest

from ridesim.sizing.chain import (
    HORSEPOWER_W,
    centre_distance,
    chains,
    chordal_variation,
    links,
    pitch_diameter_mm,
    pull_n,
    rated_power_w,
)
from ridesim.sizing.chain_fit import moved
from ridesim.sizing.chain_life import BATH, BY_HAND, SERVICE_FACTOR, oil_for, worn_out_percent, worn_percent
from ridesim.sizing.tyre import diameter_mm, rolling_radius_m

SPEEDS = (50, 100, 200, 300, 400, 500, 700, 900, 1000, 1200, 1400, 1600, 1800)
NO_40 = {
    11: (.23, .43, .80, 1.16, 1.50, 1.83, 2.48, 3.11, 3.42, 4.03, 4.63, 5.22, 4.66),
    12: (.25, .47, .88, 1.27, 1.65, 2.01, 2.73, 3.42, 3.76, 4.43, 5.09, 5.74, 5.31),
    14: (.30, .56, 1.04, 1.50, 1.95, 2.38, 3.22, 4.04, 4.44, 5.23, 6.01, 6.78, 6.70),
    15: (.32, .60, 1.12, 1.62, 2.10, 2.56, 3.47, 4.35, 4.78, 5.64, 6.47, 7.30, 7.43),
    16: (.35, .65, 1.20, 1.74, 2.25, 2.75, 3.72, 4.66, 5.13, 6.04, 6.94, 7.83, 8.18),
    18: (.39, .73, 1.37, 1.97, 2.55, 3.12, 4.22, 5.30, 5.82, 6.86, 7.88, 8.89, 9.76),
}  # fmt: skip
"""ASME B29.1, power rating of a single strand of No. 40 [hp], by teeth and turns a minute."""


@pytest.mark.parametrize("teeth", NO_40)
def test_the_rating_table_of_number_40(teeth):
    """ASME B29.1, as printed, to 0.006 hp: the table has two decimals."""
    for rpm, horsepower in zip(SPEEDS, NO_40[teeth], strict=True):
        assert rated_power_w("40", teeth, rpm) / HORSEPOWER_W == pytest.approx(horsepower, abs=0.006)


def test_seventeen_teeth_at_two_thousand():
    """Shigley's table, 7.72 hp beyond the extreme; the form gives 0.9 % less."""
    assert rated_power_w("40", 17, 2000) / HORSEPOWER_W == pytest.approx(7.72, rel=0.01)


@pytest.mark.parametrize(
    ("n1", "n2", "centre", "printed", "off"), [(21, 84, 40.0, 135.0, 0.02), (17, 34, 25.0, 75.79, 0.005)]
)
def test_chain_lengths(n1, n2, centre, printed, off):
    """Shigley, equation 17-34: solution 17-26, and example 17-5 (numbers from memory)."""
    assert links(centre, n1, n2) == pytest.approx(printed, abs=off)


def test_a_centre_distance():
    """Shigley, example 17-5 (from memory): 17 and 34 teeth, 76 links, 25.104 pitches."""
    assert centre_distance(76, 17, 34) == pytest.approx(25.104, abs=1e-3)


@pytest.mark.parametrize(
    ("pitch", "teeth", "diameter"), [(12.70, 12, 49.07), (12.70, 13, 53.07), (15.875, 13, 66.33), (15.875, 41, 207.38)]
)
def test_pitch_diameters(pitch, teeth, diameter):
    """ISO 606, Annex A, formula (from memory)."""
    assert pitch_diameter_mm(pitch, teeth) == pytest.approx(diameter, abs=0.006)


@pytest.mark.parametrize(("teeth", "percent"), [(11, 4.0), (17, 1.65)])
def test_chordal_variation(teeth, percent):
    """The usual textbook figures, 4 % at 11 teeth and 1.6 to 1.7 % at 17 (from memory)."""
    assert 100.0 * chordal_variation(teeth) == pytest.approx(percent, abs=0.12)


@pytest.mark.parametrize(
    ("name", "pitch", "width", "roller", "newtons"),
    [
        ("25", 6.35, 3.18, 3.30, 3470), ("35", 9.525, 4.76, 5.08, 7830), ("41", 12.70, 6.35, 7.77, 6670), ("40", 12.70, 7.94, 7.92, 13920),
        ("50", 15.875, 9.52, 10.16, 21700), ("60", 19.05, 12.7, 11.91, 31300),
    ],
)  # fmt: skip
def test_dimensions_and_strengths(name, pitch, width, roller, newtons):
    """ANSI/ASME B29.1, single strand, as in Shigley, Table 17-19."""
    chain = chains()[name]
    assert (chain.pitch_mm, chain.inner_width_mm, chain.roller_mm, chain.strength_n) == (pitch, width, roller, newtons)


@pytest.mark.parametrize(
    ("name", "pitch", "width", "roller", "kg_per_m", "kilonewtons"),
    [
        ("05B", 8.00, 3.00, 5.00, 0.18, 4.4), ("06B", 9.525, 5.72, 6.35, 0.41, 8.9), ("08B", 12.70, 7.75, 8.51, 0.70, 17.8),
        ("10B", 15.875, 9.65, 10.16, 0.91, 22.2), ("12B", 19.05, 11.68, 12.07, 1.18, 28.9),
    ],
)  # fmt: skip
def test_dimensions_and_strengths_of_the_european_series(name, pitch, width, roller, kg_per_m, kilonewtons):
    """Dimensions and mass: a maker's table to DIN 8187; least tensile strength: ISO 606 (from memory)."""
    chain = chains()[name]
    assert chain[1:-1] == (pitch, width, roller, 1000.0 * kilonewtons, kg_per_m)


@pytest.mark.parametrize(
    ("name", "pitch", "roller", "width"),
    [("415", 12.70, 7.77, 4.76), ("420", 12.70, 7.77, 6.35), ("428", 12.70, 8.51, 7.75), ("520", 15.875, 10.16, 6.35),
     ("525", 15.875, 10.16, 7.95), ("530", 15.875, 10.16, 9.53), ("630", 19.05, 11.91, 9.53)],
)  # fmt: skip
def test_dimensions_of_motorcycle_chains(name, pitch, roller, width):
    """A chain maker's table; the first digit is the pitch in 1/8 in (bluegauges.com, chains)."""
    chain = chains()[name]
    assert (chain.pitch_mm, chain.roller_mm, chain.inner_width_mm) == (pitch, roller, width)
    assert pitch == pytest.approx(int(name[0]) * 25.4 / 8.0)


def test_pull_of_a_power():
    """20 N m on 12 teeth of 428: 815 N on a radius of 24.53 mm."""
    omega = 10.0
    assert pull_n(20.0 * omega, omega * 0.5 * pitch_diameter_mm(12.7, 12) / 1000.0) == pytest.approx(815.0, abs=0.5)


@pytest.mark.parametrize(
    ("size", "printed", "off"),
    [("120/70 ZR17", 600.0, 0.6), ("180/55ZR17", 630.0, 0.63), ("2.75-17", 571.5, 0.01), ("3.00-18", 609.6, 0.01)],
)
def test_tyre_diameters(size, printed, off):
    """UN R75 and ETRTO table values 600 and 630 mm (from memory), 0.1 %; inch sizes as high as wide."""
    assert diameter_mm(size) == pytest.approx(printed, abs=off)


def test_safety_of_a_pull():
    """20 N m on 12 teeth of 428: 21.8 on 17.8 kN, 8.2 on a chain of the size of No. 41 (worked example)."""
    pull = 20.0 / (0.0005 * pitch_diameter_mm(12.7, 12))
    assert chains()["428"].strength_n / pull == pytest.approx(21.8, abs=0.05)
    assert chains()["41"].strength_n / pull == pytest.approx(8.2, abs=0.05)


def test_an_adjuster_moves_by_half_the_change_of_length():
    """Two links less move the axle a pitch; 3 % wear of 106 links of 12.7 mm are 40.4 mm of chain and 20.2 mm of axle (worked example)."""
    assert 12.7 * (centre_distance(108, 13, 39) - centre_distance(106, 13, 39)) == pytest.approx(12.7, abs=0.1)
    assert 0.03 * 106 * 12.7 == pytest.approx(40.4, abs=0.05)
    assert moved(500.0, 1.0, 500.0 + 0.5 * 0.03 * 106 * 12.7) == pytest.approx(20.2, abs=0.05)


@pytest.mark.parametrize(("chain", "new"), [("428", 254.0), ("520", 317.5), ("530", 317.5)])
def test_twenty_links_of_a_new_chain(chain, new):
    """A motorcycle's service manual measures 20 links: 254.0 mm of 428, 317.5 mm of 520 to 530; replaced when 2 % longer."""
    assert worn_percent(chain, new) == pytest.approx(0.0, abs=1e-9)
    assert worn_percent(chain, 1.02 * new) == pytest.approx(worn_out_percent(45))


def test_wear_on_large_sprockets():
    """Industrial drives go to 3 %, less, 200/N %, on wheels over about 67 teeth (handbooks, from memory)."""
    assert worn_out_percent(66, motorcycle=False) == pytest.approx(3.0)
    assert worn_out_percent(80, motorcycle=False) == pytest.approx(2.5)


@pytest.mark.parametrize(
    ("chain", "by_hand", "bath"), [("40", 300, 2300), ("50", 250, 2000), ("60", 220, 1800), ("80", 170, 1500)]
)
def test_classes_of_lubrication(chain, by_hand, bath):
    """Type A (by hand) and B (oil bath) up to so many feet a minute: table of a bearing dealer, mcguirebearing.com, better chain performance."""
    fpm = 0.3048 / 60.0
    assert oil_for(chains()[chain], (by_hand - 1) * fpm) == BY_HAND
    assert oil_for(chains()[chain], (by_hand + 1) * fpm) == BATH == oil_for(chains()[chain], (bath - 1) * fpm)
    assert oil_for(chains()[chain], (bath + 1) * fpm) not in (BY_HAND, BATH)


def test_service_factor_and_rolling_radius():
    """Moderate shock 1.3: Shigley, example of Table 17-22. Dynamic radius 0.971 of half the diameter, ± 1.5 %: ETRTO general notes (from memory)."""
    assert SERVICE_FACTOR == 1.3
    radius, free = rolling_radius_m("120/80-16"), diameter_mm("120/80-16") / 2000.0
    assert radius.value / free == pytest.approx(0.971, rel=0.015)
    assert radius.low / free < 0.971 * 0.985
    assert radius.high / free > 0.971 * 1.015
