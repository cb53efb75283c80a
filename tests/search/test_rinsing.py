"""Rinsing a pad or a sponge is worth what its cake costs: in `best` for nothing, in bands, and with fills."""

from dataclasses import replace
from pathlib import Path

import pytest

from optimizer import api
from optimizer.answers.question import stands_now
from optimizer.bands.candidates import candidate
from optimizer.bands.fitted import FittedParts
from optimizer.dirt.laws import USUAL
from optimizer.dirt.layers import tray_layer, usual_cake_m
from optimizer.measure.fill_loop import loop_during_fill
from optimizer.model.catalog import Catalog
from optimizer.model.parts import Guard
from optimizer.model.rig import Rig
from optimizer.model.state import State

DEMO = Path(__file__).parents[2] / "parts_demo"
NOTHING = Catalog(parts={}, products=())


def rig(name: str) -> Rig:
    """A demo rig, cleaned."""
    read = api.read_rig(DEMO / "rigs" / f"{name}.toml", api.read_catalog(DEMO / "catalog"))
    trays = tuple(replace(tray, state=tray.state.cleaned()) for tray in read.trays)
    return replace(read, trays=trays).with_each(lambda place: replace(place, state=place.state.cleaned()))


def with_foam_filled(share: float, cake: bool) -> Rig:
    """The lake's tank, all clean but its coarse pad, with or without what lies on it."""
    clean = rig("rift_lake_450")
    first = replace(clean.trays[0], state=State(filled=share))
    thick = usual_cake_m(tray_layer(first, clean.canister, USUAL), USUAL) if cake else 0.0
    return replace(clean, trays=(replace(first, state=State(filled=share, cake_m=thick)), *clean.trays[1:]))


def test_rinsing_a_pad_filled_to_60_percent_is_worth_it_for_nothing() -> None:
    """All else is clean. By pores alone it gave a third of a percent; with its cake a bucket can tell it."""
    gains = []
    for cake in (False, True):
        dirty = with_foam_filled(0.6, cake)
        found = api.best(dirty, NOTHING, budget=0)
        now = stands_now(dirty, NOTHING).own_m3s
        assert found.bundle is not None
        gains.append(stands_now(rig("rift_lake_450"), NOTHING).own_m3s / now - 1.0)
        if cake:
            body = next(option for option in found.bundle.options if option.fills)
            assert body.fills[0].change == "clean" and body.fills[0].state.is_clean
    assert gains[0] < 0.01
    assert gains[1] > 0.03


def sponged(state: State) -> Rig:
    """The shrimp tank with a sponge over its intake in a state."""
    sponge = api.read_catalog(DEMO / "catalog").parts["GUARD-SPG-105-G12"]
    return rig("shrimp_and_fry_240").with_each(
        lambda place: replace(place, installed=sponge, state=state) if place.kind == "guard" else place
    )


def test_rinsing_a_sponge_over_the_intake_is_worth_it_for_nothing() -> None:
    """Two weeks' cake of 2.5 mm on 105 cm2."""
    dirty = sponged(State(blocked=0.2, cake_m=2.5e-3))
    found = api.best(dirty, NOTHING, budget=0)
    assert found.bundle is not None
    guard = next(option for option in found.bundle.options if isinstance(option.part, Guard))
    assert guard.change == "clean" and guard.state.is_clean
    clean, now = stands_now(sponged(State()), NOTHING).own_m3s, stands_now(dirty, NOTHING).own_m3s
    assert clean > 1.08 * now


def test_a_cake_is_a_piece_of_its_own_and_goes_with_what_it_lies_on() -> None:
    """Its factor scales it alone, and a fill with the guard off or the media out is one without its cake."""
    dirty = sponged(State(blocked=0.2, cake_m=2.5e-3))
    dirty = replace(dirty, trays=(replace(dirty.trays[0], state=State(cake_m=2e-3)), *dirty.trays[1:]))
    loop = stands_now(dirty, NOTHING).loop
    told = {piece.resistance: piece for piece in candidate(loop, dirty.limits, "x").pieces}
    assert told["cake on media"].part == dirty.trays[0].medium.id  # type: ignore[union-attr]
    assert told["cake on the guard"].loss.quadratic == told["cake on media"].loss.quadratic == 0.0
    for word, gone in (("guard off", {"cake on the guard", "blocked guard"}), ("media out", {"cake on media", "media"})):
        left = {piece.resistance for piece in loop_during_fill(dirty, (word,)).candidate.pieces}
        assert not left & gone
        assert {"cake on media", "cake on the guard"} - gone <= left
    for word in ("clean", "media clean"):
        left = {piece.resistance for piece in loop_during_fill(dirty, (word,)).candidate.pieces}
        assert "cake on media" not in left


@pytest.mark.parametrize("factor", [0.4, 2.5])
def test_what_fills_say_of_a_cake_holds_for_the_next_one_on_the_same_medium(factor: float) -> None:
    """The factor of the density of a cake stays with the medium once it is rinsed; that of its filled pores does not."""
    clean = rig("rift_lake_450")
    medium = clean.trays[0].medium
    assert medium is not None
    fitted = FittedParts({("cake on media", medium.id): factor, ("filled media", medium.id): 3.0})
    water = stands_now(clean, NOTHING).loop.water
    bare, caked = (fitted.tray(medium, State(cake_m=cake), clean.canister, water, State()) for cake in (0.0, 2e-3))
    stated = [FittedParts({}).tray(medium, State(cake_m=cake), clean.canister, water) for cake in (0.0, 2e-3)]
    assert bare == stated[0]
    assert caked.linear - bare.linear == pytest.approx(factor * (stated[1].linear - stated[0].linear))
    assert fitted.tray_scales(medium, State())[2] == factor
