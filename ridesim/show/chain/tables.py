"""Tables of the chain notebook as HTML, and the order list as CSV. Everything from outside is escaped."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from ridesim.show.chain.inputs import CAUTIONS, ChainAnswer, day_pull_n
from ridesim.show.tables.html import findings_html, html_table
from ridesim.show.tables.outcome import csv_text
from ridesim.show.units import System
from ridesim.sizing.chain import centre_distance, centre_distance_exact
from ridesim.sizing.chain_fit import LEAST_WRAP_DEGREES, SAFE, ChainFit
from ridesim.sizing.chain_life import (
    FEWEST_SMOOTH,
    FEWEST_USUAL,
    MEASURED_LINKS,
    SERVICE_FACTOR,
    ChainDuty,
    by_size,
    chain_duty,
)
from ridesim.sizing.chain_order import OrderLine
from ridesim.sizing.mounting import LEAST_IDLER_TEETH
from ridesim.sizing.tyre import diameter_mm, rolling_radius_m, speedometer_error_percent
from ridesim.vehicle.drive import STAGES

SIZES_SHOWN = ("25", "35", "06B", "415", "420", "428", "08B", "40", "520", "530", "50", "10B", "630")
"""Sizes that donors and dealers have; the rest of the list differs little."""
GAIN_MM = 0.5
"""A change of the chain's length that is worth moving a bracket for."""
STAGE_WAYS = {1: "keeps the direction", -1: "reverses it", 0: "turns the axis"}
WAYS = {
    1: "as the motor, seen from one side", -1: "against the motor, seen from one side: change over the motor’s two leads",
    0: "about another axis than the motor: the hand of the worm’s thread decides, try it with the wheel up",
    None: "as the gearbox says, which is known by its ratio alone: count its gear pairs, or state them as [[drive.stage]]",
}  # fmt: skip


def _heads(answer: ChainAnswer) -> list[str]:
    return ["", *(f"{fit.chain.name}, {fit.motor_teeth} to {fit.wheel_teeth} teeth" for fit in answer.fits.values())]


def fit_html(answer: ChainAnswer, system: System) -> str:
    """Links, distance of the centres, what the adjuster takes, sag and wrap; one link pair less and more; an idler."""

    def span(fit: ChainFit) -> str:
        return f"{fit.sag_mm[0]:.0f} to {fit.sag_mm[1]:.0f} mm"

    def travel(fit: ChainFit) -> str:
        return "not stated" if fit.travel_mm is None else f"{fit.move_mm:.1f} of {fit.travel_mm:g} mm"

    rows = [
        ("links", [f"{fit.links}" for fit in answer.fits.values()]),
        ("tight at", [f"{fit.centre_mm:.1f} mm between the centres" for fit in answer.fits.values()]),
        ("stated, adjuster at its shortest", [f"{fit.stated_mm:.1f} mm" for fit in answer.fits.values()]),
        ("travel taken", [travel(fit) for fit in answer.fits.values()]),
        (
            "travel that wear to 2 % takes, and about to 3 %",
            [f"{fit.wear_mm:.1f}, {1.5 * fit.wear_mm:.0f} mm" for fit in answer.fits.values()],
        ),
        ("sag of the slack span, tightest spot", [span(fit) for fit in answer.fits.values()]),
        (f"wrap, {LEAST_WRAP_DEGREES:g}° at least", [f"{fit.wrap_degrees:.0f}°" for fit in answer.fits.values()]),
    ]
    note = (
        f"While it pulls forwards the {answer.mounting.slack_span} span at the wheel is slack; its sag is 2 to 4 % of its length "
        "(makers’ manuals, from memory). Distances by tangents; an even number of links needs no offset link."
    )
    return (
        html_table("The chain and its adjuster", _heads(answer), rows, note)
        + _neighbours(answer)
        + _idler(answer)
        + _caution()
    )


def _neighbours(answer: ChainAnswer) -> str:
    """One pair of links less and more, for who may still move the shaft."""
    fit = answer.mounting.fit
    pitch, n1, n2 = fit.chain.pitch_mm, fit.motor_teeth, fit.wheel_teeth
    rows = []
    for arc in answer.mounting.arcs:
        exact, formula = (pitch * each(arc.links, n1, n2) for each in (centre_distance_exact, centre_distance))
        reach = f"{exact - (fit.travel_mm or 0.0):.1f} to {exact:.1f} mm"
        rows.append((f"{arc.links}", [f"{exact:.2f} mm", f"{formula:.2f} mm", reach]))
    heads = ["links", "tight at", "by the length formula", "shaft from the axle"]
    note = "The last column is for a shaft in line with the adjuster; the picture has every place."
    return html_table("Neighbouring numbers of links", heads, rows, note)


