"""Which holes a bar should have: every pair is tried, each loop is solved again, nothing is undone, and the wish is kept."""

import json
import math
from dataclasses import replace
from fractions import Fraction
from functools import cache

import pytest
from branched_worlds import branched_world
from small_worlds import LITRE_PER_HOUR, bar, mouth, point_curve, tail, world

from optimizer import api
from optimizer.answers.drill import MOST_SHOWN, drill_answer
from optimizer.errors import InputError
from optimizer.measure.fill_loop import cleaned
from optimizer.model.drilling import Drilled, DrillResult, JetWish
from optimizer.model.drills import DRILL_SETS
from optimizer.model.parts import Outlet, Pump
from optimizer.model.rig import Rig
from optimizer.model.state import State
from optimizer.physics.outlets import spray_bar


def with_bar(holes: int, hole_mm: float, pitch_mm: float = 25.0, bore_mm: float = 16.0, film_m: float = 0.0) -> Rig:
    """A small world that ends with a spray bar, 2 cm under water."""
    rig, _ = world(1)
    old = rig.positions[-1].installed
    assert isinstance(old, Outlet)
    made = replace(
        bar("B", tail(16, 12), holes, hole_mm),
        inlet=old.inlet,
        bar_bore_m=bore_mm / 1e3,
        pitch_m=pitch_mm / 1e3,
    )
    last = replace(rig.positions[-1], installed=made, height_m=-0.02, adjusts=(), state=State(film_m=film_m))
    return replace(rig, positions=(*rig.positions[:-1], last))


def rebuilt(rig: Rig, holes: int, hole_m: float) -> Rig:
    """The rig as if it had been described with another bar on the same length of tube, and cleaned."""
    rig = cleaned(rig, ("clean",))
    last = rig.positions[-1]
    assert isinstance(last.installed, Outlet)
    length = last.installed.holes * last.installed.pitch_m
    made = replace(last.installed, holes=holes, hole_m=hole_m, pitch_m=length / holes)
    return replace(rig, positions=(*rig.positions[:-1], replace(last, installed=made, state=State())))


Alone = tuple[float, float, float, float]


def alone(rig: Rig, holes: int, hole_m: float) -> Alone:
    """Flow, slowest, fastest and evenness of one pair: the whole rig built and bracketed in scalars by itself."""
    changed = rebuilt(rig, holes, hole_m)
    flow = api.operating_point(changed).flow_m3s
    made = changed.positions[-1].installed
    assert isinstance(made, Outlet)
    march = spray_bar(holes, hole_m, made.bar_bore_m, made.pitch_m, made.discharge)
    area = math.pi / 4.0 * hole_m**2
    speeds = [flow * share / area for share in march.flow_shares]
    return flow, min(speeds), max(speeds), min(speeds) / max(speeds)


@cache
def pairs_of_six(new_bar: bool) -> dict[tuple[int, float], Alone]:
    """All pairs for a bar of six holes of 3 mm, solved once for all that ask."""
    return every_pair(with_bar(6, 3.0), new_bar)


def every_pair(rig: Rig, new_bar: bool) -> dict[tuple[int, float], Alone]:
    """All pairs of count and 0.5 mm drill by the rules, in exact tenths of a millimetre.

    Gaps of at least two diameters, at most half the bore wide, at most 2.5 times its area, never fewer or smaller, not the bar
    as it is.
    """
    old = rig.positions[-1].installed
    assert isinstance(old, Outlet)
    pitch, had, bore = (Fraction(round(m * 1e4)) for m in (old.pitch_m, old.hole_m, old.bar_bore_m))
    found = {}
    for tenths in range(10, 131, 5):
        for holes in range(1, 400):
            gap = pitch * old.holes / holes if new_bar else pitch / math.ceil(Fraction(holes, old.holes))
            kept = new_bar or (holes >= old.holes and tenths >= had)
            same = not new_bar and (holes, tenths) == (old.holes, had)
            fits = gap >= 2 * tenths and 2 * tenths <= bore and holes * tenths**2 <= Fraction(5, 2) * bore**2
            if kept and fits and not same:
                found[holes, tenths / 1e4] = alone(rig, holes, tenths / 1e4)
    return found


WISHES = [
    JetWish(jet_ms=0.6),
    JetWish(jet_most_ms=0.7, evenness=0.8),
    JetWish(evenness=0.93),
    JetWish(jet_ms=0.3, jet_most_ms=0.95, evenness=0.9),
]


