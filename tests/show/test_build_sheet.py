"""The printed build sheet: the comparison's own figures, every value with its origin, nothing unescaped."""

from __future__ import annotations

import math
import re
from datetime import date
from html.parser import HTMLParser

import pytest
from scipy.optimize import brentq

import ridesim
from ridesim.choose.readings import readings, rested_block_v, steady_state
from ridesim.command import main
from ridesim.ride.machine import machine
from ridesim.ride.steady.duty import duties
from ridesim.show.sheet import build_sheet
from ridesim.show.sheet.chain import chain_part
from ridesim.show.sheet.content import build_part
from ridesim.show.sheet.leads import TITLE
from ridesim.show.tables.html import alike
from ridesim.show.tables.outcome import lines_for
from ridesim.show.units import IMPERIAL, METRIC, with_minus
from ridesim.sizing.balance import bar_force_n, handling
from ridesim.sizing.chain_fit import chain_fit
from ridesim.sizing.mounting import mounting
from ridesim.sizing.moving import crest_percent
from ridesim.sizing.tray import arrangements
from ridesim.vehicle.ledger import unplaced
from ridesim.words import InputProblem

DAY = "harbour_festival"


class Words(HTMLParser):
    """The text of a page, without style, and the tags it has."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.parts: list[str] = []
        self.tags: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        assert not [value for name, value in attrs if name in ("src", "href") and not value.startswith("data:")], (
            "nothing is loaded from elsewhere"
        )

    def handle_data(self, data):
        if self.tags[-1:] != ["style"]:
            self.parts.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.parts).replace("\N{NO-BREAK SPACE}", " ").split())


@pytest.fixture(autouse=True)
def without_remedies(monkeypatch):
    """What would mend a build is looked for by dozens of rides, and stands on the pair's own sheet, which is made before this."""
    monkeypatch.setattr("ridesim.choose.remedies.remedies", lambda _candidate: ())


@pytest.fixture(scope="module")
def pair():
    return ridesim.compare(
        [ridesim.load_build("heron_36v"), ridesim.load_build("puppet_cart")], ridesim.load_day(DAY), draws=32
    )


@pytest.fixture(scope="module")
def words(pair):
    return Words(build_sheet(pair, printed=date(2026, 5, 1)).page)


def changed(build, **sections):
    return build.changed({f"{part}.{key}": value for part, keys in sections.items() for key, value in keys.items()})


def test_every_figure_of_the_comparison_stands_on_it(pair, words):
    for line in lines_for(pair):
        for cell in line.cells:
            assert with_minus(cell) in words.text
    for each, verdict in zip(pair.candidates, pair.verdicts, strict=True):
        assert with_minus(verdict.sentence) in words.text.replace("\N{NO-BREAK SPACE}", " ")
        for finding in each.findings:
            assert " ".join(finding.text.split()) in words.text
    assert "2026-05-01" in words.text


def test_what_the_file_does_not_state_stands_on_it_with_key_and_band(pair, words):
    for each in pair.candidates:
        listed = {
            f"{section}.{guess.key}": guess
            for section, guesses in build_part(each, METRIC)["guessed"]
            for guess in guesses
        }
        for value in each.build.in_play():
            section, _, key = value.place.partition(".")
            elsewhere = "mass[" in key or key in ("x_m", "z_m", "parts_weighed") or key.startswith("grip.")
            if (
                value.given
                or section in ("exact", "wiring")
                or elsewhere
                or isinstance(value.value, tuple)
                or not value.value
            ):
                assert value.place not in listed
                continue
            guess = listed.pop(value.place)
            assert guess.meaning
            assert f"{guess.key} {guess.figure} : {guess.meaning}" in words.text
            if value.unsure:
                low, high = (float(f"{end:.3g}") for end in (value.width.low, value.width.high))
                assert guess.figure.endswith(f"({low:g} to {high:g})")
        assert listed == {}, "nothing that the file states"


def test_nobody_s_own_build_is_called_invented_because_the_day_is(pair):
    own = pair.rides[0].build.changed({"note": "ours"})
    html = build_sheet(ridesim.compare([own, pair.rides[1].build], pair.day, draws=32)).html
    feet = re.findall(r'@bottom-left \{ content: "(.*?)"; \} @bottom-right \{ content: "(.*?)"', html)
    assert ["invented" in foot for foot, _ in feet] == [False, True]
    assert all("festival, invented demo data, " in right for _, right in feet), "the day is, and says so itself"
    assert "Heron, 36 V." in html


