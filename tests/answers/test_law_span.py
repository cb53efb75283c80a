"""How much the choice of law matters: the span of the loop that stands and of the chosen one, against searches by those laws."""

from dataclasses import fields, replace
from functools import cache

import pytest
from demo import DEMO, shop

from optimizer import api
from optimizer.answers.by_fills import by_fills
from optimizer.answers.law_span import by_laws, law_lines, law_span
from optimizer.answers.question import Question, found_standing, solved, stands_now
from optimizer.answers.rows import Standing, standing
from optimizer.loop.standing import elements, standing_loop
from optimizer.model.catalog import Catalog
from optimizer.model.rig import Rig
from optimizer.model.said import Quantity, Said
from optimizer.physics.fitting_laws import CHOSEN, HIGHEST, LAWS, LOWEST, FittingLaws, all_by
from optimizer.physics.water import Water

RIGS = ("nano_60", "rift_lake_450", "marine_75gal", "goldfish_basement", "stem_plants_200", "ricefish_160")
"""In series, with threaded and moulded elbows, and with branches."""

NOTHING = Catalog(parts={}, products=())


@cache
def demo(name: str) -> Rig:
    """A demo rig, not measured."""
    return replace(api.read_rig(DEMO / "rigs" / f"{name}.toml", shop()), fills=())


@cache
def best_of(name: str) -> Standing:
    """The best bundle of a demo rig."""
    rig = demo(name)
    done = solved(Question(rig=rig, catalog=shop(), limits=rig.limits))
    assert done.outcome.found is not None
    return found_standing(rig, done.seeker, done.outcome.found)


def water_of(rig: Rig) -> Water:
    """The tank's water."""
    return Water(temperature_c=rig.tank.temperature_c, salinity_gkg=rig.tank.salinity_gkg)


@pytest.mark.parametrize("name", RIGS)
def test_the_span_of_the_loop_as_it_is_is_that_of_rigs_reckoned_by_those_laws(name: str) -> None:
    """Two routes: losses of a bundle taken anew, and a rig by other laws put together and solved by the search."""
    rig = demo(name)
    now = stands_now(rig, NOTHING)
    span = law_span(rig, water_of(rig), now)
    by = {law: stands_now(rig.by_laws(all_by(law)), NOTHING).flow_m3s for law in (LOWEST, HIGHEST)}
    assert span.least_m3s == pytest.approx(by[HIGHEST], rel=3e-5)
    assert span.most_m3s == pytest.approx(by[LOWEST], rel=3e-5)
    assert span.least_m3s < 0.999 * now.flow_m3s < now.flow_m3s < span.most_m3s


@pytest.mark.parametrize("name", ["nano_60", "rift_lake_450", "marine_75gal"])
def test_the_losses_of_a_bundle_taken_anew_by_its_own_laws_are_its_own(name: str) -> None:
    """Nothing else of a bundle changes: every element of the loop loses what it did."""
    rig, best = demo(name), best_of(name)
    again = elements(standing_loop(rig, *by_laws(rig, water_of(rig), best, CHOSEN)))
    assert [each.label for each in again] == [each.label for each in best.elements]
    for one, other in zip(again, best.elements, strict=True):
        assert one.loss.quadratic == pytest.approx(other.loss.quadratic, rel=1e-9, abs=1e-3)
        assert replace(one.loss, quadratic=0.0) == replace(other.loss, quadratic=0.0)


@pytest.mark.parametrize("name", ["rift_lake_450", "nano_60"])
def test_the_chosen_bundle_keeps_its_span_in_a_search_by_other_laws(name: str) -> None:
    """The same options and joints, found by a search of the rig by those laws, deliver what the span says."""
    rig, best = demo(name), best_of(name)
    span = law_span(rig, water_of(rig), best)
    for law, expected in ((HIGHEST, span.least_m3s), (LOWEST, span.most_m3s)):
        other = rig.by_laws(all_by(law))
        options, joints = by_laws(rig, water_of(rig), best, all_by(law))
        flow = standing(other, water_of(rig), options, joints, 0, None).flow_m3s
        assert expected == pytest.approx(flow, rel=3e-5)
        # the best by that law is at least as good as the bundle that is best by another
        done = solved(Question(rig=other, catalog=shop(), limits=other.limits))
        assert done.outcome.found is not None and done.outcome.found.flow_m3s >= flow * (1 - 1e-9)


