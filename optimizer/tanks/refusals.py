"""Why the pieces of a kit do not go into a tank's loop, and what would fit at the ends that refuse them.

A part of the kit is held against the ends that it would meet at each place where it could stand: those of what is installed
there, and those of what else in the kit could stand there. An end that meets none of them, and that no adapter of the kit
helps, refuses it.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from optimizer.answers.words import limit_words
from optimizer.loop.kinds import ends_of, may_stand, role_of, turned_ways
from optimizer.loop.resized import hose_of
from optimizer.model.catalog import Catalog
from optimizer.model.ends import End, Standard, mating, rule_against
from optimizer.model.limits import Limits
from optimizer.model.parts import Kind, Part, kind_of
from optimizer.model.rig import Position, Rig
from optimizer.model.said import Said
from optimizer.model.shop import Store
from optimizer.search.best import Seeker
from optimizer.search.choices import choices
from optimizer.search.layers import build
from optimizer.tanks.population import name_of

MOST_NAMED = 3
"""So many products that would fit are named for one port."""

FIRST = (Standard.NPT, Standard.SLIP_IN, Standard.SLIP_MM, Standard.GHT, Standard.RC, Standard.R, Standard.G, Standard.UNION)
"""Of several ends that refuse a part, the one of the first of these standards is told of: it is the hardest to get round."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Port:
    """An end of a tank's loop that refuses what a kit would put against it: something of a ``kind`` and ``role``. ``hose_m``
    is the inside diameter of the loop's hose (0: none)."""

    place: str
    end: End
    kind: str
    role: str
    hose_m: float = 0.0


def reasons(rig: Rig, kit: Catalog, limits: Limits) -> tuple[tuple[str, ...], tuple[Port, ...]]:
    """Why a kit does little for a tank, or nothing, in words, the hardest first, and the ports that refuse it."""
    parts = _parts(kit)
    met: dict[tuple[int, str, str], list[str]] = {}
    ports: dict[tuple[object, ...], Port] = {}
    for part in parts:
        found = [
            (position.name, port, why, by_rule)
            for place, position in enumerate(rig.positions)
            if not position.stays and may_stand(part, position)
            for port, why, by_rule in _refused(rig, place, part, parts)
        ]
        # where a rule of the trade says no, that two ends are merely different elsewhere says nothing more
        strict = [each for each in found if each[3]] or found
        for name, port, why, _ in strict:
            met.setdefault((_rank(port), part.id, why), []).append(name)
            ports.setdefault((port.end.face, port.kind, port.role), port)
    said: list[str] = [
        Said(f"{_called(kit, part_id)} at {_listed(dict.fromkeys(where))}: ", why)
        for (_, part_id, why), where in sorted(met.items())
    ]
    said += _by_limits(rig, kit, limits)
    said += () if said else _by_flow(rig, kit, limits)
    return tuple(dict.fromkeys(said)), tuple(sorted(ports.values(), key=lambda port: (_rank(port), port.place)))


def _listed(words: Iterable[str]) -> str:
    *most, last = words
    return f"{', '.join(most)} and {last}" if most else last


def _called(kit: Catalog, part_id: str) -> str:
    return f"{kit.parts[part_id].name} ({part_id})"


def _parts(kit: Catalog) -> list[Part]:
    ids = dict.fromkeys(line.part_id for product in kit.products for line in product.lines)
    return [kit.parts[part_id] for part_id in ids]


def _refused(rig: Rig, place: int, part: Part, parts: Sequence[Part]) -> Iterator[tuple[Port, str, bool]]:
    """The ends in front of and behind a place that a part cannot be joined to, whichever way round it stands."""
    turns = [ends_of(way) for way in turned_ways(part)]
    found = [list(_of_turn(rig, place, turn, part, parts)) for turn in turns]
    yield from min(found, key=lambda some: (len(some), [_rank(port) for port, *_ in some]))


def _rank(port: Port) -> int:
    return FIRST.index(port.end.standard) if port.end.standard in FIRST else len(FIRST)


def _of_turn(
    rig: Rig, place: int, turn: tuple[End | None, End | None], part: Part, parts: Sequence[Part]
) -> Iterator[tuple[Port, str, bool]]:
    """Each port with why it refuses, and whether a rule of the trade does."""
    position = rig.positions[place]
    for end, step in ((turn[0], -1), (turn[1], 1)):
        there = _neighbour(rig, place, step)
        if end is None or there is None:
            continue
        mine = _leaving(there.installed, step)
        others = [e for other in parts if not there.stays and may_stand(other, there) for e in ends_of(other) if e is not None]
        ends = [e for e in (mine, *others) if e is not None]
        if mine is None or any(_joined(end, e, parts) for e in ends):
            continue
        role = role_of(part) if position.kind == Kind.FITTING else ""
        hose = hose_of(rig)
        port = Port(place=there.name, end=mine, kind=position.kind, role=role, hose_m=0.0 if hose is None else hose.inside_m)
        rule = rule_against(mine, end, bores=False)
        if rule:
            yield port, Said(rule, " (it meets ", mine.name, " there)"), True
        else:
            yield port, Said(end.name, " meets ", mine.name, " there, which takes something else"), False


