"""Lights: what an LED strip takes, how long each light burns, and an own block against a converter on the pack."""

from __future__ import annotations

from dataclasses import dataclass

from ridesim.ride.given import AnyBuild, AnyDay, given_build, given_day
from ridesim.ride.simulate import simulate
from ridesim.words import InputProblem, InShort, Rows, need_number, percent

STRIPS_W_PER_M = {"SMD5050, 60 a metre": 14.4, "SMD5050, 30 a metre": 7.2, "SMD3528, 60 a metre": 4.8}
"""LED strips of 12 V, a maker's figures; all strips lie between 5 and 24 W/m (common practice). [W/m]"""


def strip_w_per_m(leds_per_m: float, leds_per_group: float, group_a: float, volts: float) -> float:
    """Power of an LED strip.

    Parameters
    ----------
    leds_per_m, leds_per_group : float
        LEDs a metre, and in series with one resistor. [1/m], [-]
    group_a : float
        Current of a group. [A]
    volts : float
        [V]

    Returns
    -------
    float
        V I n/g: the resistors' share included. [W/m]

    Raises
    ------
    InputProblem
        A value that is none.

    Examples
    --------
    >>> round(strip_w_per_m(60, 3, 0.06, 12.0), 1)
    14.4
    """
    for name, value in (("leds_per_m", leds_per_m), ("leds_per_group", leds_per_group)):
        need_number("the strip", name, value, 0.0, 1000.0, above=True)
    need_number("the strip", "group_a", group_a, 0.0, 10.0, "A", above=True)
    need_number("the strip", "volts", volts, 0.0, 60.0, "V", above=True)
    return volts * group_a * leds_per_m / leds_per_group


@dataclass(frozen=True, repr=False)
class LightSupplies(InShort):
    """A block of their own for the lights, against a converter on the main pack, over one day.

    Attributes
    ----------
    on_converter : bool
        Whether the build has them on the pack.
    power_w, burning_h : float
        All lights, and their hours full on.
    own_ah : float
        Label of the block that the build names, or of a usual one.
    own_left : float
        Left in the own block in the evening, 0 to 1.
    own_enough_ah, own_mass_kg : float
        Label of a block that would have a fifth left; mass of the one that the build names.
    own_spare_km, converter_spare_km : float or None
        What could still be ridden after the day; None as :attr:`ridesim.ride.outcome.Outcome.spare_km`.
    converter_ah : float
        By how much emptier the converter leaves the pack in the evening.
    """

    on_converter: bool
    power_w: float
    burning_h: float
    own_ah: float
    own_left: float
    own_enough_ah: float
    own_mass_kg: float
    own_spare_km: float | None
    converter_spare_km: float | None
    converter_ah: float

    @property
    def sentence(self) -> str:
        """Which of the two, and what the other costs."""
        if self.burning_h == 0.0:
            return "The day has no light on; either will do."
        costs = ""
        if self.own_spare_km is not None and self.converter_spare_km is not None:
            costs = f", {self.own_spare_km - self.converter_spare_km:.1f} km less to spare"
        converter = f"on a converter they leave the pack {self.converter_ah:.1f} Ah emptier{costs}, and go dark with it"
        if self.on_converter:
            would = (
                f"have {percent(self.own_left)} left"
                if self.own_left > 0.0
                else f"be empty too early, {self.own_enough_ah:.0f} Ah would do"
            )
            return f"{converter[:1].upper()}{converter[1:]}; an own block of {self.own_ah:g} Ah would {would}."
        if self.own_left > 0.0:
            return f"Keep the own block: {percent(self.own_left)} of it is left; {converter}."
        return f"The own block is empty before the day ends, {self.own_enough_ah:.0f} Ah would do; {converter}."

    def _short(self) -> tuple[str, Rows]:
        return f"Lights of {self.power_w:g} W, {self.burning_h:.1f} h full on", [("verdict", self.sentence)]


def supplies(build: AnyBuild, day: AnyDay) -> LightSupplies:
    """The lights on a block of their own and on the pack, both ridden.

    Parameters
    ----------
    build : Build, str or Path
        A build with lights, or the name or path of its file.
    day : Day, str or Path
        A day, or the name or path of its file.

    Returns
    -------
    LightSupplies

    Raises
    ------
    InputProblem
        A build without lights.

    Examples
    --------
    >>> print(supplies("heron_36v", "harbour_festival").sentence)
    Keep the own block: 42 % of it is left; on a converter they leave the pack 0.7 Ah emptier, 0.4 km less to spare, and go dark with it.
    """
    build, day = given_build(build), given_day(day)
    if build.lighting is None:
        raise InputProblem(build.name, "lighting", "nothing", "a build with lights")
    lights = build.lighting
    own, shared = (
        simulate(build.changed({"lighting.supply": each}), day, keep_rows=False)
        for each in ("own-battery", "main-pack")
    )
    block = own.outcome.lights
    assert block is not None
    taken_wh = lights.battery_voltage_v * sum(amps * hours for amps, hours in block.runs)
    return LightSupplies(
        on_converter=lights.supply == "main-pack",
        power_w=lights.power_w,
        own_ah=lights.battery_capacity_ah,
        burning_h=taken_wh / lights.power_w if taken_wh else 0.0,
        own_left=block.left,
        own_enough_ah=block.enough_ah,
        own_mass_kg=lights.battery_mass_kg,
        own_spare_km=own.outcome.spare_km,
        converter_spare_km=shared.outcome.spare_km,
        converter_ah=shared.outcome.missing_ah - own.outcome.missing_ah,
    )
