"""Heads at the legs of tees and wyes: Crane's published examples, continuity, symmetry."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.loop.tees import Tee, leg_heads
from optimizer.physics.water import GRAVITY_MS2

LEGS = {"run_from": ("a", "t", 0), "run_to": ("t", "b", 0), "branch": ("c", "t", 0)}
FOOT_M = 0.3048
GPM_M3S = 6.30901964e-5
EQUAL = Tee(**LEGS, run_bore_m=0.016, branch_bore_m=0.016)
NARROW = Tee(**LEGS, run_bore_m=0.016, branch_bore_m=0.009)
WYE = Tee(**LEGS, run_bore_m=0.016, branch_bore_m=0.016, angle_deg=45.0)
TEES = st.sampled_from([EQUAL, NARROW, WYE])


def velocity_head_m(flow_m3s: float, bore_m: float) -> float:
    """v2/2g, written out."""
    return (flow_m3s / (math.pi * bore_m**2 / 4.0)) ** 2 / (2.0 * GRAVITY_MS2)


def test_a_branch_joins_a_4_inch_tee() -> None:
    """Crane TP-410 (2009), example 7-35: 300 gpm straight, 100 gpm from a branch at 90 degrees, schedule 40 bore 4.026
    in.

    K -0.0422 (metric edition -0.04026) for the branch and 0.325 for the run; heads -0.0666 and 0.513 ft.
    """
    tee = Tee(**LEGS, run_bore_m=4.026 * 0.0254, branch_bore_m=4.026 * 0.0254)
    run, branch = leg_heads(tee, 300.0 * GPM_M3S, 100.0 * GPM_M3S)
    whole = velocity_head_m(400.0 * GPM_M3S, tee.run_bore_m)
    assert run / whole == pytest.approx(0.325, abs=1e-6)
    assert branch / whole == pytest.approx(-0.0422, abs=1e-4)
    assert run / FOOT_M == pytest.approx(0.513, abs=2e-3)
    assert branch / FOOT_M == pytest.approx(-0.0666, abs=5e-4)


def test_a_branch_leaves_a_6_inch_wye_of_45_degrees() -> None:
    """Crane TP-410 (2009), example 7-36: 400 gpm divide, 250 gpm leave by the run, 150 by a branch at 45 degrees,
    schedule 80 bore 5.761 in.

    Speed of the whole 650 gpm: 7.997 ft/s; K 0.4646 for the branch and -0.0683 for the run, heads 0.4618 and -0.0679
    ft.
    """
    bore = 5.761 * 0.0254
    tee = Tee(**LEGS, run_bore_m=bore, branch_bore_m=bore, angle_deg=45.0)
    whole, out = 650.0 * GPM_M3S, 250.0 * GPM_M3S
    run, branch = leg_heads(tee, -(whole - out), -out)
    head = velocity_head_m(whole, bore)
    assert math.sqrt(2.0 * GRAVITY_MS2 * head) / FOOT_M == pytest.approx(7.997, abs=5e-3)
    assert -branch / head == pytest.approx(0.4646, abs=1e-4)
    assert -run / head == pytest.approx(-0.0683, abs=1e-4)
    assert -branch / FOOT_M == pytest.approx(0.4618, abs=1e-3)
    assert -run / FOOT_M == pytest.approx(-0.0679, abs=3e-4)


@pytest.mark.parametrize(
    ("share", "joining_branch", "joining_run", "leaving_branch", "leaving_run"),
    [
        (0.25, -0.042188, 0.325000, 1.037852, -0.062500),
        (0.50, 0.412500, 0.525000, 1.155625, 0.000000),
        (0.75, 0.790625, 0.600000, 1.365977, 0.084375),
    ],
)
def test_an_equal_tee_has_the_losses_of_an_independent_library(
    share: float, joining_branch: float, joining_run: float, leaving_branch: float, leaving_run: float
) -> None:
    """`fluids` 1.3.1 (Crane TP-410, 2009 with errata): K on the whole flow, 90 degrees, three equal bores."""
    whole, flow = velocity_head_m(3e-4, 0.016), 3e-4
    run, branch = leg_heads(EQUAL, (1.0 - share) * flow, share * flow)
    assert (branch / whole, run / whole) == pytest.approx((joining_branch, joining_run), abs=1e-6)
    # the whole comes in by run_to
    run, branch = leg_heads(EQUAL, -(1.0 - share) * flow, -share * flow)
    assert (-branch / whole, -run / whole) == pytest.approx((leaving_branch, leaving_run), abs=1e-6)
    # the whole comes in by run_from, so that heads are counted from the end of the run
    run, branch = leg_heads(EQUAL, flow, -share * flow)
    assert ((run - branch) / whole, run / whole) == pytest.approx((leaving_branch, leaving_run), abs=1e-6)


@given(TEES, st.floats(0.0, 2.0 * math.pi))
def test_heads_change_without_a_jump_as_flows_turn(tee: Tee, angle: float) -> None:
    """All divisions of the flow lie on a circle of flow pairs; borders between them are where one leg is still."""
    size, turn = 3e-4, 1e-7
    scale = velocity_head_m(size, tee.run_bore_m)
    here = leg_heads(tee, size * math.cos(angle), size * math.sin(angle))
    near = leg_heads(tee, size * math.cos(angle + turn), size * math.sin(angle + turn))
    for one, other in zip(here, near, strict=True):
        assert abs(one - other) <= 2e3 * turn * scale


@pytest.mark.parametrize("tee", [EQUAL, NARROW, WYE])
@pytest.mark.parametrize("still", ["run_from", "run_to", "branch"])
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_heads_meet_where_a_leg_comes_to_rest(tee: Tee, still: str, sign: float) -> None:
    """Both sides of each of the six borders."""
    tiny, flow = 1e-12, sign * 3e-4
    run, branch = {"run_from": (0.0, flow), "run_to": (flow, -flow), "branch": (flow, 0.0)}[still]
    sides = []
    for nudge in (-tiny, tiny):
        moved = (run + nudge, branch) if still != "branch" else (run, branch + nudge)
        sides.append([float(head) for head in leg_heads(tee, *moved)])
    assert sides[0] == pytest.approx(sides[1], abs=1e-6 * velocity_head_m(flow, tee.run_bore_m))


@given(TEES, st.floats(-1e-3, 1e-3), st.floats(-1e-3, 1e-3), st.floats(0.1, 10.0))
def test_heads_grow_with_the_square_of_the_flows(tee: Tee, run: float, branch: float, times: float) -> None:
    """K depends on the division only."""
    once, more = leg_heads(tee, run, branch), leg_heads(tee, times * run, times * branch)
    assert [float(h) for h in more] == pytest.approx([times**2 * float(h) for h in once], rel=1e-9, abs=1e-15)


@given(st.floats(-1e-3, 1e-3), st.floats(-1e-3, 1e-3))
def test_a_tee_of_90_degrees_turned_round_is_the_same_tee(run_from: float, branch: float) -> None:
    """Swapping the straight ends swaps the names only: heads counted from the other end."""
    run, side = (float(head) for head in leg_heads(EQUAL, run_from, branch))
    turned_run, turned_side = (float(head) for head in leg_heads(EQUAL, -(run_from + branch), branch))
    assert turned_run == pytest.approx(-run, rel=1e-6, abs=1e-12)
    assert turned_side == pytest.approx(side - run, rel=1e-6, abs=1e-12)


@pytest.mark.parametrize(
    ("wrong", "reason"),
    [
        ({"branch": ("a", "t", 0)}, "three different edges"),
        ({"branch_bore_m": 0.02}, "none above that of its run"),
        ({"run_bore_m": math.nan}, "must have a bore"),
        ({"angle_deg": 20.0}, "30 to 90 degrees"),
    ],
)
def test_a_tee_that_is_none_is_refused(wrong: dict[str, object], reason: str) -> None:
    """When it is built."""
    values: dict[str, object] = {**LEGS, "run_bore_m": 0.016, "branch_bore_m": 0.012, **wrong}
    with pytest.raises(ValueError, match=reason):
        Tee(**values)
