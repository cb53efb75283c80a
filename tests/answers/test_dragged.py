"""What a part brings with it is the least that lets every joint close; what an adapter does between threads is said."""

from dataclasses import replace
from itertools import combinations
from pathlib import Path

import pytest
from small_worlds import fitting, tail, thread

from optimizer import api
from optimizer.answers.dragged import dragged_words
from optimizer.answers.why import _ends_told
from optimizer.model.catalog import Catalog
from optimizer.model.ends import Gender, Standard
from optimizer.model.options import ADJUST, CLEAN, KEEP, Option
from optimizer.search.best import Seeker
from optimizer.search.choices import choices
from optimizer.search.layers import build

DEMO = Path(__file__).resolve().parents[2] / "parts_demo"


@pytest.fixture(scope="module")
def shop() -> Catalog:
    return api.read_catalog(DEMO / "catalog")


def test_a_wider_hose_says_what_its_ends_need_and_what_else_is_other(shop: Catalog) -> None:
    """19/27 hose where guard and coupling have 12 mm tails."""
    rig = api.read_rig(DEMO / "rigs" / "community_180.toml", shop)
    for told in (api.why(rig, shop, "HOSE-19-27"), api.why(rig, shop, "suction_hose=HOSE-19-27")):
        assert "Its ends need with it: intake swap GUARD-HOLE-50-G34, in_coupling swap COUP-S-G12V." in told
        assert "It also changes: spray_bar swap OPEN-G12." in told
    assert "Its ends need" not in api.why(rig, shop, "spray_bar=OPEN-G34"), "an adapter on the hose that is there is enough"


@pytest.mark.parametrize(("place", "part_id"), [("suction_hose", "HOSE-19-27"), ("return_hose", "HOSE-19-27"), ("pump", "")])
def test_what_is_needed_is_the_smallest_set_that_closes(shop: Catalog, place: str, part_id: str) -> None:
    """Tried naively: sets of the bundle's changes from the smallest on, everything else left as it is, until water can flow."""
    rig = api.read_rig(DEMO / "rigs" / "community_180.toml", shop)
    free = rig.limits.without(*rig.limits.binding)
    menu = choices(rig, shop, free)
    seeker = Seeker(build(menu))
    at = [position.name for position in rig.positions].index(place)
    mask = seeker.all.copy()
    here = slice(seeker.problem.option_at[at], seeker.problem.option_at[at + 1])
    mask[here] = [bool(o.items) and (not part_id or (o.part is not None and o.part.id == part_id)) for o in menu.options[at]]
    found = seeker.most_flow_with(mask)
    assert found is not None
    chosen = seeker.options_of(found.bundle)
    changed = [n for n, option in enumerate(chosen) if n != at and not rests(option)]

    def closes(some: tuple[int, ...]) -> bool:
        keep = [
            tuple(o for o in options if (o is chosen[n] if n == at or n in some else rests(o)))
            for n, options in enumerate(menu.options)
        ]
        return Seeker(build(replace(menu, options=tuple(keep)))).most_flow().found is not None

    sets = (some for size in range(len(changed) + 1) for some in combinations(changed, size))
    least = next(some for some in sets if closes(some))
    told = dragged_words(seeker, found, None, {at})
    assert ("Its ends need" in told) == bool(least)
    if least:
        named = told.split("Its ends need with it: ")[1].split(".")[0].split(", ")
        assert len(named) == len(least)


def rests(option: Option) -> bool:
    """Whether a place stays as it is, cleaned or adjusted perhaps."""
    return option.change in (KEEP, CLEAN, ADJUST)


def test_an_adapter_between_pipe_threads_says_which_end_meets_what(shop: Catalog) -> None:
    """The reef's couplings have NPT threads; the adapter stands between two of them."""
    rig = api.read_rig(DEMO / "rigs" / "marine_75gal.toml", shop)
    result = api.best(rig, shop)
    joint = next(joint for joint in result.joints if joint.between == ("in_tail", "in_coupling"))
    adapter = next(part.id for part in shop.parts.values() if [part.name] == list(joint.pieces))
    told = api.why(rig, shop, adapter)
    assert "Between in_tail and in_coupling: its NPT 3/4 female end meets in_tail, its NPT 1/2 male end in_coupling." in told
    assert told.count("NPT goes on NPT alone: it never mates with G, R, Rc or Rp (BSP)") == 1
    assert "Its ends: 16 mm tail and G 3/4 male. G is BSP: it never mates with NPT" in api.why(rig, shop, "ADPT-16-G34")


def test_a_piece_from_npt_to_bsp_says_so() -> None:
    """ASME B1.20.1 has 60 degree threads, ISO 228-1 and ISO 7-1 have 55."""
    npt, bsp = thread(Standard.NPT, Gender.MALE, 0.5, 15.0), thread(Standard.G, Gender.FEMALE, 0.5, 15.0)
    told = "".join(_ends_told(fitting("A", "adapter", npt, bsp)))
    assert "Its ends: NPT 1/2 male and G 1/2 female." in told
    assert "it stands between NPT and BSP (G, R, Rc, Rp), which never mate" in told
    assert "BSP" not in "".join(_ends_told(fitting("B", "adapter", tail(16, 12.0), tail(12, 9.0))))
