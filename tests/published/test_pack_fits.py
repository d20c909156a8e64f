"""Fits and misfits that another hand printed, made again in that hand's way with our laws, to the printed digits.

The way of each: Peukert a straight line through the logarithms of time against current, its prefactor free, misfit in time; two wells
by the logarithm of the run time at each current; the saturating law by ampere-hours, least squares, misfit in capacity. The
project's own fits (``ride/laws``) weigh relative errors of capacity and hold Peukert at the rated capacity, so their misfits
differ; what they come to is the last test here. The electrochemical table was calculated by that hand (Sulzer et al., J.
Electrochem. Soc. 166 (2019) A2363, parameters READ); lithium from the coded parameters of Chen 2020 and Prada 2013 (READ).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq, least_squares

from ridesim.physics.capacity_laws import saturating_capacity, two_well_capacity
from ridesim.ride.pack.data_sheet import fit_sheet
from ridesim.ride.pack.laws import fit_peukert
from ridesim.vehicle import Pack
from tests.published.shared import peukert_hours, rows_of, wells
from tests.ride.block_runs import lifetime_seconds

STEADY = [
    each for each in rows_of("lead_acid_electrochemical.csv") if each["off_s"] == "0" and each["current_a"] != "51.00"
]
AMPS = np.array([float(each["current_a"]) for each in STEADY])
CHARGE = np.array([float(each["charge_ah"]) for each in STEADY])
SHEET_HOURS, SHEET_AH = np.array([20.0, 10.0, 5.0, 1.0]), np.array([40.0, 37.2, 34.0, 24.0])
SMALL_HOURS, SMALL = np.array([20.0, 10.0, 5.0, 1.0, 0.5, 0.25]), np.array([1.0, 0.94, 0.86, 0.62, 0.52, 0.43])
RATES = np.array([1 / 20, 1 / 10, 1 / 5, 1 / 2, 1.0])
NMC, LFP = np.array([5.1436, 5.1342, 5.1167, 5.0691, 4.9919]), np.array([2.2846, 2.2658, 2.2286, 2.1191, 1.9392])


def free_line(amps, charge) -> tuple[float, float]:
    """k of a line with a free prefactor, and its largest misfit in time [%] through the project's rated-capacity form."""
    hours = charge / amps
    slope, at_one = np.polyfit(np.log(amps), np.log(hours), 1)
    rated = 2.0 * np.max(hours)  # the line's capacity at any hours serves, if no row's current lies below it
    current = np.exp((np.log(rated) - at_one) / slope)
    line = np.array([peukert_hours(each, current * rated, rated, -slope) for each in amps])
    return -slope, 100.0 * float(np.max(np.abs(line / hours - 1.0)))


@pytest.mark.parametrize(
    ("amps", "charge", "k", "k_digit", "misfit", "digit"),
    [
        (AMPS[1:6], CHARGE[1:6], 1.0707, 5e-5, 2.6, 0.05),
        (AMPS[1:], CHARGE[1:], 1.130, 5e-4, 14.6, 0.05),
        (AMPS, CHARGE, 1.098, 5e-4, 20.6, 0.05),
        (SHEET_AH / SHEET_HOURS, SHEET_AH, 1.209, 5e-4, 5.2, 0.05),
        (SMALL / SMALL_HOURS, SMALL, 1.24, 5e-3, 7.8, 0.05),
        (5.0 * RATES, NMC, 1.010, 5e-4, 0.5, 0.05),
        (2.3 * RATES, LFP, 1.052, 5e-4, 3.1, 0.0511),  # ours is 3.049: printed up by a hair
    ],
    ids=["0.85-17 A", "0.85-68 A", "0.17-68 A", "40 Ah sheet", "small blocks", "NMC", "LFP"],
)
def test_peukert_lines(amps, charge, k, k_digit, misfit, digit):
    exponent, worst = free_line(amps, charge)
    assert exponent == pytest.approx(k, abs=k_digit)
    assert worst == pytest.approx(misfit, abs=digit)


def two_well_hours(current: float, whole: float, share: float, rate: float) -> float:
    return float(brentq(lambda h: current * h - two_well_capacity(h, whole, share, rate), 1e-6, 1e4))


@pytest.mark.parametrize(
    ("rows", "printed", "misfit"),
    [(slice(1, 6), (21.93, 0.685, 1.335), 0.7), (slice(0, 8), (21.68, 0.424, 6.07), 3.2)],
    ids=["0.85-17 A", "0.17-68 A"],
)
def test_two_wells_of_the_electrochemical_table(rows, printed, misfit):
    """C, c, kappa and the largest error in time. The narrow fit's kappa comes out at 1.336, a last digit from the printed 1.335."""
    amps, hours = AMPS[rows], CHARGE[rows] / AMPS[rows]

    def off(p):
        return np.log([two_well_hours(i, np.exp(p[0]), 1 / (1 + np.exp(-p[1])), np.exp(p[2])) for i in amps] / hours)

    start = [np.log(printed[0]), np.log(printed[1] / (1.0 - printed[1])), np.log(printed[2])]
    fit = least_squares(off, start, xtol=1e-14, ftol=1e-14)
    whole, share, rate = np.exp(fit.x[0]), 1.0 / (1.0 + np.exp(-fit.x[1])), np.exp(fit.x[2])
    assert whole == pytest.approx(printed[0], abs=0.005)
    assert share == pytest.approx(printed[1], abs=5e-4)
    assert rate == pytest.approx(printed[2], abs=0.005 if printed[2] > 5.0 else 0.0011)
    assert 100.0 * np.max(np.abs(np.exp(fit.fun) - 1.0)) == pytest.approx(misfit, abs=0.05)
    by_print = np.array([two_well_hours(i, *printed) for i in amps])
    assert 100.0 * np.max(np.abs(by_print / hours - 1.0)) == pytest.approx(misfit, abs=0.05)