def test_what_there_is_not_is_left_out_and_pairs_are_named(pair, words):
    lost = pair.rides[0].build.changed({"pack.block_capacity_ah": 8.0})
    (short,) = ridesim.compare([lost], pair.day, draws=32).candidates
    said = [line for half in build_part(short, METRIC)["outcome"] for line in half]
    assert any(line.cells[0] == "-" for line in lines_for(ridesim.compare([lost], pair.day, draws=32)))
    assert [line for line in said if line.figure.split()[0] == "-"] == []
    heron = pair.rides[0].build
    front, rear = ridesim.balance(heron).front_kg.value, ridesim.balance(heron).rear_kg.value
    fit = chain_fit(heron)
    for text in (
        f"on the front axle {front:.1f} kg",
        f"on the rear axle {rear:.1f} kg",
        f"travel left {fit.left_mm:.0f} mm",
        f"travel that wear takes {fit.wear_mm:.0f} mm",
    ):
        assert text in words.text


def test_the_chargers_of_night_day_and_cable_are_told_apart(pair, words):
    assert "The build names no charger: reckoned overnight with a slow one, 10 % of the ampere-hours" in words.text
    assert "in the day with the 4 A of the day’s file" in words.text
    assert "cable and fuse are for 6.6 A, the most that the blocks stand" in words.text


def test_the_motor_s_duties_are_one_line(pair, words):
    first = {duty.code: duty.current_a for duty in duties(pair.rides[0].build)}
    assert f"for hours {first['S1']:.0f} A, for ten minutes from cold {first['S2 10 min']:.0f} A" in words.text
    assert "S3" not in words.text


def test_leads_are_traced_only_where_they_are_not_marked(pair):
    heron, cart = (ride.build for ride in pair.rides)
    assert not heron.controller.leads_marked
    assert cart.controller.leads_marked
    both = build_sheet(pair).html
    assert both.count(TITLE) == 1
    assert f"{heron.name}, invented demo data: pack 36 V by name" in both
    assert f"{cart.name}: pack" not in both
    alone = build_sheet(ridesim.compare([changed(heron, controller={"leads_marked": True})], pair.day, draws=32)).html
    assert TITLE not in alone
    assert "Side by side" not in alone
    assert "Side by side" in both
    rested = re.search(r"each block: charged.*?</tr>", alone, re.S)
    assert rested.group().count("<span>") == heron.pack.blocks_in_series, "each block has a place to write"


def test_what_users_wrote_is_text_not_markup(pair):
    nasty = pair.rides[0].build.changed({"name": "<script>alert(1)</script>", "note": "a & b <i>"})
    page = build_sheet(ridesim.compare([nasty], pair.day, draws=32)).page
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert "a &amp; b &lt;i&gt;" in page
    breaking_out = nasty.changed({"name": '"; } } body { display: none'})
    style = build_sheet(ridesim.compare([breaking_out], pair.day, draws=32)).html.split("</style>")[0]
    assert "body { display" not in style, "nor does a name end the foot of the printed page"


def test_of_several_packs_the_air_of_the_one_that_asks_for_most_is_told(pair):
    """IEC 62485-3: 0.05 m³/h a cell, A of gassing (1 A a 100 Ah) and hour; 18 cells of 22 Ah ask for 0.198, 12 of 50 Ah for 0.30."""
    said = [(place, each) for place, c in enumerate(pair.candidates) for each in c.findings]
    assert [(c.build.pack.cells, c.build.pack.block_capacity_ah) for c in pair.candidates] == [(18, 22.0), (12, 50.0)]
    ((finding, places),) = [found for found in alike(said) if found[0].code == "charging-place"]
    assert f"{0.05 * 12 * 0.50:.2f} m³ of fresh air" in finding.text
    assert places == [1, 0], "the one whose figures are told stands first"


