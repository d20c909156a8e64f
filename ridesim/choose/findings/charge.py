"""The pack's charge on the day: reserve, empty, cut-off, harsh currents; and the place where it is charged."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ridesim.choose.findings.places import where
from ridesim.choose.findings.safety import charging_place
from ridesim.ride.result import Ride
from ridesim.words import Finding, percent


def runs_low(ride: Ride) -> Iterator[Finding]:
    """The pack is empty, or the reserve is reached; and where the cut-off holds the pull back well before that."""
    moments, build, end = ride.moments, ride.build, ride.outcome.end_state_of_charge
    if moments.empty_s is not None:
        text = f"The pack is empty at {where(ride, moments.empty_s)}."
        yield Finding("pack-empty", "stop", text, {"clock_s": moments.empty_s})
    elif moments.reserve_s is not None:
        spare = ride.outcome.spare_km
        more = f", good for {spare:.1f} km more before it is reached again" if spare is not None and spare > 0.0 else ""
        text = (
            f"The reserve of {percent(build.pack.reserve)} is reached at {where(ride, moments.reserve_s)}; {percent(end)} is left at the end, what "
            f"comes back at rest included{more}."
        )
        yield Finding("reserve-reached", "warning", text, {"clock_s": moments.reserve_s, "end_state_of_charge": end})
    empty_s = moments.empty_s if moments.empty_s is not None else math.inf
    folds_back = build.controller.cutoff_action == "fold-back"
    if folds_back and moments.cut_off_s is not None and moments.cut_off_s < empty_s - 60.0:
        text = f"The controller's cut-off of {build.cutoff_voltage_v:.1f} V holds the pull back from {where(ride, moments.cut_off_s)} on."
        numbers = {"clock_s": moments.cut_off_s, "cutoff_voltage_v": build.cutoff_voltage_v}
        yield Finding("cut-off-reached", "warning", text, numbers)


def harsh_rate(ride: Ride) -> Iterator[Finding]:
    """A current over a minute that wears the pack early."""
    pack, amps = ride.build.pack, ride.moments.sustained_current_a
    rate = amps / pack.capacity_ah
    if rate > pack.kind.harsh_above_c:
        text = (
            f"{amps:.1f} A over a minute is {rate:.2f} times the {pack.capacity_ah:g} Ah label an hour; more than "
            f"{pack.kind.harsh_above_c:g} is harsh for {pack.chemistry} and wears it early."
        )
        yield Finding("harsh-rate", "warning", text, {"current_a": amps, "rate_per_h": rate})


def charging_during_the_day(ride: Ride) -> Iterator[Finding]:
    """What a charge during the day asks of the air."""
    if any(activity.charge_current_a > 0.0 for activity in ride.asked.activity):
        yield charging_place(ride.build.pack)
