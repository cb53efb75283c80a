"""Which parts of a catalog go with which others, by the joints that a search makes and by nothing else."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

import networkx as nx

from optimizer.answers.shut_ends import listed
from optimizer.answers.stock_rows import Rows
from optimizer.loop.kinds import every_end, kind, parts_of, role_of
from optimizer.model.catalog import Catalog, Line, Product
from optimizer.model.ends import Closure, End, Gender, Standard, counterparts, mating
from optimizer.model.items import Item, closure_item
from optimizer.model.parts import FITTING_ROLES, Clamp, Hose, Part, Seal
from optimizer.model.said import Said, millimetres
from optimizer.model.stock import Finding, Weight
from optimizer.search.joints import JointBook, joint_book
from optimizer.search.pricing import Shop

ALL_CLOSE: tuple[Part, ...] = (
    Clamp(id="any clamp", name="any", low_m=1e-9, high_m=10.0),
    *(Seal(id=f"any {closure}", name="any", closure=closure) for closure in ("washer", "tape", "cement")),
)
"""With these in the shop every joint can be closed, so that what is asked is whether the ends go together."""

DEAREST = 10**12


@dataclass(slots=True)
class Fits:
    """The ends of a catalog without their bores, who has them, and what goes together.

    ``owners`` are the ids that have an end, in the order of the catalog; adapters have ends, but nothing that stands in a loop.
    """

    catalog: Catalog
    owners: dict[End, tuple[str, ...]] = field(init=False)
    reached: dict[End, frozenset[str]] = field(init=False)
    """For each end all parts but adapters that a chain of at most three adapters joins to it."""

    def __post_init__(self) -> None:
        found: dict[End, dict[str, None]] = {}
        for part in self.catalog.parts.values():
            for end in part_ends(part):
                found.setdefault(end, {})[part.id] = None
        self.owners = {end: tuple(ids) for end, ids in found.items()}
        book = _book(self.catalog, self.owners)
        standing = {end: frozenset(filter(self.stands, ids)) for end, ids in self.owners.items()}
        self.reached = {end: frozenset(self._reached(book, end, standing)) for end in self.owners}

    def stands(self, part_id: str) -> bool:
        """Whether a part is more than a way from one end to another."""
        return role_of(self.catalog.parts[part_id]) != "adapter"

    def _reached(self, book: JointBook, end: End, standing: Mapping[End, frozenset[str]]) -> Iterator[str]:
        for other, ids in standing.items():
            if ids and book.closes(book.number(end), book.number(other)):
                yield from ids

    def loose(self, part: Part) -> list[End]:
        """The ends of a part that nothing else in the catalog can be joined to."""
        return [end for end in part_ends(part) if not self.reached[end] - {part.id}]

    def closures(self) -> dict[tuple[Item, ...], tuple[str, ...]]:
        """What the joints of these parts are closed with, each with the parts that have one of the ends. Of several any will do:
        an end that nothing in the catalog goes on meets something of the keeper's, and nobody knows which counterpart that is."""
        needed: dict[tuple[Item, ...], dict[str, None]] = {}
        for end, ids in self.owners.items():
            for items in {(item,) for item in _closing(end, self.owners)} or {tuple(_closing(end, counterparts(end)))} - {()}:
                needed.setdefault(items, {}).update(dict.fromkeys(ids))
        return {items: tuple(ids) for items, ids in sorted(needed.items())}

    def hoses(self, outside_m: float) -> tuple[str, ...]:
        """The parts with the end of a hose of this outside diameter."""
        ends = (end for end in self.owners if end.standard is Standard.HOSE and end.gender is Gender.FEMALE)
        return tuple(one for end in ends if round(end.outside_m, 6) == outside_m for one in self.owners[end])

    def islands(self) -> list[tuple[Standard, ...]]:
        """Families of ends that no fitting leads out of, the one with hoses left out; none where all hang together.

        Families hang together where they mate, or where a fitting or a tee has both.
        """
        graph: nx.Graph[Standard] = nx.Graph()
        ends = [end for end in self.owners if end.standard not in (Standard.UNION, Standard.OPEN)]
        graph.add_nodes_from(end.standard for end in ends)
        for end in ends:
            for other in counterparts(end):
                if other.standard in graph:
                    graph.add_edge(end.standard, other.standard)
        for part in self.catalog.parts.values():
            if role_of(part) in FITTING_ROLES or not kind(part).in_loop:
                some = [end.standard for end in part_ends(part) if end.standard in graph]
                nx.add_path(graph, some)
        groups = [tuple(sorted(group)) for group in nx.connected_components(graph)]
        main = next((group for group in groups if Standard.HOSE in group), max(groups, key=len, default=()))
        return sorted(group for group in groups if group != main)


