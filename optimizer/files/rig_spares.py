"""Parts the keeper owns and does not use."""

from __future__ import annotations

from optimizer.files.draft import Draft
from optimizer.files.part_kinds import NAME
from optimizer.files.rig_fields import SPARE, SPARE_KIND, kind_of_word
from optimizer.files.rig_parts import look_up, own_fields, own_part
from optimizer.files.toml_keys import Report, read_keys
from optimizer.model.catalog import Catalog
from optimizer.model.parts import Kind, Part, kind_of
from optimizer.model.rig import Spare

__all__ = ["read_spares"]

MOST_SPARES = 500
CURE = "Write [[spares]] and below it part and count, length or volume."

_AMOUNT_KEY = {Kind.HOSE: "length", Kind.MEDIUM: "volume"}


def read_spares(raw: object, catalog: Catalog, report: Report) -> tuple[Spare, ...]:
    """Return the spares in the list [[spares]] that could be read; what is wrong with the others goes to `report`.

    >>> tables = [{"kind": "clamp", "low": "20 mm", "high": "24 mm", "count": 2}]
    >>> read_spares(tables, Catalog(parts={}, products=()), Report())[0].count
    2
    """
    if not isinstance(raw, list) or not all(isinstance(table, dict) for table in raw):
        report.problem("spares", "this is not a list of tables.", CURE)
        return ()
    if len(raw) > MOST_SPARES:
        report.problem("spares", f"there are more than {MOST_SPARES} spares.", "List only what could be of use.")
        return ()
    spares = [_spare(table, n, catalog, report) for n, table in enumerate(raw, start=1)]
    return tuple(spare for spare in spares if spare is not None)


def _spare(table: dict[str, object], number: int, catalog: Catalog, report: Report) -> Spare | None:
    where = f"spares[{number}]"
    if "part" in table:
        draft = read_keys(table, SPARE, where, report)
        part = look_up(draft, "part", catalog)
        return None if part is None else _amount(part, draft)
    if "kind" not in table:
        report.problem(where, "says neither part nor kind.", CURE)
        return None
    first = read_keys(table, (SPARE_KIND,), where, report, known=tuple(table))
    if not first.has("kind"):
        return None
    word = first.text("kind")
    kind = kind_of_word(word)
    fields = (
        NAME,
        *(field for field in SPARE if field.name != "part"),
        *own_fields(kind, table, demand=True),
    )
    draft = read_keys(table, fields, where, report, known=("kind",))
    part = own_part(word, kind, f"spare:{number}", draft)
    return None if part is None else _amount(part, draft)


def _amount(part: Part, draft: Draft) -> Spare | None:
    """Return the spare with its amount: pieces, or the length of a hose, or the volume of a medium."""
    key = _AMOUNT_KEY.get(kind_of(part), "count")
    for other in ("count", "length", "volume"):
        if other != key and draft.written(other):
            cure = f"Write {key}." + (" List each piece of hose apart." if key == "length" else "")
            draft.fault(other, f"does not say how much of a {kind_of(part)} there is.", cure)
    if key != "count":
        draft.need(key)
    if draft.failed:
        return None
    return Spare(
        part=part,
        count=int(draft.number_or("count", 1.0)),
        amount_m=draft.number_or("length", 0.0),
        amount_m3=draft.number_or("volume", 0.0),
    )