@pytest.mark.parametrize("new_bar", [False, True])
@pytest.mark.parametrize("wish", WISHES)
def test_the_answer_is_that_of_solving_every_pair_alone(wish: JetWish, new_bar: bool) -> None:
    """Naive enumeration: each pair becomes a rig of its own, solved by the scalar path."""
    rig, pairs = with_bar(6, 3.0), pairs_of_six(new_bar)
    assert len(pairs) > 30
    met = {
        key: found
        for key, found in pairs.items()
        if (wish.jet_ms is None or found[1] >= wish.jet_ms)
        and (wish.jet_most_ms is None or found[2] <= wish.jet_most_ms)
        and (wish.evenness is None or found[3] >= wish.evenness)
    }
    result = drill_answer(rig, wish, "halves", new_bar)
    assert result.tried == len(pairs)
    assert result.met == len(met) > 0
    assert result.status == "found"
    enough = 0.99 * max(found[0] for found in met.values())
    by_flow = sorted(met, key=lambda key: (-round(met[key][0] / (0.1 * LITRE_PER_HOUR)), *key))
    ranked = sorted((key for key in by_flow if met[key][0] >= enough), key=lambda key: key[0])
    ranked += [key for key in by_flow if met[key][0] < enough]
    assert [(d.holes, round(d.hole_m, 6)) for d in result.best] == ranked[:MOST_SHOWN]
    for drilled in result.best:
        flow, slowest, fastest, evenness = pairs[drilled.holes, round(drilled.hole_m, 6)]
        assert drilled.flow_m3s == pytest.approx(flow, rel=1e-9)
        assert (drilled.slowest_ms, drilled.fastest_ms) == pytest.approx((slowest, fastest), rel=1e-9)
        assert drilled.evenness == pytest.approx(evenness, rel=1e-9)


def test_more_hole_area_flows_more_through_the_same_loop() -> None:
    """Why each pair needs a solve of its own: at the flow of now the jets would be reckoned too slow."""
    rig = with_bar(6, 3.0)
    result = drill_answer(rig, JetWish(jet_most_ms=9.0), "halves")
    assert result.best[0].flow_m3s > 1.05 * result.now.flow_m3s
    for drilled in result.best:
        area = drilled.holes * math.pi / 4.0 * drilled.hole_m**2
        assert drilled.slowest_ms <= drilled.flow_m3s / area <= drilled.fastest_ms


@pytest.mark.parametrize("drills", sorted(DRILL_SETS))
def test_no_hole_gets_smaller_or_goes_away_on_the_installed_bar(drills: str) -> None:
    """Drilling cannot be undone; on a new bar fewer and smaller holes are allowed."""
    rig = with_bar(12, 3.0)
    for drilled in drill_answer(rig, JetWish(jet_ms=0.2), drills).best:
        assert drilled.holes >= 12
        assert drilled.hole_m >= 3e-3 - 1e-9
    fresh = drill_answer(rig, JetWish(jet_ms=1.5, evenness=0.95), drills, new_bar=True).best
    assert any(drilled.holes < 12 or drilled.hole_m < 3e-3 for drilled in fresh)


def test_holes_stay_two_diameters_apart_and_go_between_the_old_ones() -> None:
    """By hand: at 25 mm pitch one more hole in each gap leaves 12.5 mm, two more 8.33 mm, three more 6.25 mm."""
    result = drill_answer(with_bar(4, 3.0, bore_mm=25.0), JetWish(jet_ms=0.01))
    assert result.met > MOST_SHOWN
    for drilled in result.best:
        allowed = {4: 25.0, 8: 12.5, 12: 25.0 / 3.0, 16: 6.25}
        assert drilled.gap_m * 1e3 == pytest.approx(allowed[next(n for n in sorted(allowed) if drilled.holes <= n)])
        assert drilled.gap_m >= 2.0 * drilled.hole_m
        assert drilled.area_ratio <= 2.5


def test_a_film_narrows_the_holes_of_now_and_drilling_takes_it_off() -> None:
    """Continuity: at the same flow the jets of 3 mm holes with 0.2 mm of film are those of 2.6 mm holes."""
    result = drill_answer(with_bar(12, 3.0, film_m=0.2e-3), JetWish(jet_ms=0.2))
    assert result.now.hole_m == pytest.approx(2.6e-3)
    clean = drill_answer(with_bar(12, 2.6), JetWish(jet_ms=0.2))
    # the step into the bar and its march are those of the open holes
    assert result.now.flow_m3s == pytest.approx(clean.now.flow_m3s, rel=1e-9)
    assert result.now.slowest_ms == pytest.approx(clean.now.slowest_ms, rel=1e-9)


