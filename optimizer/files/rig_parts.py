"""The part a rig names or describes: looked up in the catalog by its id, or built from the keys beside it; spares among them."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from optimizer.errors import BadValue, near_sentence, quoted
from optimizer.files.draft import Draft
from optimizer.files.field import Field
from optimizer.files.part_kinds import FILE_OF_KIND, NAME, PART_KINDS, build_part
from optimizer.files.spare_text import spare_table
from optimizer.files.toml_fields import LOOP_KINDS, SPARE, SPARE_KIND, kind_of_word
from optimizer.files.toml_keys import Report, listed, read_keys
from optimizer.model.catalog import Catalog
from optimizer.model.part_names import IN_DRAWER, sold_id
from optimizer.model.parts import JOBS, Fitting, Kind, Part, Pump, Tool, kind_of
from optimizer.model.rig import Spare
from optimizer.model.said import Note
from optimizer.model.standard_ends import PRACTICE
from optimizer.model.usual_figures import assumed_figures

__all__ = ["look_up", "named_or_own", "note_assumed", "own_fields", "own_part", "read_spares", "read_tools"]

MOST_SPARES = (500, " spares", "List only what could be of use.")
CURE = "Write [[spares]] and below it part and count, length or volume."

_AMOUNT_KEY = {Kind.HOSE: "length", Kind.MEDIUM: "volume"}


def _word_of(part: Part) -> str:
    """Return the word a rig file uses for the kind of this part: for a fitting its role."""
    return part.role if isinstance(part, Fitting) else kind_of(part)


def look_up(draft: Draft, key: str, catalog: Catalog, word: str = "") -> Part | None:
    """Return the part whose id stands behind `key`, or None once the reason is taken in by `draft`.

    `word` is the kind or role it must be (empty: any).

    >>> from optimizer.errors import Problems
    >>> draft = Draft(values={"part": "HOSE-1"}, fields={}, place=str, problems=Problems())
    >>> look_up(draft, "part", Catalog(parts={}, products=()), "hose") is None
    True
    >>> [problem.what for problem in draft.problems]
    ['no part "HOSE-1" in hoses.csv.']
    """
    if not draft.has(key):
        return None
    part_id = draft.text(key)
    part = catalog.parts.get(part_id)
    if part is None:
        file = FILE_OF_KIND.get(word, "the catalog")
        same = [other.id for other in catalog.parts.values() if not word or _word_of(other) == word]
        near = (near_sentence(part_id, same) or near_sentence(part_id, catalog.parts)) if draft.problems.few else ""
        cure = near or "Write the id of a part of the catalog, or describe the part here."
        draft.fault(key, f"no part {quoted(part_id)} in {file}.", cure)
        return None
    found = _word_of(part)
    if word and found != word:
        cure = f"Write the id of {_a(word)}"
        if key == "part" and word != Kind.TEE:  # a tee stands where no other kind can
            cure += ", or describe the part here" if found not in LOOP_KINDS else f', or kind = "{found}"'
        draft.fault(key, f"{quoted(part_id)} is {_a(found)}, not {_a(word)}.", f"{cure}.")
        return None
    return part


def _a(word: str) -> str:
    return f"an {word}" if word[:1] in "aeiou" else f"a {word}"


def named_or_own(
    word: str, part_id: str, table: Collection[str], own: Collection[Field], draft: Draft, catalog: Catalog
) -> Part | None:
    """Return the part that a table names by `part` or describes by the keys `own`, or None once a problem is taken in.

    `part_id` is the id of a part described here. Keys that describe a part named already are problems.

    >>> from optimizer.errors import Problems
    >>> draft = Draft(values={"part": "HOSE-1"}, fields={}, place=str, problems=Problems())
    >>> named_or_own("hose", "installed:run", {"part"}, (), draft, Catalog(parts={}, products=())) is None
    True
    """
    kind = kind_of_word(word)
    if "part" not in table or kind == Kind.CANISTER:
        return own_part(word, kind, part_id, draft)
    for key in sorted({"name", *(field.name for field in own)}.intersection(table)):
        draft.fault(key, "describes a part that is named already.", "Keep part, or the part's own keys.")
    return look_up(draft, "part", catalog, word)


def note_assumed(part: Part | None, where: str, report: Report) -> None:
    """Note what is assumed of a part that stands in the loop, described there or named by its id."""
    told = "" if part is None else assumed_figures(part, besides=("volume",))
    if part is not None and told:
        of = f" of {part.id}" if sold_id(part.id) else ""
        report.note(Note(where, f"not stated{of}, assumed ({PRACTICE}; rules: fullbore columns): ", told))


def own_fields(kind: str, table: Collection[str], *, demand: bool) -> tuple[Field, ...]:
    """Return the fields of a part of this kind as a rig may write them.

    With `demand` those that a part cannot do without are required; a hose needs its size or its inside.

    >>> [field.name for field in own_fields("hose", {"length"}, demand=True) if field.required]
    ['size']
    """
    fields = PART_KINDS[kind].keys
    if not demand:
        return tuple(replace(field, required=False) for field in fields)
    if kind == Kind.HOSE:
        apart = "inside" in table or "outside" in table
        return tuple(replace(field, required=_hose_needs(field, apart)) for field in fields)
    return fields


def _hose_needs(field: Field, apart: bool) -> bool:
    return field.name == ("inside" if apart else "size")


def own_part(word: str, kind: str, part_id: str, draft: Draft) -> Part | None:
    """Return the part described by the keys of a table, or None once what is wrong is taken in by `draft`.

    >>> from optimizer.errors import Problems
    >>> draft = Draft(values={"low": 0.02, "high": 0.024}, fields={}, place=str, problems=Problems())
    >>> own_part("clamp", "clamp", "spare:1", draft).name
    'spare clamp'
    """
    if kind == Kind.HOSE and draft.written("size") and (draft.written("inside") or draft.written("outside")):
        draft.fault("size", "stands beside inside or outside.", "Keep size, or inside and outside.")
    name = draft.text_or("name", f"installed {word}" if part_id.startswith("installed") else f"spare {word}")
    return build_part(kind, draft, part_id, name, word)


def read_spares(raw: object, catalog: Catalog, report: Report) -> tuple[Spare, ...]:
    """Return the spares in the list `spares`, tables or texts, that could be read; what is wrong with the others goes to
    `report`.

    >>> tables = [{"kind": "clamp", "low": "20 mm", "high": "24 mm", "count": 2}]
    >>> read_spares(tables, Catalog(parts={}, products=()), Report())[0].count
    2
    >>> read_spares(["2 m hose 16/22"], Catalog(parts={}, products=()), Report())[0].amount_m
    2.0
    """
    everything = raw if isinstance(raw, list) else []
    said = {n: each for n, each in enumerate(everything, start=1) if isinstance(each, str)}
    apart = [{} if isinstance(each, str) else each for each in everything] if said else raw
    tables = listed(apart, "spares", CURE, MOST_SPARES, report)
    spares: list[Spare | None] = []
    for n, table in enumerate(tables, start=1):
        try:
            keys = spare_table(said[n], catalog) if n in said else table
        except BadValue as error:
            report.problems.add(error.at(f"spares[{n}]"))
            continue
        if n in said and keys.get("kind") == "tail":
            report.note(Note(f"spares[{n}]", "is none of the catalog's tails; its bores are the usual ones of its sizes"))
        spares.append(_spare(keys, n, catalog, report))
    return tuple(spare for spare in spares if spare is not None)


def read_tools(draft: Draft, catalog: Catalog) -> tuple[str, ...]:
    """Return what the tools in the table [owned] make possible; words that are none are taken in by the draft.

    >>> from optimizer.errors import Problems
    >>> draft = Draft(values={"tools": ("redrill",)}, fields={}, place=str, problems=Problems())
    >>> read_tools(draft, Catalog(parts={}, products=()))
    ('redrill',)
    """
    tools = {part.id: part.makes_possible for part in catalog.parts.values() if isinstance(part, Tool)}
    known = {**tools, **{job: (job,) for job in JOBS}}
    found: list[str] = []
    for word in draft.several("tools"):
        if word in known:
            found += known[word]
        else:
            near = near_sentence(word, known) or f"Write some of: {', '.join(known)}."
            draft.fault("tools", f"{quoted(word)} is no tool of the catalog, nor what one makes possible.", near)
    return tuple(dict.fromkeys(found))


def _spare(table: dict[str, object], number: int, catalog: Catalog, report: Report) -> Spare | None:
    where = f"spares[{number}]"
    if "part" in table:
        draft = read_keys(table, SPARE, where, report)
        part = look_up(draft, "part", catalog)
        return None if part is None else _amount(part, draft, number)
    if "kind" not in table:
        report.problem(where, "says neither part nor kind.", CURE)
        return None
    first = read_keys(table, (SPARE_KIND,), where, report, known=tuple(table))
    if not first.has("kind"):
        return None
    word = first.text("kind")
    kind = kind_of_word(word)
    fields = (NAME, *(field for field in SPARE if field.name != "part"), *own_fields(kind, table, demand=True))
    draft = read_keys(table, fields, where, report, known=("kind",))
    part = own_part(word, kind, f"{IN_DRAWER}{number}", draft)
    return None if part is None else _amount(part, draft, number)


def _amount(part: Part, draft: Draft, number: int) -> Spare | None:
    """Return the spare with its amount: pieces, or the length of a hose, or the volume of a medium; a worn pump as it is now."""
    key = _AMOUNT_KEY.get(kind_of(part), "count")
    for other in ("count", "length", "volume"):
        if other != key and draft.written(other):
            cure = f"Write {key}." + (" List each piece of hose apart." if key == "length" else "")
            draft.fault(other, f"does not say how much of a {kind_of(part)} there is.", cure)
    if key != "count":
        draft.need(key)
    worn = draft.number_or("worn", 0.0)
    if worn and not isinstance(part, Pump):
        draft.fault("worn", f"a {kind_of(part)} does not wear.", "Leave it out.")
    if draft.failed:
        return None
    part = _slower(part, worn, number) if worn and isinstance(part, Pump) else part
    return draft.made(Spare, part=part, amount_m=draft.number_or("length", 0.0), amount_m3=draft.number_or("volume", 0.0))


def _slower(pump: Pump, worn: float, number: int) -> Pump:
    """A pump of the drawer at what wear has left of its speed: flow goes with speed, head with its square (affinity laws)."""
    speed = 1.0 - worn
    curve = replace(
        pump.curve,
        flows_m3s=tuple(flow * speed for flow in pump.curve.flows_m3s),
        heads_m=tuple(head * speed**2 for head in pump.curve.heads_m),
    )
    return replace(pump, id=f"{IN_DRAWER}{number}", name=f"{pump.name}, worn by {worn:.0%}", curve=curve)
