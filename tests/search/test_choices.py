"""What is offered at each position, what is refused and why."""

import math
from dataclasses import replace
from typing import Any

import pytest
from small_worlds import bar, fitting, guard, hose, label_curve, medium, mouth, pump, single, socket, tail, thread

from optimizer.loop.kinds import ends_of
from optimizer.model.catalog import Catalog, Line, Product
from optimizer.model.ends import Gender, Standard
from optimizer.model.limits import Limits
from optimizer.model.options import ADD, ADJUST, CLEAN, KEEP, REMOVE, SWAP, Option
from optimizer.model.parts import Canister, Clamp, Device, Part
from optimizer.model.rig import Adjust, Position, Rig, Spare, Tank, Tray
from optimizer.model.state import State
from optimizer.physics.water import GRAVITY_MS2
from optimizer.search.choices import Choices, choices

END = tail(16, 12)
BODY = Canister(id="body", name="body", inlet=END, outlet=END, trays=1, tray_area_m2=0.03, tray_height_m=0.05, rating_m=3.0)
FOAM = Tray(medium=medium("own-foam", 1.2e-7, True, 0.0))
NOTHING = Limits().without(*Limits().binding)


def place(name: str, kind: str, part: Part | None, **more: Any) -> Position:
    """A position that holds a part."""
    return Position(name=name, kind=kind, installed=part, **more)


def rig(*extras: Position, spares: tuple[Spare, ...] = (), before: tuple[Position, ...] = (), **swapped: Position) -> Rig:
    """Guard, hose, canister, pump, hose, what is given, outlet."""
    own = hose("own-hose", 16)
    places = {
        "intake": place("intake", "guard", guard("own-guard", 16, 12, 10)),
        "suction": place("suction", "hose", own, length_m=1.5),
        "canister": place("canister", "canister", BODY, depth_m=1.2),
        "pump": place("pump", "pump", pump("own-pump", END, END, label_curve(2.0, 1500)), depth_m=0.9),
        "return": place("return", "hose", own, length_m=1.8),
        "outlet": place("outlet", "outlet", bar("own-bar", END, 12, 3.0), height_m=0.05),
    } | swapped
    head, tail_end = list(places.values())[:-1], places["outlet"]
    head = [*head[:2], *before, *head[2:]]
    return Rig(
        name="tank",
        tank=Tank(nominal_m3=0.3, net_m3=0.26),
        positions=(*head, *extras, tail_end),
        trays=(FOAM,),
        spares=spares,
        listen_m=2.0,
        cabinet_db=5.0,
    )


def shelf(*parts: Part, products: tuple[Product, ...] = ()) -> Catalog:
    """A catalog that sells each part for 5.00, and whatever products are given."""
    known = {part.id: part for part in parts}
    singles = tuple(
        single(part, 500) for part in parts if not any(part.id in (line.part_id for line in p.lines) for p in products)
    )
    return Catalog(parts=known, products=(*singles, *products))


def at(menu: Choices, name: str) -> list[Option]:
    """The options at a position."""
    names = [position.name for position in menu.rig.positions]
    return list(menu.options[names.index(name)])


def labels(menu: Choices, name: str) -> list[tuple[str, str]]:
    """Change and part of each option at a position."""
    return [(option.change, "" if option.part is None else option.part.id) for option in at(menu, name)]


def refused(menu: Choices, part_id: str) -> list[tuple[str, str, str]]:
    """Where, by which limit and why a part is refused."""
    return [(r.position, r.limit, r.reason) for r in menu.refusals if r.part_id == part_id]


