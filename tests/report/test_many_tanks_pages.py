"""Kits of a shop and households as pages: their numbers, read back from them, and hostile names that stay letters."""

import json
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import fields, is_dataclass, replace
from html.parser import HTMLParser
from itertools import cycle
from typing import Any, Literal, get_args, get_origin, get_type_hints

import pytest
from report_cases import PAYLOADS

from optimizer import api
from optimizer.model.kits import KitPlan
from optimizer.model.saved import answer_of
from optimizer.model.shared import SharedResult

NAMES = ("Corner shop", "long tank", "wide tail", "clamp", "NPT meets G")


def _plan(names: Sequence[str] = NAMES) -> KitPlan:
    """A plan with one of everything; every text is one of the ``names``, every number 2 but for the weights."""
    turn = cycle(names)
    plan: KitPlan = _one_of(KitPlan, turn)
    kit = replace(plan.kits[0], weight=30.0, own_weight=28.0, gain_m3s=30.0 * 8.9e-5, price=4045, shelf_price=6000, cost=2400)
    return replace(plan, kits=(kit,), by="gain", complete=True, weight=30.0, total_weight=36.0)


def _shared(names: Sequence[str] = NAMES) -> SharedResult:
    """A household with one of everything; the tank in the order of work is the one that is changed."""
    told: SharedResult = _one_of(SharedResult, cycle(names))
    tank = replace(told.tanks[0], name="long tank", joints=tuple(replace(each, as_is=False) for each in told.tanks[0].joints))
    return replace(told, tanks=(tank,), steps=(replace(told.steps[0], tank="long tank"),), outcome="proved")


def _one_of(kind: Any, names: Iterator[str]) -> Any:
    """A value of a type, by its fields: whatever a plan of kits comes to hold, it is filled here."""
    if is_dataclass(kind):
        hints = get_type_hints(kind)
        # texts without quantities have no pieces of their own
        filled = (field.name for field in fields(kind) if field.name != "said")
        return kind(**{name: _one_of(hints[name], names) for name in filled})
    if get_origin(kind) is tuple:
        kinds = get_args(kind)
        return tuple(_one_of(each, names) for each in (kinds[:1] if kinds[-1] is ... else kinds))
    if get_origin(kind) is Literal:
        return get_args(kind)[0]
    if get_args(kind):
        return _one_of(get_args(kind)[0], names)
    return next(names) if kind is str else kind(2)


def _saved(plan: KitPlan | SharedResult) -> dict[str, Any]:
    tree: dict[str, Any] = json.loads(json.dumps(plan.to_dict(), allow_nan=False))
    return tree


def _wrong(tree: object) -> list[str]:
    found: list[str] = []
    assert (answer_of(tree, lambda place, _: found.append(place)) is None) == bool(found)
    return found


@pytest.mark.parametrize("make", [_plan, _shared])
def test_what_was_saved_comes_back_as_it_was(make: Callable[[], KitPlan | SharedResult]) -> None:
    assert answer_of(_saved(make()), lambda *_: None) == make()


def test_what_cannot_be_divided_by_is_refused() -> None:
    tree = _saved(_plan())
    tree["kits"][0]["weight"], tree["total_weight"], tree["shelf_prices"] = 0.0, -1.0, []
    assert sorted(_wrong(tree)) == ["kits[0].weight", "shelf_prices", "total_weight"]


def test_a_household_is_told_tank_by_tank() -> None:
    told = _shared()
    text = api.page(told)
    table = text[text.index('id="tank-table"') :]
    found = [float(value) for value in re.findall(r'<data value="([^"]+)">', table[: table.index("</table>")])]
    tank = told.tanks[0]
    assert found == [tank.now_m3s, tank.flow_m3s, tank.target_m3s, tank.share, tank.noise_dba, tank.power_w]
    assert tank.joints[0].pieces[0] in text and tank.changes[0].text in text


def test_numbers_of_the_table_are_those_of_the_plan() -> None:
    text = api.page(_plan())
    table = text[text.index('id="kit-table"') :]
    found = [float(value) for value in re.findall(r'<data value="([^"]+)">', table[: table.index("</table>")])]
    assert found == [4045, 6000, 3600, 30.0, 28.0, pytest.approx(8.9e-5)]


class _Tags(HTMLParser):
    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))


@pytest.mark.parametrize("turn", range(len(PAYLOADS)))
@pytest.mark.parametrize("make", [_plan, _shared])
def test_hostile_names_make_no_tags(make: Callable[..., KitPlan | SharedResult], turn: int) -> None:
    spoiled = PAYLOADS[turn:] + PAYLOADS[:turn]
    tags, plain = _Tags(api.page(make(spoiled))).found, _Tags(api.page(make())).found
    assert [tag for tag, _ in tags] == [tag for tag, _ in plain]
    assert [sorted(attributes) for _, attributes in tags] == [sorted(attributes) for _, attributes in plain]
