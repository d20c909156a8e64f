"""The bench panel of a series-wound motor: type its points under load, see fit, residuals, bands, what it will do on the vehicle."""

from __future__ import annotations

from pathlib import Path

from ridesim.bench.motor.load_log import LoadLog, load_load_log
from ridesim.show.bench_motor import series_inputs as state
from ridesim.show.bench_motor.desk import BenchDesk, BenchPlan, Still
from ridesim.show.bench_motor.pictures import HeldDiagram
from ridesim.show.bench_motor.series_inputs import SeriesAnswer
from ridesim.show.bench_motor.series_pictures import SeriesRoadDiagram, SeriesSpeedDiagram, SeriesTorqueDiagram
from ridesim.show.bench_motor.series_tables import CAUTIONS, TABLES
from ridesim.show.bench_motor.tables import cautions_html

PLAN: BenchPlan[LoadLog, SeriesAnswer] = BenchPlan(
    name="Series-wound bench",
    style="ridesim-series",
    boxes=state.BOXES,
    load=load_load_log,
    answer=state.answer,
    drawings={
        "torque": SeriesTorqueDiagram,
        "road": SeriesRoadDiagram,
        "speed": SeriesSpeedDiagram,
        "held": HeldDiagram,
    },
    tables=TABLES,
    cautions=cautions_html(CAUTIONS),
    titles={
        "turned": "Shaft turned by hand, leads open",
        "locked": "Rotor locked, lamp in series",
        "load": "Braked, turning",
    },
    spare={"turned": 1, "locked": 4, "load": 6},
    right=frozenset({"load"}),
    left_width="36%",
    logs="*loads*.toml",
    save_as="my_motor_loads.toml",
)


def series_motor(log: str | Path = "winch_motor_loads", build: str | Path = "heron_36v") -> SeriesMotor:
    """The bench panel of a series-wound motor.

    Parameters
    ----------
    log : str or Path
        A log of points under load, or a shipped one's name.
    build : str or Path
        The vehicle the motor is meant for.
    """
    return SeriesMotor(log, build)


def still(log: str | Path = "winch_motor_loads", build: str | Path = "heron_36v") -> Still:
    """The same as a still page: pictures, sentences, tables."""
    return PLAN.still(log, build)


class SeriesMotor(BenchDesk[LoadLog, SeriesAnswer]):
    """Points under load in; parameters as in :class:`ridesim.show.bench_motor.desk.BenchDesk`."""

    def __init__(self, log: str | Path, build: str | Path, folder: Path | None = None) -> None:
        super().__init__(PLAN, log, build, folder)