def test_what_is_clean_is_kept_or_swapped_and_what_is_dirty_may_be_cleaned() -> None:
    """Cleaning is an option of its own, for nothing, and takes the dirt out of the loss."""
    bigger = guard("G", 16, 14, 40)
    dirty = place("intake", "guard", guard("own-guard", 16, 12, 10), state=State(blocked=0.8))
    assert labels(choices(rig(), shelf(bigger), Limits()), "intake") == [(KEEP, "own-guard"), (SWAP, "G")]
    kept, cleaned, swapped = at(choices(rig(intake=dirty), shelf(bigger), Limits()), "intake")
    assert (kept.change, cleaned.change, swapped.change) == (KEEP, CLEAN, SWAP)
    assert kept.loss.quadratic > cleaned.loss.quadratic > swapped.loss.quadratic
    assert (kept.items, cleaned.items, cleaned.own_price) == ((), (), 0)
    assert [item.key for item in swapped.items] == [("part", "G", 0.0)]


def test_the_installed_part_is_not_offered_to_itself() -> None:
    """Buying what is there already changes nothing."""
    same = guard("own-guard", 16, 12, 10)
    assert labels(choices(rig(), shelf(same), Limits()), "intake") == [(KEEP, "own-guard")]


def test_a_worn_pump_may_be_replaced_by_a_new_one_of_its_own_model() -> None:
    """A clean gives back what dirt took, not what wear took: a new one runs at full speed, and costs what it costs."""
    own = pump("own-pump", END, END, label_curve(2.0, 1500))
    worn = place("pump", "pump", own, depth_m=0.9, state=State(worn=0.2, fouled=0.1))
    kept, cleaned, new = at(choices(rig(pump=worn), shelf(own), Limits()), "pump")
    assert [option.change for option in (kept, cleaned, new)] == [KEEP, CLEAN, SWAP]
    assert [option.speed for option in (kept, cleaned, new)] == [pytest.approx(0.72), pytest.approx(0.8), 1.0]
    assert (new.part, [item.key for item in new.items]) == (own, [("part", "own-pump", 0.0)])
    dirty = place("pump", "pump", own, depth_m=0.9, state=State(fouled=0.1))
    assert labels(choices(rig(pump=dirty), shelf(own), Limits()), "pump") == [(KEEP, "own-pump"), (CLEAN, "own-pump")]


def test_a_part_that_was_altered_may_be_replaced_by_one_as_it_is_sold() -> None:
    """A bar whose holes were drilled up, under the id that it was bought by. A coupling that is only turned round is the same."""
    sold, turned = bar("B", END, 12, 3.0), fitting("U", "coupling", tail(16, 9), tail(19, 17))
    drilled = place("outlet", "outlet", replace(sold, hole_m=4.5e-3), height_m=0.05)
    assert labels(choices(rig(outlet=drilled), shelf(sold), Limits()), "outlet") == [(KEEP, "B"), (SWAP, "B")]
    renamed = place("outlet", "outlet", replace(sold, name="my bar"), height_m=0.05)
    assert labels(choices(rig(outlet=renamed), shelf(sold), Limits()), "outlet") == [(KEEP, "B")]
    tap = place("tap", "fitting", replace(turned, inlet=turned.outlet, outlet=turned.inlet), role="coupling")
    assert labels(choices(rig(tap), shelf(turned), Limits()), "tap") == [(KEEP, "U")]


CLAMP = Clamp(id="K", name="screw clamp", low_m=0.014, high_m=0.030, throttles=True)


@pytest.mark.parametrize(
    ("limits", "offered"),
    [
        (NOTHING, False),
        (Limits(), True),
        (replace(NOTHING, inlet_head_m=-0.3), True),
        (replace(NOTHING, flow_max_m3s=1e-4), True),
        (replace(NOTHING, guard_speed_ms=0.1), True),
        (replace(NOTHING, jet_speed_ms=0.5), True),
    ],
    ids=["no limit", "as limits are by themselves", "inlet pressure", "flow", "speed at the guard", "jets"],
)
def test_a_screw_clamp_is_offered_wherever_a_limit_may_have_to_be_held(limits: Limits, offered: bool) -> None:
    """Throttling holds the pressure at the pump's inlet as it holds any ceiling. Never in front of the pump."""
    menu = choices(rig(), shelf(CLAMP), limits)
    assert labels(menu, "return") == [(KEEP, "own-hose"), (ADJUST, "own-hose")][: 1 + offered]
    assert labels(menu, "suction") == [(KEEP, "own-hose")]


