"""Parts check themselves when they are built: what cannot be is refused, with the reason."""

import dataclasses
import math
import re
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.model.catalog import Catalog, Line, Product
from optimizer.model.ends import End, Gender, Standard
from optimizer.model.losses import Loss, Run
from optimizer.model.parts import (
    Canister,
    Clamp,
    Device,
    Fitting,
    Guard,
    Hose,
    Kind,
    Medium,
    Outlet,
    Part,
    Pump,
    PumpCurve,
    Seal,
    TeePiece,
    kind_of,
)
from optimizer.model.state import State

TAIL = End(standard=Standard.HOSE, size_m=0.016, gender=Gender.MALE, bore_m=0.012)
CURVE = PumpCurve(flows_m3s=(0.0, 5e-4), heads_m=(2.0, 0.0), shape=2.0)

SOUND: dict[str, Part] = {
    Kind.GUARD: Guard(
        id="G",
        name="sponge",
        form="sponge",
        face_area_m2=0.02,
        open_fraction=0.9,
        opening_m=1e-3,
        outlet=TAIL,
        pores_ppi=30.0,
        thickness_m=0.02,
    ),
    Kind.HOSE: Hose(id="H", name="hose", inside_m=0.016, outside_m=0.022),
    Kind.FITTING: Fitting(id="F", name="tap", role="valve", shape="ball valve", inlet=TAIL, outlet=TAIL, passage_m=0.01),
    Kind.PUMP: Pump(id="P", name="pump", curve=CURVE, power_w=20.0, noise_dba=38.0, inlet=TAIL, outlet=TAIL),
    Kind.MEDIUM: Medium(
        id="M",
        name="foam",
        form="foam",
        permeability_m2=1e-7,
        inertial_1m=300.0,
        area_m2m3=0.0,
        mechanical=True,
        biological=False,
    ),
    Kind.OUTLET: Outlet(id="O", name="bar", form="bar", inlet=TAIL, holes=12, hole_m=0.003, bar_bore_m=0.016, pitch_m=0.03),
    Kind.DEVICE: Device(id="D", name="heater", inlet=TAIL, outlet=TAIL, quadratic=1e5, flow_max_m3s=3e-4),
    Kind.CANISTER: Canister(id="C", name="body", inlet=TAIL, outlet=TAIL, trays=3, tray_area_m2=0.04, tray_height_m=0.05),
    Kind.CLAMP: Clamp(id="K", name="clamp", low_m=0.020, high_m=0.024),
    Kind.SEAL: Seal(id="S", name="washer", closure="washer", standard="G", size_m=0.0127),
    Kind.TEE: TeePiece(id="T", name="tee", inlet=TAIL, outlet=TAIL, side=TAIL, passage_m=0.012, side_passage_m=0.011),
}

