"""A bench log as text in boxes, and back: what stands in a panel's boxes, the log it means, the file it is saved in. No widgets."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ridesim.bench.logs import read_log
from ridesim.bench.motor.log import MotorLog
from ridesim.words import InputProblem

GEARING = ("gearbox_ratio", "motor_teeth", "wheel_teeth")
_WHOLE = ("motor_teeth", "wheel_teeth")
_FLAGS = ("chain",)
"""Columns that say yes or no; alone they do not make a row."""
Rows = Mapping[str, Sequence[Mapping[str, str]]]


@dataclass(frozen=True)
class Boxes:
    """Which boxes a kind of bench log has.

    Attributes
    ----------
    heading : str
        First line of a saved log.
    columns : mapping of str to tuple of str
        Kinds of rows, in order, and their boxes.
    settings, meter : tuple of str
        Boxes of the log itself and of its meters.
    kind : str
        Of the log's motor; it has no box.
    """

    heading: str
    columns: Mapping[str, tuple[str, ...]]
    settings: tuple[str, ...]
    meter: tuple[str, ...]
    kind: str

    def blank(self, kind: str) -> dict[str, str]:
        """An empty row."""
        return {column: "no" if column in _FLAGS else "" for column in self.columns[kind]}

    def texts_of(self, log: MotorLog) -> tuple[dict[str, str], dict[str, list[dict[str, str]]]]:
        """A log as it stands in the boxes: settings, and rows by kind."""
        settings = {name: _text(log, name) for name in self.settings}
        settings |= {name: f"{getattr(log.meter, name):g}" for name in self.meter}
        for name in GEARING:
            value = getattr(log.gearing, name) if log.gearing else None
            settings[name] = "" if value is None else f"{value:g}"
        rows = {
            kind: [{column: _text(row, column) for column in columns} for row in getattr(log, kind)]
            for kind, columns in self.columns.items()
        }
        return settings, rows

    def table_of(self, settings: Mapping[str, str], rows: Rows, name: str) -> dict[str, Any]:
        """The boxes as a log's table; empty rows are left out.

        Raises
        ------
        InputProblem
            Text that is no number: names the box.
        """
        table: dict[str, Any] = {"name": name, "kind": self.kind}
        for key in self.settings:
            text = settings.get(key, "")
            table[key] = _number(text, name, key) if key == "room_c" else text
        table["meter"] = {key: _number(settings.get(key, ""), name, f"meter.{key}") for key in self.meter}
        gearing = {
            key: _number(text, name, f"gearing.{key}") for key in GEARING if (text := settings.get(key, "").strip())
        }
        if gearing:
            table["gearing"] = {key: int(value) if key in _WHOLE else value for key, value in gearing.items()}
        for kind in self.columns:
            kept = [row for row in rows.get(kind, []) if filled(row)]
            table[kind] = [self._row(kind, row, f"{kind}[{number}]", name) for number, row in enumerate(kept, start=1)]
        return table

    def _row(self, kind: str, row: Mapping[str, str], place: str, name: str) -> dict[str, Any]:
        return {
            column: row[column] == "yes" if column in _FLAGS else _number(row[column], name, f"{place}.{column}")
            for column in self.columns[kind]
            if column in _FLAGS or row.get(column, "").strip()
        }

    def log_of(self, settings: Mapping[str, str], rows: Rows, name: str = "the bench log") -> MotorLog:
        """The log that stands in the boxes."""
        return read_log(MotorLog, self.table_of(settings, rows, name), name)

    def log_text(self, log: MotorLog) -> str:
        """A log as a TOML file."""
        import tomlkit

        document = tomlkit.document()
        document.add(tomlkit.comment(self.heading))
        table = {key: getattr(log, key) for key in ("name", "note", "kind", *self.settings)}
        table["meter"] = {key: getattr(log.meter, key) for key in self.meter}
        given = log.model_dump(exclude_defaults=True)
        table["meter"] |= given.pop("meter", {})
        for key, value in (table | given).items():
            if value != "":
                document[key] = list(value) if isinstance(value, tuple) else value
        return tomlkit.dumps(document)


def filled(row: Mapping[str, str]) -> bool:
    """Whether anything was typed in a row."""
    return any(text.strip() for column, text in row.items() if column not in _FLAGS)


def _text(part: Any, name: str) -> str:
    """A key's value as it stands in a box; a counted speed as turns a minute."""
    value = part.rpm if name == "speed_rpm" else getattr(part, name)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value
    return "" if value is None else f"{value:.6g}"


def _number(text: str, name: str, place: str) -> float:
    shown = text.strip()
    try:
        value = float(shown.replace(",", "."))
    except ValueError:
        raise InputProblem(name, place, f"“{shown}”" if shown else "nothing", "a number") from None
    if not np.isfinite(value):
        raise InputProblem(name, place, f"“{shown}”", "a number")
    return value