def test_a_screw_clamp_is_offered_for_the_window_of_a_device_that_could_be_bought() -> None:
    """The heater that is there takes any flow, the one on the shelf does not."""
    own = Device(id="own", name="heater", inlet=END, outlet=END, quadratic=1e5, purpose="heater")
    extra, narrow = place("heater", "device", own), replace(own, id="D", flow_max_m3s=2e-4)
    loose = replace(NOTHING, device_windows=True)
    assert labels(choices(rig(extra), shelf(CLAMP), loose), "return") == [(KEEP, "own-hose")]
    assert labels(choices(rig(extra), shelf(CLAMP, narrow), loose), "return") == [(KEEP, "own-hose"), (ADJUST, "own-hose")]
    assert labels(choices(rig(), shelf(CLAMP, narrow), loose), "return") == [(KEEP, "own-hose")], "it has no place here"


def test_only_parts_of_the_kind_and_role_of_a_place_are_offered_there() -> None:
    """No pump as an outlet, no elbow as a coupling."""
    tap = place("tap", "fitting", fitting("own-tap", "coupling", END, END), role="coupling")
    menu = choices(
        rig(tap), shelf(fitting("C", "coupling", END, END), fitting("E", "elbow", END, END), mouth("O", END, 12.0)), Limits()
    )
    assert labels(menu, "tap") == [(KEEP, "own-tap"), (SWAP, "C")]
    assert labels(menu, "outlet") == [(KEEP, "own-bar"), (SWAP, "O")]


def test_a_place_that_stays_is_never_swapped_and_one_that_may_go_can_be_left_out() -> None:
    """The keeper's word."""
    tap = place("tap", "fitting", fitting("own-tap", "coupling", END, END), role="coupling", may_go=True)
    other = fitting("C", "coupling", END, END)
    assert labels(choices(rig(tap), shelf(other), Limits()), "tap") == [(KEEP, "own-tap"), (REMOVE, ""), (SWAP, "C")]
    fixed = replace(tap, stays=True, may_go=False)
    assert labels(choices(rig(fixed), shelf(other), Limits()), "tap") == [(KEEP, "own-tap")]


def test_a_canister_that_stays_keeps_its_media_cleaned_or_not() -> None:
    """Without that word the clogged floss may go for nothing; with it no tray is emptied or filled anew."""
    floss = Tray(medium=medium("own-floss", 2e-9, True, 0.0), state=State(filled=0.6))
    changes = {}
    for stays in (False, True):
        body = place("canister", "canister", BODY, depth_m=1.2, stays=stays)
        tank = rig(canister=body)
        two = tuple(replace(p, installed=replace(BODY, trays=2)) if p.kind == "canister" else p for p in tank.positions)
        menu = choices(replace(tank, positions=two, trays=(FOAM, floss)), shelf(), Limits())
        changes[stays] = {tuple(fill.change for fill in option.fills) for option in at(menu, "canister")}
    assert changes[True] == {(KEEP, KEEP), (KEEP, CLEAN)}
    assert changes[False] > {(KEEP, REMOVE)}


def test_an_empty_place_stays_empty_or_is_filled() -> None:
    """A throttle may be added where there is none."""
    empty = place("throttle", "fitting", None, role="valve")
    valve = fitting("V", "valve", END, END, throttles=True)
    menu = choices(rig(empty), shelf(valve, fitting("C", "coupling", END, END)), Limits())
    assert labels(menu, "throttle") == [(KEEP, ""), (ADD, "V")]
    assert [option.throttles for option in at(menu, "throttle")] == [False, True]


