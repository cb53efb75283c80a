"""Watts beside fills: what they say is as sure as is claimed."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from how_many import some_of
from measuring_worlds import Truth, rig_of

from optimizer.bands.candidates import Unknown
from optimizer.bands.draws import Draws, Factors
from optimizer.bands.priors import PRIORS
from optimizer.files.catalog_csv import read_catalog
from optimizer.measure.calibrate import calibrate, factor_lines
from optimizer.measure.fill_loop import loop_during_fill
from optimizer.measure.observations import METER_SHARE, METER_W, SHUT_SHARE, seen_fill, seen_power
from optimizer.model.fill import TimedFill
from optimizer.model.parts import Kind, Pump
from optimizer.physics.pumps import label_head_m, power_share

RIGS = some_of(range(60), 2)


def with_power(truth: Truth, rng: np.random.Generator) -> Truth:
    """The same rig, whose pump's power is off as its priors say."""
    parts = ("", truth.rig.pump.id)
    more = tuple(Unknown(prior=prior, part=part) for prior in ("label power", "shut-off power") for part in parts)
    drawn = np.hstack([truth.normals, rng.standard_normal((1, len(more)))])
    return replace(truth, unknowns=(*truth.unknowns, *more), normals=drawn)


def read_beside(truth: Truth, fill: TimedFill, rng: np.random.Generator) -> TimedFill:
    """The fill with the watts of its loop, by a meter that is off by at most 1 W or 5 %."""
    true_w = math.exp(float(seen_power(truth.rig, replace(fill, power_w=1.0)).log_expected(truth.factors)[0]))
    off = rng.uniform(-1.0, 1.0) * max(METER_W, METER_SHARE * true_w)
    return replace(fill, power_w=max(true_w + off, 0.05))


def test_watts_are_recovered_as_often_as_stated() -> None:
    """Simulate and recover: a fill, and one with the outlet off, with the watts beside each. The bands from 10 to 90 % of the
    flow of the loop and of the pump's power hold the truth in 80 % of the rigs, to three standard errors; that of the power is
    narrower than before."""
    held: dict[str, list[bool]] = {"flow": [], "label power": []}
    learned = []
    for seed in RIGS:
        rng, rig = np.random.default_rng(seed), rig_of(seed)
        truth = with_power(Truth.drawn(rig, rng), rng)
        fills = [read_beside(truth, fill, rng) for fill in truth.timed(rng, [((), 0.0), (("outlet off",), 0.0)])]
        posterior = calibrate([seen(rig, fill) for fill in fills for seen in (seen_fill, seen_power)], also=truth.unknowns)
        loop = loop_during_fill(rig)
        band = posterior.band(loop)
        held["flow"].append(band.p10_m3s <= truth.flow_m3s(loop) <= band.p90_m3s)
        line = next(line for line in factor_lines(posterior) if line.unknown == "label power")
        held["label power"].append(line.p10 <= math.exp(truth.log_factor(line.unknown, line.part)) <= line.p90)
        learned.append(line.information)
    assert np.median(learned) > 0.3
    for name, each in held.items():
        assert abs(np.mean(each) - 0.80) <= 3.0 * math.sqrt(0.16 / len(RIGS)), name


@pytest.mark.parametrize("ratio", [0.0, 0.3, 0.5, 1.0])
def test_power_rises_straight_from_no_flow_to_free_flow(ratio: float) -> None:
    """The two ends, and half-way between them."""
    assert power_share(0.0, 0.7) == 0.7 and power_share(1.0, 0.7) == pytest.approx(1.0)
    assert power_share(ratio, 0.7) == pytest.approx(0.7 + 0.3 * ratio)


def test_watts_go_with_the_third_power_of_the_speed() -> None:
    """Affinity laws: 60 instead of 50 Hz draws 1.2^3 = 1.728 times as much at 1.2 times the flow. With the loss of the loop all
    quadratic the flow does go so; friction lets it rise by a little less, so the watts lie within 2 % of that."""
    plain = rig_of(2)
    rig = plain.with_each(
        lambda place: replace(place, installed=replace(plain.pump, label_hz=50.0)) if place.kind == Kind.PUMP else place
    )
    fill = TimedFill(volume_m3=0.01, seconds=(60.0,), power_w=10.0)
    at = {}
    for hz in (50.0, 60.0):
        seen = seen_power(replace(rig, mains_hz=hz), fill)
        still = Factors(Draws(unknowns=seen.unknowns, normals=np.zeros((1, len(seen.unknowns)))), PRIORS)
        at[hz] = math.exp(float(seen.log_expected(still)[0]))
    assert at[60.0] / at[50.0] == pytest.approx(1.728, rel=0.02)


def test_no_pump_of_the_demo_gives_more_than_it_draws() -> None:
    """Hydraulic power rho g Q H (700 l/h at 1.2 m and 24 degC: 2.282 W) stays below half of the power drawn all along the curve:
    small magnet-drive pumps have efficiencies of some 5 to 35 % (from memory)."""
    weight = 997.299 * 9.80665  # density at 24 degC by IAPWS-95
    assert weight * 700e-3 / 3600.0 * 1.2 == pytest.approx(2.2820, rel=1e-3)
    catalog = read_catalog(Path(__file__).parents[2] / "parts_demo" / "catalog")
    pumps = [part for part in catalog.parts.values() if isinstance(part, Pump) and part.curve.shape]
    assert len(pumps) > 5
    for pump in pumps:
        curve = pump.curve
        for x in np.linspace(0.0, 1.0, 21):
            head = float(label_head_m(x * curve.max_flow_m3s, curve.max_head_m, curve.max_flow_m3s, curve.shape))
            given = weight * x * curve.max_flow_m3s * head
            assert given < 0.5 * pump.power_w * power_share(x, SHUT_SHARE), pump.id
