"""What to watch, in words with their numbers: one module a subject, one function a finding."""

from __future__ import annotations

from itertools import chain

from ridesim.choose.candidate import Candidate
from ridesim.choose.findings import balance, brakes, charge, controller, day, direction, heat, motor, start
from ridesim.choose.findings.charging import charging_findings
from ridesim.choose.findings.fastening import plate_slips
from ridesim.choose.findings.protection import protection_opens
from ridesim.choose.findings.safety import above_60_volts
from ridesim.choose.findings.sprockets import chain_findings
from ridesim.choose.findings.storage import storage_findings
from ridesim.choose.findings.wiring import described_wiring_fails
from ridesim.vehicle.doubtful import doubtful_values
from ridesim.words import Finding

RANK = {"stop": 0, "warning": 1, "advice": 2}
"""Order of severities, worst first."""


def findings_for(c: Candidate) -> tuple[Finding, ...]:
    """All findings about a candidate, worst first; those of one severity in the order below."""
    build, ambient_c = c.build, c.ride.day.ambient_c
    found = chain(
        day.not_computed(c.ride),
        doubtful_values(build),
        start.will_not_start(c),
        day.too_slow(c),
        day.not_finished(c.ride),
        charge.runs_low(c.ride),
        protection_opens(c.ride),
        described_wiring_fails(c.ride),
        heat.winding_hot(c.ride),
        heat.stalled(c.ride),
        controller.voltage(build, ambient_c),
        above_60_volts(build.pack, ambient_c),
        controller.driven_back(c.ride),
        charge.harsh_rate(c.ride),
        brakes.brakes(build, c.ride.day, c.top_speed_kmh),
        balance.weight_findings(c),
        balance.blocks_fit(build),
        chain_findings(build),
        plate_slips(build),
        charge.charging_during_the_day(c.ride),
        storage_findings(c.ride),
        charging_findings(c.ride),
        day.late(c.ride),
        day.lights(c.ride),
        motor.runaway(build),
        motor.coarse_curve(build),
        heat.doubtful_nameplate(build),
        heat.guessed_heat(build),
        motor.above_nameplate(build),
        motor.magnets(build, ambient_c),
        controller.one_current(build, c.ride.day),
        direction.turns_against(build),
        direction.reversal(build),
        controller.capacitors(build),
        heat.stalls_quickly(build, ambient_c),
        controller.cuts_out(build, c.ride.day),
        start.soft_start(build, c.ride.day),
        controller.cut_outs(c.ride),
    )
    return tuple(sorted(found, key=lambda finding: RANK[finding.severity]))
