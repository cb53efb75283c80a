"""One tank of a household file: its rig, named or written in, or several filters with a rig each, and what is enough for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from optimizer.answers.logged import with_log
from optimizer.errors import InputError, quoted
from optimizer.files.draft import Draft
from optimizer.files.rig_toml import read_rig, rig_from_tables
from optimizer.files.toml_fields import HOUSE_FILTER, HOUSE_TANK
from optimizer.files.toml_keys import Report, listed, read_keys
from optimizer.model.catalog import Catalog
from optimizer.model.household import HouseTank
from optimizer.model.rig import Rig
from optimizer.model.said import Said

__all__ = ["RIG_CURE", "TankReader"]

MOST_FILTERS = (4, " filters", "Ask for some of them at a time.")

BESIDE = "Rig files are looked for beside the household file."
FILTER_CURE = 'Write [[tank.filter]] and rig = "left.toml" below it, once for each filter of the tank.'
SHARE_OUT = "Share it out: write flow_max in the [limits] of each rig file; each filter keeps its own."

RIG_CURE = 'Write rig = "tank_a.toml", or [tank.rig.tank], [tank.rig.loop.intake] and so on below it.'


@dataclass(frozen=True, slots=True)
class TankReader:
    """Reads one [[tank]] of a household file, which stands at ``where``."""

    table: dict[str, object]
    where: str
    path: Path
    catalog: Catalog
    report: Report

    def tanks(self, rooms: set[str]) -> list[HouseTank]:
        """The tank, or each of its filters; none once the reason is taken in."""
        several = "filter" in self.table
        draft = read_keys(self.table, HOUSE_TANK, self.where, self.report, known=("filter", *(_ALONE if several else ("rig",))))
        if draft.has("room") and draft.text("room") not in rooms:
            what = f"no room is called {quoted(draft.text('room'))}."
            draft.fault("room", what, "Add [[room]] with that name, or write a known one.")
        if draft.written("flow") and draft.written("turnover"):
            draft.fault("flow", "stands beside turnover.", "Keep one of the two.")
        return self._several(draft) if several else self._single(draft)

    def _single(self, draft: Draft) -> list[HouseTank]:
        rig = self._rig(self.table, self.where)
        rig = rig if rig is None or not draft.has("log") else _logged(rig, draft, self.path)
        if rig is None:
            return []
        target = _target(draft, rig)
        if not target > 0.0:
            self._no_target('Write flow = "600 l/h" or turnover = "4 per hour".')
        elif target > rig.limits.flow_max_m3s * (1 + 1e-9):
            self._beyond(target, rig.limits.flow_max_m3s, "its limits allow")
        elif not draft.failed:
            name = draft.text_or("name", rig.name)
            self._tell(name, rig)
            rig = replace(rig, listen_m=draft.number_or("listening_distance", rig.listen_m)).limited_as_now
            return [HouseTank(name=name, rig=rig, target_m3s=target, room=draft.text_or("room", ""))]
        return []

    # -- several filters -------------------------------------------------------------------------------------------

    def _several(self, draft: Draft) -> list[HouseTank]:
        draft.need("name", ", and its filters are called after it")
        for key in ("rig", "log"):
            if key in self.table:
                draft.fault(
                    key, "stands beside filters, each of which has its own.", "Move it below [[tank.filter]], or leave that out."
                )
        for key in ("flow_max", "turnover_max"):
            if key in self.table:
                draft.fault(key, "a greatest flow is not kept for several filters together.", SHARE_OUT)
        tables = listed(self.table["filter"], f"{self.where}.filter", FILTER_CURE, MOST_FILTERS, self.report)
        if not tables and self.table["filter"] == []:
            draft.fault("filter", "there is no filter.", FILTER_CURE)
        made = [self._filter(table, f"{self.where}.filter[{n}]", draft) for n, table in enumerate(tables, 1)]
        filters = [each for each in made if each is not None]
        if len(filters) < len(made) or not filters or not self._one_water(filters):
            return []
        first, most = filters[0].rig, sum(each.rig.limits.flow_max_m3s for each in filters)
        target = draft.number("turnover") * first.tank.net_m3 / 3600.0 if draft.has("turnover") else draft.number_or("flow", 0.0)
        if draft.failed:
            return []
        if not target > 0.0:
            self._no_target('Write flow = "1200 l/h" or turnover = "6 per hour" below [[tank]]: the sum of its filters.')
        elif target > most * (1 + 1e-9):
            self._beyond(target, most, "the limits of its filters together allow")
        else:
            return self._with_target(filters, target, draft)
        return []

    def _filter(self, table: dict[str, object], where: str, tank: Draft) -> _Filter | None:
        draft = read_keys(table, HOUSE_FILTER, where, self.report, known=("rig",))
        there = draft.flag("installed") or "installed" in draft.bad
        rig = self._rig(table, where)
        if there and draft.written("price"):
            draft.fault("price", "is that of a filter that is there.", "Leave it out, or write installed = false.")
        if not there:
            draft.need("price", ", but the filter is not there yet")
        if not there and (draft.written("log") or (rig is not None and rig.fills)):
            cure = "Leave log and [[fill]] out until it is there, or write installed = true."
            draft.fault("installed", "is false, but there are fills of this filter.", cure)
        elif rig is not None and draft.has("log"):
            rig = _logged(rig, draft, self.path)
        if rig is None or draft.failed:
            return None
        listen = tank.number_or("listening_distance", rig.listen_m)
        rig = replace(rig, listen_m=draft.number_or("listening_distance", listen)).limited_as_now
        return _Filter(draft.text_or("name", rig.name), rig, None if there else draft.money("price"))

    def _one_water(self, filters: Sequence[_Filter]) -> bool:
        """Whether all rigs tell of the same water; it is taken in that they do not."""
        first = filters[0]
        others = [each for each in filters if each.rig.tank != first.rig.tank]
        if others:
            names = f"{quoted(first.rig.told_as)} and {quoted(others[0].rig.told_as)}"
            cure = "One tank has one water: write the same [tank] (volume, net_volume, temperature, salinity) in both."
            self.report.problem(f"{self.where}.filter", f"{names} tell of different water.", cure)
        return not others

    def _with_target(self, filters: Sequence[_Filter], target_m3s: float, draft: Draft) -> list[HouseTank]:
        tank, room = draft.text("name"), draft.text_or("room", "")
        found = []
        for each in filters:
            name = f"{tank}, {each.name}"
            self._tell(name, each.rig)
            found.append(HouseTank(name=name, rig=each.rig, target_m3s=target_m3s, room=room, water=tank, price=each.price))
        return found

    # -- what both have in common ----------------------------------------------------------------------------------

    def _tell(self, name: str, rig: Rig) -> None:
        for note in rig.notes:
            self.report.note(Said(f"{name}: ", note))

    def _no_target(self, cure: str) -> None:
        self.report.problem(self.where, "it is not said what is enough for this tank.", cure)

    def _beyond(self, target_m3s: float, most_m3s: float, whose: str) -> None:
        what = f"{target_m3s * 3.6e6:.4g} l/h are wanted, but {whose} {most_m3s * 3.6e6:.4g} l/h."
        self.report.problem(self.where, what, "Lower the flow here or raise the limit there.")

    def _rig(self, table: dict[str, object], where: str) -> Rig | None:
        return _tank_rig(table, where, self.path, self.catalog, self.report)


_ALONE = ("rig", "log", "flow_max", "turnover_max")
"""What a tank with several filters is told apart from unknown keys for."""


@dataclass(frozen=True, slots=True)
class _Filter:
    """One of several filters as it is read: its rig, and the price where it is not there yet."""

    name: str
    rig: Rig
    price: int | None


def _logged(rig: Rig, draft: Draft, path: Path) -> Rig | None:
    """The rig with the fills of its log; None once a problem with the log is taken in."""
    try:
        return with_log(rig, path.parent / draft.text("log"))
    except InputError as error:
        for problem in error.problems:
            draft.fault("log", f"{quoted(draft.text('log'))}: {problem.what}", problem.cure)
    except ValueError as error:  # a name with a zero byte
        draft.fault("log", f"{quoted(draft.text('log'))} cannot be read: {error}.", "Name the file of a log.")
    return None


def _target(draft: Draft, rig: Rig) -> float:
    """The flow that is enough: said here, or the wish of the rig, or the least flow that its limits ask for."""
    if draft.has("turnover"):
        return draft.number("turnover") * rig.tank.net_m3 / 3600.0
    return draft.number_or("flow", rig.target_m3s or rig.limits.flow_min_m3s)


def _tank_rig(table: dict[str, object], where: str, path: Path, catalog: Catalog, report: Report) -> Rig | None:
    raw = table.get("rig")
    if isinstance(raw, dict):
        inner = Report(commas=report.commas)
        rig = rig_from_tables(raw, where, catalog, inner, path.name)
        for problem in inner.problems:
            report.problem(f"{where}.rig.{problem.where}", problem.what, problem.cure)
        return rig
    if not isinstance(raw, str) or not raw.strip():
        report.problem(f"{where}.rig", "there is no rig.", RIG_CURE)
        return None
    try:
        return read_rig(path.parent / raw, catalog)
    except InputError as error:
        for problem in error.problems:
            if problem.where == "file":  # it cannot be read at all: what is to be put right is its name here
                report.problem(f"{where}.rig", f"{quoted(raw)}: {problem.what}", f"{problem.cure} {BESIDE}")
                continue
            report.problems.add(problem.in_file(error.source))
    except ValueError as error:  # a name with a zero byte
        report.problem(f"{where}.rig", f"{quoted(raw)} cannot be read: {error}.", RIG_CURE)
    return None