def test_a_wish_for_faster_jets_needs_a_new_bar() -> None:
    """More area always slows the jets, so the installed bar cannot; a new one with less area can, and is named."""
    rig = with_bar(12, 3.0)
    wanted = drill_answer(rig, JetWish(jet_ms=0.5)).now.slowest_ms * 1.2
    result = drill_answer(rig, JetWish(jet_ms=wanted))
    assert result.status == "infeasible"
    assert (result.met, result.best, result.same_holes) == (0, (), None)
    assert result.closest is not None
    assert result.closest.slowest_ms < wanted
    assert result.new_bar_best is not None
    assert result.new_bar_best.slowest_ms >= wanted
    assert result.new_bar_best.area_ratio < result.now.area_ratio
    assert result.new_bar_best == drill_answer(rig, JetWish(jet_ms=wanted), new_bar=True).best[0]


def test_the_bar_of_now_is_left_alone_when_only_it_will_do() -> None:
    """A wish that the bar of now just meets, and any more area misses."""
    rig = with_bar(12, 3.0)
    now = drill_answer(rig, JetWish(jet_ms=0.5)).cleaned
    result = drill_answer(rig, JetWish(jet_ms=now.slowest_ms))
    assert (result.status, result.cleaned_meets, result.new_bar_best) == ("as it is", True, None)


def test_the_same_holes_are_named_when_no_new_one_is_needed() -> None:
    """The best of those that only open what there is, looked up in the list of all."""
    rig = with_bar(6, 3.0)
    wish = JetWish(jet_ms=0.6)
    pairs = {key: found for key, found in pairs_of_six(False).items() if key[0] == 6 and found[1] >= 0.6}
    best = max(pairs, key=lambda key: pairs[key][0])
    result = drill_answer(rig, wish, "halves")
    assert result.same_holes is not None
    assert (result.same_holes.holes, round(result.same_holes.hole_m, 6)) == best


def test_a_pump_known_by_points_and_a_coiled_hose_are_solved_as_well() -> None:
    """The same comparison with the scalar path where the loop holds what the plain batch leaves out."""
    rig = with_bar(6, 3.0)
    places = []
    for place in rig.positions:
        if isinstance(place.installed, Pump):
            place = replace(place, installed=replace(place.installed, curve=point_curve(1.8, 1300.0)))
        places.append(replace(place, coil_m=0.3) if place.kind == "hose" else place)
    coiled = replace(rig, positions=tuple(places))
    for drilled in drill_answer(coiled, JetWish(evenness=0.9), "halves").best:
        assert drilled.flow_m3s == pytest.approx(alone(coiled, drilled.holes, round(drilled.hole_m, 6))[0], rel=1e-9)


def test_limits_that_are_broken_are_said() -> None:
    """A ceiling at the flow of now is broken by every larger hole."""
    rig = with_bar(6, 3.0)
    now = drill_answer(rig, JetWish(jet_ms=0.5)).now
    capped = replace(rig, limits=replace(rig.limits, flow_min_m3s=0.0, flow_max_m3s=now.flow_m3s * 1.0001))
    result = drill_answer(capped, JetWish(jet_ms=0.5))
    assert all(any("at most" in each.words for each in drilled.breaks) for drilled in result.best)
    assert not any("delivered" in each.words for each in result.now.breaks)


def test_a_loop_that_does_not_flow_meets_nothing() -> None:
    """An outlet 9 m up: a speed of 0 is no gentle jet."""
    rig = with_bar(6, 3.0)
    high = replace(rig, positions=(*rig.positions[:-1], replace(rig.positions[-1], height_m=9.0)))
    result = drill_answer(high, JetWish(jet_most_ms=1.0))
    assert (result.status, result.met, result.now.flow_m3s) == ("infeasible", 0, 0.0)


