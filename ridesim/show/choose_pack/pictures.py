"""Pictures of the pack notebook: the data sheet and the three laws, the night's charge, unlike blocks."""

from __future__ import annotations

import math
from collections.abc import Hashable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.choose.packs import PackAnswers
from ridesim.day.day import clock
from ridesim.ride.pack.charge import FULL, MARKS
from ridesim.show.choose_pack.inputs import PackAnswer, kind_of
from ridesim.show.panel.drawing import Drawing
from ridesim.show.pictures.scales import LINE_PX, round_top, spread
from ridesim.show.style import LINES, MARKERS, NOTE_PT, Look, plain_axes
from ridesim.words import degrees, percent

FloatArray = NDArray[np.float64]

MARGINS = 54.0, 130.0, 10.0, 38.0
"""Left, right, above and below. [px]"""
LAW_LINES = {"saturating": LINES[0], "peukert": LINES[1], "two-well": LINES[3]}
"""One line style a law, the same in every picture here."""


class _Plain(Drawing):
    """One pair of axes with curves, whose names stand at the right."""

    x_label, y_label = "clock", "state of charge, %"
    curves: tuple[tuple[int, Any], ...]
    """Place of the candidate whose colour a curve has, and its line style."""
    coloured = True
    """Whether the curves are the two packs' own; else they tell by line style alone what a pack's colour would say wrongly."""

    def build(self, figure: Any, colours: Look, width: float, height: float) -> None:
        """Axes and artists."""
        from matplotlib.collections import PolyCollection

        self.colours, self.high = colours, height - MARGINS[2] - MARGINS[3]
        self.axes = plain_axes(figure, colours, (width, height), MARGINS)
        self.axes.set_xlabel(self.x_label)
        self.axes.set_ylabel(self.y_label)
        # The area between the laws, behind the lines.
        area = PolyCollection([], facecolor=colours.candidates[0], alpha=0.16, lw=0.0, zorder=1.0)
        self.between = self.axes.add_collection(area, autolim=False)
        self.lines = [self.line(place, style) for place, style in self.curves]
        at_the_right = {
            "parse_math": False,
            "va": "center",
            "transform": self.axes.get_yaxis_transform(),
            "clip_on": False,
        }
        self.names = [
            self.axes.text(1.015, 0.0, "", size=NOTE_PT, color=self.colour(place), **at_the_right)
            for place, _ in self.curves
        ]
        self.make()

    def make(self) -> None:
        """Further artists, and what never changes."""
        self.axes.set_yticks([0, 20, 40, 60, 80, 100])

    def colour(self, place: int) -> str:
        """Of a curve and its name."""
        return self.colours.candidates[place] if self.coloured else self.colours.ink

    def line(self, place: int, style: Any, **options: Any) -> Any:
        """An empty line in a candidate's colour."""
        return self.axes.plot([], [], color=self.colour(place), ls=style, lw=2.2, **options)[0]

    def limits(self, answer: PackAnswer) -> tuple[float, float, float, float]:
        """Left, right, bottom, top."""
        raise NotImplementedError

    def level(self, answer: PackAnswer) -> tuple[float, float, str] | None:
        """Where a level that matters lies, how far above it its words stand, and the words."""
        return None

    def frame_key(self, answer: PackAnswer) -> Hashable:
        """Limits and level."""
        return self.limits(answer), self.level(answer)

    def set_frame(self, answer: PackAnswer) -> None:
        """Limits, ticks, level."""
        left, right, low, high = self.limits(answer)
        self.axes.set_xlim(left, right)
        self.axes.set_ylim(low, high)
        if self.x_label == "clock":
            ticks = range(int(left), int(right) + 1, max(1, math.ceil((right - left) / 9)))
            self.axes.set_xticks(list(ticks), [f"{each % 24:02d}" for each in ticks])
        if level := self.level(answer):
            (y, above, text), warn = level, self.colours.warn
            va = "baseline" if above else "bottom"
            self.still = self.axes.plot([left, right], [y] * 2, color=warn, lw=1.3, ls=(0, (4, 3)))
            self.still.append(
                self.axes.text(left + 0.1, y + above, text, size=NOTE_PT, color=warn, va=va, parse_math=False)
            )

    def named(self, texts: list[str], levels: list[float]) -> list[Any]:
        """The curves, and names beside their ends, none over another."""
        low, high = self.axes.get_ylim()
        places = spread(levels, LINE_PX * (high - low) / self.high, low, high)
        for each, text, level in zip(self.names, texts, places, strict=True):
            each.set(text=text, y=level)
        return [*self.lines, *self.names]


