"""Cautions are said where they apply, and only there: a loop that dirt alone keeps under its ceiling."""

from dataclasses import replace
from pathlib import Path

import pytest

from optimizer import api
from optimizer.answers.cautions import caution_lines
from optimizer.answers.question import stands_now
from optimizer.model.catalog import Catalog
from optimizer.model.rig import Rig

DEMO = Path(__file__).resolve().parents[2] / "parts_demo"
DIRT = "Only the dirt in"


@pytest.fixture(scope="module")
def shop() -> Catalog:
    return api.read_catalog(DEMO / "catalog")


@pytest.fixture(scope="module")
def gouramis(shop: Catalog) -> Rig:
    return api.read_rig(DEMO / "rigs" / "gouramis_54.toml", shop)


def said(rig: Rig, shop: Catalog, budget: int) -> str:
    """All cautions of the best bundle for a budget, in one text."""
    return "\n".join(api.best(rig, shop, budget=budget).cautions)


def test_a_ceiling_that_only_dirt_keeps_is_told_with_what_a_clean_brings(gouramis: Rig, shop: Catalog) -> None:
    """For 2.00 there is no screw clamp, so the dirt in the trays stays. Cleaned, the loop runs above its
    ceiling of 161 l/h: at what it delivers with the same parts clean and no limit on the flow."""
    best = api.best(gouramis, shop, budget=200)
    assert best.best is not None
    assert best.best.own_m3s <= gouramis.limits.flow_max_m3s
    (told,) = [caution for caution in best.cautions if caution.startswith(DIRT)]
    assert "Only the dirt in tray 1, tray 2, tray 3 keeps to this: at most 161 l/h delivered" in told
    free = replace(gouramis, limits=replace(gouramis.limits, flow_max_m3s=float("inf")))
    clean = api.best(free, shop, budget=0).best
    assert clean is not None
    assert f"Cleaned, the loop runs at {clean.flow_m3s * 3.6e6:.0f} l/h and nothing can throttle it" in told


def test_with_a_throttle_or_without_a_ceiling_dirt_is_no_danger(gouramis: Rig, shop: Catalog) -> None:
    """A screw clamp can be closed further after a clean; where there is no ceiling, more water is what is wanted."""
    assert DIRT not in said(gouramis, shop, 2500)
    assert DIRT not in said(replace(gouramis, limits=replace(gouramis.limits, flow_max_m3s=float("inf"))), shop, 200)
    assert DIRT not in said(api.read_rig(DEMO / "rigs" / "nano_60.toml", shop), shop, 0)


def test_the_proof_says_which_bundles_it_does_not_count_where_loss_alone_holds_the_flow(gouramis: Rig, shop: Catalog) -> None:
    """Nobody fits a worse joint to slow the water down; where one might have been the answer the screen says so, else not."""
    from optimizer.report import text

    without = (
        "Joints and media chosen for more loss than need be, to stay under a ceiling without a throttle, are not among them."
    )
    assert without in " ".join(text.render(api.best(gouramis, shop, budget=200)).split())
    assert "chosen for more loss" not in text.render(api.best(api.read_rig(DEMO / "rigs" / "nano_60.toml", shop), shop))


def test_checks_by_another_route_bear_out_an_answer_that_its_loss_alone_holds(gouramis: Rig, shop: Catalog) -> None:
    """Stronger and cheaper bundles exist that nothing holds; they are no evidence against the answer."""
    best = api.best(gouramis, shop, budget=200, prove=True)
    assert best.proof.by_loss
    assert [check.agrees for check in best.proof.certificates] == [True, True, True]


def test_the_gravest_come_first_for_what_is_done_here(shop: Catalog) -> None:
    """Hands in the water: mains, then flood; then the animals, where the guard is changed. All of them say first what to do."""
    best = api.best(api.read_rig(DEMO / "rigs" / "nano_60.toml", shop), shop, budget=6000)
    assert any(change.change == "swap" and change.position == "strainer" for change in best.changes)
    begins = [caution.split(" ", 2)[0] for caution in best.cautions[:2]]
    assert begins == ["Mains", "Flood:"]
    assert best.cautions[2].startswith("Have the new guard on before the pump starts")
    assert "unplug everything" in best.cautions[0].partition(". ")[0]
    assert "local codes and licensed electricians decide" in best.cautions[0].partition(". ")[0]
    assert "watch every new joint" in best.cautions[1].partition(". ")[0]


def test_where_nothing_is_touched_hands_in_the_water_come_last(gouramis: Rig, shop: Catalog) -> None:
    """What is said of the loop as it stands is not pushed off the first screen by what concerns work at it."""
    lines = caution_lines(gouramis, stands_now(gouramis, shop))
    assert [line.split(" ", 1)[0] for line in lines[-2:]] == ["Mains", "Flood:"]
    assert len(lines) > 2


def test_what_is_noticed_is_looked_into_before_anything_is_bought(gouramis: Rig, shop: Catalog) -> None:
    """Air takes flow that no part gives back; nobody noticed anything, nothing is said."""
    stands = stands_now(gouramis, shop)
    plain, noisy = caution_lines(gouramis, stands), caution_lines(replace(gouramis, signs=("rattle",)), stands)
    new = [line for line in noisy if line not in plain]
    assert len(new) == 1 and new[0].startswith('Ask "fullbore diagnose" before you buy. You noticed: rattle')
