"""Where the energy went: one bar a destination and candidate."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import Any

from matplotlib.patches import PathPatch
from matplotlib.path import Path

from ridesim.show.choose_drive.inputs import Answer
from ridesim.show.panel.drawing import Drawing
from ridesim.show.panel.note import note
from ridesim.show.pictures.furniture import Plot, boxes, even_ticks
from ridesim.show.pictures.scales import round_top
from ridesim.show.style import HATCHES, NOTE_PT, Look

GROUPS: dict[str, tuple[str, ...]] = {
    "rolling": ("rolling",),
    "air": ("air",),
    "brake": ("brake",),
    "hills": ("height", "speed"),
    "chain, gears": ("chain",),
    "motor": ("motor copper", "brushes", "motor friction"),
    "pack": ("pack resistance", "polarisation", "charge not stored"),
    "electronics": ("controller", "standby", "lights"),
    "charger": ("charger",),
}
"""What is shown, and which entries of the ledger it adds up; together they are the whole ledger (kinetic energy ends at zero)."""
LEFT, RIGHT, TOP, BOTTOM = 92.0, 46.0, 6.0, 38.0


def grouped(ledger: Mapping[str, float]) -> dict[str, float]:
    """The ledger in the groups of the picture. [Wh]"""
    return {name: sum(ledger.get(entry, 0.0) for entry in entries) for name, entries in GROUPS.items()}


class LedgerBars(Drawing):
    """Energy by destination."""

    def build(self, figure: Any, colours: Look, width: float, height: float) -> None:
        """Axes, bars and numbers."""
        self.width = width
        self.plot = Plot(figure, colours, (width, height), (LEFT, RIGHT, TOP, BOTTOM))
        self.axes = self.plot.axes
        self.axes.set_ylim(len(GROUPS) - 0.4, -0.6)
        # One path a candidate: a patch for every bar would cost four times as much to draw.
        self.bars = [
            self.axes.add_artist(
                PathPatch(Path([(0, 0)]), fc=colours.paper if hatch else colour, ec=colour, hatch=hatch, lw=1.2, transform=self.axes.transData)
            )
            for colour, hatch in zip(colours.candidates, HATCHES, strict=True)
        ]  # fmt: skip
        self.words = [note(self.axes, size=NOTE_PT, color=colours.ink, va="center") for _ in GROUPS]
        self.movers = [*self.bars, *self.words]

    def _limits(self, answer: Answer) -> tuple[float, float]:
        values = [v for one in answer.each for v in grouped(one.candidate.ride.ledger_wh).values()]
        top, low = round_top(max(values), 1.02), -min(values)
        return -round_top(low, 1.15) if low > 0.015 * top else 0.0, top

    def frame_key(self, answer: Answer) -> Hashable:
        """Limits and number of candidates."""
        return (*self._limits(answer), len(answer.each))

    def set_frame(self, answer: Answer) -> None:
        """Limits, and room for the numbers at the bars' ends."""
        width = self.plot.width = self.width - LEFT - 14.0 - 27.0 * len(answer.each)
        box = self.axes.get_position()
        self.axes.set_position([box.x0, box.y0, width / self.width, box.height])
        limits = self._limits(answer)
        self.axes.set_xlim(*limits)
        ticks = even_ticks(*limits, max(3, int(width / 48.0)))
        self.plot.set(ticks, list(enumerate(GROUPS)), below="energy over the day, Wh", lines=(True, False))

    def move(self, answer: Answer) -> list[Any]:
        """Bars and their numbers."""
        drawn: list[Any] = []
        count = len(answer.each)
        low, top = self.axes.get_xlim()
        gap = 4.0 * (top - low) / self.plot.width
        sums = [grouped(one.candidate.ride.ledger_wh) for one in answer.each]
        thick = 0.8 / count
        for i, each in enumerate(sums):
            edges = [(place - 0.4 + thick * i, value) for place, value in enumerate(each.values()) if abs(value) > 1e-9]
            self.bars[i].set_path(boxes([(0.0, top, value, top + thick * 0.88) for top, value in edges]))
            drawn.append(self.bars[i])
        for place, name in enumerate(GROUPS):
            values = [each[name] for each in sums]
            words = " / ".join(f"{value:.0f}".replace("-0", "0").replace("-", "−") for value in values)
            self.words[place].set(text=words, x=max(0.0, *values) + gap, y=place)
            drawn.append(self.words[place])
        return drawn

    def sentence(self, answer: Answer) -> str:
        """Energy from the pack and the largest taker."""
        parts = []
        for one in answer.each:
            sums = grouped(one.candidate.ride.ledger_wh)
            most = max(sums, key=lambda name: sums[name])
            parts.append(f"{one.candidate.name} {one.candidate.ride.outcome.energy_wh:.0f} Wh, most of it {most}")
        return "Energy from the pack: " + "; ".join(parts) + "."

    def alt(self, answer: Answer) -> str:
        """All bars in words."""
        parts = []
        for one in answer.each:
            bars = ", ".join(f"{name} {wh:.0f} Wh" for name, wh in grouped(one.candidate.ride.ledger_wh).items())
            parts.append(f"{one.candidate.name}: {bars}")
        return "Bars of energy by destination. " + ". ".join(parts) + ". " + self.sentence(answer)