BROKEN: list[tuple[str, dict[str, Any], str]] = [
    (Kind.GUARD, {"form": "net"}, "form must be one of slots, holes, mesh, sponge, but is 'net'"),
    (Kind.GUARD, {"face_area_m2": 0.0}, "face_area_m2 must be above zero"),
    (Kind.GUARD, {"face_area_m2": math.nan}, "face_area_m2 must be above zero"),
    (Kind.GUARD, {"opening_m": -1e-3}, "opening_m must be above zero"),
    (Kind.GUARD, {"open_fraction": 1.01}, "open_fraction must be above 0 and at most 1"),
    (Kind.GUARD, {"open_fraction": math.nan}, "open_fraction must be above 0 and at most 1"),
    (Kind.GUARD, {"pores_ppi": 0.0}, "pores_ppi must be above zero"),
    (Kind.GUARD, {"thickness_m": 0.0}, "thickness_m must be above zero"),
    (Kind.HOSE, {"inside_m": 0.0}, "inside_m must be above zero"),
    (Kind.HOSE, {"inside_m": math.inf}, "inside_m must be above zero"),
    (Kind.HOSE, {"outside_m": 0.016}, "the outside of a hose must be wider than its inside"),
    (Kind.HOSE, {"roughness_m": -1e-6}, "roughness cannot be negative"),
    (Kind.HOSE, {"outside_m": math.nan}, "the outside of a hose must be wider than its inside"),
    (Kind.HOSE, {"roughness_m": math.nan}, "roughness cannot be negative"),
    (Kind.FITTING, {"role": "pipe"}, "role must be one of"),
    (Kind.FITTING, {"shape": "knot"}, "shape must be one of"),
    (Kind.FITTING, {"passage_m": 0.0}, "passage_m must be above zero"),
    (Kind.PUMP, {"power_w": 0.0}, "power_w must be above zero"),
    (Kind.PUMP, {"noise_dba": 121.0}, "outside 0 to 120"),
    (Kind.PUMP, {"noise_dba": math.nan}, "outside 0 to 120"),
    (Kind.PUMP, {"label_hz": 55.0}, "mains frequency must be 50 or 60 Hz"),
    (Kind.MEDIUM, {"form": "sand"}, "form must be one of foam, granules, rings, fibre"),
    (Kind.MEDIUM, {"permeability_m2": 0.0}, "permeability_m2 must be above zero"),
    (Kind.MEDIUM, {"inertial_1m": -1.0}, "cannot be negative"),
    (Kind.MEDIUM, {"area_m2m3": -1.0}, "cannot be negative"),
    (Kind.MEDIUM, {"inertial_1m": math.nan}, "cannot be negative"),
    (Kind.MEDIUM, {"area_m2m3": math.nan}, "cannot be negative"),
    (Kind.OUTLET, {"form": "fountain"}, "form must be one of open, nozzle, bar"),
    (Kind.OUTLET, {"hole_m": 0.0}, "hole_m must be above zero"),
    (Kind.OUTLET, {"holes": 0}, "holes must be above zero"),
    (Kind.OUTLET, {"discharge": 1.2}, "discharge must be above 0 and at most 1"),
    (Kind.OUTLET, {"bar_bore_m": 0.0}, "bar_bore_m must be above zero"),
    (Kind.OUTLET, {"form": "nozzle"}, "only a spray bar has more than one hole"),
    (Kind.DEVICE, {"quadratic": -1.0}, "the loss of a device cannot be negative"),
    (Kind.DEVICE, {"quadratic": math.nan}, "the loss of a device cannot be negative"),
    (Kind.DEVICE, {"flow_min_m3s": 3e-4}, "a flow window needs a lower bound below its upper bound"),
    (Kind.DEVICE, {"flow_min_m3s": -1e-5}, "a flow window needs a lower bound"),
    (Kind.CANISTER, {"trays": 0}, "a canister has 1 to 12 trays, not 0"),
    (Kind.CANISTER, {"trays": 13}, "a canister has 1 to 12 trays, not 13"),
    (Kind.CANISTER, {"tray_height_m": 0.0}, "tray_height_m must be above zero"),
    (Kind.CANISTER, {"rating_m": 0.0}, "the pressure rating of a canister must be above zero"),
    (Kind.CLAMP, {"low_m": 0.0}, "low_m must be above zero"),
    (Kind.CLAMP, {"high_m": 0.019}, "the range of a clamp must run from small to large"),
    (Kind.CLAMP, {"high_m": math.nan}, "the range of a clamp must run from small to large"),
    (Kind.SEAL, {"closure": "glue"}, "closure must be one of washer, tape, cement"),
    (Kind.TEE, {"passage_m": 0.0}, "passage_m must be above zero"),
    (Kind.TEE, {"side_passage_m": math.nan}, "side_passage_m must be above zero"),
    (Kind.TEE, {"side_passage_m": 0.0125}, "the branch of a tee cannot be wider than its straight run"),
    (Kind.TEE, {"angle_deg": 29.0}, "the branch of a tee stands at 30 to 90 degrees"),
    (Kind.TEE, {"angle_deg": 91.0}, "the branch of a tee stands at 30 to 90 degrees"),
    (Kind.TEE, {"angle_deg": math.nan}, "the branch of a tee stands at 30 to 90 degrees"),
]


@pytest.mark.parametrize(("kind", "wrong", "reason"), BROKEN, ids=lambda value: str(value)[:40])
def test_a_part_that_cannot_be_is_refused_with_the_reason(kind: str, wrong: dict[str, Any], reason: str) -> None:
    """Each rule once, by one field that breaks it."""
    with pytest.raises(ValueError, match=re.escape(reason)):
        replace(SOUND[kind], **wrong)


