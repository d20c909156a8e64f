"""What the bench panel computes: typed text → bench log → motor → predictions. No widgets, no pictures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.bench.spin_log import RPM, SpinLog, read_spin_log
from ridesim.bench.spin_prediction import Further, Prediction, band, next_measurements, plain_sentence, predict
from ridesim.bench.spin_test import SpinResult, identify
from ridesim.build import Build
from ridesim.ride.motor_answers import MotorNumbers, Vehicle, at_voltage, no_load_speed
from ridesim.words import InputProblem, Uncertain

VOLTAGES = (24.0, 36.0, 48.0)
MOST_V = 50.0
KINDS = ("turned", "no_load", "locked", "load")
COLUMNS = {
    "turned": ("voltage_v", "speed_rpm"),
    "no_load": ("voltage_v", "current_a", "speed_rpm", "chain"),
    "locked": ("voltage_v", "current_a"),
    "load": ("voltage_v", "current_a", "speed_rpm", "torque_nm"),
}
SETTINGS = ("room_c", "magnet", "speed_measured_at")
GEARING = ("gearbox_ratio", "motor_teeth", "wheel_teeth")
METER = ("voltage_percent", "current_percent", "speed_percent")
_WHOLE = ("motor_teeth", "wheel_teeth")


@dataclass(frozen=True)
class Band:
    """A quantity along voltages: middle, lowest, highest."""

    volts: NDArray[np.float64]
    value: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]


@dataclass(frozen=True)
class BenchAnswer:
    """Everything the bench panel shows.

    Attributes
    ----------
    log : SpinLog
    build : Build
    result : SpinResult
    speeds : Band
        No-load speed of the motor's shaft against its terminal voltage. [turns a minute]
    predictions : tuple of Prediction
        At 24, 36, 48 V.
    further : tuple of Further
        What to measure next, best first, for the top speed at 36 V.
    sentence : str
        "12 V on the stand turns the wheel at ..."
    """

    log: SpinLog
    build: Build
    result: SpinResult
    speeds: Band
    predictions: tuple[Prediction, ...]
    further: tuple[Further, ...]
    sentence: str


def answer(log: SpinLog, build: Build, file: str = "the bench log") -> BenchAnswer:
    """Identify the motor and predict.

    Parameters
    ----------
    log : SpinLog
        As typed.
    build : Build
        The vehicle it is meant for.
    file : str
        What messages call the log.

    Raises
    ------
    InputProblem
        As :func:`ridesim.bench.spin_test.identify`.
    """
    result = identify(log, file)
    target = Vehicle.of(at_voltage(build, 36.0))
    return BenchAnswer(
        log=log,
        build=build,
        result=result,
        speeds=_speeds(result),
        predictions=predict(result, build, VOLTAGES),
        further=next_measurements(result, target.top_speed_kmh),
        sentence=plain_sentence(result, build),
    )


def _speeds(result: SpinResult) -> Band:
    """Band of the no-load speed from 0 to a little above 48 V, at the room's temperature."""
    from ridesim.bench.spin_model import magnet_coefficient

    volts = np.linspace(2.0, MOST_V, 25)
    per_k = magnet_coefficient(result.log.magnet)

    def at(voltage: float) -> Uncertain:
        def speed(motor: MotorNumbers) -> float:
            return no_load_speed(motor, voltage, result.log.room_c, per_k) / RPM

        return band(result, speed)

    bands = [at(float(voltage)) for voltage in volts]
    value, low, high = (np.array([getattr(each, name) for each in bands]) for name in ("value", "low", "high"))
    return Band(volts, value, low, high)


