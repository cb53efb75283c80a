"""Cakes on media and sponges over time: what the trade sees, the ledger, the bound of the search, and the usual cake."""

import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from dirt_cases import fed, floss, foam, rings, setup, slots, sponge, steel
from hypothesis import given, settings
from hypothesis import strategies as st
from separable import arrival_of

from optimizer import api
from optimizer.answers.question import stands_now
from optimizer.dirt.after import trays_after
from optimizer.dirt.course import course
from optimizer.dirt.daily import daily_of
from optimizer.dirt.laws import USUAL, Laws
from optimizer.dirt.layers import Layer, Layers, tray_layer, usual_cake_m
from optimizer.dirt.loads import Loads
from optimizer.dirt.stages import stages_of
from optimizer.loop.standing import StandingLoop
from optimizer.model.catalog import Catalog
from optimizer.model.parts import Medium
from optimizer.model.rig import Tray
from optimizer.model.state import State

DEMO = Path(__file__).parents[2] / "parts_demo"


def own_l_h(loop: StandingLoop) -> float:
    """Flow of a loop as it is."""
    return float(course(loop, fed(), 0.0).own_m3s[0]) * 3.6e6


def with_usual_cakes(loop: StandingLoop) -> StandingLoop:
    """A loop whose filled media have the cake that comes with that."""
    trays = tuple(
        replace(tray, state=replace(tray.state, cake_m=usual_cake_m(tray_layer(tray, loop.canister, USUAL), USUAL)))
        for tray in loop.trays
    )
    return replace(loop, trays=trays)


def due_day(loop: StandingLoop, place: str, share: float, days: float = 240.0) -> float:
    """The day on which the dirt of one place takes a share of the clean flow, at 4 g of feed a day in 200 l."""
    stages = stages_of(course(loop, fed(), days))
    return next(stage for stage in stages if stage.place.endswith(place)).due_day(share)


# -- what a keeper sees ------------------------------------------------------------------------------------------------


def test_a_pad_that_is_filled_to_60_percent_costs_what_a_bucket_can_tell() -> None:
    """By pores alone it was 0.3 % of the flow. With its cake more than 3 %, which is what a good bucket tells apart."""
    clean, dirty = own_l_h(setup([foam(20), rings()])), setup([foam(20), rings()], filled=(0.6,))
    assert own_l_h(dirty) > 0.99 * clean
    assert own_l_h(with_usual_cakes(dirty)) < 0.97 * clean


def test_floss_within_weeks_and_coarse_foam_within_months() -> None:
    """Days until the pad alone costs a twentieth of the flow: common practice, no published source. By pores alone coarse foam
    never did within 240 days, and loose floss took 12 weeks."""
    assert 60.0 < due_day(setup([foam(20), rings()]), "tray 1", 0.05) < 180.0
    assert 25.0 < due_day(setup([foam(45), rings()]), "tray 1", 0.05) < 75.0
    assert 10.0 < due_day(setup([floss()]), "tray 1", 0.05) < 35.0
    assert 7.0 < due_day(setup([floss(0.08)]), "tray 1", 0.05) < 28.0


def test_sponge_guards_within_days_to_weeks_by_their_pores() -> None:
    """Until the sponge alone costs a tenth of the flow: a small fine one within days, a large one within two weeks or so, a
    coarser one of the same size later. Common practice, no published source; rinsed weekly where it is fine."""
    small, large = (due_day(setup([foam(20)], sponge(area)), "intake", 0.1) for area in (40.0, 105.0))
    coarse = due_day(setup([foam(20)], replace(sponge(105.0), pores_ppi=20.0, opening_m=1.2e-3)), "intake", 0.1)
    assert 1.0 < small < 6.0 < large < coarse < 30.0


@pytest.mark.parametrize("feed_g", [3.0, 5.0])
def test_falls_by_cleaning_day(feed_g: float) -> None:
    """Ordinary community loops, 200 l, at usual and hearty feeding, six to eight weeks: 20 to 50 % less than clean where the last
    medium is fine, somewhat less with coarse media alone. Common practice, no published source."""
    for media, low, high in (
        ([foam(20), rings(), floss()], 0.5, 0.87),
        ([foam(20), rings(), floss(0.08)], 0.5, 0.82),
        ([foam(30), foam(45), rings()], 0.5, 0.92),
    ):
        found = course(setup(media), fed(feed_g), 56.0)
        left = found.flow_m3s / found.flow_m3s[0]
        assert low < left[56] < left[42] < 0.9
        assert left[56] < high