def _idler(answer: ChainAnswer) -> str:
    found = answer.idler
    if found is None:
        return ""
    few = (
        ""
        if found.in_mesh >= LEAST_IDLER_TEETH
        else f", fewer than the {LEAST_IDLER_TEETH} that are usual: use it as a light tensioner only"
    )
    text = (
        f"Or an idler: {found.teeth} teeth that press the {answer.mounting.slack_span} span in by {found.press_mm:.0f} mm half way along take up "
        f"{found.slack_mm:.1f} mm of chain, so that {found.links} links are tight with the shaft where it is. "
        f"The wrap of the small sprocket becomes {found.wrap_degrees:.0f}°; the idler has {found.in_mesh:.1f} teeth in mesh{few}."
        " In reverse, or where the wheel drives the motor, that span pulls tight: an idler on a bolt holds, a sprung one lets the chain jump."
    )
    return f"<p>{escape(text)}</p>"


def travel_html(answer: ChainAnswer, system: System) -> str:
    """What the swinging arm's travel does to the chain, and where the shaft would feel it least."""
    found = answer.mounting
    if found.swing is None:
        return (
            "<p>State vehicle.pivot_x_m and vehicle.pivot_z_m, the swinging arm’s pivot, to see how much the chain tightens and slackens "
            "through the arm’s travel. A rigid rear end has none.</p>"
        )
    swing = found.swing
    places = {"wheel down": 0, "as it stands": int(abs(swing.up_mm).argmin()), "wheel up": -1}
    rows = [
        (name, [f"{swing.up_mm[at]:+.0f} mm", f"{swing.need_mm[at]:+.1f} mm"]) for name, at in places.items()
    ]  # fmt: skip
    text = f"<p>{escape(swing.sentence)}</p>"
    if found.calmest is not None:
        at, calm = found.calmest
        where = f"{1000.0 * at.real:.0f} mm forward and {1000.0 * at.imag:.0f} mm up"
        less = "" if calm.spread_mm < swing.spread_mm - GAIN_MM else ", which is hardly less than where the shaft is"
        text += f"<p>Of the places for {found.fit.links} links that touch nothing, the arm is felt least {where}: {calm.spread_mm:.1f} mm{less}.</p>"
    note = (
        "Set the slack with the vehicle loaded, then push the arm through its travel and look: it must never be tight. Service manuals of road "
        "motorcycles ask for 20 to 35 mm of up-and-down play, of trail bikes for 30 to 50. A third of the travel counts as taken up by the load "
        "(common practice, no source)."
    )
    return text + html_table("The chain through the arm’s travel", ["", "wheel", "chain needs"], rows, note)


def strength_html(answer: ChainAnswer, system: System) -> str:
    """Pull against strength, power against rating, oil, unevenness, the shaft."""
    at_rim_n = day_pull_n(answer)
    duties = [chain_duty(answer.build, which, at_rim_n) for which in answer.fits]
    safe = [f"{fit.safety:.1f}" if fit.safety >= SAFE else f"<em>{fit.safety:.1f}</em>" for fit in answer.fits.values()]
    used = ["" if each.power_share is None else f"{100.0 * each.power_share:.0f} %" for each in duties]
    day = ["" if each.day_pull_n is None else system.text(each.day_pull_n, "n", 0) for each in duties]
    rows = [
        ("pull at a stand, full throttle", [system.text(fit.stall_pull_n, "n", 0) for fit in answer.fits.values()]),
        ("largest pull in the day", day),
        ("least strength", [system.text(fit.chain.strength_n, "n", 0) for fit in answer.fits.values()]),
        (f"times the stall pull, {SAFE:g} at least", safe),
        ("an eighth of the strength", [system.text(fit.chain.strength_n / SAFE, "n", 0) for fit in answer.fits.values()]),
        ("most power, small sprocket’s turns", [f"{each.power_w:.0f} W at {each.rpm:.0f} a minute" for each in duties]),
        ("rated power there", [_rated(each) for each in duties]),
        (f"of it, with service factor {SERVICE_FACTOR:g}", used),
        ("chain’s speed at top speed", [f"{each.speed_mps:.1f} m/s" for each in duties]),
        ("oil, by the industrial class", [each.oil for each in duties]),
        ("speed varies at each tooth by", [f"{100.0 * each.unevenness:.1f} %" for each in duties]),
        ("on the small sprocket’s shaft", [system.text(each.shaft_load_n, "n", 0) for each in duties]),
    ]  # fmt: skip
    note = (
        "Strength decides at a stand, no rating; an eighth of it is from memory. The rating is for 15 000 hours and good oil; on an open chain "
        f"that runs some hours a year, spray before each day is common practice. Under {FEWEST_USUAL} teeth is too few by a chain maker, "
        f"{FEWEST_SMOOTH} run smoothly. "
        "A shaft that sticks out of a salvaged motor is seldom made for such a side load: "
        "sprocket close to its bearing, or a bearing on the other side."
    )
    return html_table("Strength and life", _heads(answer), rows, note) + _caution()


def _rated(duty: ChainDuty) -> str:
    """Rated power, and by which number's rating where the size has none of its own."""
    if duty.rated_w is None:
        return "no rating: its strength alone is judged"
    name, number = duty.fit.chain.name, duty.fit.chain.rating
    return f"{duty.rated_w:.0f} W" + ("" if name == number else f", as No. {number} of about its pitch and width")


