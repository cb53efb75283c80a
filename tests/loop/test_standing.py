"""Random standing loops, in series and with branches, dirty and with drawn factors: batch, scalars and network agree."""

import random
from dataclasses import replace
from itertools import count

import pytest
from band_cases import bundles, drawn, element, split_element
from network.branched import branched_graph
from network.solver import solve_network
from small_worlds import tail

from optimizer.bands.candidates import Candidate, candidate
from optimizer.bands.draws import Factors
from optimizer.bands.series import own_m3s
from optimizer.loop.element_loops import flows_of
from optimizer.loop.graph import Element, loop_graph
from optimizer.loop.kinds import Dirt, kind
from optimizer.loop.operating import operating_point
from optimizer.loop.standing import Joint, Stand, StandingLoop, aged_elements, elements, standing_loop
from optimizer.model.limits import Limits
from optimizer.model.parts import NonReturnValve
from optimizer.model.rig import Position
from optimizer.model.state import State

LOOPS, CHUNKS, DRAWS = 100, 10, 3
"""So many loops in series and as many with branches."""


def dirty(loop: StandingLoop, chance: random.Random) -> StandingLoop:
    """The loop with dirt at random where its parts get dirty, throttles open."""
    worst = {Dirt.FILM: 1e-3, Dirt.FOULING: 0.2, Dirt.COVERING: 0.6, Dirt.NONE: 0.0}

    def soiled(one: Stand) -> Stand:
        dirt = kind(one.part).dirt
        return replace(
            one, state=replace(State(), **({dirt.value: chance.random() * worst[dirt]} if dirt.value else {})), loss=None
        )

    trays = tuple(replace(tray, state=State(filled=0.5 * chance.random())) for tray in loop.trays)
    forks = tuple(replace(fork, throttles=(False, False)) for fork in loop.forks)
    return replace(loop, stands=tuple(map(soiled, loop.stands)), trays=trays, forks=forks, throttled=False)


def with_valve(loop: StandingLoop, chance: random.Random) -> StandingLoop:
    """The loop with a non-return valve right behind the pump."""
    end, seat = tail(16, 13.0), chance.uniform(0.008, 0.013)
    valve = NonReturnValve(
        id="V", name="valve", form=chance.choice(["flap", "poppet"]), inlet=end, outlet=end, passage_m=seat,
        crack_m=chance.uniform(0.0, 0.2),
    )  # fmt: skip
    at = loop.stands.index(loop.pump) + 1
    place = Position(name="valve", kind="non-return valve", installed=valve)
    made = Stand(position=place, part=valve, place="valve", joint=Joint(quadratic=chance.uniform(0.0, 1e6)))
    forks = tuple(
        replace(fork, parts=tuple((a + (a >= at), b + (b > at)) for a, b in fork.parts))
        for fork in loop.forks  # type: ignore[arg-type]
    )
    return replace(loop, stands=(*loop.stands[:at], made, *loop.stands[at:]), forks=forks)


