"""Loops for the tests of dirt over time, built in memory without the search. All invented."""

from collections.abc import Sequence
from dataclasses import replace

from optimizer.dirt.daily import Daily
from optimizer.loop.standing import Joint, Stand, StandingLoop
from optimizer.loop.terms import change_quadratic
from optimizer.model.ends import End, Gender, Standard
from optimizer.model.parts import Canister, Device, Guard, Hose, Medium, Outlet, Part, Pump, PumpCurve
from optimizer.model.rig import Position, Tray
from optimizer.model.state import State
from optimizer.physics.media import fibre_coefficients, foam_coefficients, ring_coefficients
from optimizer.physics.water import Water

LITRE_PER_HOUR = 1e-3 / 3600.0
TAIL = End(standard=Standard.HOSE, size_m=0.016, gender=Gender.MALE, bore_m=0.012)


def foam(ppi: float) -> Medium:
    """Foam of so many pores per inch."""
    return _medium(f"foam {ppi:g}", "foam", foam_coefficients(ppi), 1000.0, True)


def floss(solid: float = 0.03) -> Medium:
    """Floss of a solid share."""
    return _medium(f"floss {solid:g}", "fibre", fibre_coefficients(35e-6, solid), 0.0, True)


def rings() -> Medium:
    """Ceramic rings."""
    return _medium("rings", "rings", ring_coefficients(300.0, 0.65), 350.0, False)


def _medium(name: str, form: str, bed: tuple[object, object], area: float, mechanical: bool) -> Medium:
    permeability, inertial = (float(each) for each in bed)  # type: ignore[arg-type]
    return Medium(
        id=name,
        name=name,
        form=form,
        permeability_m2=permeability,
        inertial_1m=inertial,
        area_m2m3=area,
        mechanical=mechanical,
        biological=area > 0.0,
    )


def slots(area_cm2: float = 30.0) -> Guard:
    """A strainer with slots of 3 mm."""
    return Guard(
        id="slots", name="slots", form="slots", face_area_m2=area_cm2 / 1e4, open_fraction=0.4, opening_m=3e-3, outlet=TAIL
    )


def steel(area_cm2: float = 17.5) -> Guard:
    """A punched steel guard with openings of 0.8 mm."""
    return Guard(
        id="steel", name="steel", form="holes", face_area_m2=area_cm2 / 1e4, open_fraction=0.4, opening_m=0.8e-3, outlet=TAIL
    )


def sponge(area_cm2: float = 105.0) -> Guard:
    """A sponge guard of 30 pores per inch."""
    return Guard(
        id="sponge",
        name="sponge",
        form="sponge",
        face_area_m2=area_cm2 / 1e4,
        open_fraction=0.9,
        opening_m=0.8e-3,
        outlet=TAIL,
        pores_ppi=30.0,
        thickness_m=0.025,
    )


def pump(head_m: float = 2.0, litres_per_hour: float = 1400.0, points: bool = False) -> Pump:
    """A pump by its label, or through four points."""
    top = litres_per_hour * LITRE_PER_HOUR
    curve = PumpCurve(flows_m3s=(0.0, top), heads_m=(head_m, 0.0), shape=2.0)
    if points:
        curve = PumpCurve(
            flows_m3s=(0.0, 0.4 * top, 0.75 * top, 0.9 * top),
            heads_m=(head_m, 0.85 * head_m, 0.5 * head_m, 0.3 * head_m),
        )
    return Pump(id="pump", name="pump", curve=curve, power_w=20.0, noise_dba=38.0, inlet=TAIL, outlet=TAIL)


def setup(
    media: Sequence[Medium | None],
    guard: Guard | None = None,
    blocked: float = 0.0,
    filled: Sequence[float] = (),
    turning: Pump | None = None,
    film_m: float = 0.0,
    net_m3: float = 0.2,
    lift_m: float = -0.02,
    ceiling_m3s: float = float("inf"),
    device: Device | None = None,
    cakes_m: Sequence[float] = (),
    guard_cake_m: float = 0.0,
) -> StandingLoop:
    """Guard, hose, canister with a tray for each medium (300 cm2 by 5 cm), pump, hose, perhaps a device, open end."""
    hose = Hose(id="hose", name="hose", inside_m=0.016, outside_m=0.022)
    body = Canister(id="body", name="body", inlet=TAIL, outlet=TAIL, trays=len(media), tray_area_m2=0.03, tray_height_m=0.05)
    mouth = Outlet(id="mouth", name="mouth", form="open", inlet=TAIL, holes=1, hole_m=0.012)
    step = change_quadratic(0.012, 0.016)
    parts: list[tuple[str, str, Part, State, float]] = [
        ("intake", "guard", guard or slots(), State(blocked=blocked, cake_m=guard_cake_m), 0.0),
        ("suction", "hose", hose, State(film_m=film_m), step),
        ("canister", "canister", body, State(), step),
        ("pump", "pump", turning or pump(), State(), 0.0),
        ("return", "hose", hose, State(film_m=film_m), step),
        *([("device", "device", device, State(), 0.0)] if device else []),
        ("outlet", "outlet", mouth, State(), step),
    ]
    shares = (*filled, *[0.0] * (len(media) - len(filled)))
    cakes = (*cakes_m, *[0.0] * (len(media) - len(cakes_m)))
    return StandingLoop(
        name="loop",
        stands=tuple(
            Stand(
                position=replace(_position(name, kind, part), height_m=lift_m),
                part=part,
                state=state,
                joint=Joint(quadratic=joint),
            )
            for name, kind, part, state, joint in parts
        ),
        trays=tuple(
            Tray(medium=m, state=State(filled=share, cake_m=cake)) for m, share, cake in zip(media, shares, cakes, strict=True)
        ),
        net_m3=net_m3,
        water=Water(temperature_c=25.0),
        mains_hz=50.0,
        ceiling_m3s=ceiling_m3s,
    )


def _position(name: str, kind: str, part: Part) -> Position:
    length = 1.5 if kind == "hose" else 0.0
    return Position(name=name, kind=kind, installed=part, length_m=length, bends=1 if length else 0, depth_m=0.9)


def fed(feed_g: float = 4.0, debris_g: float = 0.06) -> Daily:
    """A daily load from grams of feed and of dry debris."""
    return Daily(feed_kg_day=feed_g / 1e3, protein_share=0.45, solids_kg_day=0.25 * feed_g / 1e3, debris_kg_day=debris_g / 1e3)