def donor_html(answer: ChainAnswer, system: System) -> str:
    """The donor's chain and sprocket against new ones, and how worn they are."""
    chain, teeth = answer.donor
    rows = []
    for place, row in enumerate(by_size(answer.build, chain, teeth)):
        donors = place == 0 and bool(chain) and teeth is not None
        if not donors and row.chain.name not in (*SIZES_SHOWN, answer.mounting.fit.chain.name):
            continue
        own = row.chain.name == answer.mounting.fit.chain.name and not donors
        name = f"{row.chain.name}, the donor’s" if donors else f"{row.chain.name}, now" if own else row.chain.name
        strong = f"{row.safety:.1f}" if row.holds else f"<em>{row.safety:.1f}</em>"
        rows.append((escape(name), [
            f"{row.motor_teeth} to {row.wheel_teeth}", f"{row.wheel_mm:.0f} mm", f"{row.links}", strong, system.text(row.mass_kg, "kg", 2),
        ]))  # fmt: skip
    heads = ["chain", "teeth", "large sprocket", "links", f"times the stall pull, {SAFE:g} at least", "chain weighs"]
    note = (
        "A sprocket takes one size of chain, also where two sizes have one pitch: width and roller differ. Hooked or thinned teeth wear a new "
        "chain out at once: chain and both sprockets are renewed together."
    )
    return _worn(answer) + html_table("The same drive in other sizes", heads, rows, note)


def _worn(answer: ChainAnswer) -> str:
    if answer.worn is None:
        return (
            f"<p>To see how worn the donor’s chain is, pull {MEASURED_LINKS} links straight with about 100 N, measure from a pin to the one "
            f"{MEASURED_LINKS} links on, and type it.</p>"
        )
    longer, limit, industrial = answer.worn
    verdict = "replace it, and look at the teeth" if longer >= limit else "it may stay if the teeth are good"
    said = f"The donor’s chain is {longer:.1f} % longer than new; it is replaced at {limit:.1f} %: {verdict}."
    return f"<p><b>{said}</b> Industrial drives go to {industrial:.1f} %.</p>"


def wheel_html(answer: ChainAnswer, system: System) -> str:
    """Tyre, rolling radius, speedometer, and which way the wheel turns."""
    vehicle, drive = answer.build.vehicle, answer.build.drive
    width = answer.build.widths.get("vehicle.rolling_radius_m")
    band = "" if width is None else f" <small>{1000.0 * width.low:.0f} to {1000.0 * width.high:.0f}</small>"
    rows = [("rolling radius that counts", [f"{1000.0 * vehicle.rolling_radius_m:.0f} mm{band}"])]
    if vehicle.tyre is not None:
        by_size = rolling_radius_m(vehicle.tyre)
        rows.append((f"tyre {escape(vehicle.tyre)}, free diameter", [f"{diameter_mm(vehicle.tyre):.0f} mm"]))
        rows.append(
            (
                "rolling radius by its size",
                [
                    f"{1000.0 * by_size.value:.0f} mm <small>{1000.0 * by_size.low:.0f} to {1000.0 * by_size.high:.0f}</small>"
                ],
            )
        )
    if vehicle.tyre is not None and vehicle.donor_tyre is not None:
        error = speedometer_error_percent(vehicle.donor_tyre, vehicle.tyre)
        rows.append(
            (
                f"speedometer made for {escape(vehicle.donor_tyre)}",
                [f"reads {abs(error):.1f} % too {'high' if error > 0.0 else 'low'}"],
            )
        )
    rows += [
        (f"stage {n}, {each.kind}", [STAGE_WAYS[STAGES[each.kind].turns]])
        for n, each in enumerate(drive.stage or (), start=1)
    ]
    rows.append(("the wheel turns", [escape(WAYS[drive.way])]))
    rows.append(
        (
            "rolling or pushed",
            [
                "a freewheel lets it overrun; no reverse"
                if drive.freewheel
                else "the motor turns with it, also pushed backwards"
            ],
        )
    )
    note = (
        "Five turns of the loaded wheel marked on the ground, over 10 π, are the rolling radius; that goes into vehicle.rolling_radius_m and "
        "wins over the tyre’s size (vehicle.tyre, such as 120/80-16). "
        "The effective radius is 0.95 to 0.99 of the free one (common practice, from memory)."
    )
    return html_table("Wheel and direction", ["", ""], rows, note)


def order_html(answer: ChainAnswer, system: System) -> str:
    """What to order."""
    rows = [(f"{line.number} × {escape(line.item)}", [escape(line.size), escape(line.note)]) for line in answer.order]
    return html_table("Order list", ["what", "size", "look at"], rows) + _caution()


def order_csv(lines: Sequence[OrderLine]) -> str:
    """The order list for a spreadsheet."""
    return csv_text([["item", "size", "number", "note"], *([str(cell) for cell in line] for line in lines)])


def _caution() -> str:
    return f"<p><b>Careful.</b> {escape(' '.join(CAUTIONS))}</p>"


def watch_html(answer: ChainAnswer, system: System) -> str:
    """What to watch of chain and mounting."""
    found = [(0, each) for each in answer.watch]
    return findings_html([answer.build.name], found, colours=False, system=system) if found else ""
