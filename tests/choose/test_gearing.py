"""The sprocket map against rides of the same builds one by one; what is refused; what it says."""

from __future__ import annotations

import pytest

import ridesim
from ridesim.choose.gearing import BLOCKS, OVER, as_fast, best_of, best_rows, gearing, made, next_teeth, over_rating
from ridesim.choose.how_sure import likely_holds
from ridesim.choose.wishes import FINISHES, RESERVE, SPEED, STARTS, WINDING
from ridesim.words import InputProblem

DAY = "harbour_festival"
SOME = {"motor_teeth": [9, 11, 13, 16], "wheel_teeth": [45, 55, 70], BLOCKS: [3]}


@pytest.fixture(scope="module")
def found():
    return gearing("heron_36v", DAY, SOME)


def test_every_pair_is_what_its_own_ride_says(found):
    """Each cell against the build with these teeth, ridden as a build of its own."""
    heron = ridesim.exact(ridesim.load_build("heron_36v"))
    pairs = list(zip(found["motor_teeth"], found["wheel_teeth"], strict=True))
    assert sorted(pairs) == sorted((a, b) for a in SOME["motor_teeth"] for b in SOME["wheel_teeth"])
    builds = [heron.changed({"drive.motor_teeth": int(a), "drive.wheel_teeth": int(b)}) for a, b in pairs]
    holds = likely_holds(builds, ridesim.exact(ridesim.load_day(DAY)))
    wishes = [STARTS, FINISHES, RESERVE, SPEED, WINDING]
    assert found["does"].tolist() == [all(holds[wish][n] for wish in wishes) for n in range(len(builds))]
    for row, build in zip(found.itertuples(), builds, strict=True):
        assert row.ratio == pytest.approx(build.drive.ratio)
        assert row.top_speed_kmh == pytest.approx(ridesim.top_speed_kmh(build, build.pack.reserve), abs=1e-6)
        if row.does:
            assert row.spare_km == pytest.approx(ridesim.simulate(build, DAY).outcome.spare_km, abs=1e-9)
    assert {"", "no start", "below reserve"} <= set(found["fails"])
    assert not found[found["fails"] == "no start"]["ridden"].any(), "seen without a ride"


def test_the_best_come_first_and_one_ratio_is_one_answer(found):
    good = found[found["does"]]
    assert found["does"].tolist() == sorted(found["does"], reverse=True)
    assert good["spare_km"].tolist() == sorted(good["spare_km"], reverse=True)
    same = gearing("heron_36v", DAY, {"motor_teeth": [11, 12], "wheel_teeth": [55, 60]})
    twins = same[(same["ratio"] - 15.0).abs() < 1e-9]
    assert len(twins) == 2
    assert twins["spare_km"].nunique() == 1


def test_a_voltage_that_the_controller_does_not_stand_has_no_pair():
    found = gearing("heron_36v", DAY, {"motor_teeth": [11], "wheel_teeth": [55], BLOCKS: [3, 4]})
    assert found.set_index(BLOCKS)["fails"].to_dict() == {3: "", 4: OVER}
    four = ridesim.load_build("heron_36v").changed({"pack.blocks_in_series": 4})
    assert "The controller stands 50.0 V" in over_rating(four, ridesim.load_day(DAY))


def test_how_sure_the_best_are(found):
    rows = best_rows(found, DAY, count=2)
    best, first = best_of(rows, "heron_36v", DAY, draws=32), rows.iloc[0]
    assert rows["does"].all()
    assert best.candidates[0].name == f"3 blocks, {first.motor_teeth} to {first.wheel_teeth} teeth"
    assert best.candidates[0].spare_km.value == pytest.approx(first.spare_km, abs=1e-6)
    assert best_of(best_rows(found[~found["does"]], DAY), "heron_36v", DAY) is None


