"""What several test files share: builds made for a check, files written beside, the command called in-process."""

from __future__ import annotations

import gc
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from hypothesis import settings

from ridesim.choose import likely
from ridesim.command import main
from ridesim.data import shipped
from ridesim.day import Day, Trace, load_day, load_trace
from ridesim.forms import validate
from ridesim.vehicle import Build, load_build
from tests.few_draws import fewer, mended_once
from tests.long import LONG, THOROUGH

# Drawn cases are the same in every run, so that a test fails for everybody or for nobody. The long form draws new ones;
# what it finds is kept as an @example beside the test.
settings.register_profile("fixed", derandomize=True, deadline=None)
settings.register_profile("exploring", deadline=None, print_blob=True)
settings.load_profile("exploring" if LONG else "fixed")

BROWSER = "tests/browser/"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The browser's tests come first, then the notebooks': they take longest. What takes minutes and fails seldom is CI's."""
    if not THOROUGH:
        items[:] = [item for item in items if "thorough" not in item.keywords]
    first = (BROWSER, "tests/test_notebooks.py")
    items.sort(key=lambda item: next((n for n, place in enumerate(first) if item.nodeid.startswith(place)), len(first)))


def pytest_collection_finish() -> None:
    """What is imported by now stays: collections need not walk it. They come seldom, as memory is not what tests are short of."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """Share the tests out by file, so that what a file makes is made once; the browser's stay together, with one browser."""
    from xdist.scheduler import LoadScopeScheduling

    class ByFile(LoadScopeScheduling):
        def _split_scope(self, nodeid: str) -> str:
            return BROWSER if nodeid.startswith(BROWSER) else nodeid.split("::")[0]

    return ByFile(config, log)


RIDER_KG, MOTOR_KG, BLOCK_KG, BLOCKS = 75.0, 0.001, 0.001, 40


@pytest.fixture(scope="session")
def ideal_build() -> Callable[..., Build]:
    """Makes a build without losses, stronger than any cycle asks: what is left is what the check is about.

    ``mass_kg`` is everything, rider aboard; each section's keyword adds to or replaces its keys.
    """

    def make(mass_kg: float, **sections: dict[str, Any]) -> Build:
        blocks = sections.get("pack", {}).get("blocks_in_series", BLOCKS)
        bare = mass_kg - RIDER_KG - MOTOR_KG - blocks * BLOCK_KG
        table: dict[str, dict[str, Any]] = {
            "vehicle": {
                "mass": [{"item": "all but rider, motor and pack", "mass_kg": bare}],
                "rolling_radius_m": 0.3, "rolling_coefficient": 0.0, "breakaway_factor": 1.0, "drag_area_m2": 0.0,
                "wheels_inertia_kgm2": 0.0,
            },
            "rider": {"mass_kg": RIDER_KG},
            "motor": {
                "kind": "permanent-magnet", "torque_constant_nm_per_a": 0.5, "resistance_ohm": 1e-5, "brush_drop_v": 0.0,
                "friction_torque_nm": 0.0, "viscous_nm_per_rad_s": 0.0, "rotor_inertia_kgm2": 0.0, "mass_kg": MOTOR_KG,
                # Heat that never arrives: the motor stays at the day's temperature.
                "winding_heat_j_per_k": 1e12, "case_heat_j_per_k": 1e12, "winding_to_case_k_per_w": 1.0,
                "case_to_air_k_per_w": 1.0,
            },
            "drive": {"motor_teeth": 10, "wheel_teeth": 10, "efficiency": 1.0, "freewheel": True},
            "controller": {
                "max_battery_current_a": 5000.0, "max_motor_current_a": 5000.0, "cutoff_voltage_v": 0.0,
                "on_resistance_ohm": 0.0, "freewheel_drop_v": 0.0, "standby_current_a": 0.0, "mass_kg": 0.0,
            },
            "pack": {
                "chemistry": "lead-acid-agm", "blocks_in_series": BLOCKS, "block_capacity_ah": 10_000.0, "block_mass_kg": BLOCK_KG,
                "block_resistance_ohm": 1e-9, "polarisation_resistance_ohm": 0.0, "resistance_rise": 0.0,
                "peukert_exponent": 1.0, "capacity_per_k": 0.0, "resistance_per_k": 0.0,
                "open_circuit_v_per_cell": [[0.0, 2.0], [1.0, 2.0]], "activation_v_per_cell": 0.0, "end_voltage_v_per_cell": [[20.0, 2.0]],
            },
        }  # fmt: skip
        for name, keys in sections.items():
            table[name] = {**table.get(name, {}), **keys}
        return validate(Build, {"name": "ideal", **table}, "the test's build")

    return make


@pytest.fixture
def trace_of(tmp_path: Path) -> Callable[[str], Trace]:
    """Writes rows of a trace CSV and reads them with the project's reader."""

    def make(rows: str) -> Trace:
        file = tmp_path / "trace.csv"
        file.write_text("time_s,speed_kmh\n" + rows, encoding="utf-8")
        return load_trace(file)

    return make


@pytest.fixture(scope="session")
def make_day() -> Callable[..., Day]:
    """Makes a day at 20 °C and sea level from activities given as tables (the first starts at midnight)."""

    def make(*activities: dict[str, Any], **keys: Any) -> Day:
        from datetime import time

        first, *rest = ({"name": f"activity {i}", **each} for i, each in enumerate(activities, start=1))
        return validate(
            Day, {"ambient_c": 20.0, **keys, "activity": [{"start": time(0), **first}, *rest]}, "the test's day"
        )

    return make


@pytest.fixture(autouse=True)
def every_event_converges(monkeypatch: pytest.MonkeyPatch) -> None:
    """In no ride of any test may the moment of an event stay unfound."""
    from ridesim.ride import batch

    in_parallel = batch.in_parallel

    def checked(work: Any, runs: Any, workers: int | None = None) -> None:
        in_parallel(work, runs, workers)
        assert not runs["tally"]["unconverged"].any()

    monkeypatch.setattr(batch, "in_parallel", checked)


@pytest.fixture(autouse=True)
def few_draws(monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> None:
    """A comparison draws fewer vehicles than a user's, but where a test looks at bands or levels."""
    if "all_draws" not in request.keywords:
        monkeypatch.setattr(likely, "drawn_rides", fewer)
        monkeypatch.setattr("ridesim.choose.remedies.remedies", mended_once)


@pytest.fixture
def heron_text() -> str:
    """Text of the shipped Heron build, for tests that spoil one line of it."""
    return (shipped("data") / "builds" / "heron_36v.toml").read_text(encoding="utf-8")


@pytest.fixture
def festival_text() -> str:
    """Text of the shipped festival day."""
    return (shipped("data") / "days" / "harbour_festival.toml").read_text(encoding="utf-8")


@pytest.fixture(scope="session")
def festival() -> Day:
    """The shipped festival day."""
    return load_day("harbour_festival")


@pytest.fixture(scope="session")
def heron() -> Build:
    """The shipped Heron on 36 V."""
    return load_build("heron_36v")


class Called(NamedTuple):
    """How a command ended."""

    status: int
    out: str
    err: str


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str]) -> Callable[..., Called]:
    """Calls the command as the terminal would."""

    def run(*words: object) -> Called:
        capsys.readouterr()
        status = main([str(word) for word in words])
        return Called(status, *capsys.readouterr())

    return run
