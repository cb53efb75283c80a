"""Who is named as dirty, narrow or weak, and what a clean gives back."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from measuring_worlds import Truth

from optimizer.api import operating_point
from optimizer.bands.candidates import Unknown
from optimizer.bands.priors import PRIORS
from optimizer.files.catalog_csv import read_catalog
from optimizer.files.rig_toml import read_rig
from optimizer.measure.fill_loop import cleaned, loop_during_fill
from optimizer.measure.result import posterior_of
from optimizer.measure.suspects import CLEANINGS, LIKELY, WORSE, cleaning_gains, suspects
from optimizer.model.fill import TimedFill
from optimizer.model.rig import Rig
from optimizer.model.state import State

DEMO = Path(__file__).parents[2] / "parts_demo"


@pytest.fixture(scope="module")
def community() -> Rig:
    """A demo rig that is dirty everywhere."""
    return read_rig(DEMO / "rigs" / "community_180.toml", read_catalog(DEMO / "catalog"))


def test_every_prior_has_a_bad_side() -> None:
    assert set(WORSE) == set(PRIORS)


def with_factor(rig: Rig, prior: str, log_factor: float) -> Truth:
    """A loop in which the factors of one prior, and no others, are off."""
    truth = Truth.drawn(rig, np.random.default_rng(0))
    normals = np.zeros((1, len(truth.unknowns)))
    for column, unknown in enumerate(truth.unknowns):
        if unknown.prior == prior and unknown.part:
            given = PRIORS[prior]
            normals[0, column] = log_factor / (given.sigma * np.sqrt(1.0 - given.common))
    return replace(truth, normals=normals)


def fills_of(truth: Truth, states: list[tuple[str, ...]]) -> tuple[TimedFill, ...]:
    """Fills without any error of their own."""
    flows = [truth.flow_m3s(loop_during_fill(truth.rig, state, 0.0)) for state in states]
    return tuple(
        TimedFill(volume_m3=0.01, seconds=(0.01 / flow,) * 3, state=state) for flow, state in zip(flows, states, strict=True)
    )


@pytest.mark.parametrize(
    ("name", "priors", "times", "place"),
    [
        ("community_180", ("filled media", "cake on media"), 3.0, "canister tray 3"),
        ("shrimp_and_fry_240", ("blocked guard",), 3.0, "intake"),
    ],
)
def test_what_is_worse_than_written_is_named_first(name: str, priors: tuple[str, ...], times: float, place: str) -> None:
    """One sort of part loses several times what the file lets expect. With it taken off the loop is as written, so it is named
    first, and no other sort is named that costs half as much. No fill tells a bed from the cake on it."""
    rig = read_rig(DEMO / "rigs" / f"{name}.toml", read_catalog(DEMO / "catalog"))
    truth = with_factor(rig, priors[0], float(np.log(times)))
    fills = fills_of(truth, [(), ("media out",), ("guard off",), ("outlet off",)])
    found = suspects(rig, posterior_of(rig, fills))
    assert (found[0].kind, found[0].places) == ("dirty", (place,))
    assert found[0].unknown in priors
    assert found[0].probability > 0.9
    first = 1.0 - found[0].flow_ratio
    assert all(1.0 - one.flow_ratio < 0.5 * first for one in found if one.unknown not in priors)


def test_as_written_nobody_is_suspected(community: Rig) -> None:
    """Fills that show what the file lets expect: no factor moves, so none is likelier bad than good."""
    truth = with_factor(community, "media", 0.0)
    assert suspects(community, posterior_of(community, fills_of(truth, [()]))) == ()
    assert LIKELY > 0.5


def test_the_cost_of_a_factor_is_that_of_a_loop_with_it(community: Rig) -> None:
    """Each ratio again, by a loop in which one factor alone has its most probable value."""
    posterior = posterior_of(community, (TimedFill(volume_m3=0.005, seconds=(158.0, 159.0, 157.0)),))
    found = suspects(community, posterior)
    assert found
    for one in found:
        truth = Truth.drawn(community, np.random.default_rng(0))
        given = PRIORS[one.unknown]
        normals = np.zeros((1, len(truth.unknowns)))
        column = truth.unknowns.index(Unknown(prior=one.unknown, part=one.part))
        normals[0, column] = given.normal(np.log(one.factor.p50)) / np.sqrt(1.0 - given.common)
        bad, still = replace(truth, normals=normals), replace(truth, normals=np.zeros_like(normals))
        assert bad.log_factor(one.unknown, one.part) == pytest.approx(np.log(one.factor.p50))
        ratio = bad.flow_m3s(loop_during_fill(community)) / still.flow_m3s(loop_during_fill(community))
        assert one.flow_ratio == pytest.approx(ratio, rel=1e-9)


def test_without_fills_a_clean_gives_what_the_scalar_path_says(community: Rig) -> None:
    """Every line against `operating_point`, which brackets its root: the cleaned rig over the rig as it is."""
    now = operating_point(community).flow_m3s
    gains = cleaning_gains(community, posterior_of(community, ()))
    assert [gain.what for gain in gains] == [what for what, _ in CLEANINGS]
    for gain, (_, state) in zip(gains, CLEANINGS, strict=True):
        then = operating_point(cleaned(community, (state,))).flow_m3s
        assert gain.gain.p50 == pytest.approx(then / now, rel=1e-5)
        assert gain.delivered.p50_m3s == pytest.approx(then, rel=1e-5)
        assert gain.gain.p10 <= gain.gain.p50 <= gain.gain.p90


def test_one_kind_of_dirt_is_one_line(community: Rig) -> None:
    pump = {p.name: State(fouled=0.05) if p.kind == "pump" else State() for p in community.positions}
    rig = replace(
        community,
        positions=tuple(replace(p, state=pump[p.name]) for p in community.positions),
        trays=tuple(replace(tray, state=State()) for tray in community.trays),
    )
    assert [gain.what for gain in cleaning_gains(rig, posterior_of(rig, ()))] == ["pump"]
    clean = cleaned(rig, ("clean",))
    assert cleaning_gains(clean, posterior_of(clean, ())) == ()
