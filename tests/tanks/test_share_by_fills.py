"""Fills of the tanks of a household count as they do when each is asked about alone."""

from dataclasses import replace
from pathlib import Path

import pytest

from optimizer import api
from optimizer.answers.by_fills import by_fills
from optimizer.answers.measure import inexplicable
from optimizer.errors import InputError
from optimizer.model.catalog import Catalog
from optimizer.model.household import Household, HouseTank
from optimizer.model.rig import Rig
from optimizer.search.choices import choices
from optimizer.tanks import measured
from optimizer.tanks.hand_me_downs import handed_parts
from optimizer.tanks.share import aims, sought

ROOT = Path(__file__).parent.parent.parent
LITRE_PER_HOUR = 1e-3 / 3600.0


@pytest.fixture(scope="module")
def catalog() -> Catalog:
    return api.read_catalog(ROOT / "parts_demo/catalog")


@pytest.fixture(scope="module")
def corner(catalog: Catalog) -> Rig:
    """Stated 336 l/h, by its three fills 281."""
    return api.read_rig(ROOT / "parts_demo/rigs/reading_corner_130.toml", catalog)


def one(rig: Rig, budget: int, target_lh: float = 330.0) -> Household:
    return Household(name="one", tanks=(HouseTank(name="corner", rig=rig, target_m3s=target_lh * LITRE_PER_HOUR),), budget=budget)


def test_enough_is_enough_by_the_fills(corner: Rig, catalog: Catalog) -> None:
    """281 l/h measured is not 330, whatever the stated figures say; asked for without fills it is."""
    found = sought(one(corner, 0), catalog)
    assert found.content == () and found.now[0].flow_m3s == pytest.approx(281 * LITRE_PER_HOUR, rel=0.005)
    stated = sought(one(corner, 0), catalog, measured=False)
    assert stated.content == (0,) and stated.now[0].flow_m3s == pytest.approx(336 * LITRE_PER_HOUR, rel=0.005)


def test_one_tank_gets_what_best_gives_it(corner: Rig, catalog: Catalog) -> None:
    """Same flow, same price, same flow today."""
    alone = api.best(corner, catalog, budget=2000)
    assert alone.best is not None
    house = one(corner, 2000, alone.best.flow_m3s / LITRE_PER_HOUR + 40.0)
    found = sought(house, catalog)
    answer = found.sharing.answer(aims(house.tanks)[0])
    assert answer.status == "proved" and answer.chosen is not None
    assert answer.flows_m3s[0] == pytest.approx(alone.best.flow_m3s, abs=0.1 * LITRE_PER_HOUR)
    assert answer.chosen.price == alone.best.price
    assert found.now[0].flow_m3s == pytest.approx(alone.now.flow_m3s)


def test_what_is_handed_on_takes_its_factors_along(corner: Rig, catalog: Catalog) -> None:
    """A pump has the same curve at another tank, and a cleaned part loses in a place like its own what it would lose there."""
    rig, _ = by_fills(corner)
    nothing = Catalog(parts={}, products=())
    menu = choices(rig, nothing, rig.limits.without(*rig.limits.binding))
    plain = choices(replace(rig, fitted=None), nothing, rig.limits.without(*rig.limits.binding))
    moved = 0
    for handed in handed_parts([HouseTank(name="corner", rig=rig, target_m3s=1e-4)], []):
        own, stated = ([o for o in m.options[handed.place] if o.is_installed and o.state.is_clean] for m in (menu, plain))
        for option, bare in zip(own, stated, strict=True):
            position = replace(rig.positions[handed.place], height_m=bare.height_m)
            part, loss = handed.by_fills(replace(bare.part, id=handed.id), bare.loss, position, menu.water)
            assert loss == option.loss and part == replace(option.part, id=handed.id)
            moved += (loss, part) != (bare.loss, replace(bare.part, id=handed.id))
    assert moved >= 3


def test_all_fills_that_cannot_be_are_named_at_once(corner: Rig, catalog: Catalog, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each with its tank."""

    def never(rig: Rig, _: bool) -> tuple[Rig, None]:
        raise inexplicable(rig)

    monkeypatch.setattr(measured, "by_fills", never)
    tanks = tuple(HouseTank(name=name, rig=corner, target_m3s=1e-4) for name in ("left", "right"))
    with pytest.raises(InputError) as caught:
        sought(Household(name="two", tanks=tanks, budget=0), catalog)
    assert [p.where for p in caught.value.problems] == ["tank left, fill", "tank right, fill"]
