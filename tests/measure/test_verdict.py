"""Upgrade or cleaning: probabilities that come true as often as they say, on rigs whose factors are hidden."""

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import pytest
from how_many import some_of
from measuring_worlds import Bucket, Truth, rig_of
from small_worlds import bar, guard

from optimizer.measure.fill_loop import FillLoop, fill_loop_flows, loop_during_fill
from optimizer.measure.observations import median_factors
from optimizer.measure.verdict import Fills, loops_between, verdict
from optimizer.measure.work import as_clean_as, without_what_is_gone, work_between
from optimizer.model.fill import TimedFill
from optimizer.model.measuring import Verdict
from optimizer.model.parts import Guard, Outlet
from optimizer.model.rig import Rig
from optimizer.model.state import State

RIGS = some_of(range(150), 3)


def upgraded(rig: Rig, rng: np.random.Generator) -> Rig:
    """The rig with one or two new parts, better ones or not, in the places of the guard and the outlet."""
    positions = list(rig.positions)
    first, last = positions[0].installed, positions[-1].installed
    assert isinstance(first, Guard) and isinstance(last, Outlet)
    kind = rng.integers(3)
    if kind != 1:
        new = guard("new-guard", 16, first.outlet.bore_m * 1e3 * rng.uniform(0.9, 1.1), rng.uniform(10, 60))
        positions[0] = replace(
            positions[0], installed=replace(new, outlet=replace(first.outlet, bore_m=new.outlet.bore_m)), state=State()
        )
    if kind != 0:
        hole = last.hole_m * 1e3 * rng.uniform(0.95, 1.4)
        positions[-1] = replace(positions[-1], installed=bar("new-bar", last.inlet, last.holes, hole))
    return replace(rig, positions=tuple(positions))


@dataclass(frozen=True)
class Told:
    """A verdict, and the true flows of the loop before, the old parts as clean as after, and the loop after."""

    verdict: Verdict
    flows_m3s: tuple[float, float, float]

    @property
    def gains_m3s(self) -> tuple[float, float]:
        """What parts and cleaning truly brought."""
        first, middle, last = self.flows_m3s
        return last - middle, middle - first


def told(seed: int) -> Told:
    """A verdict on a random rig with a random upgrade, washed or not before the second fills."""
    rng, old = np.random.default_rng(seed), rig_of(seed)
    new = upgraded(old, rng)
    truth = Truth.drawn(old, rng, [new])
    bucket, washed = Bucket.drawn(rng), bool(rng.integers(2))
    before = truth.timed(rng, [((), 0.0)], bucket=bucket)
    after = truth.timed(rng, [(("clean",) if washed else (), 0.0)], rig=new, bucket=bucket)
    one, other = Fills.of(old, before), Fills.of(new, after)
    first, middle, _, last = (truth.flow_m3s(loop) for loop in loops_between(one, other))
    return Told(verdict(one, other), (first, middle, last))


@lru_cache(maxsize=1)
def many() -> list[Told]:
    return [told(seed) for seed in RIGS]


@pytest.mark.parametrize("which", ["worked", "probability"])
def test_probabilities_come_true_as_often_as_they_say(which: str) -> None:
    """The sum of (outcome - p) over 150 rigs is within three standard errors sqrt(sum p (1 - p)) of nothing, in all and in each
    half; and the forecasts are worth something: their Brier score is far below that of the plain frequency."""
    forecasts = np.array([getattr(one.verdict, which) for one in many()])
    gains = np.array([one.gains_m3s for one in many()])
    more = (gains[:, 0] > 0.0) & ((gains[:, 0] > gains[:, 1]) | (which == "worked"))
    came = more.astype(float)
    for chosen in (forecasts >= 0.0, forecasts >= 0.5, forecasts < 0.5):
        p, outcome = forecasts[chosen], came[chosen]
        error = math.sqrt(float((p * (1.0 - p)).sum()) + 1.0)
        assert abs(float((outcome - p).sum())) < 3.0 * error
    assert float(((came - forecasts) ** 2).mean()) < 0.5 * came.mean() * (1.0 - came.mean())