def test_every_law_by_itself_lies_within_the_span() -> None:
    """Each name of each choice in turn, on a rig with threaded and moulded elbows, bends and valves; most move the flow."""
    rig = demo("rift_lake_450")
    now = stands_now(rig, NOTHING)
    span = law_span(rig, water_of(rig), now)
    flows = {
        (each.name, law): stands_now(rig.by_laws(FittingLaws(**{each.name: law})), NOTHING).flow_m3s
        for each in fields(FittingLaws)
        for law in LAWS[each.name]
    }
    assert all(span.least_m3s * (1 - 3e-5) <= flow <= span.most_m3s * (1 + 3e-5) for flow in flows.values())
    assert all(flows[each.name, getattr(CHOSEN, each.name)] == now.flow_m3s for each in fields(FittingLaws))
    assert len({round(flow * 3.6e9) for flow in flows.values()}) >= 10
    assert flows["threaded", "HVAC Pump Handbook"] < 0.97 * now.flow_m3s


def test_what_fills_have_measured_stays_whatever_the_law() -> None:
    """A loop whose every installed part goes by its fills has no span, and the line says so."""
    rig = api.read_rig(DEMO / "rigs" / "reading_corner_130.toml", shop())
    assert rig.fills
    measured, _ = by_fills(rig)
    now = stands_now(measured, NOTHING)
    span = law_span(measured, water_of(rig), now)
    assert span.least_m3s == pytest.approx(now.flow_m3s, rel=2e-5) == span.most_m3s
    (line,) = law_lines(measured, water_of(rig), now, None)
    assert line.endswith(" What is installed stays as the fills say.")


def test_the_basis_names_the_laws_and_what_they_move() -> None:
    """As in the list of `best`: the laws of what is there, both loops, flows as quantities."""
    rig, best = demo("rift_lake_450"), best_of("rift_lake_450")
    now = stands_now(rig, NOTHING)
    (line,) = law_lines(rig, water_of(rig), now, best)
    assert isinstance(line, Said)
    assert "narrower bores Idelchik, wider bores Borda-Carnot, entrances Crane flush" in line
    assert "threaded elbows Hooper" in line and "elbows Crane" in line
    flows = [piece.si for piece in line.pieces if isinstance(piece, Quantity)]
    spans = [law_span(rig, water_of(rig), each) for each in (now, best)]
    assert flows == [end for span in spans for end in (span.least_m3s, span.most_m3s)]
    told = api.best(rig, shop())
    assert line in told.basis
    (alone,) = law_lines(rig, water_of(rig), now, now)
    assert "after the change" not in alone


def test_a_throttled_loop_is_held_by_any_law() -> None:
    """A throttle takes what a kinder law would give."""
    rig = demo("nano_60")
    now = stands_now(rig, NOTHING)
    held = replace(now, held_by="flow_max_m3s", flow_m3s=0.9 * now.flow_m3s)
    span = law_span(rig, water_of(rig), held)
    assert span.least_m3s == span.most_m3s == held.flow_m3s


def test_one_rig_goes_by_one_set_of_laws() -> None:
    """Places inside branches too."""
    rig = demo("ricefish_160")
    other = rig.by_laws(all_by(LOWEST))
    assert {place.laws for place in (*other.positions, *other.every_position)} == {all_by(LOWEST)}
    with pytest.raises(ValueError, match="by the same laws"):
        replace(rig, positions=(other.positions[0], *rig.positions[1:]))