def test_the_weigh_in_adds_up_in_either_unit(pair):
    each = pair.candidates[0]
    rows = build_part(each, METRIC)["weighed"]
    *items, (_, together, _, _), front, rear = rows[: [row[0] for row in rows].index("without its rider")]
    front, rear = (kg.removesuffix(" kg") for _, kg, _, _ in (front, rear))
    assert float(front) + float(rear) == pytest.approx(float(together.split()[0]), abs=0.11)
    assert float(together.split()[0]) == pytest.approx(
        sum(float(kg.split()[0]) for _, kg, _, _ in items), abs=0.05 * len(items)
    )
    assert float(together.split()[0]) == pytest.approx(each.ride.build.total_mass_kg(), abs=0.05)
    text = Words(build_sheet(pair, IMPERIAL).html).text
    assert "km/h: pack" not in text
    assert f"together {each.ride.build.total_mass_kg() / 0.45359237:.1f} lb" in text  # the pound, BIPM
    top = next(line for line in lines_for(pair, IMPERIAL) if line.unit == "mph")
    assert f"{top.cells[0]} mph" in text


def by_name(each):
    return {reading.what: reading.value for reading in readings(each)}


def test_the_wheel_in_the_air_by_the_machine_s_two_equations(pair):
    """U = Kω + R i + U_b and K i = T_f + B ω, with the pack's sag; solved here by root finding, not by the tree's pull."""
    each = pair.candidates[0]
    build, m = each.ride.build, machine(each.ride.build)
    motor, full = build.motor, rested_block_v(build, 1.0) * build.pack.blocks_in_series
    inner = m.pack.resistance + m.pack.polarisation_resistance

    def left_over(omega):
        amps = (motor.friction_torque_nm + motor.viscous_nm_per_rad_s * omega) / motor.torque_constant_nm_per_a
        drawn = amps + build.controller.standby_current_a
        # Activation (MODEL.md 5.11): 5.5 mV a cell, counted from a thousandth of the ampere-hours.
        active = 0.0055 * build.pack.cells * math.asinh(drawn / (0.001 * build.pack.capacity_ah))
        volts = full - inner * drawn - active
        needed = (
            motor.torque_constant_nm_per_a * omega
            + motor.brush_drop_v
            + (motor.resistance_ohm + build.controller.on_resistance_ohm) * amps
        )
        return volts - needed

    omega = brentq(left_over, 1.0, 2000.0)
    amps = (motor.friction_torque_nm + motor.viscous_nm_per_rad_s * omega) / motor.torque_constant_nm_per_a
    found = by_name(each)
    turns = next(value for what, value in found.items() if "turns" in what)
    current = next(value for what, value in found.items() if "drag of chain" in what)
    assert turns == pytest.approx(60.0 * omega / build.drive.ratio / (2.0 * math.pi), rel=2e-3)
    assert current == pytest.approx(amps + build.controller.standby_current_a, rel=2e-3)


def test_watts_on_the_road_are_force_times_speed_and_losses(pair):
    each = pair.candidates[0]
    build = each.ride.build
    state = steady_state(build, each.steady_speed_kmh)
    assert 0.0 < state.pack_a < state.motor_a
    speed = each.steady_speed_kmh / 3.6
    # Rolling and air resistance at 20 °C, sea level: 1.204 kg/m³ (ICAO standard atmosphere's gas law).
    force = (
        build.vehicle.rolling_coefficient * build.total_mass_kg() * 9.80665
        + 0.5 * 1.204 * build.vehicle.drag_area_m2 * speed**2
    )
    at_wheel = force * speed
    assert state.pack_a * state.pack_v > at_wheel / build.drive.efficiency
    assert state.pack_a * state.pack_v < at_wheel / build.drive.efficiency / 0.7


def test_a_rested_block_is_not_expected_at_its_charger_s_voltage():
    """Full, rested: lead-acid about 2.13 to 2.15 V a cell, lithium iron phosphate 3.3 to 3.4 V (common practice, no source)."""
    day = ridesim.load_day(DAY)
    lead, lithium = ridesim.compare(
        [ridesim.load_build(name) for name in ("heron_36v", "heron_lithium")], day, draws=32
    ).candidates
    for each, low, high in ((lead, 2.12, 2.16), (lithium, 3.28, 3.42)):
        block = next(reading for reading in readings(each) if reading.what.startswith("each block: charged"))
        assert low < block.value / each.ride.build.pack.in_force.cells_in_series < high
        empty = rested_block_v(each.ride.build, 0.3)
        assert block.value - block.within > empty, "a block three tenths full must not pass"


