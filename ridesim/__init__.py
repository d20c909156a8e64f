"""ridesim: will the show vehicle do its day? The public names, loaded when first used."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ridesim.bench.discharge.identify import identify_block as identify_block
    from ridesim.bench.logs import load_log as load_log
    from ridesim.bench.motor.identify import identify_motor as identify_motor
    from ridesim.bench.warm_up import identify_warm_up as identify_warm_up
    from ridesim.choose.compare import Comparison as Comparison
    from ridesim.choose.compare import compare as compare
    from ridesim.choose.packs import charge_plan as charge_plan
    from ridesim.choose.packs import pack_answers as pack_answers
    from ridesim.day import Day as Day
    from ridesim.day import load_day as load_day
    from ridesim.ride.result import Ride as Ride
    from ridesim.ride.simulate import simulate as simulate
    from ridesim.ride.simulate import simulate_many as simulate_many
    from ridesim.ride.steady import pull_curve as pull_curve
    from ridesim.ride.steady import steady_range as steady_range
    from ridesim.ride.steady import steepest_start_percent as steepest_start_percent
    from ridesim.ride.steady import steepest_steady_percent as steepest_steady_percent
    from ridesim.ride.steady import time_to_speed as time_to_speed
    from ridesim.ride.steady import top_speed_kmh as top_speed_kmh
    from ridesim.vehicle import Build as Build
    from ridesim.vehicle import load_build as load_build
    from ridesim.vehicle import save_build as save_build
    from ridesim.words import Finding as Finding
    from ridesim.words import InputProblem as InputProblem
    from ridesim.words import Uncertain as Uncertain

_HOME = {
    "Build": "vehicle",
    "load_build": "vehicle",
    "save_build": "vehicle",
    "identify_block": "bench.discharge.identify",
    "load_log": "bench.logs",
    "identify_motor": "bench.motor.identify",
    "identify_warm_up": "bench.warm_up",
    "Comparison": "choose.compare",
    "compare": "choose.compare",
    "charge_plan": "choose.packs",
    "pack_answers": "choose.packs",
    "Day": "day",
    "load_day": "day",
    "Ride": "ride.result",
    "simulate": "ride.simulate",
    "simulate_many": "ride.simulate",
    "pull_curve": "ride.steady",
    "steady_range": "ride.steady",
    "steepest_start_percent": "ride.steady",
    "steepest_steady_percent": "ride.steady",
    "time_to_speed": "ride.steady",
    "top_speed_kmh": "ride.steady",
    "Finding": "words",
    "InputProblem": "words",
    "Uncertain": "words",
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
