"""Widths that say more about the file than about the vehicle."""

from __future__ import annotations

from collections.abc import Iterator

from ridesim.choose.candidate import Candidate
from ridesim.choose.how_sure import Drawn, cause_in_words
from ridesim.words import Finding

TOO_WIDE = 0.5
"""Share of the whole distance that one cause may move."""


def width_findings(c: Candidate, drawn: Drawn) -> Iterator[Finding]:
    """A cause that alone moves the distance by more than half of it; draws that could not be ridden."""
    spare = c.spare_to_empty_km
    whole = c.ride.outcome.planned_distance_km + (0.0 if spare is None else spare.value)
    for key, km in drawn.hangs_on.items():
        if spare is None or km <= TOO_WIDE * whole:
            break
        width = {**c.ride.asked.widths, **c.build.widths}[key]
        what = cause_in_words((c.build, c.ride.asked), key)
        text = (
            f"{what[0].upper()}{what[1:]} may be anything from {width.low:.3g} to {width.high:.3g} ({key}): that alone moves the distance by "
            f"{km:.0f} km either way, where {whole:.0f} km are likely. No answer is worth much before it is known better."
        )
        yield Finding("width-too-wide", "warning", text, {"low": width.low, "high": width.high, "km": km})
    if drawn.left_out:
        of = drawn.left_out + len(drawn.scores)
        text = f"{drawn.left_out} of {of} draws hold values that exclude each other, such as a cut-off above the restart: left out."
        yield Finding("draws-left-out", "advice", text, {"left_out": float(drawn.left_out), "draws": float(of)})
