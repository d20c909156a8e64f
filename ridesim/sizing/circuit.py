"""One circuit: the cable and the protection that its currents, its length and its short circuit ask for, and what they do to each other."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from math import inf
from typing import NamedTuple

from ridesim.sizing.cable import ADIABATIC_S, ampacity_a, drop_v, resistance_ohm, withstand_s
from ridesim.sizing.protection import ABOVE_CONTINUOUS, Protection, choose, in_warm_air, kind_of, opening_s, too_weak
from ridesim.vehicle.cable import LEAST_MM2, cable_sizes
from ridesim.words import Finding

THINNEST_MM2 = 1.0
"""Thinner cable breaks by shaking before it is too small for its current: common practice, no source. [mm²]"""


@dataclass(frozen=True)
class Demand:
    """What a circuit has to do, and what of it is settled already.

    Attributes
    ----------
    name, role, source, load : str
        What it is called; ``main``, ``motor``, ``lighting``, ``charger`` or ``control``; from where to where.
    length_m : float
        One way. [m]
    volts, full_volts : float
        Of its name, for the drop in per cent, and the most it ever has. [V]
    continuous_a, peak_a : float
        Largest mean over ten minutes and over a second. [A]
    drop_limit : float
        Largest drop over the voltage, from the source on. [-]
    drop_share : float
        Part of that limit which a proposed cable may take up to its end, so that what it feeds has the rest. [-]
    feeder_drop_v : float
        What feeders take before this circuit begins. [V]
    source_v, source_ohm : float
        Of the weakest source, its feeders included: cold, tired and at the reserve, for the least that a dead short at the far end draws.
        [V], [ohm]
    strongest_a : float
        Most that a dead short at its beginning draws. [A]
    insulation_c, ambient_c : float
        [°C]
    bundled : int
        Loaded conductors that lie together.
    kinds : tuple of str
        Kinds of protection, the first one that does is taken; none where something else limits the current.
    guarded_by : Protection or None
        One further up that opens a short circuit in this cable.
    section_mm2, rating_a : float or None
        Where the build states them. [mm²], [A]
    """

    name: str
    role: str
    source: str
    load: str
    length_m: float
    volts: float
    full_volts: float
    continuous_a: float
    peak_a: float
    drop_limit: float
    source_v: float
    source_ohm: float
    strongest_a: float
    insulation_c: float
    ambient_c: float
    bundled: int
    kinds: tuple[str, ...]
    drop_share: float = 1.0
    feeder_drop_v: float = 0.0
    guarded_by: Protection | None = None
    section_mm2: float | None = None
    rating_a: float | None = None


class Limits(NamedTuple):
    """What a section does for a demand: ampacity [A], drop from the source on [V], and whether each limit is kept."""

    ampacity_a: float
    drop_v: float
    carries: bool
    drops_little: bool
    leaves_enough: bool
    outlives: bool

    @property
    def all(self) -> bool:
        """Every limit kept, and enough of the drop left for what the circuit feeds."""
        return self.carries and self.drops_little and self.leaves_enough and self.outlives


@dataclass(frozen=True)
class Circuit:
    """A circuit with its cable and its protection.

    Attributes
    ----------
    demand : Demand
    section_mm2 : float
    protection : Protection or None
        None where nothing fits, or where something else limits the current.
    refused : tuple of Finding
        Why there is no protection though there should be one, or what is wrong with the one that the build states.
    """

    demand: Demand
    section_mm2: float
    protection: Protection | None
    refused: tuple[Finding, ...]

    @cached_property
    def limits(self) -> Limits:
        """What the section does."""
        return limits(self.demand, self.section_mm2, self.protection)

    @property
    def opens(self) -> Protection | None:
        """What opens a short circuit in its cable: its own protection, or one further up."""
        return self.protection or self.demand.guarded_by

    @property
    def drop_percent(self) -> float:
        """Drop from the source on over the voltage. [%]"""
        return 100.0 * self.limits.drop_v / self.demand.volts

    @property
    def reason(self) -> str:
        """What set the cable and what the protection, in a few words."""
        d, rated = self.demand, self.protection
        if rated is None and d.kinds:
            held = "no protection fits"
        elif rated is None:
            held = f"carries {_amps(d.continuous_a)}, limited further up"
        else:
            held = f"{kind_of(rated.kind).name} {rated.rating_a:g} A over {ABOVE_CONTINUOUS:g} × {d.continuous_a:.1f} A"
        return f"{held}; {self._cable_set_by()}"

    def _cable_set_by(self) -> str:
        if self.demand.section_mm2 is not None:
            return "cable as the build states it"
        thinner = [size for size in _sections(self.demand) if size < self.section_mm2]
        if not thinner:
            return "the thinnest that lasts"
        before = limits(self.demand, thinner[-1], self.protection)
        causes = {
            "ampacity": before.carries,
            "voltage drop": before.drops_little and before.leaves_enough,
            "a short circuit": before.outlives,
        }
        return f"{thinner[-1]:g} mm² fails by " + " and ".join(name for name, kept in causes.items() if not kept)

    def findings(self) -> Iterator[Finding]:
        """What cannot be met, and what would."""
        d, kept = self.demand, self.limits
        for each in self.refused:
            yield replace(each, text=f"“{d.name}”: {each.text}")
        said = {each.code for each in self.refused} & {"protection-above-cable", "protection-stated"}
        if not kept.carries and not said:
            wanted = self._wanted_a
            text = (
                f"“{d.name}”: {self.section_mm2:.3g} mm² carries {kept.ampacity_a:.0f} A here; it has to carry {wanted:.0f} A. Thicker cable (the "
                f"largest listed is {_sections(d)[-1]:g} mm²; two side by side, each with its own fuse, share), better insulation, out of "
                "its bundle, or a lower limit at the controller."
            )
            yield Finding("cable-ampacity", "stop", text, {"ampacity_a": kept.ampacity_a, "wanted_a": wanted})
        if not kept.drops_little:
            text = (
                f"“{d.name}”: {self.section_mm2:.3g} mm² over {d.length_m:g} m drops {kept.drop_v:.2f} V, {self.drop_percent:.1f} % of "
                f"{d.volts:g} V{_before(d)}; {100.0 * d.drop_limit:g} % is the most. Thicker or shorter cable, or more volts."
            )
            numbers = {"drop_v": kept.drop_v, "drop_percent": self.drop_percent}
            yield Finding("cable-drop", "warning", text, numbers)
        opens = self.opens
        if not kept.outlives and opens is not None:
            lasts = withstand_s(self.section_mm2, d.insulation_c, d.strongest_a)
            text = (
                f"“{d.name}”: in a dead short of {d.strongest_a:.0f} A {self.section_mm2:.3g} mm² lasts {1000.0 * lasts:.0f} ms, and the slowest "
                f"{kind_of(opens.kind).name} of {opens.rating_a:g} A may take longer, then or in a weaker one (times from memory). Thicker cable, "
                "or a quicker fuse."
            )
            yield Finding("cable-short-circuit", "stop", text, {"short_circuit_a": d.strongest_a})
        yield from self._slow_to_trip()

    @property
    def _wanted_a(self) -> float:
        return _wanted_a(self.demand, self.protection)

    def _slow_to_trip(self) -> Iterator[Finding]:
        """A pack so weak, or a cable so long, that a dead short is not opened at once."""
        d, rated = self.demand, self.opens
        weakest, _ = short_circuits_a(d, self.section_mm2)
        if rated is None or weakest <= self.limits.ampacity_a:
            return
        _, latest = opening_s(rated, weakest, d.ambient_c)
        if latest > ADIABATIC_S:
            long = "may never open it" if latest == inf else f"may take {latest:.0f} s to open it"
            text = (
                f"“{d.name}”: cold, tired and at its far end a dead short draws {weakest:.0f} A only, and {rated.rating_a:g} A "
                f"{long} (times from memory). Whoever drives must be able to open the isolator; a smaller rating, thicker cable or a stronger "
                "source would settle it."
            )
            yield Finding("protection-slow", "warning", text, {"short_circuit_a": weakest, "rating_a": rated.rating_a})


def _amps(current_a: float) -> str:
    return f"{current_a:.1f} A" if current_a < 10.0 else f"{current_a:.0f} A"


def _before(d: Demand) -> str:
    """How much of a drop lies before a circuit begins."""
    return f", {d.feeder_drop_v:.2f} V of it before {d.source}" if d.feeder_drop_v else ""


def _sections(d: Demand) -> list[float]:
    """Sizes to choose from, the smallest first. [mm²]"""
    least = max(THINNEST_MM2, LEAST_MM2[d.insulation_c == 70.0])
    return [each.section_mm2 for each in cable_sizes() if each.section_mm2 >= least]


def _wanted_a(d: Demand, protection: Protection | None) -> float:
    """What the cable has to carry: the rating that protects it, else 1.25 times its current, or the current where that is limited. [A]"""
    if protection is not None:
        return protection.rating_a
    return d.continuous_a * (ABOVE_CONTINUOUS if d.kinds else 1.0)


def limits(d: Demand, section_mm2: float, protection: Protection | None) -> Limits:
    """What a section does for a demand.

    Notes
    -----
    The drop is that of the continuous current, at the temperature that it brings the conductor to, with what the feeders take.
    """
    ampacity = ampacity_a(section_mm2, d.insulation_c, d.ambient_c, d.bundled)
    warm = d.ambient_c + (d.insulation_c - d.ambient_c) * min(1.0, d.continuous_a / ampacity) ** 2
    drop = d.feeder_drop_v + drop_v(section_mm2, d.length_m, d.continuous_a, warm)
    most = d.drop_limit * d.volts * (1.0 + 1e-9)
    return Limits(
        ampacity,
        drop,
        _wanted_a(d, protection) <= ampacity * (1.0 + 1e-9),
        drop <= most,
        drop <= d.drop_share * most,
        _outlives(d, section_mm2, protection),
    )


def loop_ohm(d: Demand, section_mm2: float) -> float:
    """A cable out and back, as warm as its insulation stands. [ohm]"""
    return 2.0 * resistance_ohm(section_mm2, d.length_m, d.insulation_c)


def short_circuits_a(d: Demand, section_mm2: float) -> tuple[float, float]:
    """Least and most that a dead short draws: at the far end of the warm cable, and at its beginning. [A]"""
    return min(d.source_v / (d.source_ohm + loop_ohm(d, section_mm2)), d.strongest_a), d.strongest_a


def _outlives(d: Demand, section_mm2: float, protection: Protection | None) -> bool:
    """Whether the cable stands every dead short until the slowest part opens it; longer ones than 5 s lose heat and are judged apart."""
    opens = protection or d.guarded_by
    if opens is None:
        return True
    for amps in short_circuits_a(d, section_mm2):
        _, latest = opening_s(opens, amps, d.ambient_c)
        if min(latest, ADIABATIC_S) > withstand_s(section_mm2, d.insulation_c, amps):
            return False
    return True


def size(d: Demand) -> Circuit:
    """Cable and protection of a circuit: what the build states, and the smallest that do where it does not.

    Parameters
    ----------
    d : Demand
        What it has to do.

    Returns
    -------
    Circuit
        Where nothing does, the largest cable, without protection, and the findings that say what cannot be met.

    Raises
    ------
    InputProblem
        As :func:`ridesim.sizing.cable.ampacity_a` and :func:`ridesim.sizing.protection.choose`.
    """
    stated = None if d.section_mm2 is None else ampacity_a(d.section_mm2, d.insulation_c, d.ambient_c, d.bundled)
    protection, refused = _protection(d, stated)
    if d.section_mm2 is not None:
        return Circuit(d, d.section_mm2, protection, refused)
    sections = _sections(d)
    kept = {size: limits(d, size, protection) for size in sections}
    without_share = (size for size, each in kept.items() if each._replace(leaves_enough=True).all)
    fitting = (size for size, each in kept.items() if each.all)
    return Circuit(d, next(fitting, next(without_share, sections[-1])), protection, refused)


def _protection(d: Demand, ampacity: float | None) -> tuple[Protection | None, tuple[Finding, ...]]:
    """The protection that the build states, with what is wrong with it; else the first kind that does, or why the last one does not."""
    cable = 1e5 if ampacity is None else ampacity
    if d.rating_a is not None:
        (kind,) = d.kinds
        part = Protection(kind, d.rating_a)
        wrong = (*too_weak(kind, d.full_volts, d.strongest_a), *_stated(d, cable, kind))
        return part, wrong or tuple(in_warm_air(part, d.continuous_a, d.ambient_c))
    refused: tuple[Finding, ...] = ()
    for kind in d.kinds:
        choice = choose(d.continuous_a, cable, d.full_volts, d.strongest_a, kind)
        refused = () if choice.finding is None else (choice.finding,)
        if choice.rating_a is not None:
            part = Protection(kind, choice.rating_a)
            refused = tuple(in_warm_air(part, d.continuous_a, d.ambient_c))
            if not refused:
                return part, ()
    return None, refused


def _stated(d: Demand, cable_a: float, kind: str) -> Iterator[Finding]:
    """A stated rating that does not lie between current and cable."""
    rating, least = d.rating_a or 0.0, ABOVE_CONTINUOUS * d.continuous_a
    if least * (1.0 - 1e-9) <= rating <= cable_a * (1.0 + 1e-9):
        return
    good = next((each for each in kind_of(kind).ratings_a if least <= each <= cable_a), None)
    instead = (
        "No standard rating lies between: a thicker cable, or less current."
        if good is None
        else f"{good:g} A would do."
    )
    text = (
        f"{rating:g} A is stated; it has to be at least {least:.1f} A ({ABOVE_CONTINUOUS:g} times the continuous current), or it opens on the road, "
        f"and at most the {cable_a:.0f} A that the cable carries, or the cable burns first. {instead}"
    )
    yield Finding("protection-stated", "stop", text, {"rating_a": rating, "least_a": least})