def test_a_compensated_charger_in_the_cold_is_the_same_on_every_line():
    """-5 mV a cell and kelvin from 25 °C (makers' figure): 18 cells at -8 °C get 2.97 V more than the 43.2 V of 25 °C."""
    heron = changed(
        ridesim.load_build("heron_36v"),
        pack={"charge_compensation_v_per_cell_per_k": -0.005},
        controller={"max_voltage_v": 45.0},
    )
    cold = ridesim.load_day(DAY).changed({"ambient_c": -8.0})
    comparison = ridesim.compare([heron], cold, draws=32)
    (each,) = comparison.candidates
    charger = next(reading for reading in readings(each) if "charger" in reading.what)
    assert charger.value == pytest.approx(46.17, abs=0.005)
    assert any(finding.code == "controller-voltage" and finding.severity == "stop" for finding in each.findings)
    page = Words(build_sheet(comparison).page).text
    assert "46.2 V on its charger" in page
    assert "DOES NOT STAND" in page


def test_a_motor_without_brushes_is_not_told_of_brushes_nor_of_its_leads(pair):
    heron = pair.rides[0].build
    other = heron.changed({"motor.kind": "electronically-commutated", "motor.brush_drop_v": 0.0})
    text = Words(build_sheet(ridesim.compare([other], pair.day, draws=32)).page).text
    assert "brushes" not in text
    assert TITLE not in text


def test_a_series_wound_motor_is_never_run_with_the_wheel_in_the_air(pair):
    found = [reading for each in pair.candidates for reading in readings(each)]
    assert any(reading.moment == "wheel up" for reading in found)
    heron = pair.rides[0].build
    wound = heron.changed({
        "motor.kind": "series-wound", "motor.torque_constant_nm_per_a": None, "motor.series_constant_nm_per_a2": 0.002,
        "motor.saturation_current_a": 1e7, "motor.rated_power_w": None, "motor.rated_voltage_v": None,
    })  # fmt: skip
    each = ridesim.compare([wound], pair.day, draws=32).candidates[0]
    assert all(reading.moment != "wheel up" for reading in readings(each))


@pytest.mark.thorough
def test_the_command_writes_it(tmp_path, capsys):
    file = tmp_path / "sheet.html"
    assert main(["compare", "heron_36v", "--day", DAY, "--sheet", str(file)]) == 0
    assert f"Build sheet written: {file}" in capsys.readouterr().out
    assert file.read_text(encoding="utf-8").startswith("<!doctype html>")
    assert main(["compare", "heron_36v", "--day", DAY, "--json", "--sheet", str(file)]) == 0
    assert capsys.readouterr().out.startswith("{"), "plain data stay plain"
    assert list(tmp_path.iterdir()) == [file]


@pytest.mark.parametrize(
    ("name", "said"), [("heron.toml", "ending in .html"), ("none/sheet.html", "folder that can be written")]
)
@pytest.mark.thorough
def test_a_build_file_is_never_written_over(tmp_path, capsys, name, said):
    kept = tmp_path / "heron.toml"
    kept.write_text("mine", encoding="utf-8")
    assert main(["compare", "heron_36v", "--day", DAY, "--sheet", str(tmp_path / name)]) == 2
    assert said in capsys.readouterr().err
    assert kept.read_text(encoding="utf-8") == "mine"
    with pytest.raises(InputProblem):
        build_sheet(ridesim.compare([ridesim.load_build("heron_36v")], ridesim.load_day(DAY), draws=32)).save(
            tmp_path / name
        )


def test_the_weigh_in_has_places_and_axle_loads(pair, words):
    page, heron = words.text, pair.rides[0].build
    for what, found in (
        ("together", ridesim.balance(heron)),
        ("without its rider", ridesim.balance(heron, rider=False)),
        ("the donor, before", ridesim.balance(heron, rider=False, donor=True)),
    ):
        whole = f"{what} {found.mass_kg.value:.1f} kg {found.x_m.value:.2f} m {found.z_m.value:.2f} m"
        axles = f"on the front axle {found.front_kg.value:.1f} kg on the rear axle {found.rear_kg.value:.1f} kg"
        assert f"{whole} {axles}" in page


