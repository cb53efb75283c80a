"""What is said of a rig whose ends cannot be as described, and how texts with quantities are shown in other units."""

from dataclasses import replace
from pathlib import Path

import pytest

from optimizer import api
from optimizer.model.parts import Canister, Hose
from optimizer.model.rig import Rig
from optimizer.report.measures import system
from optimizer.report.text import render

DEMO = Path(__file__).resolve().parents[2] / "parts_demo"
SHOP = api.read_catalog(DEMO / "catalog")
NANO = api.read_rig(DEMO / "rigs" / "nano_60.toml", SHOP)


def widened(rig: Rig, place: str) -> Rig:
    """The rig with a hose of half as much again the bore at one place, its neighbours left as they are."""
    at = next(n for n, position in enumerate(rig.positions) if position.name == place)
    held = rig.positions[at].installed
    assert isinstance(held, Hose)
    wide = replace(held, inside_m=1.5 * held.inside_m, outside_m=1.5 * held.outside_m)
    return replace(rig, positions=tuple(replace(p, installed=wide) if n == at else p for n, p in enumerate(rig.positions)))


def test_installed_neighbours_that_cannot_mate_are_warned_of() -> None:
    """A hose half as wide again as its tails does not hold on them (hose on tail: common practice, no published source)."""
    assert not any("do not go together" in line for line in api.best(NANO, SHOP).warnings)
    said = [line for line in api.best(widened(NANO, "return_hose"), SHOP).warnings if "do not go together" in line]
    assert {line.split(":")[0] for line in said} == {"out_coupling to return_hose", "return_hose to spray_bar"}
    assert all("mm hose does not go on a" in line for line in said)


@pytest.mark.parametrize("path", sorted((DEMO / "rigs").glob("*.toml")), ids=lambda path: path.stem)
def test_no_demo_rig_has_ends_that_cannot_mate(path: Path) -> None:
    rig = api.read_rig(path, SHOP)
    bare = replace(rig, limits=replace(rig.limits, budget=0))
    assert not any("do not go together" in line for line in api.best(bare, replace(SHOP, products=())).warnings)


def test_cautions_and_limits_follow_the_units() -> None:
    """1 US gallon is 3.785411784 l and 1 in is 25.4 mm: NIST Handbook 44, appendix C. The JSON keeps its metric text."""
    slow = replace(NANO, limits=replace(NANO.limits, guard_speed_ms=0.01))
    assert isinstance(NANO.canister, Canister)
    result = api.best(slow, SHOP)
    gallons = NANO.tank.nominal_m3 / 3.785411784e-3
    text = " ".join(render(result, "us", full=True).split())
    assert f"of {gallons:.3g} gal in all" in text
    assert f"at most {0.01 / 0.0254:.3g} in/s in front of the guard" in text
    assert "at most 1 cm/s in front of the guard" in " ".join(render(result, full=True).split())
    assert "at most 1 cm/s in front of the guard" in str(result.to_dict())
    limit = next(each.words for each in result.now.breaks if each.limit == "guard_speed_ms")
    assert system("metric").words(limit) == limit