@pytest.mark.thorough
def test_the_pairs_that_are_drawn_are_the_sure_ones_not_those_at_the_verge():
    """The cart's farthest pairs are just fast enough; of those that keep clear of every wish more vehicles do the day."""
    whole = gearing("puppet_cart", DAY)
    good = whole[whole["does"]].drop_duplicates("ratio")
    chances = {
        name: [each.chance for each in best_of(rows, "puppet_cart", DAY, draws=128).verdicts]
        for name, rows in {
            "drawn": best_rows(whole, DAY, count=4),
            "farthest": good.head(1),
            "spread": good.sort_values("ratio").iloc[:: max(1, len(good) // 10)],
        }.items()
    }
    assert max(chances["drawn"]) > chances["farthest"][0] + 0.2
    assert max(chances["drawn"]) > max(chances["spread"]) - 0.06


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (
            {"teeth": [9]},
            "teeth: found an option; expected one of motor_teeth, wheel_teeth, blocks_in_series, gearbox_ratio",
        ),
        ({"motor_teeth": []}, "motor_teeth: found nothing"),
        ({"wheel_teeth": [0]}, "wheel_teeth: found 0"),
        ({"motor_teeth": [5]}, "motor_teeth: found 5; expected whole numbers from 7 to 400"),
        ({"motor_teeth": 11}, "motor_teeth: found 11; expected a list"),
        ({"first_stage": ["11"]}, "first_stage: found '11'; expected teeth of motor and shaft"),
        ({"gearbox_ratio": [0.0]}, "gearbox_ratio: found 0"),
        ({"wheel_teeth": [40.5]}, r"wheel_teeth: found 40\.5"),
    ],
)
def test_options_that_cannot_be(options, words):
    with pytest.raises(InputProblem, match=words):
        gearing("heron_36v", DAY, options)


def test_the_command_says_what_does_it_and_why_the_others_fall(call, tmp_path):
    status, out, _ = call("gearing", "heron_36v", "--day", DAY, "--blocks", 3, 4, "--csv", tmp_path / "map.csv")
    assert status == 0
    lines = out.splitlines()
    assert any(line.startswith("A tooth more or less than ") for line in lines)
    whole = gearing("heron_36v", DAY, {BLOCKS: [3]})
    assert lines[0].startswith(f"At 36 V {whole['does'].sum()} of {len(whole)} pairs of sprockets do the day, ratios ")
    assert lines[1] == "At 48 V none will do: The controller stands 50.0 V; the pack on its charger reaches 57.6 V."
    assert lines[2].startswith("This build's own, 11 to 55: ")
    assert lines[3].startswith("Surest: ")
    assert any(line.startswith("  36 V, no start: ") for line in lines)
    assert max(map(len, lines)) <= 110
    assert len((tmp_path / "map.csv").read_text(encoding="utf-8").splitlines()) == 1 + 2 * len(whole)
    assert call("gearing", "heron_63v", "--day", DAY).status == 2


def test_gearboxes_and_a_first_chain_are_ridden_as_builds_of_their_own():
    """Each against the same drive described stage by stage: another gearbox loses the usual, one chain more its own."""
    heron = ridesim.exact(ridesim.load_build("heron_36v"))
    options = {"motor_teeth": [11], "wheel_teeth": [30], "gearbox_ratio": [1.0, 3.0], "first_stage": ["", "11:20"]}
    found = gearing(heron, DAY, options).set_index(["gearbox_ratio", "first_stage"])
    assert len(found) == 4
    expected = {
        (1.0, ""): (1.0, 0.95),
        (1.0, "11:20"): (20 / 11, 0.95 * 0.95),
        (3.0, ""): (3.0, 0.88),
        (3.0, "11:20"): (60 / 11, 0.88 * 0.95),
    }
    for key, (before, efficiency) in expected.items():
        build = heron.changed({
            "drive.motor_teeth": 11, "drive.wheel_teeth": 30, "drive.gearbox_ratio": before, "drive.efficiency": efficiency,
        })  # fmt: skip
        row = found.loc[key]
        assert row.ratio == pytest.approx(build.drive.ratio)
        assert row.top_speed_kmh == pytest.approx(ridesim.top_speed_kmh(build, build.pack.reserve), abs=1e-6)
        if row.does:
            assert row.spare_km == pytest.approx(ridesim.simulate(build, DAY).outcome.spare_km, abs=1e-9)