def random_loops(branched: bool, chunk: int) -> list[StandingLoop]:
    """Some of the loops, every other one with a valve."""
    found: list[StandingLoop] = []
    for seed in count(1000 * chunk):
        menu, listed = bundles(seed, 3, branched)
        for one in listed:
            chance = random.Random(len(found) + seed)
            loop = dirty(standing_loop(menu.rig, one.options, one.joints), chance)
            if bool(loop.forks) is branched:
                found.append(with_valve(loop, chance) if len(found) % 2 else loop)
        if len(found) >= LOOPS // CHUNKS:
            return found[: LOOPS // CHUNKS]
    raise AssertionError("worlds do not end")


def by_network(edges: list[Element], kinematic_m2s: float) -> tuple[float, dict[int, float]]:
    """Flow at the pump, and of the branches by their number."""
    graph = branched_graph(edges)
    solved = solve_network(graph, kinematic_m2s)
    flows, through = 0.0, {}
    for u, v, key, data in graph.edges(keys=True, data=True):
        if getattr(data.get("element"), "curve", None) is not None:
            flows = solved.flow_m3s[u, v, key]
        if "branch" in data:
            through[data["branch"]] = solved.flow_m3s[u, v, key]
    return flows, through


def one_draw(made: Candidate, factors: Factors, row: int) -> list[Element]:
    """A loop as one draw has it; branches at open water stand where that is."""
    splits = [split_element(split, factors, row) for split in made.splits]
    return [
        *(each for each in splits if each.split and each.split.parting is None),
        *(element(piece, factors, row) for piece in made.pieces),
        *(each for each in splits if each.split and each.split.parting is not None),
    ]


@pytest.mark.parametrize("branched", [False, True])
@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_batch_scalars_and_network_agree(branched: bool, chunk: int) -> None:
    """The batch that answers are made with, the scalar path that shares no code with it, and Newton's method on node heads
    (checked against EPANET elsewhere)."""
    loops = random_loops(branched, chunk)
    for loop in loops:
        nu = loop.water.kinematic_m2s
        edges = aged_elements(loop, [one.state for one in loop.stands], [tray.state for tray in loop.trays])
        batch, scalar = float(flows_of([edges], nu)[0]), operating_point(loop_graph(edges), nu).flow_m3s
        assert batch == pytest.approx(scalar, rel=1e-9, abs=1e-12)
        network, through = by_network(edges, nu)
        assert network == pytest.approx(scalar, rel=1e-6, abs=1e-9)
        assert not loop.forks or sum(through.values()) == pytest.approx(network * len(loop.forks), rel=1e-6, abs=1e-9)
        made = candidate(loop, Limits().without(*Limits().binding), "loop")
        factors = drawn([made], 10, chunk)
        draws = own_m3s(made, factors)
        for row in range(DRAWS):
            one = one_draw(made, factors, row)
            assert draws[row] == pytest.approx(operating_point(loop_graph(one), nu).flow_m3s, rel=1e-8, abs=1e-12)
        assert draws[0] == pytest.approx(by_network(one_draw(made, factors, 0), nu)[0], rel=1e-6, abs=1e-9)
    assert any(loop.stands[n].part.id == "V" for loop in loops for n in range(len(loop.stands)))


def test_a_loop_as_it_was_chosen_is_the_one_aged_by_nothing() -> None:
    """Elements of the options' own losses against those worked out from parts and states."""
    for seed in range(6):
        menu, listed = bundles(seed, 3, branched=seed % 2 == 0)
        for one in listed:
            loop = standing_loop(menu.rig, one.options, one.joints)
            aged = aged_elements(loop, [each.state for each in loop.stands], [tray.state for tray in loop.trays])
            flows = [operating_point(loop_graph(each), loop.water.kinematic_m2s).flow_m3s for each in (elements(loop), aged)]
            assert flows[0] == pytest.approx(flows[1], rel=1e-9)


def test_a_valve_that_the_pump_cannot_open_lets_nothing_through() -> None:
    menu, listed = bundles(0, 1)
    loop = with_valve(standing_loop(menu.rig, listed[0].options, listed[0].joints), random.Random(0))
    curve = next(edge.curve for edge in elements(loop) if edge.curve is not None)
    for crack_m, flows in ((0.0, True), (curve.max_head_m, False)):
        stands = tuple(
            replace(one, part=replace(one.part, crack_m=crack_m)) if isinstance(one.part, NonReturnValve) else one
            for one in loop.stands
        )
        point = operating_point(loop_graph(elements(replace(loop, stands=stands))), loop.water.kinematic_m2s)
        assert (point.flow_m3s > 0.0) is flows


def test_the_head_that_opens_a_valve_is_no_level() -> None:
    """It is lost at any flow, but the water is no higher for it; in a branch it keeps water back as a higher mouth does."""
    menu, listed = bundles(0, 1)
    loop = standing_loop(menu.rig, listed[0].options, listed[0].joints)
    valved = with_valve(loop, random.Random(3))
    lifts, cracks = (
        [sum(getattr(e.loss, term) for e in elements(each)) for each in (loop, valved)] for term in ("lift_m", "crack_m")
    )
    assert lifts[0] == lifts[1]
    assert cracks[0] == 0.0 < cracks[1]