@pytest.mark.parametrize("kind", SOUND)
def test_a_sound_part_knows_its_kind_and_cannot_be_changed(kind: str) -> None:
    """Parts are frozen, without a place for stray fields."""
    part = SOUND[kind]
    assert kind_of(part) == kind
    assert replace(part) == part
    with pytest.raises(dataclasses.FrozenInstanceError):
        part.name = "other"  # type: ignore[misc]
    with pytest.raises((AttributeError, TypeError)):
        part.colour = "red"  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("flows", "heads", "shape", "reason"),
    [
        ((0.0,), (2.0,), 0.0, "at least two points"),
        ((0.0, 1e-4), (2.0,), 0.0, "a head for every flow"),
        ((1e-5, 1e-4), (2.0, 0.0), 0.0, "the first point of a pump curve must be the head at no flow"),
        ((0.0, 2e-4, 1e-4), (2.0, 1.0, 0.0), 0.0, "the flows of a pump curve must rise"),
        ((0.0, 1e-4, 1e-4), (2.0, 1.0, 0.0), 0.0, "the flows of a pump curve must rise"),
        ((0.0, 1e-4, 2e-4), (2.0, 2.0, 0.0), 0.0, "the head of a pump must fall"),
        ((0.0, 1e-4, 2e-4), (2.0, 2.1, 0.0), 0.0, "the head of a pump must fall"),
        ((0.0, 1e-4), (2.0, 0.0), 0.5, "exponent from 1 to 4"),
        ((0.0, 1e-4), (2.0, 0.5), 2.0, "two ends"),
        ((0.0, 1e-4, 2e-4), (2.0, 1.0, 0.0), 2.0, "two ends"),
    ],
)
def test_a_pump_curve_that_does_not_fall_is_refused(
    flows: tuple[float, ...], heads: tuple[float, ...], shape: float, reason: str
) -> None:
    """The search rests on a head that falls with the flow."""
    with pytest.raises(ValueError, match=reason):
        PumpCurve(flows_m3s=flows, heads_m=heads, shape=shape)


def test_the_two_figures_of_a_label_are_opposite_ends_of_the_curve() -> None:
    """Common practice, no published source: greatest head at no flow, greatest flow at no head."""
    assert (CURVE.max_head_m, CURVE.max_flow_m3s) == (2.0, 5e-4)


@given(st.sampled_from(["lift_m", "linear", "quadratic"]), st.sampled_from([-1e-9, math.nan, math.inf, -math.inf]))
def test_a_loss_that_does_not_rise_with_the_flow_is_refused(term: str, value: float) -> None:
    """Monotone losses are what makes the search exact."""
    with pytest.raises(ValueError, match="a loss must rise with the flow"):
        Loss(**{term: value})


def test_losses_in_series_add_and_only_one_may_be_a_hose() -> None:
    """Terms add; two hose runs stay apart, since friction is no simple sum of terms."""
    run = Run(bore_m=0.016, length_m=1.0, roughness_m=0.0)
    both = Loss(lift_m=0.1, linear=2.0, quadratic=3.0).add(Loss(lift_m=0.2, linear=1.0, quadratic=1.0, run=run))
    assert (round(both.lift_m, 12), both.linear, both.quadratic, both.run) == (0.3, 3.0, 4.0, run)
    with pytest.raises(ValueError, match="two hose runs"):
        both.add(Loss(run=run))


def test_a_clamp_closes_on_every_outside_of_its_range_and_on_no_other() -> None:
    """Both ends of the range belong to it."""
    clamp = Clamp(id="K", name="clamp", low_m=0.020, high_m=0.024)
    assert [clamp.fits(mm / 1e3) for mm in (19.9, 20.0, 22.0, 24.0, 24.1)] == [False, True, True, True, False]


@pytest.mark.parametrize(
    ("standard", "size_m", "asked", "fits"),
    [
        ("", 0.0, ("washer", "GHT", 0.01905), True),
        ("G", 0.0, ("washer", "G", 0.01905), True),
        ("G", 0.0, ("washer", "GHT", 0.01905), False),
        ("G", 0.0127, ("washer", "G", 0.0127), True),
        ("G", 0.0127, ("washer", "G", 0.01905), False),
        ("", 0.0, ("tape", "Rc", 0.0127), False),
    ],
)
def test_a_seal_fits_the_closure_standard_and_size_it_is_made_for(
    standard: str, size_m: float, asked: tuple[str, str, float], fits: bool
) -> None:
    """Blank means any."""
    assert Seal(id="S", name="seal", closure="washer", standard=standard, size_m=size_m).fits(*asked) == fits


