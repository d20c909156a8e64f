"""The wiring of a build: every circuit with its cable and protection, what the day and a short circuit do to them, what is missing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import inf, isfinite, nan
from typing import TYPE_CHECKING, Any

import numpy as np

from ridesim.choose.circuits import Needs
from ridesim.choose.findings import RANK
from ridesim.choose.findings.places import where
from ridesim.choose.findings.wiring import SWITCH, beside_the_numbers, by_gauge, described, switches
from ridesim.choose.schedule import parts, schedule
from ridesim.ride.given import AnyBuild, AnyDay, given_build, given_day
from ridesim.ride.simulate import simulate
from ridesim.sizing.cable import temperatures_c, withstand_s
from ridesim.sizing.circuit import Circuit, Demand, short_circuits_a, size
from ridesim.sizing.protection import Protection, as_a_switch, kind_of, opening_s, trips
from ridesim.vehicle import wiring as vehicle_wiring
from ridesim.vehicle.cable import next_gauge
from ridesim.words import Finding, InShort, Rows, first_sentence

if TYPE_CHECKING:
    import pandas as pd

    from ridesim.ride.result import Ride
    from ridesim.vehicle import Build

STALLED = "stalled for 10 s"
STALL_S = RAMP_S = 10.0
"""How long a stall and a start on a ramp last. [s]"""


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
        """What opens each protected circuit: circuit, case, earliest_s, latest_s, says (never, may, opens), cable_c, outlives.

        Cases: the day, a start on a ramp, a stall, and a dead short of the weakest and of the strongest source. Times of the day are clock
        times, all others count from the beginning. ``cable_c`` is the hottest that the cable gets before the slowest part opens, NaN
        in a dead short, which is judged by I²t.
        """
        import pandas as pd

        return pd.DataFrame([row for each in self.sized if each.protection for row in self._cases(each)])

    def _cases(self, circuit: Circuit) -> Iterator[dict[str, Any]]:
        d, part = circuit.demand, circuit.protection
        assert part is not None
        trace = self.needs.trace(d.role)
        if trace is not None:
            yield _case(circuit, part, "the day", *trace)
        if d.role == "main":
            for case, amps, seconds in (
                ("a start on a ramp", d.continuous_a, RAMP_S),
                (STALLED, self.stall_a, STALL_S),
            ):
                yield _case(circuit, part, case, np.array([0.0, seconds]), np.array([amps, amps]))
        for case, amps in zip(
            ("weakest dead short", "strongest dead short"), short_circuits_a(d, circuit.section_mm2), strict=True
        ):
            earliest, latest = opening_s(part, amps, d.ambient_c)
            stands = amps <= circuit.limits.ampacity_a
            outlives = stands or latest <= withstand_s(circuit.section_mm2, d.insulation_c, amps)
            yield _row(circuit, case, earliest, latest, nan, outlives)

    @cached_property
    def stall_a(self) -> float:
        """What a stalled motor at its limit takes out of the pack: heat of winding and controller over the pack's voltage. [A]"""
        motor, amps = self.build.motor, self.build.controller.max_motor_current_a
        watts = amps * amps * (motor.resistance_ohm + self.build.on_resistance_ohm) + amps * motor.brush_drop_v
        return min(watts / self.build.pack.nominal_voltage_v, self.build.controller.max_battery_current_a)

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """What cannot be met and what would, what the day does to the protections, which switches are missing; worst first."""
        stated = self.needs.wiring
        found = [
            *(finding for each in self.sized for finding in each.findings()),
            *self._over_the_day(),
            *self._stalled(),
            *self._unprotected(),
            *described(stated),
            *self._switched_by_a_breaker(),
            *switches(self.build, stated),
            *by_gauge(stated),
            *self.cautions,
        ]
        return tuple(sorted(found, key=lambda finding: RANK[finding.severity]))

    @cached_property
    def cautions(self) -> tuple[Finding, ...]:
        """What stands beside the sizes whatever they are."""
        return tuple(beside_the_numbers(self.build, self.needs.ambient_c))

    @property
    def silent(self) -> list[str]:
        """Keys of the switches about which the build says nothing, though it should."""
        codes = [each.code for each in self.findings if each.code.startswith(SWITCH)]
        return [each.removeprefix(SWITCH).replace("-", "_") for each in codes]

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

    def _over_the_day(self) -> Iterator[Finding]:
        """A protection that opens on the road, or may."""
        for row in self.opens.to_dict("records") if len(self.opens) else ():
            if row["case"] != "the day" or row["says"] == "never" or self.ride is None:
                continue
            place, name = where(self.ride, row["earliest_s"]), row["circuit"]
            text = (
                f"at {place} (times from memory): motor and what hangs on it are dead at once, so hold the vehicle with its brakes. A larger rating "
                "with the cable for it, or a lower limit at the controller."
            )
            numbers = {"clock_s": row["earliest_s"]}
            if row["says"] == "may":
                yield Finding(
                    "protection-may-open-on-the-day", "warning", f"“{name}”: its protection may open {text}", numbers
                )
            else:
                yield Finding("protection-opens-on-the-day", "stop", f"“{name}”: its protection opens {text}", numbers)

    def _switched_by_a_breaker(self) -> Iterator[Finding]:
        for each in self.sized:
            if each.demand.role == "main" and each.protection is not None:
                yield from as_a_switch(each.demand.name, each.protection.kind)

    def _stalled(self) -> Iterator[Finding]:
        """A breaker that sees little of a stalled motor."""
        if any(row["case"] == STALLED and row["says"] == "never" for row in self.opens.to_dict("records")):
            text = (
                f"Stalled at its limit the motor takes {self.stall_a:.0f} A out of the pack: no protection opens, while "
                f"{self.build.controller.max_motor_current_a:.0f} A heat its winding. Let go of the throttle."
            )
            yield Finding("stall-opens-nothing", "advice", text, {"pack_current_a": self.stall_a})

    def _unprotected(self) -> Iterator[Finding]:
        """Behind a splitter: a cable that the protection in front of it lets burn."""
        for each in self.sized:
            before = self._before(each.demand)
            stated = self._stated(each.demand.name)
            if (
                before is None
                or before.protection is None
                or stated is None
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

    def _before(self, demand: Demand) -> Circuit | None:
        return next((each for each in self.sized if each.demand.load == demand.source), None)

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
        """Whether it can be wired so, in one sentence."""
        stops = {_about(each) for each in self.unmet}
        if stops:
            names = " and ".join(f"“{name}”" for name in sorted(stops))
            return f"It cannot be wired quite so: {names} {'needs' if len(stops) == 1 else 'need'} a change, see the findings."
        main, motor = (next(each for each in self.sized if each.demand.role == role) for role in ("main", "motor"))
        behind = "" if main.opens is None else f" behind a {kind_of(main.opens.kind).name} of {main.opens.rating_a:g} A"
        return (
            f"It can be wired so: {main.section_mm2:.3g} mm² from the pack{behind}, {motor.section_mm2:.3g} mm² to the motor, which carries up to "
            f"{motor.demand.continuous_a:.0f} A while the pack gives up to {main.demand.continuous_a:.0f} A."
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


def _case(circuit: Circuit, part: Protection, case: str, time_s: Any, current_a: Any) -> dict[str, Any]:
    """How a protection takes a current, and how warm the cable gets before the slowest part opens."""
    d = circuit.demand
    earliest, latest = trips(part, time_s, current_a, d.ambient_c)
    upto = max(2, int(np.searchsorted(time_s, latest, side="right")))
    warm = temperatures_c(circuit.section_mm2, d.insulation_c, d.ambient_c, d.bundled, time_s[:upto], current_a[:upto])
    hottest = float(warm.max())
    return _row(circuit, case, earliest, latest, hottest, hottest <= d.insulation_c + 0.5)


def _row(circuit: Circuit, case: str, earliest: float, latest: float, cable_c: float, outlives: bool) -> dict[str, Any]:
    says = "opens" if isfinite(latest) else "may" if earliest < inf else "never"
    return {
        "circuit": circuit.demand.name, "case": case, "earliest_s": earliest, "latest_s": latest, "says": says, "cable_c": cable_c,
        "outlives": outlives,
    }  # fmt: skip


def _sized(needs: Needs) -> Iterator[Circuit]:
    """Every circuit sized, those further up first where they guard what follows."""
    done: list[Circuit] = []
    for demand, stated in needs.demands():
        circuit = size(_guarded(demand, stated, done))
        done.append(circuit)
        yield circuit


def _guarded(demand: Demand, stated: vehicle_wiring.Circuit | None, done: Sequence[Circuit]) -> Demand:
    """What a protection further up already does for a circuit."""
    if demand.role == "motor":
        main = next((each for each in done if each.demand.role == "main"), None)
        return replace(demand, guarded_by=None if main is None else main.opens)
    before = next((each for each in done if each.demand.load == demand.source), None)
    if before is None or before.opens is None or stated is None or stated.protection is not None:
        return demand
    guarded = replace(demand, kinds=(), guarded_by=before.opens)
    enough = size(guarded).limits.ampacity_a >= before.opens.rating_a
    return guarded if enough and before.demand.full_volts == demand.full_volts else demand


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
        Its ``circuits``, ``opens`` and ``parts`` as frames, its ``findings``, its ``verdict`` in one sentence.

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