def test_a_drive_of_stages_tries_gearboxes_and_a_first_chain_as_its_short_form_does():
    chain = {"kind": "chain", "driver_teeth": 11, "driven_teeth": 55, "chain": "08B", "centre_distance_mm": 480.0}
    spur = {"kind": "spur", "driver_teeth": 20, "driven_teeth": 60}
    build = ridesim.load_build("heron_36v").changed({"drive": {"stage": [spur, chain]}})
    other = made(build, 3, 4.0, "11:22")
    assert (other.drive.stage, other.drive.motor_teeth, other.drive.wheel_teeth) == (None, 11, 55)
    assert (other.drive.chain, other.drive.centre_distance_mm) == ("08B", 480.0)
    assert other.drive.ratio == pytest.approx(4.0 * 2.0 * 5.0)
    assert made(build, 3, 3.0, "11:22").drive.efficiency == pytest.approx(0.95 * build.drive.efficiency)
    assert made(build, 3, 3.0) is build


def test_a_pair_elsewhere_that_is_as_fast_and_the_next_teeth(found):
    both = gearing("heron_48v", DAY, {"motor_teeth": [9, 10, 11, 12], "wheel_teeth": [50, 55, 60, 65], BLOCKS: [3, 4]})
    row = both[both["does"] & (both[BLOCKS] == 4)].iloc[0].to_dict()
    for other in as_fast(both, row):
        assert other["does"]
        assert other[BLOCKS] == 3
        assert other["top_speed_kmh"] == pytest.approx(row["top_speed_kmh"], rel=0.03)
    middle = both[(both[BLOCKS] == 4) & (both["motor_teeth"] == 10) & (both["wheel_teeth"] == 55)].iloc[0].to_dict()
    beside = [(each["motor_teeth"], each["wheel_teeth"], each[BLOCKS]) for each in next_teeth(both, middle)]
    assert beside == [(9, 55, 4), (11, 55, 4), (10, 50, 4), (10, 60, 4)]


def test_it_says_how_far_it_is():
    told = []
    gearing("heron_36v", DAY, {**SOME, BLOCKS: [3, 4]}, progress=lambda *each: told.append(each))
    assert told == [(0, 24), (12, 24), (24, 24)]


def test_a_list_of_one_s_own(tmp_path):
    (tmp_path / "sprockets.csv").write_text(
        "chain,place,teeth,owned\n08B 428,motor,11,yes\n08B,motor,9,no\n08B,wheel,55,yes\n520,wheel,40,no\n",
        encoding="utf-8",
    )
    found = gearing("heron_36v", DAY, folder=tmp_path)
    assert found["motor_teeth"].tolist() == [11, 9], "what is owned comes first"
    assert found["owned"].tolist() == [True, False]


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("08B,hub,11,no", "place: found “hub”; expected motor or wheel"),
        ("08B,motor,6,no", "teeth: found “6”; expected a number from 7 to 400"),
        ("08B,motor,11,perhaps", "owned: found “perhaps”; expected yes or no"),
        ("8B,motor,11,no", "Nearest: 08B"),
        ("428,motor,11,no", "no motor sprocket for 08B"),
    ],
)
def test_lists_that_are_none(tmp_path, line, words):
    (tmp_path / "sprockets.csv").write_text(f"chain,place,teeth,owned\n{line}\n", encoding="utf-8")
    with pytest.raises(InputProblem, match=words):
        gearing("heron_36v", DAY, folder=tmp_path)