def texts_of(log: SpinLog) -> tuple[dict[str, str], dict[str, list[dict[str, str]]]]:
    """A log as it stands in the panel's boxes: settings, and rows by kind."""
    settings = {"room_c": f"{log.room_c:g}", "magnet": log.magnet, "speed_measured_at": log.speed_measured_at}
    for name in METER:
        settings[name] = f"{getattr(log.meter, name):g}"
    for name in GEARING:
        value = getattr(log.gearing, name) if log.gearing else None
        settings[name] = "" if value is None else f"{value:g}"
    rows: dict[str, list[dict[str, str]]] = {kind: [] for kind in KINDS}
    for kind in KINDS:
        for row in getattr(log, kind):
            rows[kind].append({column: _text(row, column) for column in COLUMNS[kind]})
    return settings, rows


def _text(row: Any, column: str) -> str:
    if column == "chain":
        return "yes" if row.chain else "no"
    value = row.rpm if column == "speed_rpm" else getattr(row, column)
    return "" if value is None else f"{value:.6g}"


def table_of(
    settings: Mapping[str, str], rows: Mapping[str, Sequence[Mapping[str, str]]], name: str
) -> tuple[dict[str, Any], dict[str, list[int]]]:
    """The panel's boxes as a log's table, and which typed row became which row of the log (empty rows are left out).

    Raises
    ------
    InputProblem
        Text that is no number: names the box.
    """
    table: dict[str, Any] = {"name": name}
    for key in SETTINGS:
        text = settings.get(key, "")
        table[key] = _number(text, name, key) if key == "room_c" else text
    table["meter"] = {key: _number(settings.get(key, ""), name, f"meter.{key}") for key in METER}
    gearing = {key: _number(text, name, f"gearing.{key}") for key in GEARING if (text := settings.get(key, "").strip())}
    if gearing:
        table["gearing"] = {key: int(value) if key in _WHOLE else value for key, value in gearing.items()}
    kept: dict[str, list[int]] = {}
    for kind in KINDS:
        kept[kind] = [
            place
            for place, row in enumerate(rows.get(kind, []))
            if any(_filled(row, column) for column in COLUMNS[kind])
        ]
        table[kind] = [
            {
                column: row[column] == "yes"
                if column == "chain"
                else _number(row[column], name, f"{kind}[{number}].{column}")
                for column in COLUMNS[kind]
                if column == "chain" or row.get(column, "").strip()
            }
            for number, row in enumerate((rows[kind][place] for place in kept[kind]), start=1)
        ]
    return table, kept


def _filled(row: Mapping[str, str], column: str) -> bool:
    return column != "chain" and bool(row.get(column, "").strip())


def _number(text: str, name: str, place: str) -> float:
    shown = text.strip()
    try:
        value = float(shown.replace(",", "."))
    except ValueError:
        raise InputProblem(name, place, f"“{shown}”" if shown else "nothing", "a number") from None
    if not np.isfinite(value):
        raise InputProblem(name, place, f"“{shown}”", "a number")
    return value


def log_of(
    settings: Mapping[str, str], rows: Mapping[str, Sequence[Mapping[str, str]]], name: str = "the bench log"
) -> tuple[SpinLog, dict[str, list[int]]]:
    """The log that stands in the panel's boxes, and which typed row became which."""
    table, kept = table_of(settings, rows, name)
    return read_spin_log(table, name), kept


def log_text(log: SpinLog) -> str:
    """A log as a TOML file."""
    import tomlkit

    document = tomlkit.document()
    document.add(tomlkit.comment("Bench log of a spin test, written by ridesim."))
    for key in ("name", "note", *SETTINGS):
        value = getattr(log, key)
        if value != "":
            document[key] = value
    changed = log.meter.model_dump(exclude_defaults=True)
    document["meter"] = {key: getattr(log.meter, key) for key in METER} | changed
    if log.gearing is not None:
        document["gearing"] = {key: value for key in GEARING if (value := getattr(log.gearing, key)) is not None}
    for kind in KINDS:
        listed = tomlkit.aot()
        for row in getattr(log, kind):
            listed.append(tomlkit.item(dict(row.model_dump(exclude_defaults=True))))
        if len(listed):
            document[kind] = listed
    return tomlkit.dumps(document)
