"""Fills that no pump can have filled: told apart by the label alone, left out of every answer, and said so."""

from dataclasses import replace
from pathlib import Path

import pytest

from optimizer import api
from optimizer.errors import InputError
from optimizer.measure.possible import greatest_flow_m3s, impossible
from optimizer.model.fill import TimedFill
from optimizer.model.parts import PumpCurve
from optimizer.model.rig import Rig

DEMO = Path(__file__).parents[2] / "parts_demo"
CORNER = DEMO / "rigs" / "reading_corner_130.toml"


@pytest.fixture(scope="module")
def rig() -> Rig:
    """A rig with three fills of its own and a pump of 1 000 l/h by its label."""
    return api.read_rig(CORNER, api.read_catalog(DEMO / "catalog"))


def fill(litres: float, seconds: float, height_m: float = 0.0) -> TimedFill:
    """A fill on a day of its own."""
    return TimedFill(volume_m3=litres * 1e-3, seconds=(seconds,), height_m=height_m, date="2026-03-02")


def test_the_bound_is_the_label_with_its_tolerance(rig: Rig) -> None:
    """By hand: 1 000 l/h, 1.15 times that as P90 of a label's flow (`bands/priors`), and of the label's parabola with 0.5 m of
    siphon on 1.5 m of head the square root of 4/3 of it."""
    assert greatest_flow_m3s(rig) * 3.6e6 == pytest.approx(1150.0)
    siphon = greatest_flow_m3s(rig, -0.5) / greatest_flow_m3s(rig)
    curve = rig.pump.curve
    assert siphon == pytest.approx((1.0 + 0.5 / curve.max_head_m) ** (1.0 / curve.shape))
    assert greatest_flow_m3s(rig, 0.5) == greatest_flow_m3s(rig)
    assert not impossible(rig, fill(10.0, 36.0 / 1.149))
    assert "10 l in 30 s are 1200 l/h, more than the 1150 l/h" in impossible(rig, fill(10.0, 30.0))
    assert not impossible(rig, fill(10.0, 30.0, -0.5))
    assert impossible(rig, fill(1000.0, 0.001))


def test_a_curve_through_points_ends_where_it_has_no_head(rig: Rig) -> None:
    """600 l/h at no head, and P90 of a measured curve's flow is 1.09 times that."""
    curve = PumpCurve(flows_m3s=(0.0, 1e-4, 0.6 / 3600.0), heads_m=(1.5, 1.0, 0.0))
    place = rig.index("pump")
    pump = replace(rig.positions[place], installed=replace(rig.pump, curve=curve, label_hz=0.0))
    pointed = replace(rig, positions=(*rig.positions[:place], pump, *rig.positions[place + 1 :]))
    assert greatest_flow_m3s(pointed) * 3.6e6 == pytest.approx(654.0)


def test_what_cannot_be_is_left_out_of_every_answer(rig: Rig) -> None:
    """Measured, diagnosed and searched with are the others alone; each answer names the fill, and the cure."""
    odd = replace(rig, fills=(*rig.fills, fill(10.0, 30.0), fill(1000.0, 0.001)))
    found, plain = api.measure(odd), api.measure(rig)
    assert (found.delivered, found.fills) == (plain.delivered, plain.fills)
    said = [note for note in found.notes if "it cannot be and is left out. Check volume and seconds" in note]
    assert len(said) == 2 and "1200 l/h" in said[0]
    told = api.diagnose(odd)
    assert told.calibrated == api.diagnose(rig).calibrated
    assert set(said) <= set(told.notes)
    aged = api.ageing(odd, days=1)
    assert aged.by_fills is not None and aged.by_fills.fills == len(rig.fills)
    assert set(said) <= set(aged.by_fills.notes)


def test_with_none_that_can_be_there_is_nothing_to_measure(rig: Rig) -> None:
    odd = replace(rig, fills=(fill(10.0, 30.0), fill(1000.0, 0.001)))
    for ask in (api.measure, api.diagnose, lambda one: api.verify(one, rig), lambda one: api.verify(rig, one)):
        with pytest.raises(InputError, match=r"cannot be: 2026-03-02, as it is: 10 l in 30 s are 1200 l/h"):
            ask(odd)
    aged = api.ageing(odd, days=1)
    assert aged.by_fills is not None and aged.by_fills.left_out.startswith("they cannot be")
    assert aged.by_fills.delivered_m3s == aged.by_fills.stated_m3s
