"""What the two side views share: their scale, room for labels, what can be moved. SVG text; what comes from outside is escaped here."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from typing import NamedTuple

WIDE, HIGH, MARGIN = 920.0, 310.0, 20.0
"""Size of the picture and room at its sides, in its own units."""
LETTER, LINE = 6.7, 14.0
"""Width of a letter and height of a line of the labels, in the picture's units."""


class Scale(NamedTuple):
    """From metres to the picture.

    Attributes
    ----------
    pixels : float
        A metre, in the picture's units.
    left, low : float
        What lies at the left margin, and at the lower edge. [m]
    foot : float
        Where the lower edge lies, in the picture's units.
    """

    pixels: float
    left: float
    low: float
    foot: float

    def x(self, metres: float) -> float:
        """Across."""
        return MARGIN + (metres - self.left) * self.pixels

    def z(self, metres: float) -> float:
        """Up."""
        return self.foot - (metres - self.low) * self.pixels


class Box(NamedTuple):
    """A block or a label on the picture."""

    left: float
    top: float
    wide: float
    high: float

    def over(self, other: Box) -> float:
        """Area in common with another."""
        across = min(self.left + self.wide, other.left + other.wide) - max(self.left, other.left)
        down = min(self.top + self.high, other.top + other.high) - max(self.top, other.top)
        return max(0.0, across) * max(0.0, down)


class Taken(NamedTuple):
    """What is drawn already: blocks, which a label may lie over if it must, and words, which it must not."""

    blocks: list[Box]
    words: list[Box]

    def over(self, label: Box) -> float:
        """How bad a place for a label is."""
        return sum(map(label.over, self.blocks)) + 8.0 * sum(map(label.over, self.words))

    def best(self, places: Sequence[Box], inside: Box) -> Box:
        """The place where a label covers least and is cut off least; it is taken from now on."""
        best = min(places, key=lambda box: self.over(box) + 4.0 * (box.wide * box.high - box.over(inside)))
        self.words.append(best)
        return best


def label(box: Box, text: str, kind: str) -> str:
    """A text in its box; ``kind`` is its class in the style sheet."""
    return f'<text class="{kind}" x="{box.left:.1f}" y="{box.top + 11.0:.1f}">{escape(text)}</text>'


def movable(key: str, at: tuple[float, float], name: str, chosen: bool, kinds: Sequence[str], inner: str) -> str:
    """What can be dragged, or moved with the arrow keys.

    Parameters
    ----------
    key : str
        By which the page says what was moved.
    at : (float, float)
        Where it is: forward, up. [m]
    name : str
        What it is called, and where it is in words.
    chosen : bool
        Whether it is worked on.
    kinds : sequence of str
        Its classes in the style sheet.
    inner : str
        Its drawing, as SVG.
    """
    classes = " ".join(["ridesim-mass", *(["ridesim-chosen"] if chosen else []), *kinds])
    said, (x, z) = escape(f"{name}: drag it, or move it with the arrow keys"), at
    return (
        f'<g class="{classes}" data-key="{escape(key)}" data-x="{x:.6f}" data-z="{z:.6f}" tabindex="0" role="button" '
        f'aria-pressed="{str(chosen).lower()}" aria-label="{said}"><title>{said}</title>{inner}</g>'
    )


def side_view(scale: Scale, alt: str, inner: str, look: str, step_m: float) -> str:
    """The whole picture; ``look`` is its style sheet where it stands by itself, ``step_m`` what a press of an arrow key moves."""
    style = f"<style>{look}</style>" if look else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="ridesim-side" viewBox="0 0 {WIDE:g} {HIGH:g}" data-pixels="{scale.pixels:.4f}" '
        f'data-step="{step_m:g}" role="group" aria-label="{escape(alt)}">{style}{inner}</svg>'
    )