def _span(answer: PackAnswer) -> tuple[int, int]:
    """Whole hours that the day lies in."""
    return math.floor(answer.day.first_start_s / 3600.0), math.ceil(answer.lead.ride.clock_s[-1] / 3600.0)


def area_between(x: FloatArray, lines: list[FloatArray]) -> FloatArray:
    """Corners of the area between the lowest and the highest of some lines over one x: along the lowest, back along the highest."""
    low, high = np.min(lines, axis=0), np.max(lines, axis=0)
    return np.column_stack([np.r_[x, x[::-1]], np.r_[low, high[::-1]]])


class SheetDiagram(_Plain):
    """The sheet's points, the three laws fitted to them, and the band between the laws."""

    x_label, y_label = "hours to empty", "ampere-hours"
    curves = tuple(enumerate(LAW_LINES.values()))
    coloured = False

    def make(self) -> None:
        """The points."""
        self.axes.set_xscale("log")
        style = {"marker": "o", "ms": 8, "mfc": self.colours.paper, "mec": self.colours.ink, "mew": 1.8}
        self.points = self.axes.plot([], [], ls="", zorder=5, **style)[0]

    def limits(self, answer: PackAnswer) -> tuple[float, float, float, float]:
        """Half the shortest to beyond the longest time, and the largest charge."""
        hours, most = answer.sheet.hours, float(answer.sheet.charge_ah.max())
        return 0.5 * float(hours.min()), 1.25 * float(hours.max()), 0.0, round_top(most, 1.15)

    def set_frame(self, answer: PackAnswer) -> None:
        """Limits and ticks."""
        super().set_frame(answer)
        low, high = self.axes.get_xlim()
        ticks = [each for each in (0.1, 0.25, 0.5, 1, 2, 5, 10, 20, 50, 100) if low <= each <= high]
        self.axes.set_xticks(ticks, [f"{each:g}" for each in ticks])
        self.axes.set_xticks([], minor=True)

    def move(self, answer: PackAnswer) -> list[Any]:
        """Curves and points."""
        hours = np.geomspace(*self.limits(answer)[:2], 160)
        texts, levels, curves = [], [], []
        for line, law in zip(self.lines, LAW_LINES, strict=True):
            fitted = answer.sheet[law]
            charge = fitted.fit.capacity_in(hours)
            line.set_data(hours, charge)
            curves.append(charge)
            texts.append(f"{law} ±{fitted.misfit_percent:.1f} %")
            levels.append(float(charge[-1]))
        self.points.set_data(answer.sheet.hours, answer.sheet.charge_ah)
        self.between.set_verts([area_between(hours, curves)])
        return [self.between, *self.named(texts, levels), self.points]

    def sentence(self, answer: PackAnswer) -> str:
        """Misfits."""
        each = ", ".join(f"{law} {answer.sheet[law].misfit_percent:.1f} %" for law in LAW_LINES)
        return f"Largest misfit of any row of the data sheet: {each}."

    def alt(self, answer: PackAnswer) -> str:
        """Points in words."""
        rows = ", ".join(f"{h:g} h {q:g} Ah" for h, q in zip(answer.sheet.hours, answer.sheet.charge_ah, strict=True))
        return f"Ampere-hours against hours to empty. Points: {rows}. {self.sentence(answer)}"


class NightDiagram(_Plain):
    """State of charge on the charger after the day."""

    x_label = "hours on the charger"
    curves = ((0, "-"), (1, LINES[1]))

    def make(self) -> None:
        """Marks where 80 %, 95 % and full are reached."""
        super().make()
        style = {"ms": 7, "mfc": self.colours.paper, "mew": 1.8}
        self.marks = [self.line(place, "", marker=MARKERS[place], **style) for place in (0, 1)]

    def limits(self, answer: PackAnswer) -> tuple[float, float, float, float]:
        """Until the slower pack is full."""
        wanted = [each.charging.night.hours_to[FULL] for each in answer.options]
        return 0.0, round_top(max([1.0, *filter(math.isfinite, wanted)]), 1.1), 0.0, 104.0

    def move(self, answer: PackAnswer) -> list[Any]:
        """Lines, marks at 80 %, 95 % and full."""
        texts, levels = [], []
        reach = self.axes.get_xlim()[1]
        for place, each in enumerate(answer.options):
            plan = each.charging.night
            inside = plan.hours <= reach
            self.lines[place].set_data(plan.hours[inside], 100.0 * plan.state_of_charge[inside])
            reached = [mark for mark in MARKS if math.isfinite(plan.hours_to[mark]) and plan.hours_to[mark] > 0.0]
            self.marks[place].set_data([plan.hours_to[mark] for mark in reached], [100.0 * mark for mark in reached])
            levels.append(100.0 * float(np.interp(reach, plan.hours, plan.state_of_charge)))
            texts.append(f"{kind_of(each)} {'refused' if plan.refused else f'{plan.allowed.current_a:.1f} A'}")
        return [*self.named(texts, levels), *self.marks]

    def sentence(self, answer: PackAnswer) -> str:
        """Times and energy."""
        each = "; ".join(night_words(option) for option in answer.options)
        return self.system.said(f"At {degrees(answer.day.ambient_c)} °C: {each}.")

    def alt(self, answer: PackAnswer) -> str:
        """In words."""
        return f"State of charge against hours on the charger. {self.sentence(answer)}"


