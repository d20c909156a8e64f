"""Winding temperature and pack voltage over the clock, with the class limit and the cut-off."""

from __future__ import annotations

import math
from collections.abc import Hashable
from typing import Any

import numpy as np

from ridesim.show.choose_drive.inputs import Answer
from ridesim.show.panel.drawing import Drawing
from ridesim.show.pictures import clock as day_clock
from ridesim.show.pictures.furniture import Plot, even_ticks
from ridesim.show.pictures.scales import LINE_PX, spread
from ridesim.show.style import Look

LEFT, RIGHT, TOP, GAP, BOTTOM = 54.0, 58.0, 8.0, 10.0, 36.0


class HeatDiagram(Drawing):
    """Winding temperature above, pack voltage below."""

    def build(self, figure: Any, colours: Look, width: float, height: float) -> None:
        """Two axes over one clock."""
        beyond = (height - TOP - GAP - BOTTOM) / 2.0 + GAP
        self.heat, self.volts = (
            Plot(figure, colours, (width, height), (LEFT, RIGHT, above, below))
            for above, below in ((TOP, BOTTOM + beyond), (TOP + beyond, BOTTOM))
        )
        fill = self.volts.axes.fill
        self.lines, self.lows = self.heat.lines(lw=2.0), self.volts.lines(lw=1.4)
        self.bands = [fill([0, 0], [0, 0], color=colour, alpha=0.28, lw=0)[0] for colour in colours.candidates]
        self.hot, self.low = self.heat.end_notes(), self.volts.end_notes()
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
        heat, volts = (
            (self._temperatures(answer), self._limits(answer)),
            (self._voltages(answer), self._cutoffs(answer)),
        )
        return day_clock.frame_key(answer), heat, volts, self.system.name

    def set_frame(self, answer: Answer) -> None:
        """Shading, hours, limit lines."""
        short = self.heat.height < 76.0
        self._set_plot(
            self.heat,
            answer,
            self._temperatures(answer),
            ("" if short else "winding, ") + self.system.label("c"),
        )
        self._set_plot(self.volts, answer, self._voltages(answer), "V" if short else "pack, V")
        warn, colours = self.heat.colours.warn, self.heat.colours.candidates
        self._lines(self.heat, [(limit, warn, f"class limit {limit:.0f}") for limit in self._limits(answer)])
        self._lines(self.volts, [(v, colours[i], f"cut-off {v:g} V") for i, v in enumerate(self._cutoffs(answer))])

    def _set_plot(self, plot: Plot, answer: Answer, limits: tuple[float, float], title: str) -> None:
        """Limits, ticks and titles; the clock times stand below the lower plot alone."""
        plot.axes.set_ylim(*limits)
        ticks, lower = even_ticks(*limits, max(2, int(plot.height / 22.0))), plot is self.volts
        day_clock.set_clock(plot, answer, ticks, title, "clock" if lower else "", labels=lower)

    def _lines(self, plot: Plot, lines: list[tuple[float, str, str]]) -> None:
        """Limit lines with their words, none over another; words of equal lines are said once."""
        said: dict[str, tuple[float, str]] = {}
        for y, colour, text in lines:
            self.still += plot.level(y, colour)
            said.setdefault(text, (y, colour))
        (low, high), gap = plot.axes.get_ylim(), LINE_PX * plot.pixel
        places = spread([y + plot.pixel for y, _ in said.values()], gap, low, high - gap)
        for (text, (_, colour)), y in zip(said.items(), places, strict=True):
            self.still.append(plot.level_note(y, text, colour, va="bottom", paper=plot.colours.paper))

    def move(self, answer: Answer) -> list[Any]:
        """Lines, bands; at the end the hottest and the lowest, in the units of the axes."""
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
            self.hot[i].set(text=f"≤ {hottest[i]:.0f}", y=heat_places[i])
            self.low[i].set(text=f"≥ {lowest[i]:.1f}", y=volt_places[i])
            drawn += [self.bands[i], self.lines[i], self.lows[i], self.hot[i], self.low[i]]
        return drawn

    @staticmethod
    def _places(plot: Plot, wanted: list[float]) -> list[float]:
        low, high = plot.axes.get_ylim()
        return spread(wanted, LINE_PX * plot.pixel, low + 5.0 * plot.pixel, high - 5.0 * plot.pixel)

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
