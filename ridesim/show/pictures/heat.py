"""Winding temperature and pack voltage over the clock, with the class limit and the cut-off."""

from __future__ import annotations

import math
from collections.abc import Hashable
from typing import Any

import numpy as np

from ridesim.show.choose_drive.inputs import Answer
from ridesim.show.panel.drawing import Drawing
from ridesim.show.panel.note import note
from ridesim.show.pictures import clock as day_clock
from ridesim.show.pictures.furniture import Furniture, even_ticks
from ridesim.show.pictures.scales import LINE_PX, spread
from ridesim.show.pictures.style import LINES, MOST_CANDIDATES, NOTE_PT, Look
from ridesim.show.units import METRIC, System

LEFT, RIGHT, TOP, GAP, BOTTOM = 54.0, 58.0, 8.0, 10.0, 36.0


class HeatDiagram(Drawing):
    """Winding temperature above, pack voltage below."""

    def __init__(self) -> None:
        self.system: System = METRIC

    def build(self, figure: Any, colours: Look, width: float, height: float) -> None:
        """Two axes over one clock."""
        self.colours, self.wide = colours, width - LEFT - RIGHT
        self.high = (height - TOP - GAP - BOTTOM) / 2.0
        self.heat, self.volts = (
            figure.add_axes([LEFT / width, y / height, self.wide / width, self.high / height])
            for y in (BOTTOM + self.high + GAP, BOTTOM)
        )
        kinds = range(MOST_CANDIDATES)
        self.furniture = [Furniture(axes, colours, self.wide, self.high) for axes in (self.heat, self.volts)]
        self.lines = [self.heat.plot([], [], color=colours.candidates[i], ls=LINES[i], lw=2.0)[0] for i in kinds]
        self.bands = [self.volts.fill([0, 0], [0, 0], color=colours.candidates[i], alpha=0.28, lw=0)[0] for i in kinds]
        self.lows = [self.volts.plot([], [], color=colours.candidates[i], ls=LINES[i], lw=1.4)[0] for i in kinds]
        self.hot, self.low = (
            [note(axes, 1.0 + 6.0 / self.wide, size=NOTE_PT, weight="bold", color=colours.candidates[i], va="center",
                  transform=axes.get_yaxis_transform()) for i in kinds]
            for axes in (self.heat, self.volts)
        )  # fmt: skip
        self.still: list[Any] = []
        self.movers = [*self.lines, *self.bands, *self.lows, *self.hot, *self.low]

    def _temperatures(self, answer: Answer) -> tuple[float, float]:
        shown = [self.system.value(float(one.series.winding_c.max()), "c") for one in answer.each]
        hottest = [self.system.value(one.candidate.ride.outcome.hottest_winding_c, "c") for one in answer.each]
        limits = self._limits(answer)
        step = 20.0 if self.system.name == "metric" else 40.0
        top = step * math.ceil(1.08 * max(*shown, *hottest, *limits, step) / step)
        coldest = min(self.system.value(float(one.series.winding_c.min()), "c") for one in answer.each)
        return min(0.0, step * math.floor(coldest / step)), top

    def _limits(self, answer: Answer) -> tuple[float, ...]:
        each = {self.system.value(one.candidate.ride.build.motor.winding_limit_c, "c") for one in answer.each}
        return tuple(sorted(each))

    def _voltages(self, answer: Answer) -> tuple[float, float]:
        low = min(min(float(one.series.low_v.min()), one.candidate.ride.build.cutoff_voltage_v) for one in answer.each)
        high = max(float(one.series.high_v.max()) for one in answer.each)
        step = 5.0 if high - low > 12.0 else 2.0
        return step * math.floor((low - 0.5) / step), step * math.ceil((high + 0.3) / step)

    @staticmethod
    def _cutoffs(answer: Answer) -> tuple[float, ...]:
        return tuple(round(one.candidate.ride.build.cutoff_voltage_v, 2) for one in answer.each)

    def frame_key(self, answer: Answer) -> Hashable:
        """Day, hours, limits."""
        return (
            *day_clock.hours(answer), tuple(day_clock.spans(answer)), self._temperatures(answer), self._limits(answer),
            self._voltages(answer), self._cutoffs(answer), self.system.name,
        )  # fmt: skip

    def set_frame(self, answer: Answer) -> None:
        """Shading, hours, limit lines."""
        for artist in self.still:
            artist.remove()
        self.still = []
        first, last = day_clock.hours(answer)
        ticks = day_clock.hour_ticks(first, last, self.wide)
        short = self.high < 76.0
        titles = [("" if short else "winding, ") + self.system.label("c"), "V" if short else "pack, V"]
        limits = (self._temperatures(answer), self._voltages(answer))
        for place, axes in enumerate((self.heat, self.volts)):
            axes.set_xlim(first, last)
            axes.set_ylim(*limits[place])
            self.furniture[place].set(
                ticks if place else [(at, "") for at, _ in ticks], even_ticks(*limits[place], max(2, int(self.high / 22.0))),
                below="clock" if place else "", beside=titles[place], left=LEFT,
            )  # fmt: skip
            self.furniture[place].shade([span[1:] for span in day_clock.spans(answer)])
        warn = self.colours.warn
        classes = [(limit, warn, f"class limit {limit:.0f}") for limit in self._limits(answer)]
        self._lines(self.heat, classes, first, last)
        cutoffs = [(v, self.colours.candidates[i], f"cut-off {v:g}") for i, v in enumerate(self._cutoffs(answer))]
        self._lines(self.volts, cutoffs, first, last)

    def _lines(self, axes: Any, lines: list[tuple[float, str, str]], first: float, last: float) -> None:
        """Limit lines with their words, none over another; words of equal lines are said once."""
        low, high = axes.get_ylim()
        unit = (high - low) / self.high
        words = list(dict.fromkeys(text for _, _, text in lines))
        wanted = [next(y for y, _, text in lines if text == each) for each in words]
        places = spread([y + 1.0 * unit for y in wanted], LINE_PX * unit, low, high - LINE_PX * unit)
        for y, colour, _ in lines:
            self.still += axes.plot([first, last], [y] * 2, color=colour, lw=1.3, ls=(0, (4, 3)))
        for text, y in zip(words, places, strict=True):
            colour = next(c for _, c, each in lines if each == text)
            self.still.append(
                note(
                    axes,
                    first + 0.006 * (last - first),
                    y,
                    text,
                    size=NOTE_PT,
                    color=colour,
                    va="bottom",
                    paper=self.colours.paper,
                )
            )

    def move(self, answer: Answer) -> list[Any]:
        """Lines, bands, end notes."""
        drawn: list[Any] = []
        hottest = [self.system.value(one.candidate.ride.outcome.hottest_winding_c, "c") for one in answer.each]
        lowest = [one.candidate.ride.outcome.lowest_pack_voltage_v for one in answer.each]
        heat_places, volt_places = self._places(self.heat, hottest), self._places(self.volts, lowest)
        factor, offset = self.system.value(1.0, "c") - self.system.value(0.0, "c"), self.system.value(0.0, "c")
        for i, one in enumerate(answer.each):
            series = one.series
            self.lines[i].set_data(series.clock_h, series.winding_c * factor + offset)
            self.lows[i].set_data(series.clock_h, series.low_v)
            self.bands[i].set_xy(
                np.column_stack([np.r_[series.clock_h, series.clock_h[::-1]], np.r_[series.high_v, series.low_v[::-1]]])
            )
            self.hot[i].set(text=f"{hottest[i]:.0f} {self.system.label('c')}", y=heat_places[i])
            self.low[i].set(text=f"{lowest[i]:.1f} V", y=volt_places[i])
            drawn += [self.bands[i], self.lines[i], self.lows[i], self.hot[i], self.low[i]]
        return drawn

    def _places(self, axes: Any, wanted: list[float]) -> list[float]:
        low, high = axes.get_ylim()
        unit = (high - low) / self.high
        return spread(wanted, LINE_PX * unit, low + 5.0 * unit, high - 5.0 * unit)

    def sentence(self, answer: Answer) -> str:
        """Hottest winding and lowest voltage."""
        unit = self.system.label("c")
        hot = ", ".join(
            f"{one.candidate.name} {self.system.value(one.candidate.ride.outcome.hottest_winding_c, 'c'):.0f} of "
            f"{self.system.value(one.candidate.ride.build.motor.winding_limit_c, 'c'):.0f} {unit}"
            for one in answer.each
        )
        low = ", ".join(f"{one.candidate.ride.outcome.lowest_pack_voltage_v:.1f}" for one in answer.each)
        return f"Hottest winding: {hot}. Lowest pack voltage: {low} V."

    def alt(self, answer: Answer) -> str:
        """Both pictures in words."""
        return f"Winding temperature and pack voltage against the clock on {answer.day.name}. " + self.sentence(answer)
