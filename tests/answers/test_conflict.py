"""Why there is no answer: a search that is stopped is not taken for one that found nothing, and no limit is passed over."""

import re
from dataclasses import replace
from itertools import combinations
from pathlib import Path
from unittest import mock

import pytest
from how_many import some_of
from small_worlds import world

from optimizer import api
from optimizer.answers import conflict as conflicts
from optimizer.answers.conflict import conflict
from optimizer.answers.question import Question, seek
from optimizer.model.parts import Pump
from optimizer.model.rig import Rig
from optimizer.report.text import render
from optimizer.search.best import Outcome, Seeker
from optimizer.search.choices import choices
from optimizer.search.layers import build

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
    whole, whether = Seeker.least_price, Seeker.can_deliver

    def stopped(seeker: Seeker, target_m3s: float) -> Outcome:
        asked.append(len(asked) + 1)
        outcome = whole(seeker, target_m3s)
        return replace(outcome, found=None, status="stopped") if asked[-1] == last else outcome

    def broken_off(seeker: Seeker, target_m3s: float) -> bool:
        asked.append(len(asked) + 1)
        if asked[-1] == last:
            raise KeyboardInterrupt
        return whether(seeker, target_m3s)

    monkeypatch.setattr(Seeker, "least_price", stopped)
    monkeypatch.setattr(Seeker, "can_deliver", broken_off)
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
    assert "canister_rating" in [each.limit for each in result.now.breaks]
    assert "canister_rating" not in [each.limit for each in api.best(NANO, SHOP).now.breaks]


def test_the_explanation_is_the_smallest_of_all_sets_and_takes_few_searches(monkeypatch: pytest.MonkeyPatch) -> None:
    """Naively: every set of limits is asked about, from the smallest on; no smaller one clashes. It takes far fewer searches."""
    question = Question(rig=NANO, catalog=SHOP, limits=replace(NANO.limits, budget=900, flow_min_m3s=250 / 3.6e6, noise_dba=33.0))
    asked: list[float] = []
    whole, whether = Seeker.least_price, Seeker.can_deliver

    def counted(seeker: Seeker, target_m3s: float) -> Outcome:
        asked.append(target_m3s)
        return whole(seeker, target_m3s)

    def counted_too(seeker: Seeker, target_m3s: float) -> bool:
        asked.append(target_m3s)
        return whether(seeker, target_m3s)

    monkeypatch.setattr(Seeker, "least_price", counted)
    monkeypatch.setattr(Seeker, "can_deliver", counted_too)
    told = conflict(question)
    few = len(asked)
    binding = question.limits.binding
    sizes = (size for size in range(len(binding)) if any(clashes(question, names) for names in combinations(binding, size)))
    assert len(told.limits) == next(sizes)
    assert few < 25
    assert told.unsure == ""


def clashes(question: Question, names: tuple[str, ...]) -> bool:
    """Whether some of the limits cannot hold together, by a search of its own."""
    limits = question.limits.without(*(name for name in question.limits.binding if name not in names))
    outcome = seek(question, limits=limits).most_flow()
    assert outcome.status == "proved"
    return outcome.found is None


def test_a_bounded_search_for_the_smallest_set_says_what_it_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(conflicts, "MOST_ASKED", 0)
    told = conflict(Question(rig=NANO, catalog=SHOP, limits=replace(NANO.limits, budget=900, flow_min_m3s=250 / 3.6e6)))
    assert told.limits
    assert "not all were tried" in told.unsure


TIGHT = Question(rig=NANO, catalog=SHOP, limits=replace(NANO.limits, budget=900, flow_min_m3s=280 / 3.6e6))
"""A question that several limits clash in."""


@pytest.fixture(scope="module")
def whole_work() -> int:
    """What an explanation of it takes that is not cut short."""
    spent: list[int] = []
    spend = conflicts._Asker._spend

    def counted(asker: conflicts._Asker, work: int, only_look: bool = False) -> None:
        spend(asker, work, only_look)
        spent.append(asker.work)

    with mock.patch.object(conflicts._Asker, "_spend", counted):
        assert conflict(TIGHT).unsure == ""
    return spent[-1]


@pytest.mark.parametrize("share", [0.0, 0.3, 0.6, 0.9])
def test_an_explanation_that_is_cut_short_says_so_and_names_only_what_is_sure(
    monkeypatch: pytest.MonkeyPatch, share: float, whole_work: int
) -> None:
    """However early it is cut: without any one of the limits named there is an answer, by searches of their own."""
    question = TIGHT
    monkeypatch.setattr(conflicts, "MOST_WORK", int(share * whole_work))
    told = conflict(question)
    assert told.unsure or conflicts.MORE_MIGHT in told.remedies
    named = [name for name in question.limits.binding if conflicts._words(question, name) in told.limits]
    assert len(named) == len(told.limits)
    if told.unsure == conflicts.CUT_SHORT:
        assert all(not clashes(question, tuple(n for n in question.limits.binding if n != name)) for name in named)
    if share == 0.0:
        assert (told.limits, told.closest) == ((), conflicts.NOT_LOOKED)


