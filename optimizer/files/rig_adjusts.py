"""What may be done to the outlet that is there: another height, or other holes."""

from __future__ import annotations

from dataclasses import replace

from optimizer.files.draft import Draft
from optimizer.files.part_checks import check_hole
from optimizer.files.rig_fields import ADJUST
from optimizer.files.toml_keys import Report, read_keys
from optimizer.model.parts import Outlet
from optimizer.model.rig import Adjust

__all__ = ["SINK", "mouth_height", "read_adjusts"]

SINK = Adjust(name="sink below the water line", height_m=-0.02)
"""What costs nothing and is always possible: 2 cm deep, so that ripples do not bare the mouth (common practice)."""

_CHANGES = ("hole", "holes", "discharge", "pitch")


def mouth_height(draft: Draft) -> float | None:
    """Return the height of the mouth in m above the water line (negative: below), None when nothing is written.

    >>> from optimizer.errors import Problems
    >>> mouth_height(Draft(values={"below_water": 0.02}, fields={}, place=str, problems=Problems()))
    -0.02
    """
    if draft.written("above_water") and draft.written("below_water"):
        draft.fault("above_water", "stands beside below_water.", "Keep one of the two.")
    if draft.has("above_water"):
        return draft.number("above_water")
    return -draft.number("below_water") if draft.has("below_water") else None


def read_adjusts(tables: list[dict[str, object]], where: str, installed: Outlet | None, report: Report) -> tuple[Adjust, ...]:
    """Return the adjustments that could be read; what is wrong with the others goes to `report`.

    `installed` is the outlet as it is, None when it has problems of its own.

    >>> report = Report()
    >>> read_adjusts([{"name": "polish"}], "loop.outlet.adjust", None, report)
    ()
    >>> [problem.where for problem in report.problems]
    ['loop.outlet.adjust[1]']
    """
    found = [_adjust(table, f"{where}[{n}]", n, installed, report) for n, table in enumerate(tables, start=1)]
    return tuple(adjust for adjust in found if adjust is not None)


def _adjust(table: dict[str, object], where: str, number: int, installed: Outlet | None, report: Report) -> Adjust | None:
    # what is not written stays as it is: the defaults of a new outlet do not count here
    fields = [replace(field, default=None, required=False) if field.name in _CHANGES else field for field in ADJUST]
    draft = read_keys(table, fields, where, report)
    height = mouth_height(draft)
    drilled = [name for name in _CHANGES if draft.written(name)]
    if not drilled and not draft.written("above_water") and not draft.written("below_water"):
        report.problem(where, "does not say what changes.", 'Write for example below_water = "2 cm" or hole = "4.5 mm".')
        return None
    if installed is not None and installed.form != "bar" and draft.number_or("holes", 1.0) != 1.0:
        draft.fault("holes", "only a bar has more than one hole.", "Leave holes out.")
    if installed is not None and installed.form == "bar":
        check_hole(draft, installed.bar_bore_m)
    if draft.failed or installed is None:
        return None
    outlet = _drilled(installed, draft, number) if drilled else None
    return Adjust(name=draft.text("name"), price=draft.money("price"), outlet=outlet, height_m=height)


def _drilled(installed: Outlet, draft: Draft, number: int) -> Outlet:
    return replace(
        installed,
        id=f"{installed.id}:adjust {number}",
        name=f"{installed.name}, {draft.text('name')}",
        hole_m=draft.number_or("hole", installed.hole_m),
        holes=int(draft.number_or("holes", installed.holes)),
        discharge=draft.number_or("discharge", installed.discharge),
        pitch_m=draft.number_or("pitch", installed.pitch_m),
    )
