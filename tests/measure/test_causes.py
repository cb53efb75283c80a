"""Why a loop gives less, by fills, watts and signs: dirt, the pump, or air in it."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from optimizer import api
from optimizer.bands.draws import Draws, Factors
from optimizer.bands.priors import PRIORS
from optimizer.measure.calibrate import calibrate
from optimizer.measure.causes import LIKELIHOODS, SUPPOSED, Supposed, _Under, causes, log_evidence, power_check
from optimizer.measure.observations import Observation, seen_fill, seen_power
from optimizer.measure.suspects import WORSE
from optimizer.model.diagnosis import AIR, AS_WRITTEN, DIRT, PUMP
from optimizer.model.fill import TimedFill
from optimizer.model.rig import Rig
from optimizer.model.signs import BUBBLES, CREEPING, RATTLE, SIGNS
from optimizer.model.unknowns import FILM, VALVE_CRACK, assumed
from optimizer.report import diagnose_text

DEMO = Path(__file__).parents[2] / "parts_demo"


@pytest.fixture(scope="module")
def rig() -> Rig:
    """A demo rig that is rather clean, its pump 12 W by the label."""
    found = api.read_rig(DEMO / "rigs" / "reading_corner_130_after.toml", api.read_catalog(DEMO / "catalog"))
    return replace(found, fills=(), rim_m=0.06)


def as_expected(one: Observation, cause: Supposed) -> float:
    """What a measurement shows where a cause has its middle size and every other factor is 1."""
    under = _Under(one, cause)
    still = Draws(unknowns=tuple(dict.fromkeys(under.unknowns)), normals=np.zeros((1, len(set(under.unknowns)))))
    return math.exp(float(under.log_expected(Factors(still, cause.priors))[0]))


def shown(rig: Rig, name: str) -> Rig:
    """The rig with a clean fill with its watts from when all was as written, and one of today, as a cause makes it."""
    supposed = {each.name: each for each in SUPPOSED}
    fills = []
    for state, cause in ((("clean",), supposed[AS_WRITTEN]), ((), supposed[name])):
        fill = TimedFill(volume_m3=0.01, seconds=(60.0,) * 3, state=state, volume_limit_m3=5e-5, power_w=1.0)
        flow = as_expected(seen_fill(rig, fill), cause)
        power = as_expected(seen_power(rig, fill), cause)
        fills.append(replace(fill, seconds=(0.01 / flow,) * 3, power_w=power))
    return replace(rig, fills=tuple(fills))


def test_watts_change_the_verdict(rig: Rig) -> None:
    """A clean fill with its watts, and one that gives less. With watts of a pump that a dirty loop chokes the loop is to blame,
    with watts of one that churns air the pump is, at the same flow: nothing told the two apart before."""
    first, last = shown(rig, DIRT).fills
    low = replace(last, power_w=0.62 * last.power_w)
    choked, churning = (replace(rig, fills=(first, fill)) for fill in (last, low))
    dirty, power = causes(choked), power_check(choked)
    assert dirty[0].name == DIRT and dirty[0].probability > 0.9
    assert power is not None and power.full.p10_w < last.power_w < power.full.p90_w and power.below_shut < 0.5
    told = api.diagnose(churning)
    assert told.status == "pump first" and told.probability(AIR, PUMP) > 0.9 and told.probability(DIRT) < 0.1
    assert told.power is not None and told.power.below_shut > 0.9 and told.air is not None
    text = " ".join(diagnose_text.render(told).split())
    assert "What is wrong is rather at the pump than in the loop" in text and "it does not prime by itself" in text
    assert "To let air out" in text and "licensed electricians decide" in text
    assert json.loads(json.dumps(told.to_dict()))["causes"][0]["name"] in (AIR, PUMP)


def test_watts_at_no_flow_by_hand(rig: Rig) -> None:
    """The clean reading tells what the label is off by, so at no flow the pump should draw the clean watts times
    s / (s + (1 - s) x), s the share at no flow (0.7) and x the clean flow over free flow."""
    choked = shown(rig, DIRT)
    clean, power = choked.fills[0], power_check(choked)
    pump = rig.pump
    x = clean.volume_m3 / clean.seconds[0] / pump.curve.max_flow_m3s
    assert power is not None
    assert power.shut.p50_w == pytest.approx(clean.power_w * 0.7 / (0.7 + 0.3 * x), rel=0.01)


@pytest.mark.parametrize(("name", "signs"), [(DIRT, (CREEPING,)), (AIR, (RATTLE, BUBBLES)), (PUMP, ())])
def test_each_cause_is_found_where_it_is_the_truth(rig: Rig, name: str, signs: tuple[str, ...]) -> None:
    """Fills and watts as the cause at its middle size makes them. A weak pump and air differ little in watts (n3 against the
    density), so without signs they are told together."""
    found = causes(replace(shown(rig, name), signs=signs))
    assert sum(each.probability for each in found) == pytest.approx(1.0)
    if name == PUMP:
        assert sum(each.probability for each in found if each.name in (PUMP, AIR)) > 0.6
    else:
        assert found[0].name == name and found[0].probability > 0.6
        middle = next(each.middle for each in SUPPOSED if each.name == name)
        assert found[0].size == pytest.approx(middle, rel=0.35)


def test_a_loop_as_written_is_not_called_ill(rig: Rig) -> None:
    found = causes(shown(rig, AS_WRITTEN))
    assert found[0].name == AS_WRITTEN and found[0].probability > 0.8


def test_signs_alone_are_odds_times_likelihoods(rig: Rig) -> None:
    """Without any measurement: Bayes by hand."""
    found = {each.name: each.probability for each in causes(replace(rig, signs=(RATTLE, BUBBLES)))}
    plain = {each.name: each.odds * LIKELIHOODS[RATTLE][each.name] * LIKELIHOODS[BUBBLES][each.name] for each in SUPPOSED}
    assert found == pytest.approx({name: value / sum(plain.values()) for name, value in plain.items()})
    assert set(LIKELIHOODS) == set(SIGNS) and sum(each.odds for each in SUPPOSED) == pytest.approx(1.0)


def test_fills_alone_tell_no_causes(rig: Rig) -> None:
    fills = tuple(replace(fill, power_w=0.0) for fill in shown(rig, DIRT).fills)
    assert causes(replace(rig, fills=fills)) == () and power_check(replace(rig, fills=fills)) is None


def test_the_evidence_is_that_of_a_normal_number() -> None:
    """One flow of a loop that is nearly linear in small factors: ln N(y; f, u2 + j j^T), up to ln u and the constant."""
    from grids import THREE, Datum, three

    posterior = calibrate([Datum(math.log(2.4e-4), 0.05).seen()], THREE, three().candidate.unknowns)
    blank = calibrate([], THREE, three().candidate.unknowns)
    log, slopes = blank.log_flow(three())
    variance = 0.05**2 + float(slopes @ slopes)
    expected = -0.5 * (math.log(2.4e-4) - log) ** 2 / variance - 0.5 * math.log(variance) + math.log(0.05)
    assert log_evidence(posterior) == pytest.approx(expected, abs=0.05)


def test_every_cause_leaves_the_priors_alone() -> None:
    for each in SUPPOSED:
        assert {name: prior for name, prior in each.priors.items() if name in PRIORS} == dict(PRIORS)
        assert set(each.powers) <= set(PRIORS)
    dirt = next(each for each in SUPPOSED if each.name == DIRT)
    lossy = {name for name, worse in WORSE.items() if (worse.kind, worse.sign) == ("dirty", 1)}
    lossy -= {FILM, VALVE_CRACK, assumed(VALVE_CRACK)}
    assert set(dirt.powers) == lossy
