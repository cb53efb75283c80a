"""What fills say of a place in the loop holds for a new part of the same kind and size: only the dirt of the old one goes."""

from dataclasses import replace

import numpy as np
import pytest
from demo import rig, shop

from optimizer import api
from optimizer.answers.by_fills import as_stated
from optimizer.answers.question import Question, found_standing, seek
from optimizer.bands.candidates import candidate
from optimizer.bands.fitted import FittedParts
from optimizer.bands.series import delivered_m3s
from optimizer.loop.kinds import part_loss
from optimizer.loop.standing import standing_loop
from optimizer.model.catalog import Catalog
from optimizer.model.options import CLEAN, KEEP, SWAP, Option
from optimizer.model.parts import Pump
from optimizer.model.rig import Rig
from optimizer.model.state import State
from optimizer.search.choices import choices

WORSE = {
    ("hose friction", "installed:suction_hose"): 1.5,
    ("hose bore", "installed:suction_hose"): 0.95,
    ("hose friction", "installed:return_hose"): 1.5,
    ("hose bore", "installed:return_hose"): 0.95,
    ("fittings", "installed:return_hose"): 1.4,
    ("fittings", "installed:return_hose - BAR-12-14X3"): 1.6,
    ("fittings", "COUP-S-T12 - installed:return_hose"): 1.6,
    ("fittings", "installed:suction_hose - COUP-S-T12"): 1.6,
    ("fittings", "GUARD-SLOT-18-T12 - installed:suction_hose"): 1.6,
    ("label head", "PUMP-1000SA"): 0.95,
    ("media", "FLOSS-DENSE"): 1.7,
    ("guard", "GUARD-SLOT-18-T12"): 1.6,
}
"""Factors of what is installed in the reading corner, all worse than stated."""

SAME = ("HOSE-12-16", "GUARD-SLOT-18-T12", "COUP-S-T12", "BAR-12-14X3", "PUMP-1000SA", "FLOSS-DENSE", "FOAM-20", "RING-10")
"""What is installed, as the shop has it."""


def worse() -> Rig:
    return replace(rig("reading_corner_130"), fitted=FittedParts(WORSE), fills=())


def of_the_same() -> Catalog:
    """A shop of nothing but what is installed, and what makes joints tight."""
    products = [p for p in shop().products if all(line.part_id in SAME or line.part_id[:4] in CLOSES for line in p.lines)]
    parts = {line.part_id: shop().parts[line.part_id] for p in products for line in p.lines}
    return Catalog(parts=parts, products=tuple(products), currency=shop().currency)


CLOSES = ("CLIP", "CLAM", "WASH", "SEAL")


def options_at(loop: Rig, place: str) -> list[Option]:
    menu = choices(loop, of_the_same(), loop.limits)
    return [option for options in menu.options for option in options if option.place == place]


def test_the_same_hose_new_loses_what_the_cleaned_one_does() -> None:
    """Factors of friction, bore and bends stay with the place; the film goes with the old hose, as it does with a brush."""
    for place in ("return_hose", "suction_hose"):
        made = {option.change: option for option in options_at(worse(), place)}
        assert made[SWAP].loss == made[CLEAN].loss
        assert made[SWAP].part is not None and made[SWAP].part.id == "HOSE-12-16"


def test_nothing_new_of_the_same_kind_and_size_is_bought() -> None:
    """However much worse than stated all that is installed: with parts like it the most flow is that of cleaning, for nothing."""
    loop = worse()
    free = api.best(loop, of_the_same(), budget=0)
    best = api.best(loop, of_the_same(), budget=10_000)
    assert free.best is not None and best.best is not None
    assert best.best.price == 0 and best.bill == ()
    assert best.best.flow_m3s == pytest.approx(free.best.flow_m3s, rel=1e-12)