def part_ends(part: Part) -> tuple[End, ...]:
    """The different ends of a part without their bores; of what stands aside only those of a tee."""
    bare = (replace(end, bore_m=0.0) for end in every_end(part) if end.standard is not Standard.OPEN)
    return tuple(dict.fromkeys(bare))


def _book(catalog: Catalog, ends: Mapping[End, object]) -> JointBook:
    """The joints of everything in a catalog, sold out or not, closed by anything."""
    parts = {**catalog.parts, **{part.id: part for part in ALL_CLOSE}}
    adapters = [part.id for part in catalog.parts.values() if role_of(part) == "adapter"]
    free = (Product(id=one, price=0, lines=(Line(part_id=one),)) for one in (*adapters, *(part.id for part in ALL_CLOSE)))
    return joint_book(Shop(parts=parts, products=tuple(free)), (end.face for end in ends), DEAREST)


def _closing(end: End, others: Iterable[End]) -> Iterator[Item]:
    """What closes an end with those of some others that it goes with, where that must be bought."""
    items = (closure_item(pair) for other in others if (pair := mating(end, other)) is not None)
    return (item for item in items if item is not None)


def joint_findings(rows: Rows) -> Iterator[Finding]:
    """Joints that cannot be closed, families of ends without a change-over, parts and ends that go on nothing, clamps and seals
    that close nothing."""
    fits = Fits(rows.catalog)
    for look in (_unclosed, _islands, _loose, _idle):
        yield from look(rows, fits)


def _unclosed(rows: Rows, fits: Fits) -> Iterator[Finding]:
    """Joints that nothing in the catalog makes tight, or nothing on the shelf."""
    seals: dict[tuple[str, bool], dict[Item, tuple[str, ...]]] = {}
    for items, ids in fits.closures().items():
        listed_ = any(rows.shop.alone(item) is not None for item in items)
        if listed_ and any(rows.stocked.alone(item) is not None for item in items):
            continue
        sort, _, size_m = items[0].key
        if sort == Closure.CLAMP:
            yield _unclamped(rows, fits.hoses(size_m), size_m, listed_)
        else:
            names = " or ".join(dict.fromkeys(item.key[1] for item in items))
            seals.setdefault((f"{sort} for {names}", listed_), {})[items[0]] = ids
    for (what, listed_), joints in seals.items():
        sizes = listed(_female(item).name for item in joints)
        ids = tuple(one for some in joints.values() for one in some)
        sort, standard, _ = next(iter(joints)).key
        cure = f"List it in seals.csv: closure {sort}, standard {standard}, and its size or none."
        yield _missing(rows, sort, ids, (Said(f"{what} closes a joint at ", sizes), cure), listed_)


def _unclamped(rows: Rows, ids: tuple[str, ...], size_m: float, listed_: bool) -> Finding:
    what = Said("clamp closes on this hose of ", millimetres(size_m), " outside")
    cure = Said("List a clamp in clamps.csv whose low_mm and high_mm hold ", millimetres(size_m), ".")
    if not size_m:
        what = Said("clamp closes on its hose end, whose outside no column states")
        cure = Said("Write the tail that it goes on as its end, or leave it out.")
    return _missing(rows, "clamp", ids, (what, cure), listed_)


def _missing(rows: Rows, sort: str, ids: tuple[str, ...], words: tuple[str, str], listed_: bool) -> Finding:
    """That something closes no joint since it is not listed, or is sold out; ``words`` are what it is and the cure."""
    if listed_:
        return rows.found(Weight.BLOCKS, f"{sort} sold out", ids, Said("no ", words[0], ": all are sold out."), "Order it.")
    return rows.found(Weight.BLOCKS, f"no {sort}", ids, Said("no ", words[0], "."), words[1])


