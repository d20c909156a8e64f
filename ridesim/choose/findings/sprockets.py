"""The chain: does it go round with its adjuster, does it hold the pull, does it lie round enough teeth."""

from __future__ import annotations

from collections.abc import Iterator

from ridesim.sizing.chain import LEAST_WRAP_DEGREES, SAFE, ChainFit, chain_fit
from ridesim.vehicle import Build
from ridesim.words import Finding, InputProblem


def chain_findings(build: Build) -> Iterator[Finding]:
    """What is wrong with the last stage's chain, where its size and its centre distance are stated."""
    if build.drive.chain is None or build.drive.centre_distance_mm is None:
        return
    try:
        fit = chain_fit(build)
    except InputProblem as problem:
        yield Finding("chain-not-judged", "warning", f"The chain is not judged: {problem}")
        return
    yield from _fits(fit)
    yield from _holds(fit)


def _fits(fit: ChainFit) -> Iterator[Finding]:
    numbers = {"links": float(fit.links), "centre_mm": fit.centre_mm, "move_mm": fit.move_mm}
    if fit.fits is False:
        yield Finding("chain-does-not-fit", "warning", fit.sentence, numbers)
    elif fit.fits and (fit.travel_mm or 0.0) - fit.move_mm < fit.wear_mm:
        yield Finding("chain-little-travel", "advice", fit.sentence, numbers)
    if fit.wrap_degrees < LEAST_WRAP_DEGREES:
        text = (
            f"The chain lies round the small sprocket for {fit.wrap_degrees:.0f}° only; {LEAST_WRAP_DEGREES:g}° is the least, or teeth jump under "
            "load. The motor further away, or an idler."
        )
        yield Finding("chain-wrap", "warning", text, {"wrap_degrees": fit.wrap_degrees})


def _holds(fit: ChainFit) -> Iterator[Finding]:
    if fit.safety >= SAFE:
        return
    text = (
        f"Stalled, the motor pulls the chain with {fit.stall_pull_n:.0f} N; the least strength of {fit.chain.name} is "
        f"{fit.chain.strength_n:.0f} N, {fit.safety:.1f} times that, and {SAFE:g} times is usual (from memory). A stronger chain, a larger sprocket, "
        "a lower current limit; and a guard over it in any case."
    )
    yield Finding("chain-weak", "warning", text, {"pull_n": fit.stall_pull_n, "strength_n": fit.chain.strength_n})
