"""The chain notebook without widgets: a build, where the shaft was moved to, what was typed → an answer. No pictures here."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from ridesim.choose.findings.direction import turns_against
from ridesim.choose.findings.sprockets import chain_findings, mounting_findings, power_findings
from ridesim.day import Day
from ridesim.forms import exact
from ridesim.ride.simulate import simulate
from ridesim.show.panel.fields import Choice, Number, Text, number_of
from ridesim.show.panel.files import build_of, day_of
from ridesim.sizing.chain import chain_of, chains
from ridesim.sizing.chain_fit import ChainFit, chain_fit
from ridesim.sizing.chain_life import chain_duty, worn_out_percent, worn_percent
from ridesim.sizing.chain_order import OrderLine, order_list
from ridesim.sizing.layout import layout
from ridesim.sizing.mounting import Idler, Mounting, idler, mounting
from ridesim.vehicle import Build
from ridesim.words import Finding, InputProblem

WHICH = (
    Text("build", "Build"), Text("day", "Day"), Choice("units", "Units", (("metric", "kg, m"), ("imperial", "lb, ft"))),
)  # fmt: skip
CHAIN = Text("chain", "Chain", tuple(chains()))
TEETH = (
    Number("motor_teeth", "Small sprocket", "", 9.0, 25.0, 1.0, whole=True), Number("wheel_teeth", "Large", "", 20.0, 80.0, 1.0, whole=True),
    Number("adjuster_travel_mm", "Adjuster", "mm", 0.0, 60.0, 1.0),
)  # fmt: skip
"""What can be changed of the last chain."""
AT = (Number("x", "Forward", "mm", 0.0, 1200.0, 1.0), Number("z", "Up", "mm", 0.0, 1000.0, 1.0))
DONOR = (
    Text("donor_chain", "Donor’s chain", tuple(chains())), Text("donor_teeth", "its wheel sprocket’s teeth"),
    Text("measured_mm", "20 links measure, mm"),
)  # fmt: skip
"""What there is on the donor; empty boxes are not asked about."""
FIRST_TEXTS = {
    "build": "heron_36v",
    "day": "harbour_festival",
    "units": "metric",
    "donor_chain": "",
    "donor_teeth": "",
    "measured_mm": "",
}
SHAFT, PIVOT = "shaft", "pivot"
PLACES = {SHAFT: ("drive.shaft_x_m", "drive.shaft_z_m"), PIVOT: ("vehicle.pivot_x_m", "vehicle.pivot_z_m")}
"""What can be moved, and the keys of its place."""
NAMES = {SHAFT: "small sprocket’s shaft", PIVOT: "swinging arm’s pivot"}
CENTRE = "drive.centre_distance_mm"
USUAL_PITCHES = 40.0
"""Distance of the centres that is drawn where none is stated: the middle of 30 to 50 pitches, handbooks (from memory)."""
USUAL_CHAIN = "428"
CAUTIONS = (
    "Guard over both sprockets and the spans before the motor turns: a chain takes a finger, a sleeve or a costume in a moment.",
    "Nobody in loose clothing, with long hair or ribbons near it; turn the wheel by hand for every adjustment, isolator off.",
    "Set the slack at the chain’s tightest spot, both adjusters alike, axle torqued and pinned after; spring clip’s closed end first.",
    "Batteries and controller out, or at least covered and disconnected, before anything is welded near them.",
)
"""Common practice in our own words."""


@dataclass(frozen=True)
class ChainWish:
    """What is asked: the typed texts, and what was changed, by dotted key of the build."""

    texts: Mapping[str, str]
    moved: Mapping[str, float | str]


@dataclass(frozen=True)
class ChainAnswer:
    """Everything the panel shows.

    Attributes
    ----------
    build : Build
        With what was changed, and with what was assumed.
    assumed : tuple of str
        What the build does not state and is drawn all the same, in words.
    mounting : Mounting
    fits : mapping of int to ChainFit
        From :func:`fits_of`, the one at the wheel last.
    idler : Idler or None
        Where the adjuster does not reach.
    donor : tuple of (str, int or None)
        Its chain and the teeth of its wheel's sprocket, as typed.
    worn : tuple of (float, float, float) or None
        How much longer than new the donor's chain is, and at how much it is replaced on a motorcycle and in industry. [%]
    order : tuple of OrderLine
    watch : tuple of Finding
    day : str
        Name of the day, looked for in ``folder`` first; empty where none is named.
    folder : Path
    """

    build: Build
    assumed: tuple[str, ...]
    mounting: Mounting
    fits: Mapping[int, ChainFit]
    idler: Idler | None
    donor: tuple[str, int | None]
    worn: tuple[float, float, float] | None
    order: tuple[OrderLine, ...]
    watch: tuple[Finding, ...]
    day: str
    folder: Path

    @property
    def sentence(self) -> str:
        """The verdict: does the chain fit where the shaft is, does it hold, does anything touch."""
        found = self.mounting
        wrong = [f"the motor touches {found.touches}"] if found.touches else []
        wrong += (
            ["the arm’s travel slackens the chain too far"] if found.swing is not None and found.swing.loose else []
        )
        there = f"But there {' and '.join(wrong)}." if wrong else ""
        assumed = f"Not stated, so assumed here: {', '.join(self.assumed)}." if self.assumed else ""
        return " ".join(filter(None, [found.fit.verdict, there, assumed]))


def changed(file: Build, moved: Mapping[str, float | str]) -> Build:
    """The build with what was changed; the distance of the centres follows the shaft's place."""
    build = file.changed(dict(moved)) if moved else file
    if not set(PLACES[SHAFT]) & set(moved):
        return build
    at = complex(build.drive.shaft_x_m or 0.0, build.drive.shaft_z_m or 0.0)
    return build.changed({CENTRE: round(1000.0 * abs(at - layout(build).axle), 1)})


