"""The page of a tank: its loop drawn in the order of the water, each place of which can be changed where it stands."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote, urlencode

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from optimizer.desk import rig_edit
from optimizer.desk.desk import WAIT_S, desk_of, form_of, page
from optimizer.desk.folder import Changed, Text
from optimizer.desk.rig_edit import Key, keys_of, tree_of
from optimizer.desk.standing import restored
from optimizer.desk.told import measures_of
from optimizer.errors import BadValue, InputError, Problem
from optimizer.files.rig_tables import PLAIN_TABLES, Table, fields_at, table_at, tables_of_loop
from optimizer.model.standing_loop import StandingLoop
from optimizer.report.fitted_lines import by_fills_sentences
from optimizer.report.html.quantities import Quantities
from optimizer.report.html.words import Words
from optimizer.report.loop_text import PlaceLine, lines_of, sentences
from optimizer.report.spoken import spoken

BEFORE = "key."
"""What the names of fields begin with that stand for keys of the file."""


IN_PLACE = "x-fullbore-in-place"
"""The header by which a script asks for a page that takes the place of part of its own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """One place of the drawing: its table in the file, what it is called, and what the answer tells of it (None: nothing)."""

    table: Table
    label: str
    told: PlaceLine | None
    branches: tuple[Way, ...] = ()

    @property
    def anchor(self) -> str:
        """Its id on the page."""
        return f"at-{self.table.where}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One branch: its name, the flow that passes it in m3/s (None: not known), and its places."""

    name: str
    flow_m3s: float | None
    places: tuple[Drawn, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """A table that is being changed: where it stands, its keys, what else is wrong, and the text of the whole file as it is now
    where that was changed meanwhile."""

    where: str
    keys: tuple[Key, ...]
    problems: tuple[Problem, ...] = ()
    meanwhile: str = ""


# -- requests ----------------------------------------------------------------------------------------------------------


async def shown(request: Request) -> Response:
    """The loop as it stands; with ``at`` in the address the form of that table."""
    file = desk_of(request).folder.read(request.path_params["name"])
    where, tree = request.query_params.get("at", ""), tree_of(file.content)
    form = None
    if tree is not None and where and fields_at(tree, where):
        form = Form(where=where, keys=keys_of(file.content, tree, where))
    return await _page(request, file, form)


async def changed(request: Request) -> Response:
    """Take in what was typed for one table, if the reader of rig files finds nothing wrong with it."""
    given = await form_of(request)
    desk, name = desk_of(request), request.path_params["name"]
    where, seen = str(given.get("at") or ""), str(given.get("seen") or "")
    file = desk.folder.read(name)
    tree = tree_of(file.content)
    if tree is None or not fields_at(tree, where):
        raise InputError(name, [Problem(where=where or "at", what="this cannot be changed by itself.", cure="Change the file.")])
    keys = rig_edit.as_typed(keys_of(file.content, tree, where), _typed(given))
    if file.version != seen:
        return await _page(request, file, Form(where=where, keys=keys, meanwhile=_lines_at(file, where)), 409)
    try:
        text = rig_edit.changed_text(file.content, where, rig_edit.values_of(keys))
        await _check(request, name, file, text)
    except BadValue as error:
        return await _page(request, file, Form(where=where, keys=keys, problems=(error.at(where),)), 422)
    except InputError as error:
        keys, others = rig_edit.beside(_as_they_would_be(file, where, keys), error.problems, where)
        return await _page(request, file, Form(where=where, keys=keys, problems=others), 422)
    try:
        desk.folder.save(name, text, seen)
    except Changed as error:
        return await _page(request, error.now, Form(where=where, keys=keys, meanwhile=_lines_at(error.now, where)), 409)
    return RedirectResponse(f"/tank/{quote(name)}?{urlencode({'saved': where})}#at-{where}", 303)


def _typed(given: FormData) -> dict[str, str]:
    return {key.removeprefix(BEFORE): str(value) for key, value in given.items() if key.startswith(BEFORE)}


async def _check(request: Request, name: str, file: Text, text: str) -> None:
    """Raise InputError for a text with problems that the file did not have before."""
    desk = desk_of(request)
    catalog = desk.catalog(request)
    found = await asyncio.to_thread(rig_edit.problems_of, desk.folder, name, text, catalog)
    if found:
        known = await asyncio.to_thread(rig_edit.problems_of, desk.folder, name, file.content, catalog)
        if set(found).difference(known):
            raise InputError(name, found)


def _as_they_would_be(file: Text, where: str, keys: tuple[Key, ...]) -> tuple[Key, ...]:
    """The keys with those besides that the table would need with what was typed: of a part that is named no more its own."""
    try:
        text = rig_edit.changed_text(file.content, where, rig_edit.values_of(keys))
    except (BadValue, InputError):
        return keys
    tree = tree_of(text)
    there = {key.name for key in keys}
    return keys if tree is None else (*keys, *(key for key in keys_of(text, tree, where) if key.name not in there))


def _lines_at(file: Text, where: str) -> str:
    """The lines of a table as they stand in a file."""
    tree = tree_of(file.content)
    found = () if tree is None else keys_of(file.content, tree, where)
    return "\n".join(f"{key.name} = {key.was}" for key in found if key.was) or "nothing"


# -- the page ----------------------------------------------------------------------------------------------------------


async def _page(request: Request, file: Text, form: Form | None, status: int = 200) -> Response:
    desk, name = desk_of(request), file.name
    catalog = desk.catalog(request)
    files = [name, *([catalog] if catalog else [])]
    job = desk.ask(["loop", name, *(["--catalog", catalog] if catalog else [])], *files)
    answer = await desk.jobs.until_known(job, WAIT_S)
    told = restored(StandingLoop, answer)
    tree, measures = tree_of(file.content) or {}, measures_of(request)
    said = None if told is None else spoken(told)
    in_place = IN_PLACE in request.headers  # a browser puts a line on its console for a script's request that is refused
    return page(
        request,
        "loop.html",
        _called(name, tree) if told is None else told.rig,
        status=200 if in_place else status,
        name=name,
        seen=file.version,
        job=job,
        answer=answer,
        told=said,
        sentences=() if said is None else (*sentences(said, measures), *by_fills_sentences(said.by_fills, measures)),
        problems=() if answer is None else rig_edit.numbered(map(_problem, answer.problems), file.content),
        places=_drawn(tables_of_loop(tree), told),
        most=0.0 if told is None else max((line.share for line in lines_of(told)), default=0.0),
        tables=_written(file, tree),
        form=form,
        saved=request.query_params.get("saved", ""),
        measures=measures,
        q=Quantities(measures=measures, currency=""),
        w=Words(measures=measures, page="/words"),
    )


def _called(name: str, tree: Mapping[str, Any]) -> str:
    """The name of a rig, as far as it is known without reading it."""
    return str(tree.get("name") or name.rpartition("/")[2].removesuffix(".toml"))


def _problem(told: Mapping[str, str]) -> Problem:
    return Problem(where=told["place"], what=told["what"], cure=told["cure"])


def _drawn(tables: Sequence[Table], told: StandingLoop | None) -> tuple[Drawn, ...]:
    """The places of the file with what the answer tells of them."""
    known = {}
    if told is not None:
        known = {line.place.place: said for line, said in zip(lines_of(told), lines_of(spoken(told)), strict=True)}
    return tuple(_place(table, known) for table in tables)


def _place(table: Table, known: Mapping[str, PlaceLine]) -> Drawn:
    ways = []
    for name, inside in table.branches:
        flow = next((known[each.name].place.now.flow_m3s for each in inside if each.name in known), None)
        ways.append(Way(name=name.replace("_", " "), flow_m3s=flow, places=tuple(_place(each, known) for each in inside)))
    label = table.where.rpartition(".")[2].replace("_", " ")
    return Drawn(table=table, label=label, told=known.get(table.name), branches=tuple(ways))


def _written(file: Text, tree: Mapping[str, Any]) -> tuple[tuple[str, tuple[Key, ...]], ...]:
    """The tables beside the loop, each with the keys that are written there."""
    return tuple(
        (name, tuple(key for key in keys_of(file.content, tree, name) if key.was) if table_at(tree, name) else ())
        for name in (PLAIN_TABLES if tree else ())
    )


ROUTES = [
    Route("/tank/{name:path}", shown),
    Route("/tank/{name:path}", changed, methods=["POST"]),
]