def test_flows_and_gains_lie_in_their_bands() -> None:
    """The loop that was never measured, too: 80 % bands hold the truth in 70 to 90 % of the rigs (three standard errors of 150).
    Gains that are nothing by construction do not count."""
    for name in ("before", "cleaned", "after", "from_parts_m3s", "from_cleaning_m3s"):
        held = []
        for one in many():
            parts, cleaning = one.gains_m3s
            truth = dict(zip(("before", "cleaned", "after"), one.flows_m3s, strict=True))
            truth |= {"from_parts_m3s": parts, "from_cleaning_m3s": cleaning}
            band = getattr(one.verdict, name)
            if band.p10_m3s < band.p90_m3s:
                held.append(band.p10_m3s <= truth[name] <= band.p90_m3s)
        assert len(held) > len(RIGS) / 3
        assert abs(np.mean(held) - 0.8) < 3.0 * math.sqrt(0.16 / len(held)), name


def dirty_and_clean(seed: int, flows: tuple[float, float], state: tuple[str, ...], change: bool) -> Verdict:
    """A verdict on a rig that read the first flow as it was and the second after."""
    old = rig_of(seed)
    new = old
    if change:
        last = old.positions[-1].installed
        assert isinstance(last, Outlet)
        wider = bar("new-bar", last.inlet, last.holes, last.hole_m * 1.3e3)
        new = replace(old, positions=(*old.positions[:-1], replace(old.positions[-1], installed=wider)))
    fills = [TimedFill(volume_m3=0.01, seconds=tuple(0.01 / flow + d for d in (0.0, 0.4, -0.4))) for flow in flows]
    return verdict(Fills.of(old, fills[:1]), Fills.of(new, [replace(fills[1], state=state)]))


def test_a_clean_without_new_parts_is_no_upgrade() -> None:
    """The same parts, cleaned: they cannot have brought anything, whatever the fills say."""
    found = dirty_and_clean(1, (9.4e-5, 1.3e-4), ("clean",), change=False)
    assert (found.worked, found.probability, found.matched) == (0.0, 0.0, False)
    assert found.advice == "It was not the upgrade, for no part was bought, swapped or adjusted: it was the cleaning."
    assert found.from_parts_m3s.p10_m3s == found.from_parts_m3s.p90_m3s == 0.0


def test_new_parts_in_the_same_state() -> None:
    """Matched: nothing can be owed to cleaning, and a gain of 15 % with fills of 1 % is the parts'."""
    found = dirty_and_clean(1, (9.4e-5, 1.08e-4), (), change=True)
    assert found.matched and found.worked > 0.99 and found.worked == found.probability
    assert found.from_cleaning_m3s.p10_m3s == found.from_cleaning_m3s.p90_m3s == 0.0
    assert found.advice == "It was the upgrade."


def test_a_dirty_before_flatters_the_upgrade() -> None:
    """A guard nine tenths shut before, clean after: most of the gain is the cleaning's, and the words say so."""
    found = dirty_and_clean(1, (9.4e-5, 1.45e-4), ("clean",), change=True)
    assert not found.matched
    assert found.from_cleaning_m3s.p50_m3s > found.from_parts_m3s.p50_m3s > 0.0
    assert found.probability < 0.3 < found.worked
    assert found.advice == "Mostly the cleaning, but the parts did bring something."


def test_a_matched_loss_is_not_an_upgrade() -> None:
    found = dirty_and_clean(1, (9.4e-5, 8.4e-5), (), change=True)
    assert found.matched and found.worked < 0.2


def test_the_old_parts_as_clean_as_the_new() -> None:
    """Dirt comes from the rig after, place by place, under whatever name; wear stays."""
    old = rig_of(1)
    worn = replace(
        old, positions=tuple(replace(p, state=replace(p.state, worn=0.05)) if p.kind == "pump" else p for p in old.positions)
    )
    new = replace(old, positions=tuple(replace(p, state=State()) for p in old.positions))
    like = as_clean_as(worn, new)
    assert [p.state for p in like.positions] == [State(worn=0.05) if p.kind == "pump" else State() for p in old.positions]
    renamed = replace(new, positions=tuple(replace(p, name=f"{p.name} 2") for p in new.positions))
    assert as_clean_as(worn, renamed).positions == like.positions


# -- what was left out ---------------------------------------------------------------------------------------------


def emptied(rig: Rig, tray: int, shorter: bool) -> Rig:
    """The rig without the medium of a tray: the tray empty, or (as a keeper would strike out a line) not there."""
    if not shorter:
        return replace(rig, trays=tuple(replace(each, medium=None) if n == tray else each for n, each in enumerate(rig.trays)))
    body = rig.index("canister")
    smaller = replace(rig.positions[body], installed=replace(rig.canister, trays=rig.canister.trays - 1))
    positions = (*rig.positions[:body], smaller, *rig.positions[body + 1 :])
    return replace(rig, positions=positions, trays=tuple(each for n, each in enumerate(rig.trays) if n != tray))


