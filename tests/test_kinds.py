"""A kind of part that somebody forgot is never taken for one without loss, dirt or bore."""

import ast
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import pytest
from small_worlds import hose, tail, world

from optimizer.answers.validity import _of_option
from optimizer.bands.candidates import Candidate, part_pieces
from optimizer.dirt.after import Arrival, state_after
from optimizer.dirt.course import _state
from optimizer.dirt.laws import USUAL
from optimizer.dirt.setup import Placed
from optimizer.dirt.stages import _share
from optimizer.files.part_kinds import PART_KINDS
from optimizer.loop.terms import part_loss
from optimizer.measure.arranged import _open_end
from optimizer.model import parts
from optimizer.model.ends import End
from optimizer.model.parts import Part, kind_of, pass_over
from optimizer.model.resized import _part
from optimizer.model.rig import Position
from optimizer.model.state import State
from optimizer.physics.water import Water
from optimizer.search.ageing import Ageing
from optimizer.search.elements import narrowest_m
from optimizer.search.options import Option, ends_of
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


def built_into_a_rig() -> object:
    """A position that has it installed."""
    return replace(PLACE, installed=SKIMMER)


def aged() -> object:
    """What it loses on a later day."""
    return Ageing.on_day(cast(Ageing, None), OPTION, 30.0)


def open_end() -> object:
    """A loop that ends with it; a position that holds it could not be made."""
    return _open_end(cast(Position, SimpleNamespace(name="place", installed=SKIMMER)), cast(Candidate, None))


CHOICES: dict[str, Callable[[], object]] = {
    "kind_of": lambda: kind_of(SKIMMER),
    "Position": built_into_a_rig,
    "ends_of": lambda: ends_of(SKIMMER),
    "part_loss": lambda: part_loss(SKIMMER, State(), PLACE, WATER),
    "narrowest_m": lambda: narrowest_m(SKIMMER),
    "part_pieces": lambda: list(part_pieces(WATER, OPTION, SKIMMER)),
    "_part": lambda: _part(SKIMMER, hose("H", 16), 0.019),
    "on_day": aged,
    "state_after": lambda: state_after(SKIMMER, State(), 30.0, ARRIVAL),
    "_state": lambda: _state(Placed(position=PLACE, part=SKIMMER, state=State(), joint=0.0), 30.0, 0.0, USUAL),
    "_share": lambda: _share(SKIMMER, State()),
    "_of_option": lambda: list(_of_option(world(0, 60)[0], OPTION)),
    "alike": lambda: alike(SKIMMER, SKIMMER),
    "_open_end": open_end,
}
"""All choices by kind that end in something else than the question of one kind."""


@pytest.mark.parametrize("name", CHOICES)
def test_an_unknown_kind_is_refused(name: str) -> None:
    with pytest.raises(TypeError, match="Skimmer is no known kind of part"):
        CHOICES[name]()


def test_a_known_kind_that_was_forgotten_is_refused() -> None:
    known = hose("H", 16)
    pass_over(known, "fitting", "hose")
    with pytest.raises(TypeError, match="nothing is known here of a hose"):
        pass_over(known, "fitting")


KINDS = {each.__name__: kind for each, kind in parts._KINDS.items()}
ENDS = {"pass_over", "kind_of", "ends_of", "part_loss", "part_pieces"}
"""What refuses an unknown kind."""

ONE_AT_A_TIME = {
    "row": "picks out the pump and the canister",
    "_breaks_of_part": "limits that belong to one kind each",
    "_most": "limits that belong to one kind each",
    "_window": "limits that belong to one kind each",
    "_margins": "limits that belong to one kind each",
    "broken_by_itself": "limits that belong to one kind each",
    "_has": "how the media and the screw clamp of a bundle are named",
    "_check_film": "a film is stated of hoses and fittings only",
    "_serves": "is asked of parts of the position's kind only",
    "line_serves": "a joint is closed by clamps and seals and nothing else",
    "_why": "clamps and seals are bought beside everything else",
}
"""Functions that ask about two kinds without choosing between all."""


def choosing() -> Iterator[tuple[str, str, bool]]:
    """Functions that ask of one thing whether it is a part of this kind or that: file, name, and whether they end well."""
    for path in sorted(PACKAGE.rglob("*.py")):
        for function in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(function, ast.FunctionDef):
                continue
            calls = [node for node in ast.walk(function) if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)]
            asked = defaultdict[str, set[str]](set)
            for call in calls:
                if cast(ast.Name, call.func).id == "isinstance":
                    named = {node.id for node in ast.walk(call.args[1]) if isinstance(node, ast.Name)}
                    asked[ast.unparse(call.args[0])] |= named & set(KINDS)
            if any(len(kinds) > 1 for kinds in asked.values()):
                yield path.name, function.name, any(cast(ast.Name, call.func).id in ENDS for call in calls)


def test_every_choice_by_kind_ends_by_refusing_what_it_does_not_know() -> None:
    found = list(choosing())
    assert not [(file, name) for file, name, ends in found if not ends and name not in ONE_AT_A_TIME]
    assert {name for _, name, ends in found if not ends} == set(ONE_AT_A_TIME), "none is excused that need not be"
    assert {"part_pieces", "part_loss", "narrowest_m", "state_after"} <= {name for _, name, _ in found}


def test_every_kind_has_its_columns_and_its_builder() -> None:
    assert {kind: each.makes.__name__ for kind, each in PART_KINDS.items()} == {kind: name for name, kind in KINDS.items()}
    assert all(each.fields for each in PART_KINDS.values())
    assert set(KINDS) == {each.__name__ for each in Part.__args__}