def test_wear_that_is_stated_goes_with_the_old_pump() -> None:
    """A worn impeller is the old pump's own; what fills say of its label holds for the next of its kind."""
    loop = worse()
    position = loop.positions[loop.index("pump")]
    worn = replace(position, state=replace(position.state, worn=0.1))
    loop = replace(loop, positions=tuple(worn if each is position else each for each in loop.positions))
    made = {option.change: option for option in options_at(loop, "pump")}
    new, old = made[SWAP], made[CLEAN]
    assert isinstance(new.part, Pump) and isinstance(old.part, Pump)
    assert new.part.curve == old.part.curve and new.part.id == "PUMP-1000SA"
    assert new.part.curve != shop().parts["PUMP-1000SA"].curve  # type: ignore[union-attr]
    assert (old.speed, new.speed) == pytest.approx((0.9, 1.0))


def test_another_hose_keeps_its_stated_figures() -> None:
    """What fills say of one size is not said of another: only the joints that are there lose more, and those are new too."""
    loop = worse()
    for some in (loop, replace(loop, fitted=None)):
        menu = choices(some, shop(), some.limits)
        wide = [o for options in menu.options for o in options if o.place == "return_hose" and _id(o) == "HOSE-16-22"]
        stated = part_loss(shop().parts["HOSE-16-22"], State(), loop.positions[6], menu.water)
        assert wide and all(option.loss == stated and not option.like for option in wide)


def _id(option: Option) -> str:
    return "" if option.part is None else option.part.id


@pytest.mark.parametrize("places", [("return_hose",), ("suction_hose", "out_coupling"), ("return_hose", "spray_bar", "intake")])
def test_search_and_draws_have_one_flow_for_a_bundle_with_such_parts(places: tuple[str, ...]) -> None:
    """The joints beside a new hose that is like the old one lose what fills say too. Draws scale the stated figures by the same
    factors, under the same names, and come to the flow of the search; and that is the flow of the old ones cleaned."""
    loop = described(worse())
    seeker = seek(Question(rig=loop, catalog=of_the_same(), limits=loop.limits.without(*loop.limits.binding)))
    problem = seeker.problem
    rows = [problem.option(flat) for flat in range(len(problem.option_plain))]
    flows = []
    for wanted in (places, ()):
        allowed = [option.change in ((SWAP,) if option.place in wanted else (KEEP, CLEAN)) for option in rows]
        found = seeker.most_flow_with(np.array(allowed))
        assert found is not None
        stands = found_standing(loop, seeker, found, held=False)
        shown = as_stated(loop, problem.choices.water, stands.options, stands.joints)
        drawn = candidate(standing_loop(replace(loop, fitted=None), *shown), loop.limits, "it")
        assert float(delivered_m3s(drawn, loop.fitted)[0]) == pytest.approx(stands.own_m3s, rel=1e-6)  # type: ignore[arg-type]
        flows.append(stands.own_m3s)
    assert flows[0] == pytest.approx(flows[1], rel=1e-9)


def described(loop: Rig) -> Rig:
    """The rig as if guard, coupling and bar had been described at their places: the shop's, though alike, have other names."""
    names = {"GUARD-SLOT-18-T12": "G", "BAR-12-14X3": "B"}
    factors = {(prior, _renamed(part, names)): factor for (prior, part), factor in WORSE.items()}
    return replace(
        loop.with_each(
            lambda each: (
                each
                if each.installed is None or each.installed.id not in names
                else replace(each, installed=replace(each.installed, id=names[each.installed.id]))
            )
        ),
        fitted=FittedParts(factors | {("fittings", "C"): 1.3}),
    ).with_each(lambda each: replace(each, installed=replace(each.installed, id="C")) if each.name == "out_coupling" else each)  # type: ignore[type-var]


def _renamed(part: str, names: dict[str, str]) -> str:
    for old, new in names.items():
        part = part.replace(old, new)
    return part.replace("COUP-S-T12 - installed:return_hose", "C - installed:return_hose")