@pytest.mark.parametrize(
    ("amps", "charge", "reference", "printed", "digits", "misfit", "digit"),
    [
        (AMPS, CHARGE, 3.4, (20.77, 1.0739, 0.828), (0.0053, 5e-5, 5.1e-4), 1.14, 0.005),
        (SHEET_AH / SHEET_HOURS, SHEET_AH, 2.0, (39.94, 1.1252, 0.7807), (0.005, 5e-5, 5e-5), 0.4, 0.05),
        (SMALL / SMALL_HOURS, SMALL, 0.05, (1.003, 1.146, 0.695), (5e-4, 5e-4, 5e-4), 1.1, 0.05),
    ],
    ids=["electrochemical", "40 Ah sheet", "small blocks"],
)
def test_saturating_fits(amps, charge, reference, printed, digits, misfit, digit):
    """C_0, K_c, d and the largest error in capacity. For the electrochemical table C_0 comes out at 20.765, d at 0.8285: between digits."""

    def off(p):
        return np.array([saturating_capacity(i, p[0], p[1], reference, p[2]) for i in amps]) - charge

    fit = least_squares(off, printed, x_scale=np.abs(printed), xtol=1e-14, ftol=1e-14)
    for found, wanted, allowed in zip(fit.x, printed, digits, strict=True):
        assert found == pytest.approx(wanted, abs=allowed)
    assert 100.0 * np.max(np.abs(fit.fun / charge)) == pytest.approx(misfit, abs=digit)


def test_two_wells_too_generous_at_high_rate():
    """34 A with the wide fit: 14.64 Ah continuous, gains of 22, 16, 12 and 38 %. The fit's three printed digits give 14.629 Ah; all its
    digits give the printed value."""
    b = wells(21.6823 * 3600.0, 0.424265, 6.06884 / 3600.0)
    steady = 34.0 * lifetime_seconds([(1e9, 34.0)], b)
    assert steady / 3600.0 == pytest.approx(14.64, abs=0.0051)
    for (on, off), gain in {(60.0, 60.0): 22, (300.0, 300.0): 16, (600.0, 600.0): 12, (60.0, 300.0): 38}.items():
        whole, part = divmod(lifetime_seconds([(on, 34.0), (off, 0.0)], b, repeat=True), on + off)
        assert 100.0 * (34.0 * (whole * on + min(part, on)) / steady - 1.0) == pytest.approx(gain, abs=0.5)


FRACTIONS = {
    1.05: (1.0, 0.968, 0.936, 0.914, 0.896, 0.867, 0.839, 0.812),
    1.10: (1.0, 0.939, 0.882, 0.842, 0.811, 0.762, 0.715, 0.671),
    1.15: (1.0, 0.914, 0.835, 0.781, 0.741, 0.677, 0.618, 0.565),
    1.20: (1.0, 0.891, 0.794, 0.729, 0.681, 0.607, 0.541, 0.482),
    1.25: (1.0, 0.871, 0.758, 0.684, 0.631, 0.549, 0.478, 0.416),
    1.30: (1.0, 0.852, 0.726, 0.645, 0.588, 0.501, 0.427, 0.364),
}


@pytest.mark.parametrize("exponent", FRACTIONS)
def test_shares_of_the_20_hour_capacity(exponent):
    """Q/C = (t/H)^((k-1)/k) at 20, 10, 5, 3, 2, 1, 1/2, 1/4 h, printed to three decimals (calculated by another hand)."""
    pack = Pack.model_validate({"chemistry": "lead-acid-agm", "block_capacity_ah": 1.0, "peukert_exponent": exponent})
    hours = np.array([20.0, 10.0, 5.0, 3.0, 2.0, 1.0, 0.5, 0.25])
    assert fit_peukert(pack).capacity_in(hours) == pytest.approx(FRACTIONS[exponent], abs=5e-4)


def test_k_from_two_test_points():
    """k = 1.10731 from k = 1/(1 - ln(Q1/Q2)/ln(t1/t2)). The printed list names no inputs; five fourths of the charge in ten times the time
    (ours, as 100 Ah in 20 h against 80 Ah in 2 h) give these six digits."""
    rows = [(20.0, 100.0), (2.0, 80.0), (1.0, 70.0)]
    assert fit_sheet(rows).local_exponents[-1] == pytest.approx(1.10731, abs=5e-6)


def test_the_project_s_own_fits_of_the_same_table():
    """Least squares of relative errors at the rows' hours: no printed value belongs to them, but the saturating law and the two wells may
    not miss by more than the printed 1.14 and 3.2 %, and Peukert, held at the rated capacity, misses by a fifth all the same."""
    rows = list(zip(CHARGE / AMPS, CHARGE, strict=True))
    fit = fit_sheet(rows, rated_hours=CHARGE[1] / AMPS[1])
    assert 0.9 < fit["saturating"].misfit_percent <= 1.145
    assert 2.7 < fit["two-well"].misfit_percent <= 3.25
    assert 15.0 < fit["peukert"].misfit_percent < 21.0