def test_adjustments_cost_what_they_cost_and_clean_as_they_go() -> None:
    """Sinking the outlet takes its lift away; re-drilling widens its holes."""
    drilled = replace(bar("own-bar", END, 12, 4.5))
    adjusts = (Adjust(name="sink it", height_m=-0.02), Adjust(name="re-drill it", outlet=drilled, price=600))
    outlet = place("outlet", "outlet", bar("own-bar", END, 12, 3.0), height_m=0.05, adjusts=adjusts, state=State(film_m=2e-4))
    kept, cleaned, sunk, wide = at(choices(rig(outlet=outlet), shelf(), Limits()), "outlet")
    assert [option.change for option in (kept, cleaned, sunk, wide)] == [KEEP, CLEAN, ADJUST, ADJUST]
    assert (kept.loss.lift_m, cleaned.loss.lift_m, sunk.loss.lift_m, wide.loss.lift_m) == (0.05, 0.05, 0.0, 0.05)
    assert kept.loss.quadratic > cleaned.loss.quadratic == sunk.loss.quadratic > wide.loss.quadratic
    assert (sunk.own_price, wide.own_price, wide.label) == (0, 600, "adjust: re-drill it")


def test_a_new_outlet_goes_where_the_outlet_could_be_sunk_to() -> None:
    """Whoever may sink the old one may sink the new one."""
    outlet = place(
        "outlet", "outlet", bar("own-bar", END, 12, 3.0), height_m=0.05, adjusts=(Adjust(name="sink it", height_m=-0.02),)
    )
    found = at(choices(rig(outlet=outlet), shelf(bar("B", END, 16, 4.0)), Limits()), "outlet")
    assert [option.loss.lift_m for option in found if option.change == SWAP] == [0.0]


def test_a_fitting_can_be_turned_round_when_its_ends_differ() -> None:
    """Both ways are offered, for the same piece; equal ends make one option."""
    tap = place("tap", "fitting", fitting("own-tap", "coupling", END, END), role="coupling")
    uneven, even = fitting("U", "coupling", tail(16, 9), tail(19, 17)), fitting("V", "coupling", END, END)
    found = [option for option in at(choices(rig(tap), shelf(uneven, even), Limits()), "tap") if option.change == SWAP]
    assert [(o.part.id if o.part else "", o.inlet) for o in found] == [("U", tail(16, 9)), ("U", tail(19, 17)), ("V", END)]
    assert found[0].items == found[1].items
    assert found[0].loss != found[1].loss


def test_spares_are_offered_for_nothing_as_often_as_they_are_owned() -> None:
    """A part in the drawer costs nothing, and is not in the catalog."""
    spare = guard("drawer", 16, 14, 40)
    menu = choices(rig(spares=(Spare(part=spare),)), shelf(), Limits())
    assert labels(menu, "intake") == [(KEEP, "own-guard"), (SWAP, "drawer")]
    owned = at(menu, "intake")[1].items
    cover = menu.shop.cover(owned)
    assert cover is not None
    assert cover.price == 0
    assert menu.shop.cover(owned * 2) is None, "there is only one"


def test_a_spare_piece_of_hose_serves_a_run_it_is_long_enough_for() -> None:
    """1.6 m do for the suction side (1.5 m) and not for the return (1.8 m)."""
    menu = choices(rig(spares=(Spare(part=hose("H", 19), amount_m=1.6),)), shelf(), Limits())
    assert labels(menu, "suction") == [(KEEP, "own-hose"), (SWAP, "H")]
    assert labels(menu, "return") == [(KEEP, "own-hose")]
    assert refused(menu, "H") == [("return", "", "no piece of H on offer is 1.80 m long")]


def test_a_coil_that_is_too_short_is_refused_with_the_length() -> None:
    """A run of hose comes from one piece."""
    wide = hose("H", 19)
    coil = Product(id="coil", price=900, lines=(Line(part_id="H", amount_m=1.7),))
    menu = choices(rig(), shelf(wide, products=(coil,)), Limits())
    assert labels(menu, "suction") == [(KEEP, "own-hose"), (SWAP, "H")]
    assert refused(menu, "H") == [("return", "", "no piece of H on offer is 1.80 m long")]