def _female(item: Item) -> End:
    """The end that a seal is named after."""
    return End(standard=Standard(item.key[1]), size_m=item.key[2], gender=Gender.FEMALE, bore_m=0.0)


def _islands(rows: Rows, fits: Fits) -> Iterator[Finding]:
    """Families of ends that nothing leads out of."""
    for group in fits.islands():
        ids = [one for end, ids in fits.owners.items() if end.standard in group for one in ids]
        names = listed(standard.value for standard in group)
        what = f"nothing leads from {names} to any other family of ends: no fitting has an end of each."
        cure = f"List a hose tail or an adapter with {group[0].value} on one side."
        yield rows.found(Weight.BLOCKS, "no change-over", dict.fromkeys(ids), what, cure)


def _loose(rows: Rows, fits: Fits) -> Iterator[Finding]:
    """Parts that go on nothing, and ends that only something of the keeper's can go on."""
    apart = {standard for group in fits.islands() for standard in group}
    ends: dict[End, list[str]] = {}
    for part in rows.catalog.parts.values():
        loose = fits.loose(part)
        if loose and len(loose) == len(part_ends(part)):
            names = Said.joined((end.name for end in loose), " and ")
            what = Said("goes on nothing else here, on neither side (", names, ").")
            weight = Weight.BLOCKS if fits.stands(part.id) else Weight.ODD
            yield rows.found(weight, "goes on nothing", (part.id,), what, _cure(loose[0]))
        else:
            for end in loose:
                ends.setdefault(replace(end, outside_m=0.0), []).append(part.id)
    yield from _unions(rows, {end: ends.pop(end) for end in list(ends) if end.standard is Standard.UNION})
    for end, ids in ends.items():
        if end.standard not in apart:
            hose = end.standard is Standard.HOSE
            what = Said("nothing here goes on ", end.name, "" if hose else ": it is for what a keeper has.")
            yield rows.found(Weight.BLOCKS if hose else Weight.NOTE, "loose end", ids, what, _cure(end))


def _unions(rows: Rows, ends: dict[End, list[str]]) -> Iterator[Finding]:
    """Makers' unions whose other half only a keeper's canister can have."""
    if ends:
        keys = listed(sorted({end.key for end in ends}))
        what = f"no other half of the maker's union {keys} is listed: only a keeper's canister can have it."
        ids = [one for some in ends.values() for one in some]
        yield rows.found(Weight.NOTE, "loose end", ids, what, "Right for a pump head; else list the other half, or mend the key.")


def _cure(end: End) -> str:
    """What to list for an end that nothing goes on."""
    if end.standard is Standard.UNION:
        return "List the other half, or mend the key."
    if end.standard is Standard.HOSE and end.gender is Gender.MALE:
        return Said("List hose of this inside diameter in hoses.csv, or mend the size.")
    if end.standard is Standard.HOSE:
        return "List tails of this size in tails.csv, or mend inside_mm."
    names = Said.joined((other.name for other in counterparts(end)), " or ")
    return Said("List what has ", names, ", or mend the end if it is a slip.")


def _idle(rows: Rows, fits: Fits) -> Iterator[Finding]:
    """Clamps that go round no hose of the catalog, and seals that close none of its joints."""
    items, parts = {item for some in fits.closures() for item in some}, rows.catalog.parts.values()
    hoses = {hose.outside_m for hose in parts_of(parts, Hose)}
    for part in parts_of(parts, Clamp):
        if not any(part.fits(outside_m) for outside_m in hoses):
            what = Said("closes on none of the hoses here (", millimetres(part.low_m), " to ", millimetres(part.high_m), ").")
            yield rows.found(Weight.NOTE, "idle", (part.id,), what, "Mend low_mm and high_mm, list hose for it, or leave it.")
    for seal in parts_of(parts, Seal):
        if not any(seal.fits(*item.key) for item in items):
            cure = "Mend standard and size_in, or leave it."
            yield rows.found(Weight.NOTE, "idle", (seal.id,), "closes no joint of any part here.", cure)
