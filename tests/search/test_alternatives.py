"""The k best truly different bundles against striking out by hand in a full listing, and what counts as different."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from small_worlds import large_world, medium, world
from striking_out import RESOLUTION_M3S, Hand, media_world

from optimizer.model.catalog import Catalog
from optimizer.model.options import Fill
from optimizer.model.parts import Medium, Pump, PumpCurve
from optimizer.model.rig import Rig, Tray
from optimizer.search.alternatives import Alternatives, alternatives
from optimizer.search.best import Found, Seeker
from optimizer.search.choices import choices
from optimizer.search.layers import build
from optimizer.search.part_identity import identity, part_identities
from optimizer.search.stacks import moves

MEDIA_WORLDS, WORLDS, CHUNK = 24, 12, 6
ASKED = 5

Made = tuple[Rig, Catalog]


@cache
def made(kind: str, seed: int) -> Made:
    """A world with ``media`` of all kinds, or a ``plain`` one."""
    return media_world(seed) if kind == "media" else world(seed, 200)


@cache
def listed(kind: str, seed: int) -> tuple[Seeker, Alternatives]:
    """The first alternatives of a world, as the answer lists them."""
    rig, catalog = made(kind, seed)
    seeker = Seeker(build(choices(rig, catalog, rig.limits, apart=True)))
    return seeker, alternatives(seeker, ASKED)


def wrong_with(kind: str, seed: int) -> list[str]:
    """What striking out by hand has against the list of a world; nothing, if it is right."""
    (rig, catalog), (seeker, found) = made(kind, seed), listed(kind, seed)
    hand = Hand.of(choices(rig, catalog, rig.limits))
    left, wrong = hand.everything(), [] if found.status == "proved" else [found.status]
    for n, each in enumerate(found.found):
        best = hand.best(left)
        known = hand.known(seeker.options_of(each.bundle), each.bundle.price, each.flow_m3s, each.delivered.own_m3s)
        if best is None or known is None:
            return [*wrong, f"{n}: no bundle is left" if best is None else f"{n}: no bundle"]
        if not left[known]:
            wrong.append(f"{n}: struck out")
        noisy = abs(best.noise_dba - hand.bundles.noise_dba[known]) > 1e-9
        if best.price != each.bundle.price or abs(best.flow_m3s - each.flow_m3s) > RESOLUTION_M3S or noisy:
            wrong.append(f"{n}: {each.flow_m3s} for {each.bundle.price}, by hand {best.flow_m3s} for {best.price}")
        left &= ~hand.struck(known)
    if len(found.found) < ASKED and hand.best(left) is not None:
        wrong.append(f"{left.sum()} bundles left over")
    return wrong


@pytest.mark.parametrize("chunk", range(WORLDS // CHUNK))
def test_each_is_what_striking_out_by_hand_leaves_as_the_best(chunk: int) -> None:
    """Flow, price, noise and things, one after the other, and that there are no more."""
    wrong = {seed: wrong_with("plain", seed) for seed in range(chunk * CHUNK, (chunk + 1) * CHUNK)}
    assert not any(wrong.values()), {seed: what for seed, what in wrong.items() if what}


@pytest.mark.parametrize("chunk", range(MEDIA_WORLDS // CHUNK))
def test_so_it_is_with_media_kept_cleaned_emptied_and_renewed_and_places_that_stay(chunk: int) -> None:
    """Where trays are told apart by what is in them, and twins of parts are sold."""
    wrong = {seed: wrong_with("media", seed) for seed in range(chunk * CHUNK, (chunk + 1) * CHUNK)}
    assert not any(wrong.values()), {seed: what for seed, what in wrong.items() if what}


def test_the_worlds_have_several_alternatives() -> None:
    """The comparison is worth something: most worlds give two or more, some the full list, some next to nothing."""
    lengths = [len(listed(kind, seed)[1].found) for kind in ("media", "plain") for seed in range(CHUNK)]
    assert np.mean(np.array(lengths) >= 2) > 0.5
    assert lengths.count(ASKED) >= 3
    assert min(lengths) <= 1


def test_the_first_is_what_a_plain_question_gives() -> None:
    """Listing more media changes nothing about the best."""
    for seed in range(CHUNK):
        (rig, catalog), (_, found) = made("media", seed), listed("media", seed)
        plain = Seeker(build(choices(rig, catalog, rig.limits))).most_flow().found
        assert (plain is None) == (not found.found)
        if plain is not None:
            assert found.found[0].bundle.price == plain.bundle.price
            assert found.found[0].flow_m3s == pytest.approx(plain.flow_m3s, abs=RESOLUTION_M3S)


def large(seed: int = 3) -> Seeker:
    """A world of far too many bundles to list."""
    rig, catalog = large_world(seed)
    return Seeker(build(choices(rig, catalog, replace(rig.limits, budget=6000, flow_min_m3s=0.0), apart=True)))


def test_the_first_is_the_best_and_flows_fall() -> None:
    seeker = large()
    found = alternatives(seeker, 8)
    best = seeker.most_flow().found
    assert best is not None
    assert found.status == "proved"
    assert found.found[0].bundle.path == best.bundle.path
    flows = [each.flow_m3s for each in found.found]
    assert len(flows) == 8
    assert all(after <= before + RESOLUTION_M3S for before, after in zip(flows, flows[1:], strict=False))


def test_none_only_adds_to_one_before_it() -> None:
    found = alternatives(large(), 8)
    assert found.things is not None
    seen = [found.things.seen_from(each) for each in found.found]
    rows = [each.bundle.path.options for each in found.found]
    assert not any(seen[n].rules_out(rows[m]) for m in range(len(rows)) for n in range(m))
    assert all(seen[n].rules_out(rows[n]) for n in range(len(rows)))


def test_a_longer_list_begins_with_the_shorter() -> None:
    three, six = alternatives(large(), 3), alternatives(large(), 6)
    assert [each.bundle.path for each in six.found[:3]] == [each.bundle.path for each in three.found]


def test_what_is_asked_to_stop_says_so() -> None:
    seen: list[Found] = []
    found = alternatives(large(), 8, seen.append, lambda: len(seen) >= 2)
    assert found.status == "stopped"
    assert len(found.found) == 2


def test_less_than_one_cannot_be_asked_for() -> None:
    with pytest.raises(ValueError, match="at least one"):
        alternatives(large(), 0)


# -- what is the same thing ----------------------------------------------------------------------------------------


def test_cleaning_turning_and_clamping_make_no_other_thing() -> None:
    """Options that share a part share a number, unless one of them is new, re-drilled or hung at another height."""
    for seed in range(6):
        rig, catalog = large_world(seed)
        problem = build(choices(rig, catalog, rig.limits))
        told = part_identities(problem)
        for place, layer in enumerate(problem.layers):
            rows = range(problem.option_at[place], problem.option_at[place + 1])
            by_kind: dict[object, set[int]] = {}
            for row, option in zip(rows, layer.options, strict=True):
                by_kind.setdefault(identity(option), set()).add(int(told.of_row[row]))
            assert all(len(numbers) == 1 for numbers in by_kind.values())
            assert len(by_kind) == len({number for numbers in by_kind.values() for number in numbers})


def test_a_part_that_changes_next_to_nothing_does_as_well() -> None:
    """A pump of the same curve, or of one that is higher by a millionth, under another id; one that is quieter, or higher by a
    hundredth, is another thing."""
    rig, catalog = large_world(2)
    rig = replace(rig, limits=rig.limits.without("budget", "noise_dba", "power_w", "canister_rating", "flow_min_m3s"))
    pump = pump_of(Seeker(build(choices(rig, catalog, rig.limits))))
    made = {
        "twin": replace(pump, id="twin"),
        "near": replace(pump, id="near", curve=higher(pump.curve, 1.0 + 1e-6)),
        "quiet": replace(pump, id="quiet", noise_dba=10.0),
        "high": replace(pump, id="high", curve=higher(pump.curve, 1.01)),
    }
    product = next(each for each in catalog.products if [line.part_id for line in each.lines] == [pump.id])
    offers = [replace(product, id=name, lines=(replace(product.lines[0], part_id=name),)) for name in made]
    more = replace(catalog, parts={**catalog.parts, **made}, products=(*catalog.products, *offers))
    problem = build(choices(rig, more, rig.limits))
    place = slice(problem.option_at[problem.pump], problem.option_at[problem.pump + 1])
    names = [option.part.id if option.part else "" for option in problem.layers[problem.pump].options]
    only = np.ones(len(problem.option_plain), dtype=bool)
    only[place] = [name == pump.id for name in names]
    best = Seeker(problem, allowed=only).most_flow().found
    assert best is not None
    told = part_identities(problem)
    same = told.seen_from(best).same[problem.pump]
    number = dict(zip(names, told.of_row[place].tolist(), strict=True))
    assert len({number[name] for name in (pump.id, *made)}) == 5, "all are parts of their own"
    assert {name for name in (pump.id, *made) if number[name] in same} == {pump.id, "twin", "near"}


def pump_of(seeker: Seeker) -> Pump:
    """The bought pump that the best bundle has."""
    found = seeker.most_flow().found
    assert found is not None
    option = seeker.options_of(found.bundle)[seeker.problem.pump]
    assert isinstance(option.part, Pump)
    assert not option.is_installed
    return option.part


def higher(curve: PumpCurve, by: float) -> PumpCurve:
    """The same curve with all heads larger by a factor."""
    return replace(curve, heads_m=tuple(head * by for head in curve.heads_m))


FOAM, RINGS = medium("foam", 1.2e-7, True, 0.0), medium("rings", 4e-7, False, 500.0)
TRAYS = (Tray(medium=FOAM), Tray(medium=RINGS), Tray(medium=None))


def filled(*media: tuple[str, Medium | None]) -> tuple[Fill, ...]:
    """A filling tray by tray, as (change, medium)."""
    return tuple(Fill(tray=n, change=change, medium=medium) for n, (change, medium) in enumerate(media))


def test_what_only_changes_its_tray_or_its_package_is_not_moved() -> None:
    again = replace(FOAM, id="foam-6L", name="a larger block of the same foam")
    renewed = filled(("swap", RINGS), ("swap", again), ("keep", None))
    assert moves(renewed, TRAYS, fitted=False) == {}
    assert sum(moves(renewed, TRAYS, fitted=True).values()) == 4, "where fills say what the old ones lose, new ones are others"


def test_a_filling_moves_what_it_takes_out_and_puts_in() -> None:
    fine = medium("fine", 1e-8, True, 0.0)
    told = moves(filled(("remove", None), ("clean", RINGS), ("swap", fine)), TRAYS, fitted=False)
    assert sorted((side, one.permeability_m2, count) for (side, one, _), count in told.items()) == [
        ("in", 1e-8, 1),
        ("out", 1.2e-7, 1),
    ]