def test_what_the_weight_allows_and_what_moving_it_takes_are_on_it(pair, words):
    heron, cart = (ride.build for ride in pair.rides)
    allowed, over = handling(heron), handling(heron).stand_percent
    for text in (
        f"tips over backwards, standing on {allowed.flips_percent:.0f} %",
        f"held at the bar at 10° of lean with {bar_force_n(heron, 10.0):.0f} N",
        f"falls over its side stand on {over[0]:.0f} %",
        f"falls away from its side stand on {over[1]:.0f} %",
        f"clears the crest of a ramp of {crest_percent(heron):.0f} %",
        "a block of 6.6 kg is lifted by (HSE L23) 1 person",
        f"lowest way: centre up {arrangements((330, 190, 175), (181, 77, 167), 3)[0].centre_mm:.0f} mm",
        "Mount the controller out of the wheels' spray",
    ):
        assert text in words.text
    assert unplaced(cart)
    assert words.text.count("What the weight allows") == 1


def test_the_chain_its_place_and_its_order_are_on_it(pair, words):
    heron, cart = (ride.build for ride in pair.rides)
    fit, placed = chain_fit(heron), mounting(heron)
    for text in (
        fit.verdict,
        "shaft forward of the rear axle 475 mm shaft above ground 374 mm",
        f"tight at, between the centres {fit.centre_mm:.1f} mm",
        f"for the arm’s travel {placed.swing.set_sag_mm:.0f} mm",
        "2 × connecting link 08B, with spring clip",
        "Guard on before the motor turns",
    ):
        assert text in words.text
    assert cart.drive.centre_distance_mm is None
    assert words.text.count("Chain and mounting") == 1
    assert words.text.count("Where the motor’s shaft sits") == 1
    part = chain_part(heron, METRIC)
    assert "480 mm from the wheel’s axle" in part["drawing"]["alt"]
    assert chain_part(heron.changed({"drive.shaft_x_m": None, "drive.shaft_z_m": None}), METRIC)["drawing"] is None
    assert chain_part(heron.changed({"drive.chain": "09B"}), METRIC)["drawing"] is None


def test_a_stage_behind_the_last_chain_is_no_fault_of_the_sheet(pair):
    chain = {"kind": "chain", "driver_teeth": 11, "driven_teeth": 33, "chain": "428", "centre_distance_mm": 300.0}
    build = pair.rides[0].build.changed({"drive": {"stage": [chain, {"kind": "spur", "driver_teeth": 20, "driven_teeth": 40}],
                                                   "shaft_x_m": 0.475, "shaft_z_m": 0.374}})  # fmt: skip
    part = chain_part(build, METRIC)
    assert [verdict for verdict, _ in part["chains"]] == [chain_fit(build).verdict]
    assert "shaft forward of the rear axle" not in dict(part["chains"][0][1])


def test_each_part_that_stops_it_has_a_line_to_fill_in(pair):
    heron = pair.rides[0].build.changed({"wiring.key_switch": True, "wiring.brake_cutoff": False})
    text = Words(build_sheet(ridesim.compare([heron], pair.day, draws=32)).html).text
    for line in (
        "key switch, tried by in the build",
        "fail-safe throttle, tried by not in the build yet",
        "brake cut-off, tried by done without, on purpose",
        "emergency stop, tried by not in the build yet",
        "pre-charge resistor across the contactor 220 ohm of 10 W",
        "still missing in the build: isolator, fail-safe throttle, emergency stop",
        "Without pre-charge the controller's capacitors fill in one spark",
    ):
        assert line in text


def test_the_blanks_before_power_have_what_was_computed_and_the_schedule_every_circuit(pair, words):
    for each in pair.candidates:
        wiring = ridesim.wiring(each.build, DAY)
        main, thick = wiring.sized[0], max(wiring.sized, key=lambda circuit: circuit.section_mm2)
        assert f"fuse at the pack, A, and where it sits {main.protection.rating_a:g} A" in words.text
        assert f"{thick.section_mm2:g} mm² (AWG" in words.text
        assert f"carries {thick.limits.ampacity_a:.0f} A here" in words.text
        isolator = next(part for part in wiring.parts["part"] if part.startswith("isolator, "))
        assert isolator.removeprefix("isolator, ") in words.text
        for row in wiring.schedule.to_dict("records"):
            assert f"{row['circuit']} {row['from']} – {row['to']} {row['length_m']:.1f} m" in words.text
        assert wiring.verdict in words.text
    assert words.text.index("competent person") < words.text.index("What your file does not say")
