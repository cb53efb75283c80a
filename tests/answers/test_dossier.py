"""What a report shows beside the result: curves, courses, the list piece by piece, substitutes and the spill."""

from collections import Counter
from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from report_cases import DEMO, dossier

from optimizer import api
from optimizer.answers.advised import advised
from optimizer.answers.bands import BandWish
from optimizer.answers.dossier import dossier_answer
from optimizer.answers.question import Question, SolvedQuestion, found_standing, result_of, solved
from optimizer.answers.shopping import shopping
from optimizer.model.catalog import Catalog
from optimizer.model.dossiers import Dossier, ShopRow
from optimizer.model.results import Result


@cache
def catalog() -> Catalog:
    return api.read_catalog(DEMO / "catalog")


@cache
def made(name: str) -> Dossier:
    """A dossier with few draws."""
    return api.dossier(api.read_rig(DEMO / "rigs" / f"{name}.toml", catalog()), catalog(), candidates=1, draws=2, most=True)


def result(found: Dossier) -> Result:
    assert found.result is not None
    assert found.result.best is not None
    return found.result


def test_loops_run_where_their_curve_meets_the_pump() -> None:
    """By linear interpolation of the samples, which is naive and knows nothing of the solver."""
    told = dossier().curves
    assert told is not None
    assert {mark.name for mark in told.marks} == {"now", "cleaned", "best", "best, day 56"}
    loops = {curve.name: curve for curve in told.curves if curve.kind == "loop"}
    pumps = [curve for curve in told.curves if curve.kind == "pump"]
    for mark in told.marks:
        loop = loops[mark.name]
        taken = np.interp(mark.flow_m3s, loop.flows_m3s, loop.heads_m)
        given = min(
            (np.interp(mark.flow_m3s, pump.flows_m3s, pump.heads_m) for pump in pumps), key=lambda h: abs(h - mark.head_m)
        )
        assert mark.head_m == pytest.approx(given, rel=0.01)
        assert mark.held or mark.head_m == pytest.approx(taken, rel=0.02)


def test_marks_and_courses_are_those_of_the_verdict() -> None:
    found = dossier()
    assert found.curves is not None and found.falls is not None
    told = result(found)
    assert told.best is not None
    flows = {mark.name: mark.flow_m3s for mark in found.curves.marks}
    assert (flows["now"], flows["best"]) == (told.now.flow_m3s, told.best.flow_m3s)
    falls = {fall.name: fall for fall in found.falls.falls}
    assert falls["best"].flows_m3s[0] == pytest.approx(told.best.flow_m3s, rel=1e-3)
    assert falls["best"].flows_m3s[-1] == flows["best, day 56"]
    for fall in falls.values():
        assert list(fall.flows_m3s) == sorted(fall.flows_m3s, reverse=True)


@cache
def _done(name: str) -> tuple[Question, SolvedQuestion]:
    """A rig's question, solved."""
    rig = api.read_rig(DEMO / "rigs" / f"{name}.toml", catalog())
    # with little money the loop with branches is solved at once
    limits = replace(rig.limits, budget=2000) if name == "ricefish_160" else rig.limits
    question = Question(rig=rig, catalog=catalog(), limits=limits)
    return question, solved(question)


def _listed(name: str) -> tuple[Result, tuple[ShopRow, ...]]:
    """The result and the list alone."""
    question, done = _done(name)
    assert done.outcome.found is not None
    stands = found_standing(question.rig, done.seeker, done.outcome.found)
    return result_of(question, done), shopping(question, done.seeker, stands, done.outcome.found.bundle.cover)