@pytest.mark.parametrize("seed", some_of(range(700, 730), 2))
def test_whether_a_flow_can_be_had_is_what_the_cheapest_way_to_it_says(seed: int) -> None:
    """The quick question of conflicts and the whole search agree, near what the world can just deliver and above it."""
    rig, catalog = world(seed, most=300)
    seeker = Seeker(build(choices(rig, catalog, rig.limits)))
    found = seeker.most_flow().found
    top = 3e-4 if found is None else found.flow_m3s
    for share in (0.5, 0.999, 1.001, 1.3):
        assert seeker.can_deliver(share * top) == (seeker.least_price(share * top).found is not None), share


def test_a_pump_whose_depth_nobody_gave_is_named_with_the_depth_that_would_do(tmp_path: Path) -> None:
    """Hydrostatics: every centimetre deeper is a centimetre more at the inlet, so at the depth named the bundle named holds."""
    text = re.sub(r'depth = "0.6 m".*\n', "", (DEMO / "rigs" / "nano_60.toml").read_text(encoding="utf-8"))
    file = tmp_path / "nano.toml"
    file.write_text(text, encoding="utf-8")
    silent = api.read_rig(file, SHOP)
    assert "inlet_head_m" not in silent.limits.binding
    assert api.best(silent, SHOP).status == "proved"
    file.write_text(text.replace("[limits]", '[limits]\ninlet_pressure = "10 cm"'), encoding="utf-8")
    asking = api.read_rig(file, SHOP)
    told = api.best(asking, SHOP).conflict
    assert told is not None
    said = next(remedy for remedy in told.remedies if remedy.startswith("the depth of pump"))
    depth = float(re.findall(r"from (\d+\.\d+) m on", said)[0])
    flow = float(re.findall(r"(\d+) l/h", said)[0])
    places = tuple(replace(p, depth_m=depth + 0.005, depth_known=True) if p.kind == "pump" else p for p in asking.positions)
    deep = api.best(replace(asking, positions=places), SHOP).best
    assert deep is not None
    assert deep.flow_m3s * 3.6e6 >= flow - 1.0


def test_an_outlet_above_every_pump_is_said_to_be_so() -> None:
    """Hydrostatics: at no flow a pump lifts water to its greatest head; the strongest on offer is read from the catalog."""
    heads = [part.curve.max_head_m for part in SHOP.parts.values() if isinstance(part, Pump)]
    last = replace(NANO.positions[-1], height_m=max(heads) + 1.0, adjusts=())
    result = api.best(replace(NANO, positions=(*NANO.positions[:-1], last)), SHOP)
    assert result.status == "infeasible"
    assert result.conflict is not None
    assert result.conflict.limits[0] == f"an outlet {max(heads) + 1.0:.2f} m above the water line"
    assert "no water comes out there" in result.conflict.closest
    said = render(result, "us", full=True).replace("\n ", " ").replace("   ", " ")
    assert f"an outlet {(max(heads) + 1.0) / 0.3048:.3g} ft above the water line" in said


def test_money_in_an_explanation_has_its_currency_and_units_follow() -> None:
    told = api.best(replace(NANO, limits=TIGHT.limits), SHOP)
    assert told.conflict is not None
    assert "a budget of 9.00 EUR" in told.conflict.limits
    said = render(told, "us", full=True)
    assert "gph delivered" in said
    assert "l/h" not in said.split("What the figures rest on")[0]


def test_what_branches_cost_at_least_is_found_without_a_budget() -> None:
    """Young rice fish on one intake: no bundle of 939 does, and one of 940 does, says the search within these budgets; so that is
    what the explanation must name, and what the cheapest bundle without a budget must cost."""
    rice = api.read_rig(DEMO / "rigs" / "ricefish_160.toml", SHOP)
    for budget, found in ((939, False), (940, True)):
        done = seek(Question(rig=rice, catalog=SHOP, limits=replace(rice.limits, budget=budget))).most_flow()
        assert (done.status, done.found is not None) == ("proved", found)
    told = api.best(rice, SHOP, budget=0).conflict
    assert told is not None
    assert any("with 9.40 EUR to spend it becomes possible" in remedy for remedy in told.remedies)
    free = replace(rice, limits=replace(rice.limits, budget=None))
    cheapest = api.cheapest(free, SHOP, flow_m3s=rice.limits.flow_min_m3s)
    assert cheapest.status == "proved" and cheapest.best is not None
    assert cheapest.best.price == 940
