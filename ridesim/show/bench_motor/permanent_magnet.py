"""The bench panel of a motor with magnets: type a spin test's measurements, see fit, residuals, bands, what it will do on the vehicle."""

from __future__ import annotations

from pathlib import Path

from ridesim.bench.motor.log import SpinLog, load_spin_log
from ridesim.show.bench_motor import inputs as state
from ridesim.show.bench_motor.desk import BenchDesk, BenchPlan, Still
from ridesim.show.bench_motor.inputs import BenchAnswer
from ridesim.show.bench_motor.pictures import DragDiagram, HeldDiagram, RoadDiagram, SpeedDiagram
from ridesim.show.bench_motor.tables import TABLES, cautions_html

PLAN: BenchPlan[SpinLog, BenchAnswer] = BenchPlan(
    name="Bench",
    style="ridesim-spin",
    boxes=state.BOXES,
    load=load_spin_log,
    answer=state.answer,
    drawings={"speed": SpeedDiagram, "road": RoadDiagram, "held": HeldDiagram, "drag": DragDiagram},
    tables=TABLES,
    cautions=cautions_html(),
    titles={
        "turned": "Shaft turned, leads open", "no_load": "Free spin", "locked": "Rotor held, lamp in series", "load": "Known brake",
    },
    spare={"turned": 1, "no_load": 5, "locked": 4, "load": 1},
    right=frozenset({"locked", "load"}),
    left_width="50%",
    logs="*bench*.toml",
    save_as="my_motor_bench.toml",
)  # fmt: skip


def bench_motor(log: str | Path = "heron_motor_bench", build: str | Path = "heron_36v") -> BenchMotor:
    """The bench panel of a motor with magnets.

    Parameters
    ----------
    log : str or Path
        A bench log, or a shipped one's name.
    build : str or Path
        The vehicle the motor is meant for.
    """
    return BenchMotor(log, build)


def still(log: str | Path = "heron_motor_bench", build: str | Path = "heron_36v") -> Still:
    """The same as a still page: pictures, sentences, tables."""
    return PLAN.still(log, build)


class BenchMotor(BenchDesk[SpinLog, BenchAnswer]):
    """Spin test in; parameters as in :class:`ridesim.show.bench_motor.desk.BenchDesk`."""

    def __init__(self, log: str | Path, build: str | Path, folder: Path | None = None) -> None:
        super().__init__(PLAN, log, build, folder)
