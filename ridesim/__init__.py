"""ridesim: will the show vehicle do its day? The public names, loaded when first used."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ridesim.bench.discharge.identify import identify_block
    from ridesim.bench.logs import load_log
    from ridesim.bench.motor.identify import identify_motor
    from ridesim.bench.warm_up import identify_warm_up
    from ridesim.choose.compare import Comparison, compare
    from ridesim.choose.gearing import gearing
    from ridesim.choose.packs import charge_plan, pack_answers
    from ridesim.choose.wiring import wiring
    from ridesim.day import Day, load_day
    from ridesim.forms import exact
    from ridesim.ride.result import Ride
    from ridesim.ride.simulate import simulate, simulate_many
    from ridesim.ride.steady import (
        pull_curve,
        steady_range,
        steepest_start_percent,
        steepest_steady_percent,
        time_to_speed,
        top_speed_kmh,
    )
    from ridesim.show.wiring_diagram import wiring_diagram
    from ridesim.sizing.balance import balance
    from ridesim.vehicle import Build, load_build, save_build
    from ridesim.words import Finding, InputProblem, Uncertain

# The same names for the running program, which loads them one by one: SciPy, pandas and Numba take seconds to import.
_HOME = {
    name: module
    for module, names in {
        "bench.discharge.identify": "identify_block",
        "bench.logs": "load_log",
        "bench.motor.identify": "identify_motor",
        "bench.warm_up": "identify_warm_up",
        "choose.compare": "Comparison compare",
        "choose.gearing": "gearing",
        "choose.packs": "charge_plan pack_answers",
        "choose.wiring": "wiring",
        "day": "Day load_day",
        "forms": "exact",
        "ride.result": "Ride",
        "ride.simulate": "simulate simulate_many",
        "ride.steady": "pull_curve steady_range steepest_start_percent steepest_steady_percent time_to_speed top_speed_kmh",
        "show.wiring_diagram": "wiring_diagram",
        "sizing.balance": "balance",
        "vehicle": "Build load_build save_build",
        "words": "Finding InputProblem Uncertain",
    }.items()
    for name in names.split()
}

__all__ = sorted(_HOME)


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'ridesim' has no attribute {name!r}")
    value = getattr(import_module(f"ridesim.{_HOME[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return [*globals(), *__all__]