def clogged(rig: Rig, tray: int) -> Rig:
    """The rig with a medium seven tenths full of dirt."""
    return replace(rig, trays=tuple(replace(t, state=State(filled=0.7)) if n == tray else t for n, t in enumerate(rig.trays)))


@pytest.mark.parametrize("shorter", [False, True])
def test_a_clogged_medium_thrown_out_is_cleaning_first(shorter: bool) -> None:
    """Nothing was bought, so nothing is put down to parts. The loops in between, by hand: the medium washed, then none there."""
    old = clogged(rig_of(1), 0)
    new = emptied(old, 0, shorter)
    first, washed, without, last = loops_between(Fills(rig=old, fills=()), Fills(rig=new, fills=()))
    clean = replace(old, trays=(replace(old.trays[0], state=State()), *old.trays[1:]))
    assert [first, washed, without] == [loop_during_fill(each) for each in (old, clean, emptied(old, 0, shorter=False))]
    assert without.candidate.pieces == last.candidate.pieces
    work = work_between(old, new)
    assert (work.cleaned, work.left_out, work.parts) == (("tray 1",), ("tray 1",), ())

    flows = [series_flow(loop) for loop in (first, last)]
    fills = [TimedFill(volume_m3=0.01, seconds=tuple(0.01 / flow + d for d in (0.0, 0.4, -0.4))) for flow in flows]
    found = verdict(Fills.of(old, fills[:1]), Fills.of(new, fills[1:]))
    assert (found.worked, found.probability) == (0.0, 0.0)
    assert found.from_parts_m3s.p10_m3s == found.from_parts_m3s.p90_m3s == 0.0
    assert found.from_cleaning_m3s.p50_m3s > found.from_leaving_out_m3s.p50_m3s > 0.0
    assert found.advice.startswith(
        "It was not the upgrade, for no part was bought, swapped or adjusted: it was mostly the cleaning"
    )


def series_flow(loop: FillLoop) -> float:
    """Flow with every factor at its median."""
    return float(fill_loop_flows(loop, median_factors(loop.candidate.unknowns))[0])


def test_the_three_gains_add_up_to_the_whole() -> None:
    """For every random rig, to rounding; where the parts are the same they have none of it."""
    for one in many():
        found = one.verdict
        gains = (found.from_cleaning_m3s, found.from_leaving_out_m3s, found.from_parts_m3s)
        whole = found.after.p50_m3s - found.before.p50_m3s
        assert sum(gain.p50_m3s for gain in gains) == pytest.approx(whole, abs=1e-12)
        assert all(gain.p10_m3s <= gain.p50_m3s <= gain.p90_m3s for gain in gains)


def test_a_place_that_is_gone_and_one_that_is_renamed() -> None:
    """Gone: left out. The guard under another name is the same place with another part; that a part is new is told once."""
    old = rig_of(1)
    fitting = next(n for n, p in enumerate(old.positions) if p.kind == "fitting" and p.installed is not None)
    gone = replace(old, positions=tuple(p for n, p in enumerate(old.positions) if n != fitting))
    assert work_between(old, gone).left_out == (old.positions[fitting].name,)
    assert without_what_is_gone(old, gone).positions == gone.positions
    assert work_between(gone, old).parts == (f"{old.positions[fitting].name} (new)",)
    other = replace(old.positions[0], name="strainer", installed=guard("other", 16, 11.0, 40.0))
    assert work_between(old, replace(old, positions=(other, *old.positions[1:]))).parts == ("strainer",)
    assert work_between(old, old).parts == work_between(old, old).cleaned == work_between(old, old).left_out == ()


def test_the_state_is_what_all_fills_share() -> None:
    fill = TimedFill(volume_m3=0.01, seconds=(60.0,), state=("clean", "guard off"))
    rig = rig_of(1)
    assert Fills.of(rig, [fill, replace(fill, state=("clean", "pump clean"))]).state == ("clean",)
    assert Fills.of(rig, [fill, replace(fill, state=())]).state == ()
    with pytest.raises(ValueError, match="a fill before and a fill after"):
        verdict(Fills.of(rig, [fill]), Fills.of(rig, []))


def test_the_same_input_gives_the_same_verdict() -> None:
    assert told(3) == told(3)