def test_a_part_that_is_not_for_sale_or_sold_out_is_refused() -> None:
    """It is in the catalog, but cannot be had."""
    gone = guard("G", 16, 14, 40)
    for product in (single(gone, 500, stock=0), single(bar("B", END, 12, 3.0), 500)):
        catalog = Catalog(parts={"G": gone, "B": bar("B", END, 12, 3.0)}, products=(product,))
        menu = choices(rig(), catalog, Limits())
        assert labels(menu, "intake") == [(KEEP, "own-guard")]
        assert refused(menu, "G") == [("intake", "", "G is not for sale or not in stock")]


@pytest.mark.parametrize(("opening_mm", "offered"), [(1.9, False), (2.0, True), (2.1, True)])
def test_a_guard_with_too_wide_openings_is_refused(opening_mm: float, offered: bool) -> None:
    """Openings smaller than the smallest animal: common practice, no published source. Also for what is installed (3 mm)."""
    menu = choices(rig(), shelf(guard("G", 16, 14, 40, opening_mm=2.0)), Limits(opening_m=opening_mm / 1e3))
    assert labels(menu, "intake") == [(SWAP, "G")] * offered
    reasons = refused(menu, "own-guard")
    assert reasons == [("intake", "opening_m", f"its openings of 3.0 mm are wider than {opening_mm:.1f} mm")]


@pytest.mark.parametrize(("noise_dba", "kept"), [(26.9, False), (27.0, True)])
def test_noise_counts_where_the_keeper_sits(noise_dba: float, kept: bool) -> None:
    """38 dB(A) at 1 m is 6.02 dB less at 2 m (inverse square law), and 5 dB less behind the cabinet door: 26.98 dB(A)."""
    menu = choices(rig(), shelf(), Limits(noise_dba=noise_dba))
    assert labels(menu, "pump") == [(KEEP, "own-pump")] * kept
    assert [limit for _, limit, _ in refused(menu, "own-pump")] == [] if kept else ["noise_dba"]
    if kept:
        assert at(menu, "pump")[0].noise_dba == pytest.approx(38.0 - 20.0 * math.log10(2.0) - 5.0)


@pytest.mark.parametrize(("power_w", "kept"), [(15.0, False), (20.0, True)])
def test_a_pump_that_draws_too_much_is_refused(power_w: float, kept: bool) -> None:
    """20 W."""
    menu = choices(rig(), shelf(), Limits(power_w=power_w))
    assert labels(menu, "pump") == [(KEEP, "own-pump")] * kept
    if not kept:
        assert refused(menu, "own-pump") == [("pump", "power_w", "it draws 20 W, more than 15 W")]


def test_a_pump_that_pushes_into_the_canister_must_not_burst_it() -> None:
    """Rated 3 m; depth 1.2 m and 2 m of head at no flow stand 3.2 m when the pump feeds the canister, 1.2 m when it
    draws from it."""
    places = {p.name: p for p in rig().positions}
    order = ("intake", "suction", "pump", "canister", "return", "outlet")
    pushing = replace(rig(), positions=tuple(places[name] for name in order))
    menu = choices(pushing, shelf(), Limits())
    assert labels(menu, "pump") == []
    ((_, limit, reason),) = refused(menu, "own-pump")
    assert limit == "canister_rating"
    assert "3.20 m of water" in reason
    assert labels(choices(rig(), shelf(), Limits()), "pump") == [(KEEP, "own-pump")]
    assert labels(choices(pushing, shelf(), Limits(canister_rating=False)), "pump") == [(KEEP, "own-pump")]


def test_a_device_brings_its_window_unless_windows_do_not_bind() -> None:
    """Windows of inline devices are met: common practice, no published source."""
    heater = Device(id="D", name="heater", inlet=END, outlet=END, quadratic=1e5, flow_min_m3s=8e-5, flow_max_m3s=2e-4)
    extra = place("heater", "device", heater)
    (option,) = at(choices(rig(extra), shelf(), Limits()), "heater")
    assert (option.flow_min_m3s, option.flow_max_m3s) == (8e-5, 2e-4)
    (option,) = at(choices(rig(extra), shelf(), Limits(device_windows=False)), "heater")
    assert (option.flow_min_m3s, option.flow_max_m3s) == (0.0, math.inf)


