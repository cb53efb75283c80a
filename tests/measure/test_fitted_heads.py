"""Heads place by place: they add up to what the pump gives, and agree with the scalar path that brackets its own root."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from measuring_worlds import Truth, rig_of

from optimizer.answers.head_shares import head_shares
from optimizer.answers.question import stands_now
from optimizer.bands.installed import installed
from optimizer.bands.series import delivered_m3s
from optimizer.files.catalog_csv import read_catalog
from optimizer.files.rig_toml import read_rig
from optimizer.loop.operating import pump_head_m
from optimizer.measure.fitted_heads import JOINTS, fitted_heads, place_heads_m
from optimizer.measure.result import posterior_of
from optimizer.model.catalog import Catalog
from optimizer.model.fill import TimedFill
from optimizer.model.rig import Rig

DEMO = Path(__file__).parents[2] / "parts_demo"
NAMES = ("community_180", "rift_lake_450", "nano_60", "marine_75gal", "reading_corner_130")


@pytest.fixture(scope="module")
def rigs() -> dict[str, Rig]:
    """Some demo rigs in series."""
    shop = read_catalog(DEMO / "catalog")
    return {name: read_rig(DEMO / "rigs" / f"{name}.toml", shop) for name in NAMES}


@pytest.mark.parametrize("name", NAMES)
def test_without_measurements_they_are_those_of_the_scalar_path(name: str, rigs: dict[str, Rig]) -> None:
    """`answers/head_shares.py` adds up losses that `loop/operating.py` solved by bracketing; no code of the draws is in it."""
    rig = rigs[name]
    stands = stands_now(rig, Catalog(parts={}, products=()))
    known = {head.place: head.before_m for head in head_shares(rig, stands, stands)}
    found = fitted_heads(rig, posterior_of(rig, ()))
    for place, head in known.items():
        mine = [each.file_m for each in found if each.place == place or each.place.startswith(f"{place} tray ")]
        assert sum(mine) == pytest.approx(head, rel=1e-5, abs=1e-7)
    assert all(each.file_m == each.fitted_m for each in found)
    assert found[-1].place == JOINTS


@pytest.mark.parametrize("seed", range(12))
def test_with_any_factors_they_add_up_to_what_the_pump_gives(seed: int) -> None:
    """Energy: all heads together are the pump's head at the loop's own flow, its curve scaled by hand."""
    rig = rig_of(seed)
    truth = Truth.drawn(rig, np.random.default_rng(seed))
    loop = installed(rig)
    flow = float(delivered_m3s(loop, truth.factors)[0])
    pump = next(piece for piece in loop.pieces if piece.curve is not None)
    head = float(truth.factors.of(pump.head, pump.part)[0]) * pump.speed**2
    wide = float(truth.factors.of(pump.flow, pump.part)[0]) * pump.speed
    assert pump.curve is not None
    if pump.curve.shape:
        bent = min(max(float(truth.factors.of(pump.shape, pump.part)[0]) * pump.curve.shape, 1.0), 4.0)
        given = head * pump.curve.max_head_m * (1.0 - (flow / wide / pump.curve.max_flow_m3s) ** bent)
    else:
        given = head * pump_head_m(pump.curve, 1.0, flow / wide)
    assert sum(place_heads_m(rig, truth.factors).values()) == pytest.approx(given, rel=1e-6)


def test_two_hoses_of_one_part_are_two_places(rigs: dict[str, Rig]) -> None:
    """The suction and the return of the rift-lake tank are the same hose, whose factors they share but not their heads."""
    rig = rigs["rift_lake_450"]
    rig = replace(rig, positions=tuple(replace(p, length_m=3.6) if p.name == "return_hose" else p for p in rig.positions))
    heads = {head.place: head for head in fitted_heads(rig, posterior_of(rig, ()))}
    assert rig.positions[rig.index("hose")].installed == next(p for p in rig.positions if p.name == "return_hose").installed
    assert heads["return_hose"].file_m > 1.5 * heads["suction_hose"].file_m
    places = {place for piece in installed(rig).all_pieces for place in piece.places}
    assert {"suction_hose", "return_hose", "canister tray 3"} <= places


def test_a_slow_fill_moves_head_to_where_it_may_be_lost(rigs: dict[str, Rig]) -> None:
    """Half the expected flow: the file's heads stay, the fitted ones are at the lower flow, the shares add up to one."""
    rig = rigs["community_180"]
    found = fitted_heads(rig, posterior_of(rig, (TimedFill(volume_m3=0.003, seconds=(140.0, 139.5, 140.5)),)))
    before = fitted_heads(rig, posterior_of(rig, ()))
    assert [each.file_m for each in found] == [each.file_m for each in before]
    for shares in zip(*((each.file_share, each.fitted_share, each.clean_share) for each in found), strict=True):
        assert sum(shares) == pytest.approx(1.0)
    media = [each for each in found if " tray " in each.place]
    # by the file cakes and full pores take two thirds of the head already, so there is room for a quarter more
    assert sum(each.file_share for each in media) > 0.6
    assert sum(each.fitted_m for each in media) > 1.25 * sum(each.file_m for each in media)
    # what did not change loses less at less flow
    coupling = next(each for each in found if each.place == "in_coupling")
    assert coupling.fitted_m < coupling.file_m
