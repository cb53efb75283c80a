"""A bundle as the elements of a loop, for the graph and the scalar operating point."""

from collections.abc import Sequence

from optimizer.loop.graph import Element
from optimizer.model.losses import Loss
from optimizer.model.parts import Canister, Device, Fitting, Guard, Hose, Kind, Outlet, Part, Pump, pass_over
from optimizer.model.rig import Rig
from optimizer.search.joints import Chain
from optimizer.search.options import Option, Ways


def elements_of(rig: Rig, options: Sequence[Option], joints: Sequence[Chain]) -> list[Element]:
    """Parts and joints in the order of the water. Joint k stands in front of the option at position k; places left out vanish."""
    elements: list[Element] = []
    before = "tank"
    for option, joint in zip(options, joints, strict=True):
        if not option.is_there:
            continue
        place = rig.positions[option.position].name
        if elements:
            elements.append(_joint_element(before, place, joint))
        if option.ways is None:
            elements.append(_part_element(place, option))
        else:
            elements += _branch_elements(place, option, option.ways)
        before = place
    return elements


def _joint_element(before: str, after: str, joint: Chain) -> Element:
    bores = [turned.part.passage_m for turned in joint.adapters]
    name = f"joint {before} to {after}"
    return Element(place=name, label=name, loss=Loss(quadratic=joint.quadratic), is_joint=True, bore_m=min(bores, default=0.0))


def _branch_elements(place: str, option: Option, ways: Ways) -> list[Element]:
    """The branches as one element, and as another the steps of bore in the legs of their tees that all the water takes."""
    steps = Element(place=place, label=f"{place}, tees", loss=option.loss)
    branches = Element(place=place, label=place, loss=Loss(), split=ways.split)
    return [steps, branches] if option.loss.quadratic else [branches]


def _part_element(place: str, option: Option) -> Element:
    part = option.part
    pump = part if isinstance(part, Pump) else None
    return Element(
        place=place,
        label=part.name if part is not None else place,
        loss=option.loss,
        curve=pump.curve if pump is not None else None,
        speed=option.speed,
        bore_m=0.0 if part is None else narrowest_m(part, option.state.film_m),
        inlet_bore_m=pump.inlet.bore_m if pump is not None else 0.0,
    )


def narrowest_m(part: Part, film_m: float = 0.0) -> float:
    """The narrowest bore the water passes in a part, with a film on its wall; 0 when it has none of its own.

    >>> narrowest_m(Hose(id="H", name="hose", inside_m=0.016, outside_m=0.022), 0.0005)
    0.015
    """
    if isinstance(part, Hose):
        return part.inside_m - 2.0 * film_m
    if isinstance(part, Fitting):
        return min(part.passage_m - 2.0 * film_m, part.inlet.bore_m, part.outlet.bore_m)
    if isinstance(part, Pump | Device | Canister):
        return min(part.inlet.bore_m, part.outlet.bore_m)
    if isinstance(part, Guard):
        return part.outlet.bore_m
    if isinstance(part, Outlet):
        return part.inlet.bore_m if part.form == "bar" else min(part.inlet.bore_m, part.hole_m)
    pass_over(part, Kind.MEDIUM, Kind.CLAMP, Kind.SEAL, Kind.TEE)
    return 0.0
