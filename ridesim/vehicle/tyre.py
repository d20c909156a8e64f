"""A tyre's size as its sidewall has it, and the rolling radius that it gives."""

from __future__ import annotations

import re

from ridesim.words import InputProblem, Uncertain

INCH_MM = 25.4
ROLLING = (0.97, 0.95, 0.99)
"""Effective over free radius, likely, low and high: common practice, from memory. Five turns marked on the ground are better."""
_METRIC = re.compile(r"(\d{2,3})\s*/\s*(\d{2,3})\s*(?:-|B|R|ZR|\s)\s*(\d{1,2})", re.IGNORECASE)
_BICYCLE = re.compile(r"(\d{2,3})\s*-\s*(\d{3})$")
_BICYCLE_INCH = re.compile(r"(\d{2}(?:\.\d+)?)\s*[x×]\s*\d", re.IGNORECASE)
_INCH = re.compile(r"(\d\.\d{1,2}|\d)\s*-\s*(\d{1,2})")


def diameter_mm(size: str) -> float:
    """Free diameter of a tyre by its size.

    Parameters
    ----------
    size : str
        Such as ``"120/80-16"`` (width in mm, height in per cent of it, rim in inches), ``"2.75-17"`` (width and rim in inches, as high as wide),
        or a bicycle's: ``"50-406"`` (width and rim in mm, as high as wide), ``"20x2.125"`` (whole diameter in inches, width).

    Returns
    -------
    float
        D = rim + 2 width height/100. [mm]

    Raises
    ------
    InputProblem
        Another form.

    References
    ----------
    UN R75, D = d + 2 H (from memory); bicycle tyres: ISO 5775-1 (from memory). Inch sizes are within 2 % by practice.

    Examples
    --------
    >>> diameter_mm("120/70 ZR17"), diameter_mm("2.75-17")
    (599.8, 571.5)
    """
    text = size.strip()
    if metric := _METRIC.match(text):
        width, aspect, rim = (float(each) for each in metric.groups())
        return round(INCH_MM * rim + 2.0 * width * aspect / 100.0, 6)
    if inch := _INCH.match(text):
        width, rim = (float(each) for each in inch.groups())
        return round(INCH_MM * (rim + 2.0 * width), 6)
    if bicycle := _BICYCLE.match(text):
        width, rim = (float(each) for each in bicycle.groups())
        return rim + 2.0 * width
    if whole := _BICYCLE_INCH.match(text):
        return round(INCH_MM * float(whole[1]), 6)
    raise InputProblem("the tyre", "size", f"“{size}”", "a size such as 120/80-16, 2.75-17, 50-406 or 20x2.125")


def rolling_radius_m(size: str) -> Uncertain:
    """Rolling radius that a tyre's size gives, and between which values. [m]

    Raises
    ------
    InputProblem
        As :func:`diameter_mm`.
    """
    radius = 0.5 * diameter_mm(size) / 1000.0
    return Uncertain(*(factor * radius for factor in ROLLING))
