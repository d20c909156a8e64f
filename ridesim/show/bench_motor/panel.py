"""The two bench panels: type a bench test's rows, see fit, residuals, bands, what the motor will do on the vehicle."""

from __future__ import annotations

from pathlib import Path

from ridesim.show.bench_motor.desk import BenchDesk
from ridesim.show.bench_motor.inputs import MAGNET_BOXES, SERIES_BOXES
from ridesim.show.bench_motor.pictures import HeldDiagram, RoadDiagram
from ridesim.show.bench_motor.pictures_magnet import DragDiagram, SpeedDiagram
from ridesim.show.bench_motor.pictures_series import BrakedSpeedDiagram, TorqueDiagram
from ridesim.show.bench_motor.plan import BenchPlan
from ridesim.show.bench_motor.tables import CAUTIONS, SERIES_CAUTIONS

MAGNET = BenchPlan(
    name="Bench",
    style="ridesim-spin",
    boxes=MAGNET_BOXES,
    drawings={"speed": SpeedDiagram, "road": RoadDiagram, "held": HeldDiagram, "drag": DragDiagram},
    cautions=CAUTIONS,
    titles={
        "turned": "Turned, leads open",
        "free_spin": "Free spin",
        "held": "Held, lamp in series",
        "braked": "Braked",
    },
    spare={"turned": 1, "free_spin": 5, "held": 4, "braked": 1},
    right=frozenset({"held", "braked"}),
    left_width="50%",
    logs="*bench*.toml",
    save_as="my_motor_bench.toml",
    other="the series-wound panel below",
)
SERIES = BenchPlan(
    name="Series-wound bench",
    style="ridesim-series",
    boxes=SERIES_BOXES,
    drawings={"torque": TorqueDiagram, "road": RoadDiagram, "speed": BrakedSpeedDiagram, "held": HeldDiagram},
    cautions=SERIES_CAUTIONS,
    titles={
        "turned": "Turned by hand, leads open", "held": "Rotor held, lamp in series", "braked": "Braked, turning",
    },
    spare={"turned": 1, "held": 4, "braked": 6},
    right=frozenset({"braked"}),
    left_width="36%",
    logs="*loads*.toml",
    save_as="my_motor_loads.toml",
    other="the panel above",
)  # fmt: skip


def bench_motor(log: str | Path = "heron_motor_bench", build: str | Path = "heron_36v") -> BenchDesk:
    """The bench panel of a permanent-magnet motor.

    Parameters
    ----------
    log : str or Path
        A bench log, or a shipped one's name.
    build : str or Path
        The vehicle the motor is meant for.
    """
    return BenchDesk(MAGNET, log, build)


def series_motor(log: str | Path = "winch_motor_loads", build: str | Path = "heron_36v") -> BenchDesk:
    """The bench panel of a series-wound motor; parameters as in :func:`bench_motor`."""
    return BenchDesk(SERIES, log, build)
