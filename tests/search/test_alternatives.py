"""The k best truly different bundles against a full listing of random worlds, and what counts as different."""

from dataclasses import dataclass, replace

import enumeration
import numpy as np
import pytest
from numpy.typing import NDArray
from small_worlds import large_world, world

from optimizer.search.alternatives import Alternatives, alternatives
from optimizer.search.best import RESOLUTION_M3S, Found, Seeker
from optimizer.search.choices import Choices, choices
from optimizer.search.layers import Problem, build
from optimizer.search.things import Things, identity, things

WORLDS, CHUNK = 120, 10
ASKED = 5


@dataclass(frozen=True)
class Every:
    """All bundles of a small world that could be an answer: what they put where, price and flow."""

    things: NDArray[np.intp]
    price: NDArray[np.float64]
    flow_m3s: NDArray[np.float64]


def every(menu: Choices, told: Things) -> Every:
    """Listed by `enumeration`, which shares no search code; the order of the list goes along in place of the price."""
    rows, joints = enumeration._listed(menu)
    budget = float("inf") if menu.limits.budget is None else float(menu.limits.budget)
    price = np.array(list(enumeration._prices(menu, rows, joints, budget)), dtype=float)
    kept = np.flatnonzero(price <= min(budget, 1e15))
    table = enumeration._Table(menu, np.array([rows[n] for n in kept], dtype=np.intp), [joints[n] for n in kept])
    found = table.bundles(np.arange(len(kept), dtype=float))
    floor = max(menu.limits.flow_min_m3s, 1e-9) * (1 - 1e-9)
    found = found.take((found.throttled | (found.holds & found.neat)) & (found.flow_m3s >= floor))
    number = _numbers(menu, told)
    chosen = kept[found.price.astype(int)] if len(kept) else np.zeros(0, dtype=int)
    put = [[number[place][n] for place, n in enumerate(rows[row])] for row in chosen]
    return Every(np.array(put, dtype=np.intp).reshape(len(put), len(menu.options)), price[chosen], found.flow_m3s)


def _numbers(menu: Choices, told: Things) -> list[list[int]]:
    """The number of the thing of every option, in the order of the choices."""
    problem = told.problem
    known: dict[int, int] = {}
    for row, thing in enumerate(told.of_row.tolist()):
        known[id(problem.option(row))] = thing
    return [[known.get(id(option), -9) for option in options] for options in menu.options]


def wrong_with(menu: Choices, problem: Problem, found: Alternatives) -> list[str]:
    """What a listing of everything has against a list of alternatives; nothing, if it is right."""
    if found.status != "proved" or found.things is None:
        return [] if found.status == "proved" else [found.status]
    told, all_of_them = found.things, every(menu, found.things)
    rest = np.ones(len(all_of_them.price), dtype=bool)
    wrong = []
    for n, each in enumerate(found.found):
        holds = told.at(each.bundle.path.options)
        if not rest.any():
            return [*wrong, f"{n}: nothing is left"]
        same = rest & (all_of_them.things == np.array(holds)).all(axis=1)
        if not same.any():
            wrong.append(f"{n}: ruled out, or no bundle")
        top = all_of_them.flow_m3s[rest].max()
        if each.flow_m3s < top - 2 * RESOLUTION_M3S * (1 + 1e-6):
            wrong.append(f"{n}: {each.flow_m3s} although {top} is left")
        alike = same & (all_of_them.flow_m3s >= each.flow_m3s * (1 - 1e-9))
        if alike.any() and all_of_them.price[alike].min() != each.bundle.price:
            wrong.append(f"{n}: {each.bundle.price} although {all_of_them.price[alike].min()} will do")
        gone = np.ones(len(rest), dtype=bool)
        for place, thing in told.departures(each.bundle.path.options).items():
            gone &= all_of_them.things[:, place] == thing
        rest &= ~gone
    if len(found.found) < ASKED and rest.any():
        wrong.append(f"{rest.sum()} bundles left out")
    return wrong


@pytest.mark.parametrize("chunk", range(WORLDS // CHUNK))
def test_each_is_the_best_of_what_a_full_listing_has_left(chunk: int) -> None:
    wrong = {}
    for seed in range(chunk * CHUNK, (chunk + 1) * CHUNK):
        rig, catalog = world(seed)
        menu = choices(rig, catalog, rig.limits)
        problem = build(menu)
        wrong[seed] = wrong_with(menu, problem, alternatives(Seeker(problem), ASKED))
    assert not any(wrong.values()), {seed: what for seed, what in wrong.items() if what}


def test_the_worlds_have_several_alternatives() -> None:
    """The comparison is worth something: most worlds give two or more, some the full list, some nothing at all."""
    lengths = []
    for seed in range(0, WORLDS, 4):
        rig, catalog = world(seed)
        lengths.append(len(alternatives(Seeker(build(choices(rig, catalog, rig.limits))), ASKED).found))
    assert np.mean(np.array(lengths) >= 2) > 0.5
    assert lengths.count(ASKED) >= 3
    assert min(lengths) == 0


def large(seed: int = 3) -> Seeker:
    """A world of far too many bundles to list."""
    rig, catalog = large_world(seed)
    return Seeker(build(choices(rig, catalog, replace(rig.limits, budget=6000, flow_min_m3s=0.0))))


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
    pairs = [found.things.departures(each.bundle.path.options).items() for each in found.found]
    assert not any(pairs[n] <= pairs[m] for m in range(len(pairs)) for n in range(m))


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
    """Options that share a part share a number, unless it is re-drilled or hung at another height."""
    for seed in range(6):
        rig, catalog = large_world(seed)
        problem = build(choices(rig, catalog, rig.limits))
        best = Seeker(problem).most_flow().found
        if best is None:
            continue
        told = things(problem, best)
        for place, layer in enumerate(problem.layers):
            rows = range(problem.option_at[place], problem.option_at[place + 1])
            by_kind: dict[object, set[int]] = {}
            for row, option in zip(rows, layer.options, strict=True):
                by_kind.setdefault(identity(option), set()).add(int(told.of_row[row]))
            assert all(len(numbers) == 1 for numbers in by_kind.values())
            assert len(by_kind) >= len({number for numbers in by_kind.values() for number in numbers})


def test_a_part_that_differs_in_name_only_is_no_other_thing() -> None:
    """A second pump of the same curve, ends, noise and power under another id; one that is quieter is another thing."""
    rig, catalog = large_world(2)
    pump = catalog.parts["P0"]
    twin, quiet = replace(pump, id="P0 twin"), replace(pump, id="P0 quiet", noise_dba=10.0)
    product = next(each for each in catalog.products if each.id == "P0 x1")
    offers = [replace(product, id=part.id, lines=(replace(product.lines[0], part_id=part.id),)) for part in (twin, quiet)]
    more = replace(catalog, parts={**catalog.parts, twin.id: twin, quiet.id: quiet}, products=(*catalog.products, *offers))
    limits = rig.limits.without("budget", "noise_dba", "power_w", "canister_rating", "flow_min_m3s")
    problem = build(choices(rig, more, limits))
    best = Seeker(problem).most_flow().found
    assert best is not None
    told = things(problem, best)
    number = {
        option.part.id: int(told.of_row[problem.option_at[problem.pump] + n])
        for n, option in enumerate(problem.layers[problem.pump].options)
        if option.part is not None
    }
    assert number["P0"] == number["P0 twin"] != number["P0 quiet"]