@pytest.mark.parametrize("name", ["nano_60", "planted_300", "ricefish_160"])
def test_the_list_is_the_bill_piece_by_piece(name: str) -> None:
    """Prices add up; hoses are cut to the length of their place; every joint has its adapters and what makes it tight."""
    told, rows = _listed(name)
    assert told.best is not None
    assert sum(row.price for row in rows) == told.best.price
    bought = {row.product_id for row in rows if row.use != "adjustment"}
    assert bought == {line.product_id for line in told.bill if line.product_id}
    rig = api.read_rig(DEMO / "rigs" / f"{name}.toml", catalog())
    lengths = {position.name: position.length_m for position in rig.every_position}
    assert all(not row.cut_m or row.cut_m == pytest.approx(lengths[row.place]) for row in rows)
    for joint in told.joints:
        there = [row for row in rows if row.place == f"joint {joint.between[0]} to {joint.between[1]}"]
        assert Counter(row.name for row in there if row.use == "adapter") == Counter(joint.pieces if not joint.as_is else ())
        closed = [word for word in joint.tight_by if word != "the maker's own seal"]
        assert joint.as_is or sum(row.use == "closure" for row in there) == len(closed)


@pytest.mark.parametrize("name", ["nano_60", "community_180"])
def test_a_substitute_mates_alike_and_delivers_what_is_said(name: str) -> None:
    """The same bundle is answered anew by the search from a shop that has the substitute in the place of the part."""
    found = made(name) if name != "nano_60" else dossier()
    told = result(found)
    rig = api.read_rig(DEMO / "rigs" / f"{name}.toml", catalog())
    tried = 0
    for row in found.shopping:
        if row.substitute is None or row.use != "part" or not row.substitute.flow_m3s or _sold_twice(row.product_id, found):
            continue
        other = next(product for product in catalog().products if product.id == row.substitute.product_id)
        bought = {line.product_id for line in told.bill if line.product_id != row.product_id} | {other.id}
        shop = replace(catalog(), products=tuple(product for product in catalog().products if product.id in bought))
        again = api.best(rig, shop, budget=10**6)
        assert again.best is not None
        assert again.best.flow_m3s >= row.substitute.flow_m3s * (1 - 1e-6)
        tried += 1
    assert tried


def _sold_twice(product_id: str, found: Dossier) -> bool:
    """Whether a product serves several places, so that taking it out of the shop takes more than one part out."""
    return sum(row.product_id == product_id for row in found.shopping) > 1


def test_the_worst_spill_is_all_the_water() -> None:
    """Figures of the rig file: 16 US gal at 3.785411784 l, 85 % of it water, and three trays of 120 cm2 by 4 cm."""
    spill = dossier().spill
    assert spill is not None
    assert spill.tank_m3 == pytest.approx(16 * 3.785411784e-3 * 0.85)
    assert spill.filter_m3 == pytest.approx(3 * 120e-4 * 0.04)
    assert spill.worst_m3 == spill.tank_m3 + spill.filter_m3


def test_a_loop_with_branches_is_followed_over_the_days(monkeypatch: pytest.MonkeyPatch) -> None:
    """It begins with the flow that the search found, and dirt only takes from it."""
    question, done = _done("ricefish_160")
    monkeypatch.setattr("optimizer.answers.advised.solved", lambda *_: done)
    asked = iter([False])
    found = dossier_answer(question, advised(question, most=True), BandWish(), question.rig, halted=lambda: next(asked, True))
    assert done.outcome.found is not None and found.falls is not None
    (best,) = (fall for fall in found.falls.falls if fall.name == "best")
    assert best.flows_m3s[0] == pytest.approx(done.outcome.found.flow_m3s, rel=1e-6)
    assert all(then <= now for now, then in pairwise(best.flows_m3s))
    assert best.flows_m3s[-1] < 0.99 * best.flows_m3s[0]


def test_what_is_halted_is_left_out_and_said() -> None:
    rig = api.read_rig(DEMO / "rigs" / "nano_60.toml", catalog())
    found = api.dossier(rig, catalog(), halted=lambda: True)
    assert found.result is not None
    assert (found.front, found.bands, found.order, found.curves, found.falls) == (None,) * 5
    assert len(found.left_out) == 6


def test_without_a_bundle_there_is_a_dossier_all_the_same() -> None:
    rig = api.read_rig(DEMO / "rigs" / "nano_60.toml", catalog())
    found = api.dossier(replace(rig, limits=replace(rig.limits, noise_dba=1.0)), catalog())
    assert found.status == "infeasible"
    assert found.shopping == () and found.bands is None
    assert found.curves is not None and "best" not in {mark.name for mark in found.curves.marks}
    assert "No bundle meets all limits" in api.page(found)
