"""The checks of an answer that a throttle holds compare it with bundles that can be held, not with cheaper ones that cannot."""

from pathlib import Path

from optimizer import api

DEMO = Path(__file__).resolve().parents[2] / "parts_demo"
SHOP = api.read_catalog(DEMO / "catalog")


def test_a_throttled_answer_is_checked_against_throttled_bundles() -> None:
    """The best for 150 runs at the ceiling of its rig only with a throttle that it buys; without one less would be paid."""
    rig = api.read_rig(DEMO / "rigs" / "community_180.toml", SHOP)
    result = api.best(rig, SHOP, budget=15000, prove=True)
    assert result.best is not None
    assert result.best.held_by == "flow_max_m3s" or result.best.own_m3s > result.best.flow_m3s
    assert [check.agrees for check in result.proof.certificates] == [True, True, True]
