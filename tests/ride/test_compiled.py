"""The compiled core and the same code as plain Python give the same numbers."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import pytest

PROGRAM = """
import json
from ridesim.vehicle import load_build
from ridesim.day import Activity, load_route
from ridesim.ride.simulate import simulate
from ridesim.ride.steady import steady_range, steepest_start_percent, time_to_speed, top_speed_kmh
from tests.ride.machines import day_of, make_build, trace_of

build = load_build("heron_36v")
day = day_of(
    Activity(name="ramp", route=load_route("site_ramp")),
    Activity(name="charge", duration_min=5.0, charge_current_a=4.0),
    Activity(name="crawl", trace=trace_of((0.0, 0.0), (5.0, 9.0), (40.0, 9.0), (45.0, 0.0), (60.0, 0.0)), repeats=2),
)
answers = []
for law in ("peukert", "two-well", "saturating"):
    outcome = simulate(build, day, law).outcome
    answers += [outcome.end_state_of_charge, outcome.energy_wh, outcome.lowest_pack_voltage_v, outcome.hottest_winding_c]
switches = make_build(
    controller__cutoff_action="cut-out", controller__cutoff_voltage_v=36.6, controller__restart_voltage_v=37.0, controller__ramp_s=1.0
)
ride = simulate(switches, day.changed({"start_state_of_charge": 0.6}))
assert ride.moments.cut_outs > 1
answers += [ride.moments.cut_outs, ride.moments.cut_off_s, ride.outcome.distance_km, time_to_speed(switches, 8.0).time_s]
answers += [top_speed_kmh(build), steepest_start_percent(build), steady_range(build, 12.0).distance_km]
print(json.dumps(answers))
"""


def _as_plain_python() -> list[float]:
    run = subprocess.run(
        [sys.executable, "-c", PROGRAM],
        env={**os.environ, "NUMBA_DISABLE_JIT": "1"},
        capture_output=True,
        text=True,
        check=True,
    )
    return json.loads(run.stdout)


@pytest.mark.thorough
def test_compiled_and_plain_agree(capsys):
    exec(PROGRAM, {})  # here everything is compiled; as plain Python it needs a process of its own
    assert json.loads(capsys.readouterr().out) == pytest.approx(_as_plain_python(), rel=1e-9)
