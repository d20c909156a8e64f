"""State of charge against the clock: activities shaded and named, reserve, cut-off, and the end's band over all laws."""

from __future__ import annotations

from collections.abc import Hashable
from typing import Any

import numpy as np

from ridesim.day.day import clock
from ridesim.show.choose_drive.inputs import Answer
from ridesim.show.panel.drawing import Drawing
from ridesim.show.panel.note import note
from ridesim.show.pictures import clock as day_clock
from ridesim.show.pictures.furniture import Furniture
from ridesim.show.pictures.scales import LINE_PX, spread
from ridesim.show.pictures.style import LINES, MARKERS, MOST_CANDIDATES, NOTE_PT, Look

LEFT, RIGHT, BOTTOM = 54.0, 58.0, 24.0
TOP = day_clock.NAME_ROWS * day_clock.NAME_PX + 8.0


class ChargeDiagram(Drawing):
    """State of charge against the clock."""

    def build(self, figure: Any, colours: Look, width: float, height: float) -> None:
        """Axes, lines and notes."""
        self.colours = colours
        self.wide, self.high = width - LEFT - RIGHT, height - TOP - BOTTOM
        self.axes = figure.add_axes([LEFT / width, BOTTOM / height, self.wide / width, self.high / height])
        self.furniture = Furniture(self.axes, colours, self.wide, self.high)
        self.names_above = day_clock.Names(self.axes, colours, (self.wide, self.high), (LEFT, RIGHT))
        self.axes.set_ylim(0.0, 104.0)
        self.still: list[Any] = []
        kinds = range(MOST_CANDIDATES)
        self.lines = [self.axes.plot([], [], color=colours.candidates[i], ls=LINES[i], lw=2.2)[0] for i in kinds]
        self.ends = [
            self.axes.plot([], [], color=colours.candidates[i], lw=2.2, clip_on=False, marker="_", ms=7, mew=1.8)[0]
            for i in kinds
        ]
        self.cuts = [
            self.axes.plot(
                [], [], color=colours.candidates[i], ls="", marker=MARKERS[i], ms=7, mfc=colours.paper, mew=1.8
            )[0]
            for i in kinds
        ]
        self.cut_words = [
            note(self.axes, size=NOTE_PT, color=colours.candidates[i], ha="right", paper=colours.paper) for i in kinds
        ]
        self.names = [
            note(self.axes, size=NOTE_PT, weight="bold", color=colours.candidates[i], va="center",
                 transform=self.axes.get_yaxis_transform())
            for i in kinds
        ]  # fmt: skip
        self.movers = [*self.lines, *self.ends, *self.cuts, *self.cut_words, *self.names]

    def frame_key(self, answer: Answer) -> Hashable:
        """Day, hours, reserves."""
        return (*day_clock.hours(answer), tuple(day_clock.spans(answer)), _reserves(answer))

    def set_frame(self, answer: Answer) -> None:
        """Shading, names of activities, hours, reserve lines."""
        for artist in self.still:
            artist.remove()
        first, last = day_clock.hours(answer)
        self.axes.set_xlim(first, last)
        self.furniture.set(
            day_clock.hour_ticks(first, last, self.wide), [(y, f"{y}") for y in range(0, 101, 20 if self.high > 90.0 else 50)],
            beside="state of charge, %" if self.high > 110.0 else "charge, %", left=LEFT,
        )  # fmt: skip
        self.furniture.shade([span[1:] for span in day_clock.spans(answer)])
        self.names_above.set(answer)
        self.still = []
        for reserve in _reserves(answer):
            self.still += self.axes.plot([first, last], [reserve] * 2, color=self.colours.warn, lw=1.3, ls=(0, (4, 3)))
            self.still.append(
                note(
                    self.axes,
                    first + 0.006 * (last - first),
                    reserve + 1.0,
                    f"reserve {reserve:g} %",
                    size=NOTE_PT,
                    color=self.colours.warn,
                )
            )

    def move(self, answer: Answer) -> list[Any]:
        """Lines, end bands, cut-off marks, names."""
        drawn: list[Any] = []
        last = self.axes.get_xlim()[1]
        span = last - self.axes.get_xlim()[0]
        unit = 104.0 / self.high
        ends = [100.0 * one.candidate.end_charge.value for one in answer.each]
        places = spread(ends, LINE_PX * unit, 0.0, 100.0)
        for i, one in enumerate(answer.each):
            end = one.candidate.end_charge
            self.lines[i].set_data(one.series.clock_h, 100.0 * one.series.charge)
            self.ends[i].set_data([last + span * (3.0 + 5.0 * i) / self.wide] * 2, [100.0 * end.low, 100.0 * end.high])
            self.names[i].set_position((1.0 + (9.0 + 5.0 * len(answer.each)) / self.wide, places[i]))
            self.names[i].set_text(f"{ends[i]:.0f} %")
            drawn += [self.lines[i], self.names[i], *([self.ends[i]] if end.low < end.high else [])]
            drawn += self._cut_off(i, one, first_free=i)
        return drawn

    def _cut_off(self, i: int, one: Any, first_free: int) -> list[Any]:
        ride = one.candidate.ride
        moment = ride.moments.cut_off_s
        if moment is None:
            return []
        level = 100.0 * float(np.interp(moment / 3600.0, one.series.clock_h, one.series.charge))
        self.cuts[i].set_data([moment / 3600.0], [level])
        self.cut_words[i].set_position((moment / 3600.0 - 0.02, max(2.0, level - 9.0)))
        self.cut_words[i].set_text(f"cut-off holds back, {clock(moment)}")
        return [self.cuts[i], self.cut_words[i]]

    def sentence(self, answer: Answer) -> str:
        """Charge at the end, with the band over all capacity laws."""
        each = "; ".join(f"{one.candidate.name} {_band(one)}" for one in answer.each)
        return f"Charge at the end (over all capacity laws): {each}."

    def alt(self, answer: Answer) -> str:
        """Lines and activities in words."""
        acts = ", ".join(f"{name} {clock(start * 3600.0)}" for name, start, _ in day_clock.spans(answer))
        parts = [f"State of charge against the clock on {answer.day.name}. Activities: {acts}"]
        for one in answer.each:
            cut = one.candidate.ride.moments.cut_off_s
            held = f", cut-off from {clock(cut)}" if cut is not None else ""
            parts.append(f"{one.candidate.name}: lowest {100.0 * one.series.charge.min():.0f} %{held}")
        return ". ".join(parts) + ". " + self.sentence(answer)


def _band(one: Any) -> str:
    end = one.candidate.end_charge
    value, low, high = (f"{100.0 * each:.0f}" for each in (end.value, end.low, end.high))
    return f"{value} %" if low == high else f"{value} % ({low} to {high})"


def _reserves(answer: Answer) -> tuple[float, ...]:
    return tuple(sorted({round(100.0 * one.candidate.ride.build.pack.reserve, 1) for one in answer.each}))
