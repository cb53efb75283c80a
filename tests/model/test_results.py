"""Results are frozen and leave as plain JSON: no infinite numbers, nothing lost, names with units."""

import dataclasses
import json
import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.model.answer import Asked, plain
from optimizer.model.results import (
    BillLine,
    Certificate,
    Change,
    Conflict,
    HeadShare,
    JointLine,
    Proof,
    Result,
    Row,
    Spot,
)

NOW = Row(
    name="now",
    flow_m3s=1.9e-4,
    own_m3s=1.9e-4,
    held_by="",
    turnover_per_hour=1.7,
    price=0,
    noise_dba=-math.inf,
    power_w=20.0,
    bio_area_m2=0.5,
    inlet_head_m=math.inf,
    breaks=("the guard's openings are too wide",),
)
PROOF = Proof(
    status="proved",
    bound_m3s=2.4e-4,
    combinations=10**21,
    rounds=9,
    nodes=5,
    paths=12,
    certificates=(Certificate(route="by hand", finding="the same", agrees=True),),
)
RESULT = Result(
    rig="tank",
    catalog="shop",
    currency="EUR",
    question=Asked(),
    now=NOW,
    spend_nothing=None,
    best=replace(NOW, name="best", flow_m3s=2.4e-4, price=4200),
    changes=(Change(position="outlet", change="swap", part_id="B1", text="swap bar"),),
    bill=(BillLine(product_id="B1", name="bar", count=1, price=4200, owned=False, places=("outlet",)),),
    joints=(JointLine(between=("return", "outlet"), pieces=(), tight_by=("clamp",), as_is=False),),
    heads=(HeadShare(place="outlet", before_m=1.0, before_share=0.5, after_m=0.4, after_share=0.3),),
    tightest=Spot(place="return", bore_m=0.012, speed_ms=2.0),
    tightest_before=None,
    cautions=("leak watch",),
    basis=("computed",),
    warnings=(),
    proof=PROOF,
)


def test_a_result_survives_json_unchanged_but_for_tuples() -> None:
    """What is written is standard JSON (no NaN, no Infinity) and reads back to the same mapping."""
    body = RESULT.to_dict()
    text = json.dumps(body, allow_nan=False)
    assert json.loads(text) == body
    assert body["schema"] == Result.schema()
    assert body["status"] == "proved"
    assert body["now"]["inlet_head_m"] is None  # type: ignore[index]
    assert body["best"]["price"] == 4200  # type: ignore[index]


def test_every_field_of_a_result_is_in_its_json() -> None:
    """A field that is added to the result cannot be forgotten; the bundle is handed on within the program only."""
    names = {field.name for field in dataclasses.fields(Result)} - {"bundle"}
    assert set(RESULT.to_dict()) == names | {"schema", "status"}


@pytest.mark.parametrize(
    ("has_best", "proof", "status"),
    [(True, "proved", "proved"), (True, "stopped", "stopped"), (False, "proved", "infeasible"), (False, "stopped", "stopped")],
)
def test_nothing_found_is_only_called_infeasible_when_that_is_proved(has_best: bool, proof: str, status: str) -> None:
    """A search that was stopped does not know."""
    conflict = None if has_best else Conflict(limits=("noise",), closest="none", remedies=())
    result = replace(RESULT, best=RESULT.best if has_best else None, proof=replace(PROOF, status=proof), conflict=conflict)
    assert result.status == status
    assert json.loads(json.dumps(result.to_dict(), allow_nan=False))["status"] == status


VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner, max_size=3) | st.tuples(inner),
    max_leaves=8,
)


@given(VALUES)
def test_whatever_is_made_plain_is_standard_json_and_stays_as_it_is(value: object) -> None:
    """Plain values are JSON, and making them plain again changes nothing."""
    once = plain(value)
    assert json.loads(json.dumps(once, allow_nan=False)) == once
    assert plain(once) == once


@pytest.mark.parametrize("thing", [RESULT, NOW, PROOF, RESULT.changes[0], RESULT.bill[0], RESULT.joints[0]])
def test_results_cannot_be_changed(thing: object) -> None:
    """An answer stays what it was."""
    with pytest.raises(dataclasses.FrozenInstanceError):
        setattr(thing, dataclasses.fields(thing)[0].name, None)  # type: ignore[arg-type]
