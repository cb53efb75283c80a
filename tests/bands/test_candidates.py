"""Pieces of a bundle: together they are the loop the search solved, and their factors do what changed figures would do."""

import math
from dataclasses import replace

import pytest
from band_cases import SEEDS, bundles, candidates, flat
from small_worlds import fitting, medium, tail

from optimizer.bands.band import line_of
from optimizer.bands.candidates import Candidate, candidate
from optimizer.bands.priors import PRIORS
from optimizer.loop.graph import loop_graph
from optimizer.loop.operating import operating_point
from optimizer.loop.standing import elements, standing_loop
from optimizer.loop.terms import adapter_quadratic, tray_loss
from optimizer.model.options import Chain
from optimizer.model.parts import Canister
from optimizer.model.state import State
from optimizer.physics.water import Water


@pytest.mark.parametrize("seed", SEEDS)
def test_pieces_add_up_to_the_elements_of_the_loop(seed: int) -> None:
    """Term by term against ``elements``, which knows nothing of pieces."""
    menu, listed = bundles(seed)
    for one in listed:
        made = candidate(standing_loop(menu.rig, one.options, one.joints), menu.rig.limits, "bundle")
        edges = elements(standing_loop(menu.rig, one.options, one.joints))
        for term in ("lift_m", "linear", "quadratic"):
            ours, theirs = (sum(getattr(each.loss, term) for each in group) for group in (made.pieces, edges))
            assert ours == pytest.approx(theirs, rel=1e-12, abs=1e-12)
        runs = [[each.loss.run for each in group if each.loss.run is not None] for group in (made.pieces, edges)]
        assert runs[0] == runs[1]
        pumps = [[(each.curve, each.speed) for each in group if each.curve is not None] for group in (made.pieces, edges)]
        assert pumps[0] == pumps[1]


@pytest.mark.parametrize("seed", SEEDS)
def test_every_loss_is_scaled_by_something_known(seed: int) -> None:
    """Nothing but lift is taken as certain, and every name is that of a prior."""
    for made in candidates(seed):
        for piece in made.pieces:
            assert set(piece.priors) <= set(PRIORS)
            assert piece.resistance or not (piece.loss.linear or piece.loss.quadratic)
            assert (piece.bore and piece.friction) or piece.loss.run is None


def test_the_same_part_in_two_bundles_has_the_same_unknowns() -> None:
    """Bundles of one world share the factors of the parts they share."""
    made = candidates(4)
    shared = set(made[0].unknowns) & set(made[1].unknowns)
    assert any(unknown.part for unknown in shared)


def test_media_scale_as_a_changed_permeability_does() -> None:
    """Darcy and Forchheimer: linear with 1/K; quadratic with c_F/sqrt(K), so with the root of the resistance."""
    water, body = (
        Water(temperature_c=25.0),
        Canister(id="c", name="c", inlet=tail(16, 12), outlet=tail(16, 12), trays=1, tray_area_m2=0.03, tray_height_m=0.05),
    )
    foam, factor = medium("m", 1e-7, True, 0.0), 1.7
    denser = replace(foam, permeability_m2=foam.permeability_m2 / factor, inertial_1m=foam.inertial_1m * math.sqrt(factor))
    plain, dense = (tray_loss(each, State(), body, water) for each in (foam, denser))
    assert dense.linear == pytest.approx(plain.linear * factor, rel=1e-12)
    assert dense.quadratic == pytest.approx(plain.quadratic * factor**0.5, rel=1e-12)
    menu, listed = bundles(5)
    made = candidate(standing_loop(menu.rig, listed[0].options, listed[0].joints), menu.rig.limits, "bundle")
    media = [piece for piece in made.pieces if piece.resistance in ("media", "filled media")]
    assert media
    assert all(piece.quadratic_power == 0.5 for piece in media)


def test_a_fitting_loses_with_the_inverse_fourth_power_of_its_bores() -> None:
    """All bores of a straight fitting smaller by 3 %: the same K on smaller bores (exact, Borda and Carnot)."""
    plain = fitting("f", "coupling", tail(16, 13), tail(16, 12))
    ends = [replace(end, bore_m=end.bore_m * 0.97) for end in (plain.inlet, plain.outlet)]
    narrow = replace(plain, passage_m=plain.passage_m * 0.97, inlet=ends[0], outlet=ends[1])
    assert adapter_quadratic(narrow, False) == pytest.approx(adapter_quadratic(plain, False) / 0.97**4, rel=1e-9)


def test_installed_parts_are_told_from_those_to_be_bought() -> None:
    """A bundle that keeps everything has nothing to buy; one that swaps the pump has a pump to buy."""
    menu, _ = bundles(2)
    kept = [options[0] for options in menu.options]
    blanks = [Chain((), (), 1e5, 0, (), (), True)] * len(kept)
    made = candidate(standing_loop(menu.rig, kept, blanks), menu.rig.limits, "now")
    assert all(piece.installed for piece in made.pieces)
    place = menu.rig.index("pump")
    swapped = [*kept]
    swapped[place] = next(option for option in menu.options[place] if option.change == "swap")
    new = candidate(standing_loop(menu.rig, swapped, blanks), menu.rig.limits, "new pump")
    assert [piece.installed for piece in new.pieces if piece.curve is not None] == [False]


def test_a_throttle_holds_the_ceiling_and_nothing_else_does() -> None:
    """With a throttle downstream the limit is a ceiling; without one it can only be broken."""
    seen = set()
    for seed in SEEDS:
        menu, listed = bundles(seed, most=20)
        if not math.isfinite(menu.rig.limits.flow_max_m3s):
            continue
        for one in listed:
            made = candidate(standing_loop(menu.rig, one.options, one.joints), menu.rig.limits, "bundle")
            assert made.most_m3s <= menu.rig.limits.flow_max_m3s
            throttled = any(option.throttles for option in one.options[menu.rig.index("pump") + 1 :])
            assert made.ceiling_m3s == (made.most_m3s if throttled else math.inf)
            seen.add(throttled)
    assert seen == {True, False}


def test_a_candidate_needs_one_pump() -> None:
    made = flat()
    for pieces in (made.pieces[1:], (*made.pieces, made.pieces[0])):
        with pytest.raises(ValueError, match="exactly one pump"):
            Candidate(name="wrong", pieces=pieces, kinematic_m2s=1e-6)


def test_dirt_is_an_unknown_of_its_own() -> None:
    """A blocked guard and full media have wider priors than clean ones, a filmed hose one more."""
    seen = {name for seed in SEEDS for made in candidates(seed) for piece in made.pieces for name in piece.priors}
    assert {"guard", "blocked guard", "media", "filled media", "film", "pump head", "label head"} <= seen
    for clean, dirty in (("guard", "blocked guard"), ("media", "filled media")):
        assert PRIORS[dirty].sigma > PRIORS[clean].sigma


def test_the_stated_flow_is_that_of_the_scalar_path() -> None:
    """At factors of one a candidate is the loop of the scalar operating point."""
    for seed in SEEDS[:8]:
        menu, listed = bundles(seed)
        for one in listed:
            made = candidate(standing_loop(menu.rig, one.options, one.joints), menu.rig.limits, "bundle")
            own = operating_point(
                loop_graph(elements(standing_loop(menu.rig, one.options, one.joints))), menu.water.kinematic_m2s
            ).flow_m3s
            assert line_of(made, draws=50).stated_m3s == pytest.approx(min(own, made.ceiling_m3s), rel=1e-8)
