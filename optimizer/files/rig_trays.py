"""The trays of a canister as a rig file lists them, from the first tray the water meets to the last."""

from __future__ import annotations

from optimizer.files.field import Field
from optimizer.files.rig_fields import TRAY
from optimizer.files.rig_parts import look_up, own_fields, own_part
from optimizer.files.toml_keys import Report, read_keys
from optimizer.model.catalog import Catalog
from optimizer.model.parts import Kind, Medium
from optimizer.model.rig import Tray
from optimizer.model.state import State

__all__ = ["MOST_TRAYS", "read_trays"]

MOST_TRAYS = 12


def read_trays(tables: list[dict[str, object]], where: str, catalog: Catalog, report: Report) -> tuple[Tray, ...]:
    """Return the trays that could be read; what is wrong with the others, or with their number, goes to `report`.

    >>> read_trays([{"empty": True}], "loop.canister.trays", Catalog(parts={}, products=()), Report())[0].medium is None
    True
    """
    if not 1 <= len(tables) <= MOST_TRAYS:
        what = f"a canister has 1 to {MOST_TRAYS} trays, not {len(tables)}."
        report.problem(where, what, 'Write for example trays = [ {medium = "FOAM-20"}, {empty = true} ].')
        return ()
    trays = [_tray(table, f"{where}[{n}]", catalog, report) for n, table in enumerate(tables, start=1)]
    return tuple(tray for tray in trays if tray is not None)


def _tray(table: dict[str, object], where: str, catalog: Catalog, report: Report) -> Tray | None:
    by_id, empty = "medium" in table, table.get("empty") is True
    own = own_fields(Kind.MEDIUM, table, demand=not by_id and not empty)
    names = {field.name for field in own}
    described = sorted(names.intersection(table))
    if not described and not by_id and not empty:
        # an empty table must not be answered with every key a medium could have
        read_keys(table, TRAY, where, report, known=names)
        report.problem(where, "does not say what the tray holds.", 'Write {medium = "FOAM-20"} or {empty = true}.')
        return None
    if empty + by_id + bool(described) > 1:
        report.problem(
            where,
            "says in more than one way what the tray holds.",
            "Keep medium, empty or the medium's own keys.",
        )
        return None
    return _filled_tray(table, (*TRAY, *own), where, catalog, report)


def _filled_tray(
    table: dict[str, object], fields: tuple[Field, ...], where: str, catalog: Catalog, report: Report
) -> Tray | None:
    draft = read_keys(table, fields, where, report)
    if draft.flag("empty"):
        return None if draft.failed else Tray(medium=None)
    if "medium" in table:
        medium = look_up(draft, "medium", catalog, Kind.MEDIUM)
    else:
        medium = own_part(Kind.MEDIUM, Kind.MEDIUM, f"installed:{where.removeprefix('loop.')}", draft)
    if draft.failed or not isinstance(medium, Medium):
        return None
    return Tray(medium=medium, state=State(filled=draft.number("filled")))
