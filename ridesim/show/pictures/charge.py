"""State of charge against the clock: activities shaded and named, reserve, cut-off, and where nine in ten draws end."""

from __future__ import annotations

from collections.abc import Hashable
from typing import Any

import numpy as np

from ridesim.day.day import clock
from ridesim.show.choose_drive.inputs import Answer, Reckoned
from ridesim.show.panel.drawing import Drawing
from ridesim.show.panel.note import note
from ridesim.show.pictures import clock as day_clock
from ridesim.show.pictures.furniture import Plot
from ridesim.show.pictures.scales import LINE_PX, spread
from ridesim.show.pictures.style import NOTE_PT, Look
from ridesim.show.tables.figures import band_text

LEFT, RIGHT, BOTTOM = 54.0, 58.0, 24.0
TOP = day_clock.NAME_ROWS * day_clock.NAME_PX + 8.0


class ChargeDiagram(Drawing):
    """State of charge against the clock."""

    def build(self, figure: Any, colours: Look, width: float, height: float) -> None:
        """Axes, lines and notes."""
        self.plot = Plot(figure, colours, (width, height), (LEFT, RIGHT, TOP, BOTTOM))
        axes = self.plot.axes
        self.names_above = day_clock.Names(self.plot, RIGHT)
        axes.set_ylim(0.0, 104.0)
        self.lines = self.plot.lines()
        self.ends = self.plot.lines(ls="-", clip_on=False, marker="_", ms=7, mew=1.8)
        self.cuts = self.plot.marks()
        self.cut_words = [
            note(axes, size=NOTE_PT, color=colour, ha="right", paper=colours.paper) for colour in colours.candidates
        ]
        self.names = self.plot.end_notes()
        self.movers = [*self.lines, *self.ends, *self.cuts, *self.cut_words, *self.names]

    def frame_key(self, answer: Answer) -> Hashable:
        """Day, hours, reserves."""
        return day_clock.frame_key(answer), _reserves(answer)

    def set_frame(self, answer: Answer) -> None:
        """Shading, names of activities, hours, reserve lines."""
        warn, high = self.plot.colours.warn, self.plot.height
        percents = [(y, f"{y}") for y in range(0, 101, 20 if high > 90.0 else 50)]
        day_clock.set_clock(self.plot, answer, percents, "state of charge, %" if high > 110.0 else "charge, %")
        self.names_above.set(answer)
        for reserve in _reserves(answer):
            self.still += self.plot.level(reserve, warn)
            self.still.append(self.plot.level_note(reserve + 1.0, f"reserve {reserve:g} %", warn))

    def move(self, answer: Answer) -> list[Any]:
        """Lines, end bands, cut-off marks, names."""
        drawn: list[Any] = []
        wide, (first, last) = self.plot.width, self.plot.axes.get_xlim()
        ends = [100.0 * one.candidate.end_charge.value for one in answer.each]
        places = spread(ends, LINE_PX * self.plot.pixel, 0.0, 100.0)
        for i, one in enumerate(answer.each):
            end = one.candidate.end_charge
            self.lines[i].set_data(one.series.clock_h, 100.0 * one.series.charge)
            right = last + (last - first) * (3.0 + 5.0 * i) / wide
            self.ends[i].set_data([right] * 2, [100.0 * end.low, 100.0 * end.high])
            self.names[i].set(text=f"{ends[i]:.0f} %", x=1.0 + (9.0 + 5.0 * len(answer.each)) / wide, y=places[i])
            drawn += [self.lines[i], self.names[i], *([self.ends[i]] if end.low < end.high else [])]
            drawn += self._cut_off(i, one)
        return drawn

    def _cut_off(self, i: int, one: Reckoned) -> list[Any]:
        moment = one.candidate.ride.moments.cut_off_s
        if moment is None:
            return []
        hour = moment / 3600.0
        level = 100.0 * float(np.interp(hour, one.series.clock_h, one.series.charge))
        self.cuts[i].set_data([hour], [level])
        self.cut_words[i].set(text=f"cut-off holds back, {clock(moment)}", x=hour - 0.02, y=max(2.0, level - 9.0))
        return [self.cuts[i], self.cut_words[i]]

    def sentence(self, answer: Answer) -> str:
        """What is left at the day's load, with its band."""
        each = "; ".join(
            f"{one.candidate.name} {band_text(one.candidate.left, 0, 100.0, ' %') if one.candidate.left else '-'}"
            for one in answer.each
        )
        return f"Left at this load, nine in ten draws: {each}."

    def alt(self, answer: Answer) -> str:
        """Lines and activities in words."""
        acts = ", ".join(f"{name} {clock(start * 3600.0)}" for name, start, _ in day_clock.spans(answer))
        parts = [f"State of charge against the clock on {answer.day.name}. Activities: {acts}"]
        for one in answer.each:
            cut = one.candidate.ride.moments.cut_off_s
            held = f", cut-off from {clock(cut)}" if cut is not None else ""
            parts.append(f"{one.candidate.name}: lowest {100.0 * one.series.charge.min():.0f} %{held}")
        return ". ".join(parts) + ". " + self.sentence(answer)


def _reserves(answer: Answer) -> tuple[float, ...]:
    return tuple(sorted({round(100.0 * one.candidate.ride.build.pack.reserve, 1) for one in answer.each}))