@pytest.mark.parametrize(
    ("standard", "closes"), [("R", {"Rc", "Rp"}), ("Rc", {"Rc"}), ("Rp", {"Rp"}), ("NPT", {"NPT"}), ("", {"Rc", "Rp", "NPT"})]
)
def test_tape_closes_the_taper_threads_it_is_named_after(standard: str, closes: set[str]) -> None:
    """R screws into Rc and Rp on tape (ISO 7-1), so tape for R closes both; the joint itself is named by its female side."""
    tape = Seal(id="T", name="tape", closure="tape", standard=standard)
    assert {female for female in ("Rc", "Rp", "NPT") if tape.fits("tape", female, 0.0127)} == closes


@pytest.mark.parametrize("field", ["blocked", "filled", "fouled", "worn"])
@pytest.mark.parametrize("share", [-0.01, 1.0, math.nan])
def test_a_state_is_a_share_below_one(field: str, share: float) -> None:
    """Fully blocked is not dirty but shut."""
    with pytest.raises(ValueError, match=f"{field} must be at least 0 % and below 100 %"):
        State(**{field: share})


def test_cleaning_takes_everything_but_wear() -> None:
    """A worn impeller stays worn."""
    dirty = State(blocked=0.5, filled=0.2, film_m=1e-4, fouled=0.1, worn=0.05)
    assert dirty.cleaned() == State(worn=0.05)
    assert not dirty.is_clean
    assert dirty.cleaned().is_clean
    with pytest.raises(ValueError, match="a film cannot be thinner than nothing"):
        State(film_m=-1e-6)


@pytest.mark.parametrize(
    ("length_m", "step_m", "price", "paid"),
    [(1.75, 0.1, 300, 540), (1.8, 0.1, 300, 540), (1.81, 0.1, 300, 570), (1.5, 1.0, 333, 666), (0.3, 0.1, 333, 100)],
)
def test_cut_hose_is_charged_in_whole_steps_rounded_up(length_m: float, step_m: float, price: int, paid: int) -> None:
    """By hand: steps begun, times price per metre, rounded up to a minor unit."""
    assert Product(id="H", price=price, lines=(Line(part_id="H"),), step_m=step_m).cut_price(length_m) == paid


def test_products_that_cannot_be_are_refused() -> None:
    """A product contains something, at a price that is no gift, from parts that exist."""
    line = Line(part_id="K")
    with pytest.raises(ValueError, match="price and stock cannot be negative"):
        Product(id="K", price=-1, lines=(line,))
    with pytest.raises(ValueError, match="price and stock cannot be negative"):
        Product(id="K", price=1, lines=(line,), stock=-1)
    with pytest.raises(ValueError, match="a product must contain something"):
        Product(id="K", price=1, lines=())
    with pytest.raises(ValueError, match="at least one piece"):
        Line(part_id="K", count=0)
    with pytest.raises(ValueError, match="a line of its own"):
        Line(part_id="H", count=2, amount_m=2.0)
    with pytest.raises(ValueError, match="contains K, which is not in the catalog"):
        Catalog(parts={}, products=(Product(id="K", price=1, lines=(line,)),))


def test_only_one_piece_of_one_part_is_a_single() -> None:
    """Packs, coils and kits are shared between places."""
    assert Product(id="K", price=1, lines=(Line(part_id="K"),)).is_single
    for lines in ((Line(part_id="K", count=2),), (Line(part_id="K", amount_m=2.0),), (Line(part_id="K"), Line(part_id="S"))):
        assert not Product(id="K", price=1, lines=lines).is_single


def test_a_catalog_cannot_be_changed() -> None:
    clamps = [Clamp(id=name, name=name, low_m=0.01, high_m=0.02) for name in ("K2", "K1")]
    catalog = Catalog(parts={part.id: part for part in [*clamps, SOUND[Kind.HOSE]]}, products=())
    assert set(catalog.parts) == {"K1", "K2", SOUND[Kind.HOSE].id}
    with pytest.raises(TypeError):
        catalog.parts["K3"] = clamps[0]  # type: ignore[index]
