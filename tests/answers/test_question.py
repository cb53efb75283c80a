"""What stands beside every answer, and questions that cannot be answered: they end in words, not in a traceback."""

from dataclasses import replace
from pathlib import Path

import pytest
from small_worlds import world

from optimizer import api
from optimizer.errors import InputError

DEMO = Path(__file__).resolve().parents[2] / "parts_demo"

WIDE_OPEN = """
[loop.outlets]
kind = "branches"
parting = {part = "TEE-T16F"}

[loop.outlets.a.hose]
kind = "hose"
part = "HOSE-58IN"
length = "0.3 m"

[loop.outlets.a.tail]
kind = "tail"
inlet = "tail 16 mm"
inlet_bore = "13 mm"
outlet = "G 3/4 in male"
outlet_bore = "15 mm"

[loop.outlets.a.mouth]
kind = "outlet"
part = "OPEN-G34"
below_water = "2 cm"

[loop.outlets.b.hose]
kind = "hose"
part = "HOSE-16-22"
length = "0.8 m"

[loop.outlets.b.mouth]
kind = "outlet"
part = "OPEN-16"
below_water = "2 cm"
"""
"""Two wide mouths behind a wide tee: what the straight way loses is less than what the jet in the tee takes from the side."""


def test_branches_that_divide_unsteadily_today_are_named(tmp_path: Path) -> None:
    """Such a loop is left out of every search (see `search/branch_pairs.py`); where it is the loop of today there is nothing to
    show."""
    text = (DEMO / "rigs" / "shrimp_and_fry_240.toml").read_text(encoding="utf-8")
    kept = text[: text.index("[loop.throttle]")]
    (tmp_path / "wide.toml").write_text(kept + WIDE_OPEN, encoding="utf-8")
    shop = api.read_catalog(DEMO / "catalog")
    rig = api.read_rig(tmp_path / "wide.toml", shop)
    with pytest.raises(InputError, match=r"loop\.outlets: as they are now the jet in a tee") as caught:
        api.best(rig, shop, budget=0)
    assert len(caught.value.problems) == 1


@pytest.mark.parametrize("seed", range(0, 40, 2))
def test_to_spend_nothing_is_the_best_for_a_budget_of_nothing(seed: int) -> None:
    """With spares in the drawer, places that may be left out and free adjustments; or nothing at all can be had for nothing."""
    rig, catalog = world(seed, most=200)
    with_budget = replace(rig, limits=replace(rig.limits, budget=0))
    plain, broke = api.best(rig, catalog), api.best(with_budget, catalog)
    assert plain.spend_nothing is not None
    if broke.best is None:
        assert plain.spend_nothing.breaks or not plain.spend_nothing.flow_m3s
    else:
        assert plain.spend_nothing.flow_m3s == pytest.approx(broke.best.flow_m3s, rel=1e-9)
        assert broke.spend_nothing == plain.spend_nothing


def test_in_the_basement_what_lies_in_the_drawer_is_counted_as_free() -> None:
    """872 l/h, spare bend and all, not the 848 of cleaning alone: so much less is added by the money."""
    shop = api.read_catalog(DEMO / "catalog")
    rig = api.read_rig(DEMO / "rigs" / "goldfish_basement.toml", shop)
    free = replace(rig, limits=replace(rig.limits, budget=0))
    broke, empty = api.best(free, shop), api.best(replace(free, spares=()), shop)
    assert broke.best is not None
    assert broke.spend_nothing is not None
    assert broke.spend_nothing.flow_m3s == pytest.approx(broke.best.flow_m3s, rel=1e-9)
    assert broke.best.flow_m3s * 3.6e6 == pytest.approx(872.5, abs=0.1)
    assert empty.best is not None
    assert empty.best.flow_m3s * 3.6e6 == pytest.approx(848.5, abs=0.1)