def assumed(build: Build) -> tuple[Build, tuple[str, ...]]:
    """The build with a usual chain and distance where it states none, and what that is in words."""
    said: list[str] = []
    if build.drive.chain is None:
        build = build.changed({"drive.chain": USUAL_CHAIN})
        said.append(f"chain {USUAL_CHAIN}")
    if build.drive.centre_distance_mm is None and build.drive.shaft_x_m is None:
        distance = round(USUAL_PITCHES * chain_of(str(build.drive.chain)).pitch_mm)
        build = build.changed({CENTRE: distance})
        said.append(f"{distance} mm between the centres")
    return build, tuple(said)


def answer(wish: ChainWish, folder: Path) -> ChainAnswer:
    """Compute everything the panel shows.

    Raises
    ------
    InputProblem
        A file that is not a good build, a chain that is not known, sprockets that touch.
    """
    build, said = assumed(changed(build_of(wish.texts["build"], folder), wish.moved))
    found = mounting(build)
    fits = fits_of(build)
    return ChainAnswer(
        build=build, assumed=said, mounting=found, fits=fits,
        idler=None if found.fit.fits is not False else idler(found.fit), donor=_donor(wish.texts), worn=_worn(build, wish.texts),
        order=order_list(build), watch=tuple(_watch(build, found, fits)), day=wish.texts["day"], folder=folder,
    )  # fmt: skip


def fits_of(build: Build) -> dict[int, ChainFit]:
    """The chains that can be judged, by their place among the drive's chains; of the others a finding says why."""
    fits = {}
    for which in range(len(build.drive.chains)):
        with suppress(InputProblem):
            fits[which] = chain_fit(build, which)
    return fits


def _typed(texts: Mapping[str, str], key: str) -> float | None:
    """A number in one of the donor's boxes; None where it is empty."""
    label = next(field.label for field in DONOR if field.key == key)
    low, high = (150.0, 500.0) if key == "measured_mm" else (20.0, 60.0)
    field = Number(key, label, "", low, high, 1.0, whole=key == "donor_teeth")
    return float(number_of(texts[key], field, "the donor")) if texts[key].strip() else None


def _watch(build: Build, found: Mounting, fits: Iterable[int]) -> Iterator[Finding]:
    """What the comparison says of chains, and what this panel alone does."""
    yield from chain_findings(build)
    yield from turns_against(build)
    yield from mounting_findings(found)
    yield from power_findings(chain_duty(build, which) for which in fits)


def _donor(texts: Mapping[str, str]) -> tuple[str, int | None]:
    """The donor's chain, which must be a known one, and its sprocket."""
    chain, teeth = texts["donor_chain"].strip(), _typed(texts, "donor_teeth")
    return (chain_of(chain).name if chain else ""), None if teeth is None else int(teeth)


def _worn(build: Build, texts: Mapping[str, str]) -> tuple[float, float, float] | None:
    measured, (chain, teeth) = _typed(texts, "measured_mm"), _donor(texts)
    if measured is None:
        return None
    limits = [worn_out_percent(teeth or build.drive.wheel_teeth, each) for each in (True, False)]
    return worn_percent(chain or str(build.drive.chain), measured), limits[0], limits[1]


def day_pull_n(answer: ChainAnswer) -> float | None:
    """Largest pull at the wheel's rim in the day, by the likely values; None where no day is named. [N]

    It takes a ride, so only the table that tells it asks for it.

    Raises
    ------
    InputProblem
        A day that is not a good one.
    """
    if not answer.day.strip():
        return None
    day = day_of(answer.day, answer.folder)
    # Where the shaft is makes no difference to the ride.
    keys = (*PLACES[SHAFT], *PLACES[PIVOT], CENTRE, "drive.adjuster_travel_mm")
    return _ridden(exact(answer.build.changed(dict.fromkeys(keys))), day)


@lru_cache(maxsize=16)
def _ridden(build: Build, day: Day) -> float:
    return float(simulate(build, day).frame["pull_n"].max())
