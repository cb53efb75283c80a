"""The worst spill is litres where the keeper says how deep the openings hang, and what to measure where not."""

from dataclasses import replace
from pathlib import Path

import pytest
from demo import DEMO, rig, shop

from optimizer import api
from optimizer.answers.flood_volume import spill
from optimizer.answers.question import stands_now
from optimizer.errors import InputError
from optimizer.model.catalog import Catalog
from optimizer.model.options import SWAP
from optimizer.model.rig import Rig

NANO = (DEMO / "rigs" / "nano_60.toml").read_text(encoding="utf-8")
NOTHING = Catalog(parts={}, products=())


def nano(folder: Path, tank: str = "", guard: str = "", bar: str = "below_water = '1 cm'") -> Rig:
    """The small tank with more figures in its tables."""
    text = NANO.replace("[tank]\n", f"[tank]\n{tank}\n").replace('blocked = "25 %"', f'blocked = "25 %"\n{guard}')
    path = folder / "nano.toml"
    path.write_text(text.replace('below_water = "1 cm"', bar), encoding="utf-8")
    return api.read_rig(path, shop())


SIDES = "length = '60 cm'\nwidth = '30 cm'"


def test_the_lower_of_guard_and_mouth_decides_and_the_canister_comes_on_top(tmp_path: Path) -> None:
    """By hand: 60 x 30 cm x 20 cm = 36 l down to the guard; three trays of 120 cm2 x 4 cm hold 1.44 l."""
    found = spill(nano(tmp_path, SIDES, "depth = '20 cm'"))
    assert found.tank_m3 == pytest.approx(0.036)
    assert found.worst_m3 == pytest.approx(0.036 + 0.00144)
    assert (found.fall_m, found.decided_by, found.missing) == (pytest.approx(0.2), "strainer", ())
    shallow = spill(nano(tmp_path, SIDES, "depth = '3 cm'", bar="below_water = '12 cm'"))
    assert (shallow.fall_m, shallow.decided_by) == (pytest.approx(0.12), "spray_bar")


def test_an_air_break_hole_ends_the_leg_of_the_return_before_the_mouth(tmp_path: Path) -> None:
    """The mouth 12 cm down, the hole 1 cm: now the guard at 3 cm is the lower one. 60 x 30 x 3 cm = 5.4 l."""
    found = spill(nano(tmp_path, SIDES, "depth = '3 cm'", bar="below_water = '12 cm'\nair_break = '1 cm'"))
    assert (found.tank_m3, found.decided_by) == (pytest.approx(0.0054), "strainer")


def test_volume_over_height_does_for_the_sides_and_no_more_than_the_water_runs_out(tmp_path: Path) -> None:
    """16 US gallons over 40 cm; 39 cm of them would be more than the net 85 %."""
    tank = nano(tmp_path, "height = '40 cm'", "depth = '10 cm'")
    assert spill(tank).tank_m3 == pytest.approx(16 * 3.785411784e-3 / 4.0)
    deep = spill(nano(tmp_path, "height = '40 cm'", "depth = '39 cm'"))
    assert deep.tank_m3 == pytest.approx(tank.tank.net_m3)


def test_what_is_missing_is_named_and_all_the_water_counts(tmp_path: Path) -> None:
    """One figure alone proves nothing: the worst case stays the whole tank."""
    bare = nano(tmp_path)
    found = spill(bare)
    assert found.fall_m is None
    assert found.missing == ("loop.strainer.depth", "tank.length", "tank.width")
    assert found.tank_m3 == bare.tank.net_m3
    cautions = api.best(bare, shop(), budget=0).cautions
    (flood,) = [caution for caution in cautions if caution.startswith("Flood")]
    assert "measure and write loop.strainer.depth, tank.length, tank.width to know how much" in flood
    nobody_said = spill(nano(tmp_path, SIDES, "depth = '3 cm'", bar=""))
    assert nobody_said.missing == ("loop.spray_bar.below_water",)


def test_the_caution_says_litres_and_the_opening_that_decides(tmp_path: Path) -> None:
    """In both systems of units."""
    from optimizer.report.measures import SYSTEMS

    known = nano(tmp_path, SIDES, "depth = '5 cm'")
    (flood,) = [caution for caution in api.best(known, shop(), budget=0).cautions if caution.startswith("Flood")]
    assert flood.startswith("Flood: at most about 10 l run out: put the canister in a tray")
    assert "If a joint lets go, 9.0 l run out until the water stands 5 cm lower" in flood
    assert "at the lowest opening of strainer, which decides, and 1.4 l from the canister" in flood
    assert "2.76 gal" in SYSTEMS["us"].words(flood)


def test_a_bar_that_is_sunk_takes_its_hole_along_and_a_new_one_has_none(tmp_path: Path) -> None:
    """Sunk by 4 cm the hole is 4 cm lower; a swapped outlet drains down to its mouth until it is drilled."""
    known = nano(tmp_path, SIDES, "depth = '2 cm'", bar="below_water = '12 cm'\nair_break = '3 cm'")
    options = stands_now(known, NOTHING).options
    sunk = (*options[:-1], replace(options[-1], height_m=-0.16))
    assert spill(known, options).fall_m == pytest.approx(0.03)
    assert spill(known, sunk).fall_m == pytest.approx(0.07)
    new = (*options[:-1], replace(options[-1], change=SWAP))
    assert spill(known, new).fall_m == pytest.approx(0.12)


def test_two_guards_count_each(tmp_path: Path) -> None:
    """The deeper of two intakes drains the tank; one that nobody measured leaves all open."""
    two = rig("ricefish_160")
    guards = [place.name for place in two.every_position if place.kind == "guard"]
    assert len(guards) == 2
    depths = dict(zip(guards, (0.25, 0.4), strict=True))
    measured = replace(two, tank=replace(two.tank, footprint_m2=0.1))
    deep = measured.with_each(lambda place: replace(place, breaks_m=depths.get(place.name)))
    assert spill(deep).fall_m == pytest.approx(0.25), "the second intake is not there yet"
    part = next(place.installed for place in deep.every_position if place.name == guards[0])
    both = deep.with_each(lambda place: replace(place, installed=part) if place.name == guards[1] else place)
    assert spill(both).fall_m == pytest.approx(0.4)
    unsaid = both.with_each(lambda place: replace(place, breaks_m=None) if place.name == guards[1] else place)
    assert spill(unsaid).missing == (f"loop.{guards[1]}.depth",)


@pytest.mark.parametrize(
    ("tank", "bar", "where", "what"),
    [
        ("length = '60 cm'", "", "tank.width", "one side alone tells no area"),
        (f"{SIDES}\nheight = '20 cm'", "", "tank.volume", "are more than length, width and height hold (36 l)"),
        (SIDES, "below_water = '1 cm'\nair_break = '2 cm'", "loop.spray_bar.air_break", "lower than the mouth"),
        (SIDES, "above_water = '1 cm'\nair_break = '2 cm'", "loop.spray_bar.air_break", "which is not below the water line"),
    ],
)
def test_figures_that_cannot_be_are_told_with_a_cure(tmp_path: Path, tank: str, bar: str, where: str, what: str) -> None:
    """One side, sides that do not hold the volume, a hole below the mouth."""
    with pytest.raises(InputError) as raised:
        nano(tmp_path, tank, "", bar)
    (problem,) = raised.value.problems
    assert problem.where == where
    assert what in problem.what
    assert problem.cure
