"""A kind of part that somebody forgot is never taken for one without loss, dirt or bore."""

import ast
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import cast, get_args

import demo
import pytest
from small_worlds import hose, tail

from optimizer.dirt.after import Arrival, state_after
from optimizer.dirt.stages import _share
from optimizer.files.part_kinds import PART_KINDS
from optimizer.loop.kinds import (
    KINDS,
    Dirt,
    PartKind,
    curve_of,
    ends_of,
    is_like,
    kind,
    may_stand,
    narrowest_m,
    part_loss,
    pieces_of,
    role_of,
    speed_of,
    turned_ways,
    window_m3s,
)
from optimizer.loop.law_uses import part_uses
from optimizer.loop.resized import _resized
from optimizer.measure.fill_loop import CLEANED
from optimizer.model.ends import End
from optimizer.model.fill import CLEAN
from optimizer.model.limits import Limits
from optimizer.model.options import Option
from optimizer.model.parts import Hose, Kind, Part, kind_of
from optimizer.model.rig import Position
from optimizer.model.state import State
from optimizer.physics.water import Water
from optimizer.search.ageing import Ageing
from optimizer.tanks.substitutes import alike

PACKAGE = Path(__file__).parents[1] / "optimizer"


@dataclass(frozen=True, slots=True, kw_only=True)
class Skimmer:
    """A kind of part that does not exist, with all that one of the known kinds may have."""

    id: str = "S"
    name: str = "skimmer"
    inlet: End = tail(16, 12.0)
    outlet: End = tail(16, 12.0)
    passage_m: float = 0.01
    inside_m: float = 0.01
    quadratic: float = 1e5


SKIMMER = cast(Part, Skimmer())
PLACE, WATER = Position(name="place", kind="fitting", installed=None), Water(temperature_c=24.0, salinity_gkg=0.0)
OPTION = Option(position=0, place="intake", change="keep", part=SKIMMER)
ARRIVAL = Arrival(solids_kg_day=1e-3, debris_kg_day=1e-4, turnover_1h=3.0, stack_share=0.7)


def resized() -> object:
    """A place that holds it, whose position could not be made: it is slipped in."""
    place = replace(PLACE, installed=None)
    object.__setattr__(place, "installed", SKIMMER)
    return _resized(place, hose("H", 16), 0.019, 0.025)


ASKING: dict[str, Callable[[], object]] = {
    "kind": lambda: kind(SKIMMER),
    "kind_of": lambda: kind_of(SKIMMER),
    "Position": lambda: replace(PLACE, installed=SKIMMER),
    "ends_of": lambda: ends_of(SKIMMER),
    "part_loss": lambda: part_loss(SKIMMER, State(), PLACE, WATER),
    "pieces_of": lambda: pieces_of(SKIMMER, State(), PLACE, WATER),
    "narrowest_m": lambda: narrowest_m(SKIMMER),
    "window_m3s": lambda: window_m3s(SKIMMER, State(), Limits()),
    "role_of": lambda: role_of(SKIMMER),
    "may_stand": lambda: may_stand(SKIMMER, PLACE),
    "curve_of": lambda: curve_of(SKIMMER),
    "speed_of": lambda: speed_of(SKIMMER, State(), 50.0),
    "turned_ways": lambda: turned_ways(SKIMMER),
    "rehosed": resized,
    "on_day": lambda: Ageing.on_day(cast(Ageing, None), OPTION, 30.0),
    "state_after": lambda: state_after(SKIMMER, State(), 30.0, ARRIVAL),
    "dirt of a stage": lambda: _share(SKIMMER, State()),
    "validity": lambda: list(part_uses(SKIMMER, State(), PLACE, 1.0, WATER, 1e-4)),
    "alike": lambda: alike(SKIMMER, SKIMMER),
}
"""Everything that is asked of a part by its kind."""


@pytest.mark.parametrize("name", ASKING)
def test_an_unknown_kind_is_refused(name: str) -> None:
    with pytest.raises(TypeError, match="Skimmer is no known kind of part"):
        ASKING[name]()


def test_every_kind_is_in_both_tables() -> None:
    names = {value for name, value in vars(Kind).items() if name.isupper() and value != Kind.BRANCHES}
    assert set(KINDS) == set(get_args(Part))
    assert {each.name for each in KINDS.values()} == names == set(PART_KINDS)


@pytest.mark.parametrize("sort", KINDS, ids=lambda sort: sort.__name__)
def test_every_kind_has_its_columns(sort: type[Part]) -> None:
    """A column that a kind lacks could not be made; and what gets dirty is known to a word of the fills."""
    entry = KINDS[sort]
    assert not getattr(type(entry), "__abstractmethods__", None)
    assert entry.dirt in Dirt and isinstance(entry.in_loop, bool)
    assert (entry.dirt is Dirt.NONE) or entry.clean_word in CLEANED
    assert not entry.clean_word or (entry.name in CLEANED[entry.clean_word] and entry.name in CLEANED[CLEAN])
    assert PART_KINDS[entry.name].makes is sort
    assert entry.in_loop is (PART_KINDS[entry.name].along > 0)


def test_a_kind_without_a_column_cannot_be_made() -> None:
    class Half(PartKind[Skimmer]):  # type: ignore[type-var]
        name, dirt, clean_word = "half", Dirt.NONE, ""

    with pytest.raises(TypeError, match="abstract"):
        Half()  # type: ignore[abstract]


MOST_ELSEWHERE = 20
"""So often, outside the tables and the readers, may it be asked whether a part is of a certain kind."""


def asked_elsewhere() -> Iterator[tuple[str, int]]:
    """Places where `isinstance` asks for a kind of part."""
    kinds = {sort.__name__ for sort in KINDS}
    for path in sorted(PACKAGE.rglob("*.py")):
        if path.parent.name == "files" or path == PACKAGE / "loop" / "kinds.py":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            called = isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "isinstance"
            named = {each.id for each in ast.walk(node) if isinstance(each, ast.Name)} if called else set()
            if kinds & named:
                yield str(path.relative_to(PACKAGE)), getattr(node, "lineno", 0)


def test_what_hangs_on_the_kind_stands_in_the_table() -> None:
    found = list(asked_elsewhere())
    assert 0 < len(found) <= MOST_ELSEWHERE, found


def test_parts_are_alike_whatever_they_are_called_and_whichever_way_round() -> None:
    """Of parts that are alike one under the name of the other, turned or not, is the other; a hose has a rule of its own."""
    parts = [part for part in demo.shop().parts.values() if not isinstance(part, Hose)]
    turned = [replace(way, id=f"X-{way.id}", name="turned") for part in parts for way in turned_ways(part)]
    for part in parts:
        for other in (*parts, *turned):
            if type(part) is type(other):
                same = any(replace(way, id=part.id, name=part.name) == part for way in turned_ways(other))
                assert is_like(part, other) == same, (part, other)