def test_the_speed_in_front_of_a_guard_caps_the_flow_by_its_free_face() -> None:
    """By hand: 0.1 m/s times 10 cm2 is 1e-4 m3/s, a fifth of it when 80 % are blocked."""
    dirty = place("intake", "guard", guard("own-guard", 16, 12, 10), state=State(blocked=0.8))
    kept, cleaned = at(choices(rig(intake=dirty), shelf(), Limits(guard_speed_ms=0.1)), "intake")
    assert (kept.flow_max_m3s, cleaned.flow_max_m3s) == (pytest.approx(2e-5), pytest.approx(1e-4))
    assert at(choices(rig(), shelf(), Limits()), "intake")[0].flow_max_m3s == math.inf


def test_a_pump_runs_at_the_speed_of_the_mains_and_of_its_state() -> None:
    """60 Hz figures on 50 Hz mains, 10 % lost to dirt: 0.75; a clean gives the dirt back. Velocity head at its inlet: v2/2g."""
    slow = replace(pump("own-pump", END, END, label_curve(2.0, 1500)), label_hz=60.0)
    dirty = place("pump", "pump", slow, state=State(fouled=0.1), depth_m=0.9)
    kept, cleaned = at(choices(rig(pump=dirty), shelf(), Limits()), "pump")
    assert (kept.speed, cleaned.speed) == (pytest.approx(0.75), pytest.approx(50 / 60))
    assert kept.suction_quadratic == pytest.approx(1.0 / (2 * GRAVITY_MS2 * (math.pi * 0.012**2 / 4) ** 2))


def test_the_canister_keeps_its_body_whatever_becomes_of_its_media() -> None:
    """Media are swapped, the canister is not."""
    airy = medium("M", 4e-6, True, 0.0)
    bag = Product(id="M", price=500, lines=(Line(part_id="M", amount_m3=2e-3),))
    menu = choices(rig(), shelf(airy, products=(bag,)), Limits())
    assert labels(menu, "canister") == [(KEEP, "body"), (SWAP, "body")]
    kept, swapped = at(menu, "canister")
    assert kept.loss.linear > swapped.loss.linear
    assert kept.is_installed
    assert swapped.is_installed
    assert swapped.note == "tray 1 swap medium M"
    fixed = place("canister", "canister", BODY, depth_m=1.2, stays=True)
    assert labels(choices(rig(canister=fixed), shelf(airy, products=(bag,)), Limits()), "canister") == [(KEEP, "body")]


def test_without_limits_nothing_that_can_be_had_is_refused() -> None:
    """Every refusal names a limit, or says why a part cannot be had."""
    parts: list[Part] = [guard("G", 16, 14, 40, opening_mm=9.0), pump("P", END, END, label_curve(9.0, 9000), 900.0, 90.0)]
    menu = choices(rig(), shelf(*parts), NOTHING)
    assert menu.refusals == ()
    assert labels(menu, "intake") == [(KEEP, "own-guard"), (SWAP, "G")]
    assert labels(menu, "pump") == [(KEEP, "own-pump"), (SWAP, "P")]


def test_ends_of_parts_are_those_the_water_meets() -> None:
    """None on the tank's side; a hose has two alike."""
    assert ends_of(guard("G", 16, 12, 10)) == (None, tail(16, 12))
    assert ends_of(mouth("O", END, 12.0)) == (END, None)
    assert ends_of(hose("H", 16)) == (socket(16), socket(16))
    uneven = fitting("U", "coupling", tail(16, 9), thread(Standard.G, Gender.MALE, 0.5, 12))
    assert ends_of(uneven) == (uneven.inlet, uneven.outlet)
    with pytest.raises(ValueError, match="a medium has no ends"):
        ends_of(medium("M", 1e-7, True, 0.0))
