"""What is left against the clock: activities shaded, light tinted, reserve, where nine in ten draws are, where a day is lost."""

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
from ridesim.show.style import NOTE_PT, Look
from ridesim.show.tables.figures import band_text
from ridesim.show.units import System

LEFT, RIGHT, TOP, BOTTOM = 30.0, 42.0, 22.0, 24.0
PLAIN = "V × A"
DIP = 3.0
"""A lowest point is told where it lies so many % below what is left in the end."""


class ChargeDiagram(Drawing):
    """State of charge against the clock; the chosen candidate with its band, the others faint.

    Parameters
    ----------
    named : bool
        Whether the activities' names stand above it: where no strip does.
    """

    def __init__(self, named: bool = False) -> None:
        self.named = named

    def build(self, figure: Any, colours: Look, width: float, height: float) -> None:
        """Axes, lines and notes."""
        above = day_clock.NAME_ROWS * day_clock.NAME_PX + 8.0 if self.named else TOP
        self.plot = Plot(figure, colours, (width, height), (LEFT, RIGHT, above, BOTTOM))
        axes = self.plot.axes
        self.names_above = day_clock.Names(self.plot, RIGHT) if self.named else None
        axes.set_ylim(0.0, 104.0)
        self.band = axes.fill([0, 0], [0, 0], lw=0, alpha=0.20)[0]
        self.former = axes.plot([], [], lw=1.4, alpha=0.5)[0]
        self.lines = self.plot.lines()
        self.ends = self.plot.marks()
        self.plain = axes.plot(
            [], [], ls="", marker="o", ms=7, mfc=colours.paper, mec=colours.faint, mew=1.4, clip_on=False
        )[0]
        self.plain_words = note(
            axes, size=NOTE_PT, color=colours.faint, va="center", transform=axes.get_yaxis_transform()
        )
        self.cuts = self.plot.lines(ls="", marker="x", ms=9, mew=2.4, clip_on=False)
        self.cut_words = [
            note(axes, size=NOTE_PT, color=colours.warn, ha="right", paper=colours.paper) for _ in colours.candidates
        ]
        self.dip = axes.plot([], [], ls="", marker="o", ms=5, color=colours.ink, clip_on=False)[0]
        self.dip_words = note(axes, size=NOTE_PT, color=colours.ink, ha="right", va="top", paper=colours.paper)
        self.names = self.plot.end_notes()
        self.movers = [
            self.band, self.former, *self.lines, self.plain, self.plain_words, *self.ends, *self.cuts, *self.cut_words, self.dip,
            self.dip_words, *self.names,
        ]  # fmt: skip

    def frame_key(self, answer: Answer) -> Hashable:
        """Day, hours, reserves."""
        return day_clock.frame_key(answer), _reserves(answer)

    def set_frame(self, answer: Answer) -> None:
        """Shading, hours, reserve lines."""
        faint, warn, high = self.plot.colours.faint, self.plot.colours.warn, self.plot.height
        percents = [(y, f"{y}") for y in range(0, 101, 20 if high > 90.0 else 50)]
        day_clock.set_clock(self.plot, answer, percents, "")
        if self.names_above is not None:
            self.names_above.set(answer)
        else:
            self.still.append(self.plot.title("left, %"))
        for reserve in _reserves(answer):
            self.still += self.plot.level(reserve, warn)
            room = (LINE_PX + 3.0) * self.plot.pixel  # below its line; above it where the axis is too near
            side = {"va": "top"} if reserve > room else {"va": "bottom"}
            y = reserve + (-2.0 if reserve > room else 2.0) * self.plot.pixel
            self.still.append(self.plot.level_note(y, f"reserve {reserve:g} %", faint, **side))

    def move(self, answer: Answer) -> list[Any]:
        """Lines, the chosen one's band, its former state, end marks and names."""
        last, chosen = self.plot.axes.get_xlim()[1], answer.one
        plain = 100.0 * max(chosen.candidate.plain_end_charge, 0.0)
        ends = [100.0 * one.candidate.end_charge.value for one in answer.each]
        shown = [*ends, plain] if np.isfinite(plain) else ends
        places = spread(shown, LINE_PX * self.plot.pixel, 0.0, 100.0)
        drawn: list[Any] = [*self._behind(answer)]
        order = [*(i for i in range(len(answer.each)) if i != answer.chosen), answer.chosen]
        for i in order:
            one, mine = answer.each[i], i == answer.chosen
            self.lines[i].set_data(one.series.clock_h, 100.0 * one.series.charge)
            self.lines[i].set(alpha=1.0 if mine else 0.6, lw=2.4 if mine else 1.4)
            self.ends[i].set_data([last], [ends[i]])
            self.names[i].set(
                text=f"{ends[i]:.0f} %", x=1.0 + 8.0 / self.plot.width, y=places[i], weight="bold" if mine else "normal"
            )
            drawn += [self.lines[i], *(self._lost(i, one) or (self._lowest(one) if mine else []))]
        if np.isfinite(plain):
            self.plain.set_data([last], [plain])
            self.plain_words.set(text=PLAIN, x=1.0 + 8.0 / self.plot.width, y=places[-1])
            drawn += [self.plain, self.plain_words]
        return [*drawn, *self.ends[: len(order)], *self.names[: len(order)]]

    def _behind(self, answer: Answer) -> list[Any]:
        """The band of the chosen candidate, and what it was before the change at hand."""
        colour, one = self.plot.colours.candidates[answer.chosen], answer.one
        found = []
        if one.reach is not None:
            hours, low, high = one.reach
            self.band.set_xy(100.0 * np.column_stack([np.r_[hours, hours[::-1]] / 100.0, np.r_[high, low[::-1]]]))
            self.band.set_facecolor(colour)
            found.append(self.band)
        if answer.former is not None:
            series = answer.former.series
            self.former.set_data(series.clock_h, 100.0 * series.charge)
            self.former.set_color(colour)
            found.append(self.former)
        return found

    def _lost(self, i: int, one: Reckoned) -> list[Any]:
        """Where a day is lost, or the cut-off holds back."""
        left = next((stage for stage in one.candidate.ride.stages if stage.left), None)
        moment = one.candidate.ride.moments.cut_off_s if left is None else left.end_s
        if moment is None:
            return []
        hour = moment / 3600.0
        level = 100.0 * float(np.interp(hour, one.series.clock_h, one.series.charge))
        self.cuts[i].set_data([hour], [level])
        what = "cut-off holds back" if left is None else "stops"
        first, last = self.plot.axes.get_xlim()
        side = "left" if hour < 0.7 * first + 0.3 * last else "right"  # its words stay inside
        self.cut_words[i].set(text=f"{what}, {clock(moment)}", x=hour, y=min(level + 8.0 + 8.0 * i, 90.0), ha=side)
        return [self.cuts[i], self.cut_words[i]]

    def _lowest(self, one: Reckoned) -> list[Any]:
        """The lowest moment of a day, where that is not its end: it decides."""
        ride = one.candidate.ride
        place = int(np.argmin(ride.rows["state_of_charge"]))
        hour, level = float(ride.clock_s[place]) / 3600.0, 100.0 * max(float(ride.rows["state_of_charge"][place]), 0.0)
        if level > 100.0 * one.candidate.end_charge.value - DIP:
            return []
        self.dip.set_data([hour], [level])
        first, last = self.plot.axes.get_xlim()
        side = "left" if hour < 0.5 * (first + last) else "right"
        self.dip_words.set(
            text=f"lowest {level:.0f} %, {clock(3600.0 * hour)}", x=hour, y=max(level - 3.0, 12.0), ha=side
        )
        return [self.dip, self.dip_words]

    def reads(self, answer: Answer) -> dict[str, Any]:
        """The chosen candidate moment by moment, once its draws are ridden: what the page shows where it is pointed at."""
        if not answer.one.candidate.banded:
            return {}
        first, last = self.plot.axes.get_xlim()
        return {
            "frame": self.plot.frame, "ends": [first, last], "clock": [0] * MOMENTS,
            "words": _moments(answer, self.system, np.linspace(first, last, MOMENTS)),
        }  # fmt: skip

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


MOMENTS = 181
"""So many moments of a day can be read off."""


def _moments(answer: Answer, system: System, hours: Any) -> list[str]:
    """What is to be read at each hour: clock, activity, left, pack's volts and amps, winding."""
    one = answer.one
    series, unit = one.series, system.label("c")
    columns = [
        np.interp(hours, series.clock_h, each) for each in (series.charge, series.low_v, series.amps, series.winding_c)
    ]
    spans = day_clock.spans(answer)
    texts = []
    for hour, charge, volts, amps, winding in zip(
        hours.tolist(), *(column.tolist() for column in columns), strict=True
    ):
        name = next((name for name, start, end in reversed(spans) if start <= hour <= end), "between activities")
        left = f"{100.0 * charge:.0f} % left, {volts:.1f} V, {amps:.0f} A"
        texts.append(f"{clock(hour * 3600.0)}  {name}\n{left}\nwinding {system.value(winding, 'c'):.0f} {unit}")
    return texts


def _reserves(answer: Answer) -> tuple[float, ...]:
    return tuple(sorted({round(100.0 * one.candidate.ride.build.pack.reserve, 1) for one in answer.each}))
