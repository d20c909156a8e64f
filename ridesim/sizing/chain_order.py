"""What to order for a drive's chains: the chain, its connecting links, sprockets, what keeps it tight and covered."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from ridesim.ride.given import AnyBuild, given_build
from ridesim.sizing.chain_fit import ChainFit, chain_fit
from ridesim.sizing.mounting import Idler, idler
from ridesim.words import InputProblem


class OrderLine(NamedTuple):
    """A line of the order list: what, its size, how many, what to look at."""

    item: str
    size: str  # empty where any does
    number: int
    note: str


def order_list(build: AnyBuild) -> tuple[OrderLine, ...]:
    """What to order for every chain of a build that can be judged.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file.

    Returns
    -------
    tuple of OrderLine
        Empty where no chain has its size and distance.

    Raises
    ------
    InputProblem
        None for a build that was read.

    Examples
    --------
    >>> for line in order_list("heron_36v")[:4]:
    ...     print(line.number, line.item, line.size)
    1 chain 08B, 110 links
    2 connecting link 08B, with spring clip
    1 small sprocket 08B, 11 teeth
    1 large sprocket 08B, 55 teeth
    """
    build = given_build(build)
    lines: list[OrderLine] = []
    for which in range(len(build.drive.chains)):
        try:
            fit = chain_fit(build, which)
        except InputProblem:
            continue
        lines += _of_one(fit)
    return (*lines, *_for_all(bool(lines)))


def _of_one(fit: ChainFit) -> Iterator[OrderLine]:
    name, pitch = fit.chain.name, fit.chain.pitch_mm
    length = f"{fit.links * pitch / 1000.0:.2f} m, {fit.links * pitch / 1000.0 * fit.chain.kg_per_m:.2f} kg; one of the links is the connecting link"
    yield OrderLine("chain", f"{name}, {fit.links} links", 1, length)
    yield OrderLine(
        "connecting link",
        f"{name}, with spring clip",
        2,
        "one is a spare; clip’s closed end in the direction of travel",
    )
    if fit.offset_fits and not fit.fits:
        yield OrderLine("offset link", name, 1, "only in the place of an idler: weaker by about a third (from memory)")
    bore = (
        "bore, key and offset as the shaft; at least 17 teeth run smoothly"
        if fit.motor_teeth < 17
        else "bore, key and offset as the shaft"
    )
    yield OrderLine("small sprocket", f"{name}, {fit.motor_teeth} teeth", 1, bore)
    yield OrderLine(
        "large sprocket",
        f"{name}, {fit.wheel_teeth} teeth",
        1,
        "holes as the hub; both sprockets in one line by a straight edge",
    )
    slack: Idler | None = None if fit.fits is not False else idler(fit)
    if slack is not None:
        note = f"presses the slack span in by {slack.press_mm:.0f} mm half way along; on a bolt that can be moved, or sprung"
        yield OrderLine("idler sprocket", f"{name}, {slack.teeth} teeth", 1, note)


def _for_all(some: bool) -> Iterator[OrderLine]:
    if some:
        yield OrderLine("chain guard", "", 1, "over both sprockets and the spans, before anybody turns the motor")
        yield OrderLine("chain oil", "", 1, "on the inside of the slack span, wheel turned by hand, power off")
