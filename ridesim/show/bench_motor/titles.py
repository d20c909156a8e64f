"""A bench log's keys as the panel calls them: rows by their titles, settings by their labels. No widgets."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from ridesim.words import InputProblem

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
_ELSEWHERE = (
    ("the [gearing]", "the gearing"),
    ('Give a log with kind = "series-wound":', "Use the series-wound panel below:"),
    ("give a permanent-magnet motor's log,", "use the panel above,"),
)
"""Ways out that a person at the page finds by another name."""
_SETTING = re.compile(rf"\b(?:meter\.|gearing\.)?({'|'.join(SETTING_LABELS)})\b")
_IN_SENTENCE = re.compile(rf"\b(?:meter\.|gearing\.)?({'|'.join(key for key in SETTING_LABELS if '_' in key)})\b")
"""In a sentence "magnet" is a plain word."""


def elsewhere(text: str) -> str:
    """A sentence with the ways out that the page has."""
    for program, page in _ELSEWHERE:
        text = text.replace(program, page)
    return text


class Titles:
    """Says a log's keys as they stand on the panel.

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
        kinds = "|".join(titles)
        self._row = re.compile(rf"\b({kinds})\[(\d+)\](?:\.({'|'.join(LABELS)})\b)?")
        self._kind = re.compile(rf"\[\[({kinds})\]\]")

    def say(self, text: str) -> str:
        """Rows named in a text, such as ``free_spin[3].voltage_v``, as "Free spin 3, volts"."""
        text = self._kind.sub(lambda found: f"“{self._titles[found[1]]}”", elsewhere(text))
        return self._row.sub(lambda found: self._title(found[1], int(found[2]), found[3]), text)

    def problem(self, problem: InputProblem) -> InputProblem:
        """The same refusal in the panel's words."""
        place = self._titles.get(problem.place) or _SETTING.sub(
            lambda found: SETTING_LABELS[found[1]], self.say(problem.place)
        )
        found, expected, hint = (
            _IN_SENTENCE.sub(lambda found: f"“{SETTING_LABELS[found[1]]}”", self.say(text))
            for text in (problem.found, problem.expected, problem.hint)
        )
        return InputProblem(problem.file, place, found, expected, hint)

    def _title(self, kind: str, number: int, column: str | None) -> str:
        on_panel = self._numbers.get(kind, ())
        shown = on_panel[number - 1] if 0 < number <= len(on_panel) else number
        return f"{self._titles[kind]} {shown}" + (f", {LABELS[column]}" if column else "")
