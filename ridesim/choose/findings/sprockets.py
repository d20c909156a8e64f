"""The chains: does each go round with its adjuster, does it hold the pull, does it lie round enough teeth."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from ridesim.sizing.chain_fit import LEAST_WRAP_DEGREES, SAFE, ChainFit, chain_fit
from ridesim.sizing.chain_life import FEWEST_USUAL, LARGEST_RATIO, ChainDuty
from ridesim.sizing.layout import layout
from ridesim.sizing.mounting import Mounting
from ridesim.vehicle import Build
from ridesim.words import Finding, InputProblem

OFF_MM = 20.0
"""So far a distance by tape may be from that of two places above ground."""
STEEP_DEGREES = 60.0
"""Of the line of the centres, from which on a chain maker wants an idler."""


def chain_findings(build: Build) -> Iterator[Finding]:
    """What is wrong with each chain whose size is stated, with its centre distance or the places that give it."""
    chains = build.drive.chains
    try:
        yield from _places(build)
    except InputProblem as problem:
        yield Finding("chain-not-judged", "warning", f"The chain is not judged: {problem}")
        return
    for which, one in enumerate(chains):
        placed = which == len(chains) - 1 and build.drive.shaft_x_m is not None
        if one.chain is None or (one.centre_distance_mm is None and not placed):
            continue
        try:
            fit = chain_fit(build, which)
        except InputProblem as problem:
            yield Finding("chain-not-judged", "warning", f"The chain is not judged: {problem}")
            continue
        first = "" if which == len(chains) - 1 else f"The chain of {one.where}: "
        yield from _fits(fit, first)
        yield from _holds(fit, first)


def _places(build: Build) -> Iterator[Finding]:
    """A distance of the centres that is not the one between the places that are stated."""
    off = layout(build).off_mm
    if abs(off) > OFF_MM:
        text = (
            f"The shaft's place is {abs(off):.0f} mm {'further from' if off > 0.0 else 'nearer to'} the axle than centre_distance_mm, which counts. "
            "Mend shaft_x_m and shaft_z_m, or leave one of the two out."
        )
        yield Finding("chain-places-disagree", "advice", text, {"off_mm": off})


def _fits(fit: ChainFit, first: str) -> Iterator[Finding]:
    numbers = {"links": float(fit.links), "centre_mm": fit.centre_mm, "move_mm": fit.move_mm}
    if fit.fits is False:
        yield Finding("chain-does-not-fit", "warning", first + fit.sentence, numbers)
    elif fit.fits and fit.left_mm < fit.wear_mm:
        yield Finding("chain-little-travel", "advice", first + fit.sentence, numbers)
    if fit.wrap_degrees < LEAST_WRAP_DEGREES:
        text = (
            f"{first}The chain lies round the small sprocket for {fit.wrap_degrees:.0f}° only; {LEAST_WRAP_DEGREES:g}° is the least, or teeth jump "
            "under load. The motor further away, or an idler."
        )
        yield Finding("chain-wrap", "warning", text, {"wrap_degrees": fit.wrap_degrees})


def _holds(fit: ChainFit, first: str) -> Iterator[Finding]:
    if fit.safety >= SAFE:
        return
    text = (
        f"{first}Stalled, the motor pulls the chain with {fit.stall_pull_n:.0f} N; the least strength of {fit.chain.name} is "
        f"{fit.chain.strength_n:.0f} N, {fit.safety:.1f} times that, and {SAFE:g} times is usual (from memory). A stronger chain, a larger sprocket, "
        "a lower current limit; and a guard over it in any case."
    )
    yield Finding("chain-weak", "warning", text, {"pull_n": fit.stall_pull_n, "strength_n": fit.chain.strength_n})


def mounting_findings(found: Mounting) -> Iterator[Finding]:
    """What to watch of where the shaft is, beside what a comparison says of the chain."""
    small, large, room = found.fit.motor_teeth, found.fit.wheel_teeth, 1000.0 * found.layout.room_m
    if found.touches:
        text = f"Motor or gearbox, {room:.0f} mm about the shaft, touches {found.touches}. State drive.shaft_room_mm if that is less."
        yield Finding("motor-touches", "warning", text, {"room_mm": room})
    if found.swing is not None and found.swing.loose:
        yield Finding("chain-slackens", "warning", found.swing.sentence, {"spread_mm": found.swing.spread_mm})
    if small < FEWEST_USUAL:
        text = f"{small} teeth on the small sprocket are few: a chain maker wants {FEWEST_USUAL} at least. It runs roughly and wears sooner."
        yield Finding("few-teeth", "advice", text)
    if large > LARGEST_RATIO * small:
        text = f"{large} to {small} teeth are more than {LARGEST_RATIO:g} to 1 in one chain (handbooks, from memory): better two stages."
        yield Finding("large-ratio", "advice", text)
    if (steep := abs(found.level_degrees)) > STEEP_DEGREES:
        text = f"The centres climb at {steep:.0f}°: beyond {STEEP_DEGREES:g}° a chain maker wants an idler, as slack hangs off the lower sprocket."
        yield Finding("steep-chain", "advice", text, {"steep_degrees": steep})


def power_findings(duties: Iterable[ChainDuty]) -> Iterator[Finding]:
    """Chains that carry more than they are rated for."""
    for duty in duties:
        if (share := duty.power_share or 0.0) > 1.0:
            text = f"{duty.fit.chain.name}: {duty.sentence} For the few hours of a show vehicle that is wear, not danger; look at it often."
            yield Finding("chain-power", "advice", text, {"power_share": share})
