"""A bench log's keys as the panel calls them: rows by their titles, settings by their labels. No widgets."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from ridesim.words import InputProblem

TESTED = "motor tested"
"""Begins the note of a build whose motor comes from the bench."""
LABELS = {
    "voltage_v": "volts", "current_a": "amps", "speed_rpm": "turns/min", "chain": "chain on", "torque_nm": "brake, N·m",
    "winding_c": "winding, °C",
}  # fmt: skip
"""Columns of rows."""
SETTING_LABELS = {
    "speed_measured_at": "Turns counted at", "gearbox_ratio": "Gearbox ratio", "motor_teeth": "Motor teeth", "wheel_teeth": "Wheel teeth",
    "room_c": "Room, °C", "magnet": "Magnets", "voltage_percent": "Volts ± %", "current_percent": "Amps ± %", "speed_percent": "Speed ± %",
    "torque_percent": "Brake ± %",
}  # fmt: skip
"""Keys of the log itself, its gearing and its meters."""


class Titles:
    """Says a log's rows and keys as they stand on the panel.

    Parameters
    ----------
    titles : mapping of str to str
        Kinds of rows in words.
    numbers : mapping of str to sequence of int, optional
        For each kind the numbers on the panel of the rows that are filled, in order: a log has no empty rows, the panel may
        have some in between. Left out: counted as in the log.
    """

    def __init__(self, titles: Mapping[str, str], numbers: Mapping[str, Sequence[int]] | None = None) -> None:
        self._titles, self._numbers = titles, numbers or {}
        self._row = re.compile(rf"\b({'|'.join(titles)})\[(\d+)\](?:\.({'|'.join(LABELS)})\b)?")

    def say(self, text: str) -> str:
        """Rows named in a text, such as ``free_spin[3].voltage_v``, as "Free spin 3, volts"."""
        return self._row.sub(self._title, text)

    def problem(self, problem: InputProblem) -> InputProblem:
        """The same refusal with its place as the panel calls it."""
        setting = SETTING_LABELS.get(problem.place.rpartition(".")[2])
        place = self._titles.get(problem.place) or setting or self.say(problem.place)
        return InputProblem(problem.file, place, problem.found, problem.expected, problem.hint)

    def _title(self, found: re.Match[str]) -> str:
        kind, number, column = found[1], int(found[2]), found[3]
        on_panel = self._numbers.get(kind, ())
        shown = on_panel[number - 1] if 0 < number <= len(on_panel) else number
        return f"{self._titles[kind]} {shown}" + (f", {LABELS[column]}" if column else "")
