"""The wiring of a build: every circuit with its cable and protection, what the day and a short circuit do to them, what is missing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import nan
from typing import TYPE_CHECKING, Any

import numpy as np

from ridesim.choose.circuits import Needs
from ridesim.choose.findings import RANK
from ridesim.choose.findings.wiring import SHORT, STOPS_IT, SWITCH, beside_the_numbers, by_gauge, described, switches
from ridesim.choose.opening import cases, conductor_c, hottest, opened, stall_a, too_warm
from ridesim.choose.schedule import parts, schedule
from ridesim.ride.given import AnyBuild, AnyDay, given_build, given_day
from ridesim.ride.simulate import simulate
from ridesim.sizing.circuit import Circuit, Demand, loop_ohm, size
from ridesim.sizing.protection import as_a_switch, kind_of
from ridesim.vehicle import wiring as vehicle_wiring
from ridesim.vehicle.cable import next_gauge
from ridesim.words import Finding, InShort, Rows, first_sentence

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from ridesim.ride.result import Ride
    from ridesim.vehicle import Build


@dataclass(frozen=True, repr=False)
class Wiring(InShort):
    """The wiring of a build.

    Attributes
    ----------
    needs : Needs
        The build, its day, and what its circuits have to carry.
    sized : tuple of Circuit
        Every circuit with its cable and protection.
    """

    needs: Needs
    sized: tuple[Circuit, ...]

    @property
    def build(self) -> Build:
        """What is wired."""
        return self.needs.build

    @property
    def ride(self) -> Ride | None:
        """The day; None without one."""
        return self.needs.ride

    @cached_property
    def circuits(self) -> pd.DataFrame:
        """A row a circuit: circuit, continuous_a, peak_a, section_mm2, awg, ampacity_a, drop_v, drop_percent, fuse_a, reason.

        ``awg`` is the thinnest usual gauge of at least that section; ``fuse_a`` is NaN where nothing fits, or where the current is
        limited further up.
        """
        import pandas as pd

        return pd.DataFrame([
            {
                "circuit": each.demand.name, "continuous_a": each.demand.continuous_a, "peak_a": each.demand.peak_a,
                "section_mm2": each.section_mm2, "awg": next_gauge(each.section_mm2), "ampacity_a": each.limits.ampacity_a,
                "drop_v": each.limits.drop_v, "drop_percent": each.drop_percent,
                "fuse_a": each.protection.rating_a if each.protection else nan, "reason": each.reason,
            }
            for each in self.sized
        ])  # fmt: skip

    @cached_property
    def opens(self) -> pd.DataFrame:
        """What opens each circuit: circuit, case, earliest_s, latest_s, says (never, may, opens), where, cable_c, outlives.

        Cases: the day, a start on a ramp, a stall, and a dead short of the weakest and of the strongest source. Times of the day are clock
        times, with ``where`` it happens in words; all others count from the beginning. ``cable_c`` is the hottest that the cable gets
        before the slowest part opens, NaN in a dead short, which is judged by I²t. What has no protection of its own, such as the
        motor's leads, is opened by the one in front of it.
        """
        import pandas as pd

        guards = ((each, self._guard(each)) for each in self.sized)
        return pd.DataFrame([row for each, guard in guards if guard for row in cases(self.needs, each, guard)])

    def _guard(self, circuit: Circuit) -> Circuit | None:
        """The circuit whose protection opens one; None where none does."""
        if circuit.opens is None:
            return None
        if circuit.protection is not None:
            return circuit
        before = _before(circuit.demand, self.sized)
        return None if before is None else self._guard(before)

    @cached_property
    def warmth(self) -> pd.DataFrame:
        """How warm each cable gets over the day: circuit, hottest_c, clock_s, where, insulation_c; empty without a day."""
        import pandas as pd

        rows = [hottest(self.ride, each, self.temperatures(each)) for each in self.sized] if self.ride else []
        return pd.DataFrame(rows, columns=["circuit", "hottest_c", "clock_s", "where", "insulation_c"])

    def temperatures(self, circuit: Circuit) -> NDArray[np.float64]:
        """Its conductor over the day, one a kept row of the ride, as if nothing opened. [°C]"""
        trace = self.needs.trace(circuit.demand)
        return np.empty(0) if trace is None else conductor_c(circuit, *trace)

    @property
    def stall_a(self) -> float:
        """What a stalled motor at its limit takes out of the pack. [A]"""
        return stall_a(self.build)

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """What cannot be met and what would, what the day does to the protections, which switches are missing; worst first."""
        stated = self.needs.wiring
        found = [
            *(finding for each in self.sized for finding in each.findings()),
            *opened(self.build, self.sized, self.opens),
            *too_warm(self.sized, self.opens, self.warmth),
            *self._unprotected(),
            *described(stated),
            *self._switched_by_a_breaker(),
            *switches(self.build, stated),
            *by_gauge(stated),
            *self._lengths(),
            *self.cautions,
        ]
        return tuple(sorted(found, key=lambda finding: RANK[finding.severity]))

    @cached_property
    def cautions(self) -> tuple[Finding, ...]:
        """What stands beside the sizes whatever they are."""
        return tuple(beside_the_numbers(self.build, self.needs.ambient_c))

    @property
    def to_watch(self) -> list[Finding]:
        """The findings without the cautions, and without the switches about which nothing is said: those are told apart."""
        return [each for each in self.findings if each not in self.cautions and not each.code.startswith(SWITCH)]

    @property
    def silent(self) -> list[str]:
        """Keys of the switches about which the build says nothing, though it should."""
        codes = [each.code for each in self.findings if each.code.startswith(SWITCH)]
        return [each.removeprefix(SWITCH).replace("-", "_") for each in codes]

    @property
    def missing(self) -> list[str]:
        """In two words each, the switches that stop it of which the build says nothing; the protection that is proposed is there."""
        proposed = any(each.demand.role == "main" and each.protection is not None for each in self.sized)
        return [SHORT[key] for key in self.silent if key in STOPS_IT and not (key == "breaker" and proposed)]

    @property
    def stops(self) -> tuple[Finding, ...]:
        """What must not stay so in circuits that the build describes, once of each kind; what is only proposed is left out."""
        stated = {each.name for each in self.needs.wiring.circuit}
        found: dict[str, list[Finding]] = {}
        for each in self.findings if stated else ():
            if each.severity == "stop" and _about(each) in stated:
                found.setdefault(each.code, []).append(each)
        return tuple(_once(several) for several in found.values())

    @property
    def unmet(self) -> tuple[Finding, ...]:
        """Those that say what cannot be met."""
        return tuple(
            each
            for each in self.findings
            if each.code.startswith(("protection-", "cable-", "branch-")) and each.severity != "advice"
        )

    def _lengths(self) -> Iterator[Finding]:
        """Cables whose length nobody has measured."""
        guessed = [each.demand.name for each in self.sized if self._stated(each.demand.name) is None]
        if guessed:
            names = ", ".join(f"“{name}”" for name in guessed)
            text = (
                f"The build does not describe {names}: lengths are guesses, and the air round the cables is taken to be "
                f"{self.needs.round_cables_c:.0f} °C (both common practice, no source). Lay a string where the cable will lie and state "
                "length_m and ambient_c: cable and drop follow."
            )
            yield Finding("lengths-guessed", "advice", text)

    def _switched_by_a_breaker(self) -> Iterator[Finding]:
        for each in self.sized:
            if each.demand.role == "main" and each.protection is not None:
                yield from as_a_switch(each.demand.name, each.protection.kind)

    def _unprotected(self) -> Iterator[Finding]:
        """Behind a splitter: a cable that the protection in front of it lets burn."""
        for each in self.sized:
            before = _before(each.demand, self.sized)
            stated = self._stated(each.demand.name)
            if (
                before is None
                or before.protection is None
                or stated is None
                or stated.copper_mm2 is None
                or stated.protection is not None
                or not each.demand.kinds
            ):
                continue
            own = "" if each.protection is None else f": {each.protection.rating_a:g} A at {each.demand.source}"
            text = (
                f"“{each.demand.name}” begins at {each.demand.source} without a protection of its own and carries {each.limits.ampacity_a:.0f} A; "
                f"the {before.protection.rating_a:g} A of “{before.demand.name}” lets it burn. It needs its own{own}."
            )
            numbers = {"ampacity_a": each.limits.ampacity_a, "rating_a": before.protection.rating_a}
            yield Finding("branch-unprotected", "stop", text, numbers)

    def _stated(self, name: str) -> vehicle_wiring.Circuit | None:
        return next((each for each in self.needs.wiring.circuit if each.name == name), None)

    @cached_property
    def schedule(self) -> pd.DataFrame:
        """What to wire from: circuit, from, to, length_m, section_mm2, awg, colour, fuse, drop_v, drop_percent, reason."""
        return schedule(self.needs.wiring, self.sized)

    @cached_property
    def parts(self) -> pd.DataFrame:
        """What to buy: part, count, unit, where."""
        return parts(self.build, self.needs.pack.full_volts, self.sized)

    def taken_over(self) -> Build:
        """The build with every circuit described as it stands here: its cables count in the ride from now on.

        Returns
        -------
        Build
            To be saved with :func:`ridesim.save_build`; what it described already stays.
        """
        rows = [_as_table(each, self._stated(each.demand.name)) for each in self.sized]
        return self.build.changed({"wiring.circuit": rows})

    @property
    def verdict(self) -> str:
        """Whether it can be wired so, and what is still missing."""
        stops = {_about(each) for each in self.unmet}
        if stops:
            names = " and ".join(f"“{name}”" for name in sorted(stops))
            return f"It cannot be wired quite so: {names} {'needs' if len(stops) == 1 else 'need'} a change, see the findings."
        main, motor = (next(each for each in self.sized if each.demand.role == role) for role in ("main", "motor"))
        behind = "" if main.opens is None else f" behind a {kind_of(main.opens.kind).name} of {main.opens.rating_a:g} A"
        missing = self.missing
        also = f"; still missing in the build: {', '.join(missing)}. The cables" if missing else ""
        carried = f"carries up to {motor.demand.continuous_a:.0f} A while the pack gives up to {main.demand.continuous_a:.0f} A"
        return (
            f"It can be wired so{also}: {main.section_mm2:.3g} mm² from the pack{behind}, {motor.section_mm2:.3g} mm² to the motor, which "
            f"{carried}."
        )

    def _short(self) -> tuple[str, Rows]:
        rows = [("verdict", self.verdict)]
        for each in self.sized:
            fuse = f", {each.protection.rating_a:g} A" if each.protection else ""
            rows.append((each.demand.name, f"{each.section_mm2:.3g} mm²{fuse}, {each.limits.drop_v:.2f} V"))
        return f"Wiring of “{self.build.name}”", rows


def _about(finding: Finding) -> str:
    """The circuit of which a finding speaks: the first name in its text."""
    return finding.text.partition("“")[2].partition("”")[0]


def _once(several: list[Finding]) -> Finding:
    """One finding for several of a kind: what is wrong with the first circuit, and which others have it too."""
    first, *others = several
    too = f" Likewise {' and '.join(f'“{_about(each)}”' for each in others)}." if others else ""
    return replace(first, text=f"Wiring, {first_sentence(first.text)}.{too} What would do: ridesim wiring.")


def _as_table(circuit: Circuit, stated: vehicle_wiring.Circuit | None) -> dict[str, Any]:
    """A circuit as a build describes it; what it says already is kept."""
    d, part = circuit.demand, circuit.protection
    table: dict[str, Any] = {
        "name": d.name, "role": d.role, "source": d.source, "load": d.load, "length_m": d.length_m, "section_mm2": circuit.section_mm2,
        "insulation_c": d.insulation_c, "bundled": d.bundled, "ambient_c": d.ambient_c,
    }  # fmt: skip
    if part is not None:
        table |= {"protection": part.kind, "rating_a": part.rating_a}
    said = {} if stated is None else stated.said()
    if "awg" in said:
        del table["section_mm2"]
    return table | said


def _sized(needs: Needs) -> Iterator[Circuit]:
    """Every circuit sized, in the order of the schedule; those further up are sized before what follows."""
    asked = list(needs.demands())
    done: dict[str, Circuit] = {}
    for demand, stated in sorted(asked, key=lambda each: needs.wiring.reached.get(each[0].source, (0,))[0]):
        before = _before(demand, list(done.values()))
        done[demand.name] = size(_guarded(_behind(demand, before), stated, before))
    return (done[demand.name] for demand, _ in asked)


def _before(demand: Demand, done: Sequence[Circuit]) -> Circuit | None:
    """The circuit at whose end one begins; of the motor's the one that feeds the controller, whatever it is called."""
    before = next((each for each in done if each.demand.load == demand.source), None)
    if before is None and demand.role == "motor":
        return next((each for each in done if each.demand.role == "main"), None)
    return before


