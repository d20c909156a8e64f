"""The blocks in their tray, in plan and from the side, to scale."""

from __future__ import annotations

from collections.abc import Hashable
from typing import Any

from ridesim.show.panel.drawing import Drawing
from ridesim.show.style import NOTE_PT, Look
from ridesim.show.weigh.inputs import WeighAnswer
from ridesim.sizing.tray import SIDES, Arrangement, Placed

VIEWS = (("in plan", 0, 1), ("from the side", 0, 2))
"""Each view, and the axes of the tray that run across and up in it."""


class TrayDiagram(Drawing):
    """Plan and side view of the lowest way in which the blocks stand."""

    def build(self, figure: Any, colours: Look, width: float, height: float) -> None:
        """Two pairs of axes of equal scale."""
        self.colours, self.figure = colours, figure
        self.axes = [figure.add_axes([0.02 + 0.49 * n, 0.02, 0.47, 0.88]) for n in range(2)]
        for axes in self.axes:
            axes.set_axis_off()
            axes.set_aspect("equal")
        self.movers, self.still = (), []

    def frame_key(self, answer: WeighAnswer) -> Hashable:
        """Tray and blocks."""
        return answer.build.pack.tray_mm, answer.tray[:1]

    def set_frame(self, answer: WeighAnswer) -> None:
        """Tray, blocks, and their sizes."""
        tray = answer.build.pack.tray_mm
        if tray is None or not answer.tray:
            words = "No tray and block size stated" if tray is None else "The blocks do not fit the tray"
            self.still = [self.axes[0].text(0.0, 0.5, words, size=NOTE_PT, color=self.colours.ink)]
            return
        for axes, (name, across, up) in zip(self.axes, VIEWS, strict=True):
            self._view(axes, name, tray, answer.tray[0], across, up)

    def _view(self, axes: Any, name: str, tray: Any, one: Arrangement, across: int, up: int) -> None:
        from matplotlib.patches import Rectangle

        look = self.colours
        outer = Rectangle((0.0, 0.0), tray[across], tray[up], fill=False, ec=look.ink, lw=2.0)
        # What is nearest to the eye is drawn last: the highest block in plan, the frontmost one from the side.
        every = [*one.blocks, *([one.odd] if one.odd else [])]
        nearest = sorted(every, key=lambda b: b.z if up == 1 else -b.y)
        patches = [
            Rectangle(
                (b[across], b[up]), b[3 + across], b[3 + up], fc=look.shade, ec=look.ink if b is one.odd else look.candidates[0],
                lw=1.4, ls="--" if b is one.odd else "-",
            )
            for b in nearest
        ]  # fmt: skip
        poles = [
            pole
            for b, to in zip(one.blocks, one.terminals, strict=True)
            for pole in self._poles(axes, b, to.side, across, up)
        ]
        for patch in (outer, *patches):
            axes.add_patch(patch)
        words = f"{name}: {tray[across]:g} × {tray[up]:g} mm"
        text = axes.text(0.0, tray[up] * 1.06, words, size=NOTE_PT, color=look.ink, va="bottom", parse_math=False)
        axes.set_xlim(-0.02 * tray[across], 1.02 * tray[across])
        axes.set_ylim(-0.02 * tray[up], 1.2 * tray[up])
        self.still += [outer, *patches, *poles, text]

    def _poles(self, axes: Any, b: Placed, side: str, across: int, up: int) -> list[Any]:
        """Both poles of a block where they are seen in a view: at the edge to which they point, or facing the eye."""
        axis, end = next((n, pair.index(side)) for n, pair in enumerate(SIDES) if side in pair)
        facing = axis not in (across, up)
        if facing and side not in ("up", "front"):
            return []
        along = across if axis == up or facing else up
        other = up if along == across else across
        at = [b[along] + share * b[3 + along] for share in (0.25, 0.75)]
        beside = b[other] + b[3 + other] * (0.5 if facing else 0.92 if end else 0.08)
        xs, ys = (at, [beside] * 2) if along == across else ([beside] * 2, at)
        return list(axes.plot(xs, ys, "o", ms=4.5, mfc=self.colours.ink, mec="none", zorder=3))

    def move(self, answer: WeighAnswer) -> list[Any]:
        """Nothing moves."""
        return []

    def sentence(self, answer: WeighAnswer) -> str:
        """Whether they fit, and how low."""
        if not answer.tray:
            return answer.unfit[0].text if answer.unfit else "No tray and block size are stated."
        best = answer.tray[0]
        beside = " and the lights' battery (dashed)" if best.odd else ""
        return (
            f"{len(best.blocks)} blocks{beside} fit; their centre lies {best.centre_mm:.0f} mm above the tray's floor. Dots: the terminals, "
            f"with {best.terminal_room_mm:g} mm before them."
        )

    def alt(self, answer: WeighAnswer) -> str:
        """The same."""
        return f"The tray in plan and from the side. {self.sentence(answer)}"