def test_a_mesh_has_a_cliff_and_a_sponge_has_none() -> None:
    """Of a mesh little is lost at 80 % blocked and much at 92; a cake costs the same for every mm."""
    at = [own_l_h(setup([foam(20)], steel(), blocked=share)) for share in (0.0, 0.8, 0.92)]
    assert at[1] > 0.9 * at[0] and at[2] < 0.75 * at[0]
    flows = [own_l_h(setup([foam(20)], sponge(), guard_cake_m=cake)) for cake in (0.0, 1e-3, 2e-3, 3e-3)]
    falls = -np.diff(flows)
    assert falls.min() > 0.02 * flows[0]
    assert falls.max() < 1.3 * falls.min()


def test_a_cake_on_coarse_foam_keeps_the_floss_behind_it() -> None:
    """Coarse before fine: what lies on the foam does not lie on the floss; the wrong way round all of it lies on the floss."""
    right, wrong = (course(setup(media), fed(8.0), 42.0) for media in ([foam(20), floss()], [floss(), foam(20)]))
    assert right.cakes_m[-1, 1] < wrong.cakes_m[-1, 0]
    assert wrong.cakes_m[-1, 1] == 0.0
    assert right.flow_m3s[-1] > wrong.flow_m3s[-1]


# -- demo rigs that say for how long nobody cleaned ---------------------------------------------------------------------

STATED = {"shrimp_and_fry_240": 5.0, "community_180": 182.0}
"""Demo rigs that state a dirt after so many days."""

SAYS_DAYS = re.compile(r"#.*(fifth day|not serviced for|since the last cleaning|weeks ago|months ago)", re.IGNORECASE)


def test_every_rig_that_states_days_is_looked_at() -> None:
    says = {path.stem for path in (DEMO / "rigs").glob("*.toml") if SAYS_DAYS.search(path.read_text(encoding="utf-8"))}
    assert says == set(STATED)


@pytest.mark.parametrize("name", STATED)
def test_the_stated_dirt_of_a_demo_rig_is_what_so_many_days_make(name: str) -> None:
    """Within 10 % of the flow as it stands, from a clean of everything and its own feeding. The shrimp tank delivered 625 l/h on
    day five by the model, where its file says 92 % blocked, 457 l/h."""
    rig = api.read_rig(DEMO / "rigs" / f"{name}.toml", api.read_catalog(DEMO / "catalog"))
    stands = stands_now(rig, Catalog(parts={}, products=()))
    found = course(stands.loop.cleaned(), daily_of(rig), STATED[name])
    assert float(found.flow_m3s[-1]) == pytest.approx(stands.own_m3s, rel=0.1)
    blocked = stands.loop.guards[0][0].state.blocked
    assert float(found.blocked[-1]) == pytest.approx(blocked, abs=0.02 if name.startswith("shrimp") else 0.15)


# -- laws --------------------------------------------------------------------------------------------------------------


def test_the_state_of_trays_at_one_turnover_is_met_by_size_classes_in_small_steps() -> None:
    """Written down naively: 4000 classes of size one by one, each on the first face that is finer; a step of an hour; the depth
    in slices is for `test_course.py`."""
    loop, daily, days, turnover = setup([foam(20), rings(), floss(0.08)]), replace(fed(6.0, 0.3), notes=()), 30.0, 3.0
    arrival = replace(arrival_of(loop, daily), turnover_1h=turnover)
    quantiles = (np.arange(4000) + 0.5) / 4000
    soft, hard = 0.2e-3 * np.log(quantiles) ** 2, -1.2e-3 * np.log(quantiles)
    openings = [3.0 * float(np.sqrt(tray.medium.permeability_m2)) for tray in loop.trays if tray.medium is not None]
    cakes = np.zeros(3)
    for _ in range(int(days * 24)):
        for sizes, kg_day in ((soft, daily.solids_kg_day), (hard, daily.debris_kg_day)):
            left = sizes[sizes <= arrival.opening_m]  # the strainer stops what is hard and tears what is soft
            for n, opening in enumerate(openings):
                lands = left > opening
                cakes[n] += lands.sum() / 4000 * kg_day / 24.0 * turnover / (0.5 + turnover)
                left = left[~lands]
    found = [state.cake_m for state in trays_after(loop.canister, loop.trays, days, arrival)]
    assert found == pytest.approx((cakes * 0.0125 / 0.03).tolist(), rel=2e-3, abs=1e-6)


