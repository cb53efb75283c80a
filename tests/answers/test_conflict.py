"""Why there is no answer: a search that is stopped is not taken for one that found nothing, and no limit is passed over."""

from dataclasses import replace
from pathlib import Path

import pytest

from optimizer import api
from optimizer.answers.conflict import conflict
from optimizer.answers.question import Question
from optimizer.model.rig import Rig
from optimizer.search.best import Outcome, Seeker

DEMO = Path(__file__).resolve().parents[2] / "parts_demo"
SHOP = api.read_catalog(DEMO / "catalog")
NANO = api.read_rig(DEMO / "rigs" / "nano_60.toml", SHOP)


def quiet(rig: Rig) -> Question:
    """A question without an answer: no pump on offer is as quiet as this."""
    limits = replace(rig.limits, noise_dba=10.0)
    return Question(rig=rig, catalog=SHOP, limits=limits)


def test_the_limit_that_cannot_hold_is_named() -> None:
    told = conflict(quiet(NANO))
    assert told.limits == ("noise at most 10.0 dB(A)",)
    assert told.remedies


@pytest.mark.parametrize("last", [1, 2, 4])
def test_ctrl_c_ends_the_explaining(monkeypatch: pytest.MonkeyPatch, last: int) -> None:
    """The search that Ctrl-C ends is the last one: it is not taken as "impossible", and no other is begun."""
    asked: list[int] = []
    whole = Seeker.least_price

    def stopped(seeker: Seeker, target_m3s: float) -> Outcome:
        asked.append(len(asked) + 1)
        outcome = whole(seeker, target_m3s)
        return replace(outcome, found=None, status="stopped") if asked[-1] == last else outcome

    monkeypatch.setattr(Seeker, "least_price", stopped)
    told = conflict(quiet(NANO))
    assert (told.limits, told.remedies) == ((), ())
    assert told.closest == "stopped before it was looked for"
    assert asked[-1] == last


def test_a_canister_rated_for_less_than_its_depth_is_said_to_be() -> None:
    """With the outlet shut the canister stands the water above it: 0.8 m here, by the rig file (hydrostatics)."""
    body = NANO.index("canister")
    rated = replace(NANO.positions[body].installed, rating_m=0.7)
    places = tuple(replace(place, installed=rated) if n == body else place for n, place in enumerate(NANO.positions))
    result = api.best(replace(NANO, positions=places), SHOP)
    assert result.status == "infeasible"
    assert "the pressure rating of the canister" in result.now.breaks
    assert "the pressure rating of the canister" not in api.best(NANO, SHOP).now.breaks