def _behind(demand: Demand, before: Circuit | None) -> Demand:
    """A circuit with what its feeder takes; a converter holds its voltage, and a controller makes the motor's anew."""
    if before is None or demand.source == vehicle_wiring.CONVERTER:
        return demand
    ohm = before.demand.source_ohm + loop_ohm(before.demand, before.section_mm2)
    taken = 0.0 if demand.role == "motor" else before.limits.drop_v
    return replace(demand, source_ohm=ohm, feeder_drop_v=taken)


def _guarded(demand: Demand, stated: vehicle_wiring.Circuit | None, before: Circuit | None) -> Demand:
    """What a protection further up already does for a circuit."""
    if before is None or before.opens is None:
        return demand
    guarded = replace(demand, kinds=(), guarded_by=before.opens)
    if demand.role == "motor":
        return replace(demand, guarded_by=before.opens)
    if stated is None or stated.protection is not None or before.demand.full_volts != demand.full_volts:
        return demand
    found = size(guarded)
    if found.limits.ampacity_a < before.opens.rating_a:
        return demand
    # A cable that is still open is no thicker for want of a fuse of its own.
    own = size(demand) if demand.section_mm2 is None else found
    return guarded if own.protection is None or own.section_mm2 >= found.section_mm2 else demand


def wiring(build: AnyBuild, day: AnyDay | None = None) -> Wiring:
    """Cable and protection of every circuit of a build, checked against its day.

    Parameters
    ----------
    build : Build, str or Path
        A build, or the name or path of its file. Circuits that it describes count as they are, all others are proposed.
    day : Day, str or Path, optional
        A day, or the name or path of its file; without one the controller's limits count.

    Returns
    -------
    Wiring
        Its ``circuits``, ``opens`` and ``parts`` as frames, its ``findings``, its ``verdict`` in a sentence or two.

    Raises
    ------
    InputProblem
        As the build's or the day's own file says it.

    Examples
    --------
    >>> frame = wiring("heron_36v", "harbour_festival").circuits
    >>> print(frame.loc[:1, ["circuit", "continuous_a", "section_mm2", "fuse_a"]].to_string(index=False))
    circuit  continuous_a  section_mm2  fuse_a
       main          40.0          6.0    50.0
      motor          80.0         16.0     NaN
    """
    build = given_build(build)
    return wired(build, None if day is None else simulate(build, given_day(day)))


def wired(build: Build, ride: Ride | None) -> Wiring:
    """The wiring of a build whose day was ridden already, its rows kept."""
    needs = Needs(build, ride)
    return Wiring(needs, tuple(_sized(needs)))
