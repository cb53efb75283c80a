"""Limits: what they bound by default, and that each can be taken out by name."""

import math
from dataclasses import fields

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.model.limits import FREE, Limits

NAMES = [field.name for field in fields(Limits)]
SET = Limits(
    budget=5000,
    noise_dba=38.0,
    power_w=30.0,
    flow_min_m3s=1e-4,
    flow_max_m3s=3e-4,
    opening_m=1e-3,
    guard_speed_ms=0.1,
    jet_speed_ms=0.5,
    bio_area_m2=1.0,
    room_m=(0.4, 0.3, 0.45),
    plugs=("type F",),
)


def test_by_default_only_what_protects_bacteria_pump_and_devices_binds() -> None:
    """No number is asked of the keeper; the rules every adviser keeps are on (common practice, no published source)."""
    assert Limits().binding == (
        "mechanical_stage",
        "mature_media",
        "inlet_head_m",
        "canister_rating",
        "device_windows",
    )


def test_every_limit_has_a_value_that_bounds_nothing() -> None:
    """A new limit without an entry could not be taken out when a conflict is looked for."""
    assert list(FREE) == NAMES


@given(st.lists(st.sampled_from(NAMES), unique=True))
def test_taking_out_limits_leaves_exactly_the_others(names: list[str]) -> None:
    """Once out, a limit does not bind; the rest are untouched."""
    less = SET.without(*names)
    assert less.binding == tuple(name for name in NAMES if name not in names)
    assert all(getattr(less, name) == getattr(SET, name) for name in NAMES if name not in names)
    assert less.without(*names) == less


def test_an_unknown_limit_cannot_be_taken_out() -> None:
    """A slip of the pen must not pass in silence."""
    with pytest.raises(KeyError):
        SET.without("noise")


@pytest.mark.parametrize(
    ("wrong", "reason"),
    [
        ({"flow_min_m3s": 2e-4, "flow_max_m3s": 1e-4}, "the least flow must not be above the greatest flow"),
        ({"flow_min_m3s": -1e-4}, "the least flow"),
        ({"flow_min_m3s": math.nan}, "the least flow"),
        ({"budget": -1}, "a budget cannot be negative"),
    ],
)
def test_limits_that_cannot_hold_are_refused(wrong: dict[str, float], reason: str) -> None:
    """Both flows may be equal; a budget of nothing is a budget."""
    with pytest.raises(ValueError, match=reason):
        Limits(**wrong)  # type: ignore[arg-type]
    assert Limits(flow_min_m3s=1e-4, flow_max_m3s=1e-4, budget=0).budget == 0


@pytest.mark.parametrize(
    "name", ["noise_dba", "power_w", "opening_m", "guard_speed_ms", "jet_speed_ms", "bio_area_m2", "inlet_head_m"]
)
def test_a_limit_that_is_no_number_is_refused(name: str) -> None:
    """It would bound nothing, or everything, in silence."""
    with pytest.raises(ValueError, match=f"{name} must be a number"):
        Limits().with_values({name: math.nan})