def test_an_outlet_without_holes_cannot_be_drilled() -> None:
    rig = with_bar(6, 3.0)
    old = rig.positions[-1].installed
    assert isinstance(old, Outlet)
    open_end = replace(mouth("M", tail(16, 12), 16.0), inlet=old.inlet)
    rig = replace(rig, positions=(*rig.positions[:-1], replace(rig.positions[-1], installed=open_end)))
    with pytest.raises(InputError, match="is no spray bar: it has no holes to drill") as caught:
        drill_answer(rig, JetWish(jet_ms=1.0))
    assert caught.value.problems[0].where == "loop.outlet"


@pytest.mark.parametrize(
    "asked",
    [
        {},
        {"jet_ms": 0.0},
        {"jet_most_ms": math.inf},
        {"jet_ms": math.nan},
        {"evenness": 1.1},
        {"evenness": 0.0},
        {"jet_ms": 2.0, "jet_most_ms": 1.0},
    ],
)
def test_a_wish_that_says_nothing_or_contradicts_itself_is_refused(asked: dict[str, float]) -> None:
    with pytest.raises(ValueError, match=r"must|asked"):
        JetWish(**asked)


def test_an_unknown_set_of_drills_is_refused() -> None:
    with pytest.raises(KeyError):
        drill_answer(with_bar(6, 3.0), JetWish(jet_ms=1.0), "furlongs")


def test_the_answer_leaves_as_plain_json() -> None:
    """What is written is standard JSON and reads back to the same mapping."""
    result = api.drill(with_bar(6, 3.0), jet_ms=0.6, evenness=0.9)
    assert isinstance(result, DrillResult)
    body = result.to_dict()
    assert json.loads(json.dumps(body, allow_nan=False)) == body
    assert (body["schema"], body["status"]) == (DrillResult.schema(), "found") == ("fullbore-drill/6", "found")
    assert set(Drilled.__dataclass_fields__) == set(body["now"])  # type: ignore[call-overload]


# Decimal inches of number drills as one tool shop's public chart prints them, and of letters as common tables of ASME B94.11M do.
INCH_CHART = {
    "no. 1": 0.2280,
    "no. 2": 0.2210,
    "no. 3": 0.2130,
    "no. 4": 0.2090,
    "no. 7": 0.2010,
    "no. 10": 0.1935,
    "no. 21": 0.1590,
    "no. 25": 0.1495,
    "no. 60": 0.0400,
    "letter A": 0.234,
    "letter F": 0.257,
    "letter Z": 0.413,
    "1/8 in": 0.125,
    "17/64 in": 0.265625,
}


def test_drills_are_those_of_the_public_tables() -> None:
    """Inch sizes: see above. Metric: BS 328 has N x 0.1 mm from 3.0 to 13.9 mm."""
    sizes = {drill.name: drill.diameter_m for drill in DRILL_SETS["inch"]}
    for name, inches in INCH_CHART.items():
        assert sizes[name] == pytest.approx(inches * 0.0254, rel=1e-12)
    tenths = [drill.diameter_m for drill in DRILL_SETS["tenths"]]
    assert set(tenths) >= {n / 1e4 for n in range(30, 131)}
    assert {drill.name for drill in DRILL_SETS["halves"]} == {f"{n / 2:.1f} mm" for n in range(2, 27)}
    for drills in DRILL_SETS.values():
        rising = [drill.diameter_m for drill in drills]
        assert rising == sorted(set(rising))


@pytest.mark.parametrize("seed", [6])
def test_branches_on_the_way_lose_their_head_too(seed: int) -> None:
    """Every pair of a rig with branches against the same rig with such a bar built in, bracketed in scalars by itself."""
    rig, _ = branched_world(seed)
    assert any(position.branches for position in rig.positions[:-1])
    bar_there = rig.positions[-1].installed
    assert isinstance(bar_there, Outlet)
    old = api.operating_point(rig).flow_m3s / (bar_there.holes * math.pi / 4.0 * bar_there.hole_m**2)
    result = drill_answer(rig, JetWish(jet_ms=0.7 * old), "halves")
    assert result.best
    for drilled in result.best:
        flow, slowest, _, _ = alone(rig, drilled.holes, drilled.hole_m)
        assert drilled.flow_m3s == pytest.approx(flow, rel=1e-9)
        assert drilled.slowest_ms == pytest.approx(slowest, rel=1e-9)
        assert drilled.slowest_ms >= 0.7 * old * (1 - 1e-5)
    pairs = {key: found for key, found in every_pair(rig, False).items() if found[1] >= 0.7 * old}
    assert result.met == len(pairs)
    assert result.best[0].flow_m3s >= 0.99 * max(found[0] for found in pairs.values())
