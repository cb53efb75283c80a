"""What costs nothing has figures of its own, which lead from the loop as it is to the best for nothing."""

from dataclasses import replace

import pytest
from demo import rig, shop
from how_many import some_of

from optimizer import api
from optimizer.answers.question import stands_now
from optimizer.measure.fill_loop import cleaned
from optimizer.model.catalog import Catalog
from optimizer.model.results import FreeGain, Result
from optimizer.model.rig import Rig, Tray
from optimizer.model.state import State
from optimizer.report.text import render

NOTHING = Catalog(parts={}, products=())
STAGES = {"guard": "guard clean", "media": "media clean", "pump": "pump clean"}
"""Stages by the words of a fill's state, which clean a described rig by another way."""


def answered(loop: Rig, **more: object) -> Result:
    return api.best(loop, shop(), budget=0, **more)  # type: ignore[arg-type]


def named(found: Result) -> dict[tuple[str, str], FreeGain]:
    return {(gain.change, gain.what): gain for gain in found.free_gains}


@pytest.mark.parametrize(
    "name", ["reading_corner_130", *some_of(["nano_60", "community_180", "barbs_96", "marine_75gal", "ricefish_160"], 3)]
)
def test_the_steps_lead_from_now_to_the_best_for_nothing(name: str) -> None:
    """The last of them is the row of nothing spent, with all throttles open."""
    found = answered(rig(name))
    assert found.spend_nothing is not None
    last = found.free_gains[-1].then_m3s if found.free_gains else found.now.own_m3s
    assert last == pytest.approx(found.spend_nothing.own_m3s, rel=1e-9)


@pytest.mark.parametrize("measured", [True, False])
def test_each_stage_alone_flows_as_the_rig_that_is_described_so(measured: bool) -> None:
    """By its fills and without: the rig written down anew with that stage clean, solved by itself."""
    from optimizer.answers.by_fills import by_fills

    loop = rig("reading_corner_130")
    fitted = by_fills(loop)[0] if measured else replace(loop, fills=())
    found = answered(loop, measured=measured)
    for stage, word in STAGES.items():
        wanted = stands_now(cleaned(fitted, (word,)), NOTHING).flow_m3s
        assert named(found)["clean", stage].alone_m3s == pytest.approx(wanted, rel=1e-9), stage
    for what, kinds in (("hoses and fittings", ("hose", "fitting")),):
        washed = fitted.with_each(lambda p, kinds=kinds: replace(p, state=p.state.cleaned()) if p.kind in kinds else p)
        assert named(found)["clean", what].alone_m3s == pytest.approx(stands_now(washed, NOTHING).flow_m3s, rel=1e-9)


def test_of_a_clogged_tray_the_dirt_is_the_cleaning_s_and_leaving_it_out_has_the_rest() -> None:
    """Clean first: the tray then costs little. Left out as it is, dirt and all, it alone gives nearly all of both."""
    found = named(answered(rig("reading_corner_130")))
    clean, gone = found["clean", "media"], found["leave out", "media"]
    assert gone.places == ("canister tray 3",) and "canister tray 3" in clean.places
    assert clean.alone_m3s is not None and gone.alone_m3s is not None
    now = answered(rig("reading_corner_130")).now.own_m3s
    assert gone.then_m3s - clean.then_m3s < 0.2 * (clean.alone_m3s - now) < gone.alone_m3s - now
    emptied = rig("reading_corner_130")
    trays = (*emptied.trays[:2], Tray(medium=None))
    bare = stands_now(replace(emptied, trays=trays, fills=()), NOTHING).flow_m3s
    plain = named(answered(rig("reading_corner_130"), measured=False))["leave out", "media"]
    assert plain.alone_m3s == pytest.approx(bare, rel=1e-9)


def test_sinking_the_outlet_is_told_by_itself() -> None:
    """A mouth above the water line costs lift: the rig written down with the outlet sunk flows as the step says."""
    loop = rig("community_180")
    (adjust,) = loop.positions[-1].adjusts
    assert adjust.height_m is not None
    gain = next(gain for gain in answered(loop).free_gains if gain.change == "adjust")
    last = replace(loop.positions[-1], height_m=adjust.height_m, state=State())
    sunk = replace(loop, positions=(*loop.positions[:-1], last))
    assert gain.alone_m3s == pytest.approx(stands_now(sunk, NOTHING).flow_m3s, rel=1e-9)
    assert gain.places == ("spray_bar",)


def test_the_text_lists_them_and_a_rig_with_nothing_to_do_has_none() -> None:
    text = render(answered(rig("community_180")), full=True)
    section = text[text.index("What costs nothing") :].split("\n\n")[0]
    assert "spray_bar: sink below the water line" in section and "leave out canister tray 3" in section
    assert "clean canister trays 1, 2, 3" in section
    assert "What costs nothing" not in render(replace(answered(rig("community_180")), free_gains=()), full=True)
