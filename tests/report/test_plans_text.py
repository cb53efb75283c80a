"""Buying orders and fronts as text: pieces of one kind are counted, and a line without a changed part says what is otherwise."""

import re
from dataclasses import replace
from pathlib import Path

import pytest

from optimizer import api
from optimizer.model.catalog import Catalog
from optimizer.report import alternatives_text, bands_text, front_text, order_text, text

DEMO = Path(__file__).resolve().parents[2] / "parts_demo"


@pytest.fixture(scope="module")
def shop() -> Catalog:
    return api.read_catalog(DEMO / "catalog")


def test_pieces_of_one_kind_are_counted(shop: Catalog) -> None:
    """Two clamps for the time in between are "2 x", not the same words twice."""
    told = api.buying_order(api.read_rig(DEMO / "rigs" / "nano_60.toml", shop), shop, most=True)
    step = replace(told.steps[-1], extras=("clamp for 34 mm hose", "tape for NPT", "clamp for 34 mm hose"), extras_price=250)
    text = " ".join(order_text.render(replace(told, steps=(*told.steps[:-1], step))).split())
    assert "for now only: 2 x clamp for 34 mm hose, tape for NPT (2.50 EUR, thrown away later)" in text
    assert f"Step {len(told.steps)} buys 2 x clamp for 34 mm hose, tape for NPT for 2.50 EUR only to bridge" in text


def test_a_line_with_the_same_parts_is_not_called_nothing(shop: Catalog) -> None:
    """It costs more than the line before, so something is otherwise: pieces in the joints, which are no change of a part."""
    front = api.front(api.read_rig(DEMO / "rigs" / "nano_60.toml", shop), shop)
    points = tuple(replace(point, changes=(), gained_m3s=1e-6) for point in front.points)
    lines = front_text.render(replace(front, points=points)).splitlines()
    rows = [line for line in lines if re.match(r" +\*? +\d+\.\d\d +\d+ ", line)]
    assert len(rows) == len(points)
    assert rows[0].endswith("nothing")
    assert all(row.endswith("other pieces in the joints") for row in rows[1:])


def test_every_proof_says_what_it_does_not_cover(shop: Catalog) -> None:
    """Ways to fill branches that were left out belong beside the word "proved", in each kind of answer."""
    rig = api.read_rig(DEMO / "rigs" / "nano_60.toml", shop)
    few = {"candidates": 2, "draws": 50}
    answers = (
        (front_text, api.front(rig, shop)),
        (alternatives_text, api.alternatives(rig, shop, 2)),
        (bands_text, api.bands(rig, shop, **few)),
    )
    for shown, told in answers:
        said = "12 ways to fill the branches, in which the jet in a tee rules"
        assert said in " ".join(shown.render(replace(told, proof=replace(told.proof, left_out=12))).split())
        assert said not in " ".join(shown.render(told).split())
    best = api.best(rig, shop)
    counted = replace(best, proof=replace(best.proof, left_out=1))
    assert "does better. One way to fill the branches" in " ".join(text.render(counted).split())