def night_words(option: PackAnswers) -> str:
    """One pack's night in words: hours, and the band of its energy from the socket."""
    plan, kind = option.charging.night, kind_of(option)
    if plan.refused:
        return f"{kind} not charged, {plan.refused.rstrip('.')}"
    times = ", ".join(
        f"{'full' if mark == FULL else f'{100 * mark:.0f} %'} {_hours(plan.hours_to[mark])}" for mark in MARKS
    )
    low, high = (f"{each / 1000.0:.2f}" for each in (plan.wall_band.low, plan.wall_band.high))
    return f"{kind} {times}, {low if low == high else f'{low} to {high}'} kWh"


def _hours(hours: float) -> str:
    return f"{hours:.1f} h" if math.isfinite(hours) else "not within three days"


class BlocksDiagram(_Plain):
    """Voltages of the blocks of a string with one weak block, minute by minute at their lowest."""

    y_label = "block voltage, V"
    curves = ((0, "-"), (1, LINES[1]))
    coloured = False

    def make(self) -> None:
        """Nothing more."""

    def limits(self, answer: PackAnswer) -> tuple[float, float, float, float]:
        """The day's hours; volts from zero where a block collapses, from below where it is driven backwards."""
        cells = answer.lead.build.pack.in_force.cells_in_series
        lowest = math.floor(min(0.0, float(answer.blocks.block_voltage_v.min())))
        return *_span(answer), lowest if answer.blocks.first_to_collapse else 1.6 * cells, 2.5 * cells

    def level(self, answer: PackAnswer) -> tuple[float, float, str]:
        """The end voltage."""
        pack = answer.lead.build.pack
        end = pack.kind.cutoff_v_per_cell * pack.in_force.cells_in_series
        return end, 0.0, f"end voltage {end:.1f} V"

    def move(self, answer: PackAnswer) -> list[Any]:
        """Lowest voltage in every two minutes, block by block."""
        blocks = answer.blocks
        minutes = np.floor(blocks.clock_s / 120.0)
        starts = np.flatnonzero(np.diff(minutes, prepend=-1.0))
        hours = blocks.clock_s[starts] / 3600.0
        lowest = np.minimum.reduceat(blocks.block_voltage_v, starts, axis=0)
        weak = next(i for i, each in enumerate(blocks.blocks) if each.block.name == "the weakest")
        others = np.delete(lowest, weak, axis=1)
        # One line for all the others, broken between two blocks.
        broken = np.vstack([others, np.full(others.shape[1], np.nan)])
        self.lines[0].set_data(np.tile(np.append(hours, np.nan), others.shape[1]), broken.ravel(order="F"))
        self.lines[1].set_data(hours, lowest[:, weak])
        texts = ["the others", f"weakest, {percent(blocks.blocks[weak].block.health)}"]
        ends = [others[-1, 0] if others.size else lowest[-1, weak], lowest[-1, weak]]
        return self.named(texts, [float(each) for each in np.clip(ends, *self.axes.get_ylim())])

    def sentence(self, answer: PackAnswer) -> str:
        """When it collapses, and when the power is short."""
        first, low, short = answer.blocks.first_to_collapse, answer.blocks.weakest, answer.blocks.power_short_s
        if first is None or first.collapse_s is None:
            said = (
                f"No block falls below its end voltage; the weakest is at {low.lowest_voltage_v:.1f} V at its lowest."
            )
        else:
            said = (
                f"Block “{first.block.name}” ({percent(first.block.health)}) falls below its end voltage at {clock(first.collapse_s)}, "
                f"{first.lowest_voltage_v:.1f} V at its lowest."
            )
        return said if short is None else f"{said} From {clock(short)} on the controller's cut-off holds the pull back."

    def alt(self, answer: PackAnswer) -> str:
        """In words."""
        return f"Voltages of {len(answer.blocks.blocks)} blocks over the day, one of them weak. {self.sentence(answer)}"
