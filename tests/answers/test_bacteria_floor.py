"""One floor for bacteria: what a search may propose is never called worse by `ageing` than what stood there."""

import random
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from optimizer import api
from optimizer.answers.cautions import caution_lines
from optimizer.answers.media_plan import surface
from optimizer.answers.question import stands_now
from optimizer.dirt.daily import daily_of
from optimizer.files.rig_toml import rig_from_tables
from optimizer.files.toml_keys import Report
from optimizer.model.parts import Medium
from optimizer.model.rig import Rig, Tray
from optimizer.physics.water import Water
from optimizer.report.text import render
from optimizer.search.pricing import Shop
from optimizer.search.stacks import stacks

DEMO = Path(__file__).resolve().parents[2] / "parts_demo"
SHOP = api.read_catalog(DEMO / "catalog")
RIGS = sorted((DEMO / "rigs").glob("*.toml"))
RANK = {"too little": 0, "not sure": 1, "enough": 2}


def at(path: Path, celsius: float, feed_g: float | None) -> Rig:
    """A demo rig at a temperature and, unless it is None, with so much food a day."""
    tree: dict[str, Any] = tomllib.loads(path.read_text(encoding="utf-8"))
    tree["tank"]["temperature"] = f"{celsius} degC"
    tree.get("limits", {}).pop("bio_area", None)
    if feed_g is not None:
        tree["feeding"] = {"feed": f"{feed_g:.4f} g/day", "protein": "42 %"}
    report = Report()
    rig = rig_from_tables(tree, path.stem, SHOP, report, path.name)
    assert rig is not None, [str(problem) for problem in report.problems]
    return rig


def proposed(rig: Rig) -> Iterator[list[Medium | None]]:
    """The media of every filling that a search may take; the canister itself always stays."""
    media = [part for part in SHOP.parts.values() if isinstance(part, Medium)]
    water = Water(temperature_c=rig.tank.temperature_c, salinity_gkg=rig.tank.salinity_gkg)
    for stack in stacks(rig.canister, rig.trays, media, rig.limits, water, Shop.of(SHOP)):
        yield [fill.medium for fill in stack.fills]


def verdicts(rig: Rig) -> tuple[str, set[str]]:
    """What `ageing` says of the media of today, and of all that a search may propose."""
    daily = daily_of(rig)
    after = {surface(rig, daily, [Tray(medium=one) for one in media]).verdict for media in proposed(rig)}
    return surface(rig, daily, rig.trays).verdict, after


@pytest.mark.parametrize("celsius", [18.0, 21.0, 24.0, 27.0, 30.0])
def test_what_a_search_may_propose_is_never_worse(celsius: float) -> None:
    """All fillings of demo rigs as they are fed; and with food that makes what is there enough, not sure, too little."""
    rng = random.Random(int(celsius))
    seen = set()
    for path in rng.sample(RIGS, 4):
        fed = at(path, celsius, 5.0)
        most_g = 5.0 * fed.bio_area_m2 / surface(fed, daily_of(fed), fed.trays).need_m2
        for feed_g in (None, most_g * rng.uniform(0.05, 0.4), most_g * rng.uniform(0.5, 1.0), most_g * rng.uniform(1.1, 3.0)):
            rig = at(path, celsius, feed_g)
            now, after = verdicts(rig)
            seen.add(now)
            assert all(RANK[each] >= RANK[now] for each in after), (path.name, feed_g, now, after)
    assert {"enough", "not sure"} <= seen


def test_the_floor_follows_the_temperature() -> None:
    """In a cool cellar bacteria work more slowly: 4 % a degree (Zhu and Chen 2002, from memory)."""
    cool, warm = (at(DEMO / "rigs" / "goldfish_basement.toml", celsius, 12.0).limits.bio_area_m2 for celsius in (18.0, 24.0))
    assert cool == pytest.approx(1.04**6 * warm)


def test_best_ageing_and_the_page_say_one_number() -> None:
    """The cool cellar, where the floor for 24 degC let a tray go: what is proposed is enough by the same need everywhere."""
    rig = api.read_rig(DEMO / "rigs" / "goldfish_basement.toml", SHOP)
    found = api.best(replace(rig, limits=replace(rig.limits, budget=3000)), SHOP)
    aged = api.ageing(rig, days=1)
    assert found.care is not None
    assert found.best is not None
    assert found.care.surface.need_m2 == aged.bacteria.need_m2
    assert found.care.surface.have_m2 == pytest.approx(found.best.bio_area_m2)
    assert found.care.surface.verdict == aged.bacteria.verdict == "enough"
    assert rig.limits.bio_area_m2 == aged.bacteria.sure_m2
    assert "Bacteria need 1.69 m2 for the feeding" in " ".join(render(found, show=["bacteria"]).split())


def test_too_little_is_a_caution_that_says_what_to_do() -> None:
    """Five times the food: the floor asks for more than there is, or what is there is not sure, and the answer says so."""
    rig = at(DEMO / "rigs" / "community_180.toml", 26.0, 9.0)
    daily = daily_of(rig)
    assert surface(rig, daily, rig.trays).verdict == "not sure"
    (told,) = [text for text in caution_lines(rig, stands_now(rig, SHOP)) if text.startswith("Feed less or add biological media")]
    assert "bacteria may have too little surface for this food" in told
    fine = replace(rig, load=replace(rig.load, feed_kg_day=0.001))
    assert not any("Feed less" in text for text in caution_lines(fine, stands_now(fine, SHOP)))
