"""What to watch about blocks that are not alike: the first to fall away, power that is short, strings beside each other."""

from __future__ import annotations

from collections.abc import Iterator

from ridesim.choose.findings.places import where
from ridesim.ride.pack.unlike_blocks import BlockOutcome, StringsOutcome
from ridesim.words import Finding, percent

REVERSED_LEAD = (
    "Measure each block by itself while the load is on. One that is driven backwards heats and vents gas and acid: stop the load, "
    "keep flame and faces away, and charge it no more."
)
REVERSED_LITHIUM = (
    "Measure each block by itself while the load is on, and never bridge its protection. Cells that are driven backwards heat, vent "
    "and may burn, hours later too: stop the load, stand it outdoors away from everything, and charge it no more."
)
SURGE_A_PER_AH = 0.3
"""Joining strings at more than the usual charging current wants equal voltages first."""
ALIKE_SHARE = 0.02
"""Healths, resistances and charges closer than this are called alike."""


def strings_findings(outcome: StringsOutcome) -> Iterator[Finding]:
    """Findings about blocks that are not alike."""
    if outcome.first_to_collapse is not None:
        yield _first_to_collapse(outcome, outcome.first_to_collapse)
    pack = outcome.ride.build.pack
    if outcome.power_short_s is not None:
        cutoff = outcome.ride.build.cutoff_voltage_v
        text = (
            f"These blocks cannot give the day's power above the controller's cut-off of {cutoff:.1f} V from "
            f"{where(outcome.ride, outcome.power_short_s)} on: the vehicle slows or stops there, so plan a way off the route. "
            "What is shown of the blocks after that moment is an outline only."
        )
        yield Finding("short-of-power", "warning", text, {"power_short_s": outcome.power_short_s, "cutoff_v": cutoff})
    over = max(outcome.blocks, key=lambda each: each.overcharge_ah)
    if over.overcharge_ah > 0.02 * pack.block_capacity_ah:
        text = (
            f"In the break block “{over.block.name}” is full before the others and takes {over.overcharge_ah:.1f} Ah too much: "
            + ("its protection must stop the charge." if pack.kind.is_lithium else "it gases and dries out.")
        )
        yield Finding("uneven-charge", "warning", text, {"overcharge_ah": over.overcharge_ah})
    surge = outcome.connecting_current_a
    if surge > SURGE_A_PER_AH * pack.block_capacity_ah:
        text = (
            f"Joining these strings as they are sends up to {surge:.0f} A from one into the other. Charge each full on its own, "
            "let them rest, and join them through a fuse."
        )
        yield Finding("joining-strings", "warning", text, {"connecting_current_a": surge})
    shares = outcome.string_share
    if max(shares) - min(shares) > 0.1:
        text = (
            f"The strings share the load {' : '.join(map(percent, shares))}: the better one is worked harder and ages to meet "
            "the other. Old beside new wastes the new."
        )
        numbers = {f"string_{number}_share": each for number, each in enumerate(shares, start=1)}
        yield Finding("unequal-strings", "warning", text, numbers)


def _first_to_collapse(outcome: StringsOutcome, first: BlockOutcome) -> Finding:
    """The first block to fall away; in other words where all are alike, or where it only began low."""
    assert first.collapse_s is not None
    at = where(outcome.ride, first.collapse_s)
    numbers = {"collapse_s": first.collapse_s, "lowest_voltage_v": first.lowest_voltage_v}
    others = [each for each in outcome.blocks if each is not first]
    if others and all(_alike(first, each) for each in others):
        text = (
            f"All blocks are alike ({percent(first.block.health)} of their rated capacity) and fall below their end voltage together at "
            f"{at}: the day asks for more than they hold. Charge in between, plan less, or carry a larger pack."
        )
        return Finding("blocks-run-down", "stop", text, numbers)
    began = f", begun at {percent(first.start_charge)}" if first.block.start_charge is not None else ""
    told = [
        f"Block “{first.block.name}” ({percent(first.block.health)} of its rated capacity{began}) falls below its end voltage at {at}.",
        _driven_backwards(first, others),
        _what_others_hold(others),
        "It only began low: charge and test it first. The pack is worth its weakest block."
        if _only_low(first, others)
        else "The pack is worth its weakest block: replace it, or all.",
        REVERSED_LITHIUM if outcome.ride.build.pack.kind.is_lithium else REVERSED_LEAD,
    ]
    return Finding("weak-block", "stop", " ".join(each for each in told if each), numbers)


def _driven_backwards(first: BlockOutcome, others: list[BlockOutcome]) -> str:
    awake = any(
        each.string == first.string and (each.collapse_s is None or each.collapse_s > (first.collapse_s or 0.0))
        for each in others
    )
    if not awake or first.lowest_voltage_v >= 0.5:
        return ""
    return f"Its neighbours then drive it backwards ({first.lowest_voltage_v:.1f} V), which ruins it and may vent it."


def _what_others_hold(others: list[BlockOutcome]) -> str:
    ends = [percent(charge) for charge in sorted(each.end_charge for each in others)]
    if not ends or ends[-1] == percent(0.0):
        return ""
    return f"The others still hold {ends[0] if ends[0] == ends[-1] else f'{ends[0]} to {ends[-1]}'} at the end."


def _nature(each: BlockOutcome) -> tuple[float, float, float]:
    """Health, conductance over a new block's, and charge at the start: more of each is better."""
    return each.block.health, 1.0 / each.block.resistance_in_use, each.start_charge


def _alike(one: BlockOutcome, other: BlockOutcome) -> bool:
    """Whether two blocks have as good as the same health, resistance and charge at the start."""
    return all(abs(a - b) <= ALIKE_SHARE * max(a, b) for a, b in zip(_nature(one), _nature(other), strict=True))


def _only_low(first: BlockOutcome, others: list[BlockOutcome]) -> bool:
    """Whether a block is as good as any other and began with less."""
    least = 1.0 - ALIKE_SHARE
    health, conductance, start = _nature(first)
    best = [max(values) for values in zip(*map(_nature, others), strict=True)]
    return bool(best) and health >= least * best[0] and conductance >= least * best[1] and start < least * best[2]