def test_what_lies_on_faces_is_in_the_ledger() -> None:
    """Thickness times area over the wet volume is what trays and guard hold beyond their depth."""
    found = course(setup([foam(20), floss()], sponge()), fed(4.0, 0.2), 40.0)
    bare = course(setup([foam(20), floss()], sponge()), fed(4.0, 0.2), 40.0, Laws(straining="none"))
    ledger, kg = found.ledger, found.cakes_m[-1] * 0.03 / 0.0125
    assert ledger is not None and bare.ledger is not None
    assert sum(ledger.guards_kg) + sum(ledger.trays_kg) + ledger.left_kg == pytest.approx(ledger.made_kg, rel=1e-12)
    assert all(0.0 <= on <= held for on, held in zip(kg, ledger.trays_kg, strict=True))
    assert float(found.guards_cake_m[-1, 0]) * 105e-4 / 0.0125 <= ledger.guards_kg[0]
    assert bare.cakes_m.max() == 0.0


def test_a_media_alone_where_nothing_settles_has_the_usual_cake() -> None:
    """The usual cake is that of the same laws where all ends in the one medium: a turnover so high that nothing settles, and a
    medium that catches all."""
    loop = setup([floss(0.08)])
    arrival = replace(arrival_of(loop, fed()), turnover_1h=1e9, debris_kg_day=0.0, opening_m=math.inf)
    (state,) = trays_after(loop.canister, loop.trays, 30.0, arrival)
    medium = Tray(medium=loop.trays[0].medium, state=State(filled=state.filled))
    assert usual_cake_m(tray_layer(medium, loop.canister, USUAL), USUAL) == pytest.approx(state.cake_m, rel=1e-6)
    assert usual_cake_m(tray_layer(replace(medium, state=State()), loop.canister, USUAL), USUAL) == 0.0


MEDIA: list[Medium | None] = [foam(10), foam(45), rings(), floss(), floss(0.1), None]


@settings(max_examples=60, deadline=None)
@given(
    media=st.lists(st.sampled_from(MEDIA), min_size=1, max_size=3),
    guard=st.sampled_from([slots(), steel(), sponge(), sponge(30.0)]),
    feed=st.floats(0.0, 200.0),
    debris=st.floats(0.0, 20.0),
    turnovers=st.lists(st.tuples(st.floats(0.0, 8.0), st.floats(0.0, 4.0)), min_size=1, max_size=8),
    start=st.tuples(st.floats(0.0, 0.6), st.floats(0.0, 0.3), st.floats(0.0, 5e-3), st.floats(0.0, 3e-3)),
)
def test_each_step_is_a_rising_map_of_loads_cakes_and_turnover(
    media: list[Medium | None],
    guard: object,
    feed: float,
    debris: float,
    turnovers: list[tuple[float, float]],
    start: tuple[float, float, float, float],
) -> None:
    """What the bound of the search over days rests on: of two loops of the same guard and media, the one with no less dirt before
    and no less turnover in any step has no less of anything after any step. So more load never makes less cake."""
    filled, more_filled, cake, more_cake = start
    loop = setup(media)
    states = (State(filled=filled, cake_m=cake), State(filled=filled + more_filled, cake_m=cake + more_cake))
    stacks = [[tray_layer(replace(tray, state=state), loop.canister, USUAL) for tray in loop.trays] for state in states]
    fronts = [State(blocked=state.filled, cake_m=state.cake_m if guard.form == "sponge" else 0.0) for state in states]  # type: ignore[attr-defined]
    loads = Loads([guard, guard], fronts, Layers.of(stacks, USUAL), fed(feed, debris), USUAL)  # type: ignore[list-item]
    for turnover, more in turnovers:
        loads.step(1.0, np.array([turnover, turnover + more]))
        for less, other in (*(each for each in loads.guard_states()), *(each.tolist() for each in _rows(loads))):
            assert np.all(np.asarray(other) >= np.asarray(less) - 1e-12)


def _rows(loads: Loads) -> list[np.ndarray]:
    """Filled shares and cakes of the two loops, (2, trays) each, and their loads."""
    return [*loads.tray_states(), loads.stack_loads, loads.sponge_loads]


def test_a_cake_grows_no_thicker_than_the_room() -> None:
    """Trays are 4 to 8 cm high (common practice, no published source): a cake ends at 20 mm, a stated thicker one stays."""
    layers = Layers.of([[Layer(passage=1.0, capacity_kg=0.1, area_m2=0.02, cake_m=start)] for start in (0.0, 0.03)], USUAL)
    grown = layers.cakes_m(np.array([[10.0], [10.0]]))[:, 0]
    assert grown.tolist() == [USUAL.cake_most_m, 0.03] and USUAL.cake_most_m == 0.02
