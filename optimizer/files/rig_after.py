"""A rig file as the rig will be once a bundle is fitted: the tables of the file as it is, changed place by place.

What the keeper wrote stays as it was written, units and all. What changes is written by id; what a part of its own was described
by moves with it. Nothing that was timed on the old loop is kept.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from optimizer.answers.bundle_walk import closings
from optimizer.files.decimals import tree_has_commas
from optimizer.files.outlet_text import outlet_keys
from optimizer.files.part_kinds import PART_KINDS
from optimizer.files.spare_text import spare_table
from optimizer.files.toml_fields import MOST_BRANCHES, step_key
from optimizer.files.toml_tree import tree_text
from optimizer.model.catalog import Catalog
from optimizer.model.options import ADJUST, CLEAN, KEEP, REMOVE, Fill, FilledBranch, Option, OrientedAdapter
from optimizer.model.part_names import of_drawer
from optimizer.model.parts import Kind, Outlet, Part, kind_of
from optimizer.model.results import BundleParts, UsedSpare
from optimizer.model.rig import Position, Rig, Spare

__all__ = ["FILL_STUB", "after_text"]

Table = dict[str, object]

_DIRT = {"film": "film_m", "blocked": "blocked", "filled": "filled", "cake": "cake_m", "fouled": "fouled", "worn": "worn"}
"""Keys of a place and the figures of its state."""

_OF_THE_PLACE = frozenset(
    {"kind", "length", "bends", "bend_radius", "coil", "above_water", "below_water", "depth", "may_go", "stays"}
)
"""Keys that stay whatever stands at a place."""

_AMOUNT = frozenset({"kind", "count", "length", "volume", "dirty"})
_DRILLED = ("hole", "holes", "discharge", "pitch")
LEAST_REST_M, LEAST_REST_M3 = 0.1, 0.1e-3
"""What is left of a spare hose or medium and is less than this is not worth keeping."""

KEPT = "What was taken out lies in the drawer now, at hand for nothing (the last of the spares): take out below what is not kept."

FILL_STUB = """
# Time a bucket once it is all fitted, take the marks in front away, and ask again: then it is measured, not promised.
# [[fill]]
# date = "2026-03-08"
# volume = "10 l"
# seconds = [61.2, 60.8, 61.5]
"""


def after_text(tree: Table, rig: Rig, bundle: BundleParts, catalog: Catalog, about: Sequence[str] = ()) -> str:
    """Return the file of a rig with a bundle fitted. ``tree`` are the tables that the rig was read from, ``about`` the paragraphs
    at its head."""
    making = _Making(tree, rig, catalog, bool(tree_has_commas(tree)))
    new = {key: value for key, value in tree.items() if key not in ("loop", "joint", "spares", "fill", "symptoms")}
    new["loop"] = making.loop(bundle.options)
    lists = {"joint": making.joints(bundle), "spares": making.spares(bundle)}
    about = (*about, KEPT) if making.came_out(bundle.options) else about
    new |= {key: tables for key, tables in lists.items() if tables}
    text = tree_text(new, inline=("parting", "meeting"))
    lines = [line for paragraph in about for line in (*textwrap.wrap(paragraph, 120), "")][:-1]
    head = "".join(f"# {line}".rstrip() + "\n" for line in lines)
    return f"{head}\n{text}\n{FILL_STUB}".lstrip("\n")


def _branch_of(position: Position, way: FilledBranch) -> tuple[Position, ...]:
    """The places of the branch that is filled so."""
    return next(each for each in position.branches if each.name == way.name).positions


@dataclass(frozen=True, slots=True)
class _Making:
    """The tables of a file on their way to what they will be; ``commas``: its numbers have decimal commas."""

    tree: Table
    rig: Rig
    catalog: Catalog
    commas: bool

    def loop(self, options: Sequence[Option]) -> Table:
        """The loop with what becomes of each place."""
        raw = _table(self.tree["loop"])
        made = ((p.name, self._place(_table(raw[p.name]), p, o)) for p, o in zip(self.rig.positions, options, strict=True))
        return {name: table for name, table in made if table is not None}

    def _place(self, raw: Table, position: Position, option: Option) -> Table | None:
        """A place as it will be; None where it is left out."""
        if option.ways is not None:
            return self._branches(raw, position, option)
        part = option.part
        if part is None:
            # where a fitting may stand, one may be put in again
            gone = option.change == REMOVE or (option.change == KEEP and position.installed is None and "installed" not in raw)
            empty: Table = {"kind": raw["kind"], "installed": False}
            return (empty if position.kind == Kind.FITTING else None) if gone else raw
        if option.fills:
            return raw | {"trays": [self._tray(_tables(raw["trays"])[fill.tray], fill) for fill in option.fills]}
        if option.change in (KEEP, CLEAN, ADJUST):
            kept = {key: value for key, value in raw.items() if key not in _DIRT or getattr(option.state, _DIRT[key])}
            return self._adjusted(kept, position, option) if option.change == ADJUST else kept
        kept = {key: value for key, value in raw.items() if key in _OF_THE_PLACE}
        return self._raised({"kind": raw["kind"]} | self._named(part) | kept, position, option)

    def _adjusted(self, raw: Table, position: Position, option: Option) -> Table:
        """An outlet drilled or at another height; what was done to it cannot be done again."""
        done = next((n for n, each in enumerate(position.adjusts) if each.name == option.note), None)
        if done is None:  # a screw clamp round a hose
            return raw
        made, listed = self._raised(raw, position, option), _tables(raw.get("adjust", []))
        if listed:
            left = [each for n, each in enumerate(listed) if n != done]
            made["adjust"] = left
            if not left and option.height_m <= 0.0:
                del made["adjust"]
        drilled, installed = position.adjusts[done].outlet, position.installed
        if drilled is None or not isinstance(installed, Outlet):
            return made
        if "part" in made:
            del made["part"]
            made |= outlet_keys(installed, self._number)
        return made | {key: value for key, value in listed[done].items() if key in _DRILLED}

    def _raised(self, raw: Table, position: Position, option: Option) -> Table:
        if position.kind != Kind.OUTLET or option.height_m == position.height_m:
            return raw
        kept = {key: value for key, value in raw.items() if key not in ("above_water", "below_water")}
        key = "above_water" if option.height_m >= 0.0 else "below_water"
        return kept | {key: self._number(abs(option.height_m), "mm")}

    def _branches(self, raw: Table, position: Position, option: Option, step: int = 1) -> Table:
        """A place with branches; those of a further ``step`` stand in the same table."""
        ways = option.ways
        if ways is None:
            return raw
        tees = [step_key(word, n) for n in range(1, MOST_BRANCHES) for word in ("parting", "meeting")]
        made: Table = {key: value for key, value in raw.items() if key not in tees} if step == 1 else {}
        for word, tee in (("parting", ways.parting), ("meeting", ways.meeting)):
            if tee is not None and tee.part is not None:
                key = step_key(word, step)
                made[key] = raw[key] if tee.change == KEEP else self._named(tee.part)
        for way in ways.branches:
            if way.name in raw:
                made[way.name] = self._branch(_table(raw[way.name]), position, way)
            else:
                made |= self._branches(raw, _branch_of(position, way)[0], way.options[0], step + 1)
        return made

    def _branch(self, raw: Table, position: Position, way: FilledBranch) -> Table:
        """A branch that is there afterwards, whether it was there before or not."""
        made: Table = {}
        for place, option in zip(_branch_of(position, way), way.options, strict=True):
            key = place.name.removeprefix(f"{way.name}.")
            table = self._place(_table(raw[key]), place, option)
            if table is not None:
                made[key] = table
        return made

    def _named(self, part: Part) -> Table:
        """The keys by which a part that comes in is written: its id, or what describes it."""
        sold = self.catalog.parts.get(part.id)
        if sold is not None:
            return {"part": part.id, "turned": True} if sold != part and _turned(part, sold) else {"part": part.id}
        number = int(part.id.rpartition(":")[2]) - 1
        raw, known = self._spare(number), self.rig.spares[number].part
        own = {key: value for key, value in raw.items() if key not in _AMOUNT}
        return _other_way(own) if _turned(part, known) else own

    def _tray(self, raw: Table, fill: Fill) -> Table:
        if fill.change in (KEEP, CLEAN):
            return raw if fill.change == KEEP else {key: value for key, value in raw.items() if key not in ("filled", "cake")}
        return {"empty": True} if fill.medium is None else self._medium(fill.medium)

    def _medium(self, medium: Part) -> Table:
        return {"medium": medium.id} if medium.id in self.catalog.parts else self._named(medium)

    # -- joints and the drawer -------------------------------------------------------------------------------------

    def joints(self, bundle: BundleParts) -> list[Table]:
        """Every joint that holds adapters."""
        return [
            {"between": [each.before, each.after], "adapters": [self._adapter(turned) for turned in each.chain.adapters]}
            for each in closings(bundle.options, bundle.joints)
            if each.chain.adapters
        ]

    def _adapter(self, turned: OrientedAdapter) -> str | Table:
        part = turned.part
        way: Table = {"turned": True} if turned.flipped else {}
        if part.id in self.catalog.parts:
            return {"part": part.id, **way} if way else part.id
        if of_drawer(part.id):
            return self._named(part) | way
        return self._held(part) | way

    def _held(self, part: Part) -> Table:
        """The table of an adapter that is described where it stands now."""
        tables = _tables(self.tree.get("joint", []))
        for table, joint in ((t, j) for t in tables for j in self.rig.joints if t["between"] == [j.before, j.after]):
            listed = table["adapters"]
            for raw, turned in zip(listed if isinstance(listed, list) else [], joint.adapters, strict=True):
                if turned.part.id == part.id:
                    return {key: value for key, value in raw.items() if key != "turned"}
        raise ValueError(f"{part.id} is described nowhere")

    def spares(self, bundle: BundleParts) -> list[Table | str]:
        """What is left in the drawer and what came out, with the screw clamps that throttle a hose: they are at hand as long as
        they are there. What was said in words stays so as long as nothing else is beside it."""
        used = {each.number: each for each in _together(bundle.spares)}
        listed = enumerate(self.rig.spares, start=1)
        tables = [self._left(self._spare(n - 1), spare, used.get(n)) for n, spare in listed]
        new: list[Table] = [{"part": clamp, "count": 1} for clamp in bundle.clamps]
        new += self.came_out(bundle.options)
        raw = self.tree.get("spares", [])
        if not (used or new) and isinstance(raw, list):
            return raw
        return [*(each for each in tables if each is not None), *new]

    def _spare(self, number: int) -> Table:
        """The keys of a spare, be it said in words."""
        listed = self.tree["spares"]
        raw = listed[number] if isinstance(listed, list) else {}
        return spare_table(raw, self.catalog) if isinstance(raw, str) else _table(raw)

    def _left(self, raw: Table, spare: Spare, used: UsedSpare | None) -> Table | None:
        if used is None:
            return raw
        for key, there, least, unit in (
            ("length", spare.amount_m, LEAST_REST_M, "mm"),
            ("volume", spare.amount_m3, LEAST_REST_M3, "l"),
        ):
            if there:
                rest = there - used.amount
                return raw | {key: self._number(rest, unit)} if rest >= least else None
        count = spare.count - used.pieces
        return raw | {"count": count} if count > 0 else None

    def came_out(self, options: Sequence[Option]) -> list[Table]:
        """The parts that others took the place of, or that are left out, as spares."""
        raw = _table(self.tree["loop"])
        found: list[Table] = []
        for position, option in zip(self.rig.positions, options, strict=True):
            found += self._taken(_table(raw[position.name]), position, option)
        return found

    def _taken(self, raw: Table, position: Position, option: Option) -> Iterator[Table]:
        if option.ways is not None:
            for way in option.ways.branches:
                table = _table(raw[way.name]) if way.name in raw else {}
                for place, inner in zip(_branch_of(position, way), way.options, strict=True):
                    if not table:  # of three or more in one place: their tables stand side by side
                        yield from self._taken(raw, place, inner)
                        continue
                    yield from self._taken(_table(table[place.name.removeprefix(f"{way.name}.")]), place, inner)
            return
        part = position.installed
        if part is None or option.change in (KEEP, CLEAN, ADJUST) or option.fills:
            return
        own = {field.name for field in PART_KINDS[kind_of(part)].keys}
        described = {key: value for key, value in raw.items() if key in own or key == "name"}
        head: Table = {"part": raw["part"]} if "part" in raw else {"kind": raw["kind"], **described}
        state = position.state
        worn: Table = {"worn": raw["worn"]} if state.worn else {}
        dirty: Table = {"dirty": True} if state.film_m or state.blocked or state.fouled else {}
        yield head | ({"length": raw["length"]} if position.kind == Kind.HOSE else {}) | worn | dirty

    def _number(self, si: float, unit: str) -> str:
        """A quantity in mm or l as text; in a file with decimal commas with a comma."""
        text = f"{round(si * 1000.0, 6):.12g} {unit}"
        return text.replace(".", ",") if self.commas else text


def _table(raw: object) -> Table:
    if not isinstance(raw, dict):
        raise TypeError("a rig that was read has tables here")
    return raw


def _tables(raw: object) -> list[Table]:
    return [_table(each) for each in raw] if isinstance(raw, list) else []


def _turned(part: Part, known: Part) -> bool:
    """Whether a part stands the other way round than it is described."""
    return getattr(part, "inlet", None) != getattr(known, "inlet", None)


def _other_way(own: Mapping[str, object]) -> Table:
    """The keys of a part with its inlet and its outlet exchanged."""
    names = {"inlet": "outlet", "outlet": "inlet", "inlet_bore": "outlet_bore", "outlet_bore": "inlet_bore"}
    return {names.get(key, key): value for key, value in own.items()}


def _together(spares: Iterable[UsedSpare]) -> Iterator[UsedSpare]:
    """What is used of each spare in all."""
    sums: dict[int, tuple[int, float]] = {}
    for each in spares:
        pieces, amount = sums.get(each.number, (0, 0.0))
        sums[each.number] = pieces + each.pieces, amount + each.amount
    return (UsedSpare(number=number, pieces=pieces, amount=amount) for number, (pieces, amount) in sums.items())