def _neighbour(rig: Rig, place: int, step: int) -> Position | None:
    """The next place in one direction at which the water meets something."""
    place += step
    while 0 <= place < len(rig.positions):
        if rig.positions[place].holds_something:
            return rig.positions[place]
        place += step
    return None


def _leaving(part: Part | None, step: int) -> End | None:
    """The end of a neighbour that faces the place: its outlet for the one before, its inlet for the one behind."""
    if part is None:
        return None
    inlet, outlet = ends_of(part)
    return outlet if step < 0 else inlet


def _joined(one: End, other: End, parts: Iterable[Part]) -> bool:
    """Whether two ends mate, or one adapter of the kit lies between them."""
    if mating(one, other) is not None:
        return True
    turns = (ends_of(way) for part in parts if role_of(part) == "adapter" for way in turned_ways(part))
    return any(near and far and mating(one, near) and mating(far, other) for near, far in turns)


def _by_limits(rig: Rig, kit: Catalog, limits: Limits) -> Iterator[str]:
    """Pieces that a limit of the tank, or their length, keeps out."""
    menu = choices(rig, kit, limits)
    inside = {line.part_id for product in kit.products for line in product.lines}
    for refused in menu.refusals:
        if refused.part_id in inside:
            yield Said(f"{_called(kit, refused.part_id)} at {refused.position}: ", refused.reason)


def _by_flow(rig: Rig, kit: Catalog, limits: Limits) -> Iterator[str]:
    """What else is in the way where every piece could be joined: a limit, or that it helps too little."""
    if Seeker(build(choices(rig, kit, limits))).most_flow().found is not None:
        yield "its pieces go in, but add too little over what cleaning alone gives"
        return
    for name in limits.binding:
        freed = limits.without(name)
        if Seeker(build(choices(rig, kit, freed))).most_flow().found is not None:
            yield Said("with its pieces the tank does not keep to ", limit_words(name, limits, rig))
            return
    yield "no use of its pieces meets the limits of the tank"


def would_fit(ports: Iterable[Port], store: Store) -> tuple[str, ...]:
    """For each port what mates with it, of the sort that the kit would put there: in stock, or else from the wholesaler."""
    lines = []
    for port in ports:
        what = port.role or port.kind
        wanted = Said(f"{'an' if what[0] in 'aeiou' else 'a'} {what} for the ", port.end.name, f" of {port.place}")
        stock = _that_mate(port, store.stocked)
        if stock:
            lines.append(Said(wanted, f": {_named(stock)}, in stock"))
            continue
        order = _that_mate(port, store.catalog)
        lines.append(Said(wanted, f": none in stock; to order: {_named(order)}" if order else ": none in the catalog either"))
    return tuple(dict.fromkeys(lines))


def _that_mate(port: Port, catalog: Catalog) -> list[str]:
    """Products with one part of a sort that mates with a port, by name and id, those for the size of hose that is there first."""
    found: list[tuple[float, str, str]] = []
    for product in catalog.products:
        part = catalog.parts[product.lines[0].part_id]
        alike = kind_of(part) == port.kind and (port.kind != Kind.FITTING or role_of(part) == port.role)
        in_shop = product.stock is None or product.stock > 0
        if alike and in_shop and len(product.lines) == 1 and any(e and mating(port.end, e) for e in ends_of(part)):
            tails = [abs(e.size_m - port.hose_m) for e in ends_of(part) if e is not None and e.standard is Standard.HOSE]
            found.append((round(min(tails, default=0.0), 6), product.id, name_of(product, catalog)))
    return [f"{name} ({product_id})" for _, product_id, name in sorted(found)]


def _named(ids: Sequence[str]) -> str:
    more = len(ids) - MOST_NAMED
    return ", ".join(ids[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")


def goes_in(rig: Rig, kit: Catalog, stocked: Catalog) -> bool:
    """Whether some part of a kit can be joined at some place of a loop, with all that is in stock to help."""
    helpers = _parts(stocked)
    for place, position in enumerate(rig.positions):
        for part in _parts(kit):
            if not position.stays and may_stand(part, position) and not any(_refused(rig, place, part, helpers)):
                return True
    return False
