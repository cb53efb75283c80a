"""The bucket and the watch: fills are timed, entered into the rig file or a log, and what they say stands below at once."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import Any
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from optimizer.commands.reader import refused
from optimizer.commands.timed import KEYS
from optimizer.desk.desk import Desk, desk_of, form_of, page
from optimizer.desk.folder import Changed
from optimizer.desk.logs import asked_of, beside, enter, is_new, logs_of, mark_entered, once, problems_of
from optimizer.desk.told import Asking, asking, measures_of
from optimizer.errors import BadValue, InputError, Problem
from optimizer.files.rig_fills import with_fill
from optimizer.files.toml_file import read_toml
from optimizer.model.fill import CLEAN, CLEANING, FILL_STATES, TAKEN_OFF
from optimizer.model.signs import SIGNS
from optimizer.report.diagnose_text import LEAST_SHRINK
from optimizer.report.html.quantities import Quantities
from optimizer.report.measurement_words import CAUTION

TRIES = 5
"""So often a fill is added anew where the file is changed at the same moment."""

TYPED = ("volume", "seconds", "mark", "container", "height", "watts", "date")
"""Fields that are typed."""

AS_IT_IS = "fill as it is"
"""The name of the test that takes nothing off."""

STAYS = ("volume", "mark", "container")
"""What the next fill most likely has in common with the last."""


async def shown(request: Request) -> Response:
    """The watch, the form, and what the fills say."""
    return await _page(request, _first(request), into=request.query_params.get("into", ""))


async def entered(request: Request) -> Response:
    """A fill that was timed."""
    form = await form_of(request)
    name, into = request.path_params["name"], str(form.get("into") or "")
    typed = _typed(form)
    if not is_new(request, form.get("once")):
        return _back(name, into)
    try:
        await run_in_threadpool(_enter, desk_of(request), name, into, typed, desk_of(request).catalog(request))
    except (InputError, OSError) as error:
        return await _page(request, typed, into=into, problems=problems_of(error))
    mark_entered(request, form.get("once"))
    return _back(name, into)


def _back(name: str, into: str) -> Response:
    return RedirectResponse(f"/measure/{quote(name)}?into={quote(into)}&written=yes#found", 303)


# -- what is entered -----------------------------------------------------------------------------------------------


def _typed(form: FormData) -> dict[str, Any]:
    """The fields of the form by their names, as they were typed."""
    found: dict[str, Any] = {key: str(form.get(key) or "") for key in (*TYPED, "mouth")}
    return {**found, "state": [str(each) for each in form.getlist("state")]}


def _options(typed: Mapping[str, Any]) -> dict[str, str]:
    """What was typed as options of a command."""
    plain = {key: typed[key] for key in TYPED if key != "height"}
    where = {typed["mouth"]: typed["height"] or " "} if typed["mouth"] in ("above", "below") else {}
    return {**plain, **where, "state": ", ".join(typed["state"])}


def _enter(desk: Desk, name: str, into: str, typed: Mapping[str, Any], catalog: str) -> None:
    """Into the log, or the rig file. Raises InputError with all that is wrong; nothing is written then."""
    options = _options(typed)
    asked = asked_of(options, into)
    if asked.fill is None:
        raise refused("--seconds", "nothing was timed.", "Time the bucket, or type its seconds: 61, 60.5, 62.")
    if typed["mouth"] in ("above", "below") and not typed["height"].strip():
        raise refused("--height", "is not given.", 'Write for example "3 cm", or say that it was at the water line.')
    if into != name:
        enter(desk, into, asked, name, catalog)
        return
    power = "" if asked.watts is None else f"{asked.watts:.10g} W"
    given = {key: options.get(option, "") for key, option in KEYS.items()}
    order = ("date", *(key for key in given if key not in ("date", "seconds")), "seconds")
    _add(desk, name, {**{key: given[key] for key in order}, "watts": power})


def _add(desk: Desk, name: str, given: Mapping[str, str]) -> None:
    """To the rig file as it is at this moment: what others changed in it meanwhile stays."""
    for n in range(1, TRIES + 1):
        text = desk.folder.read(name)
        try:
            desk.folder.save(name, with_fill(text.content, given), text.version)
        except BadValue as error:
            raise InputError(name, [error.at("into")]) from None
        except Changed:
            if n == TRIES:
                raise
        else:
            return


# -- the page ------------------------------------------------------------------------------------------------------


def _first(request: Request) -> dict[str, Any]:
    """What stands in the form at first: what is likely the same as in the last fill of the rig file."""
    fills: object = None
    with contextlib.suppress(BadValue):  # what is wrong with the file is told below
        fills = read_toml(desk_of(request).folder.path(request.path_params["name"])).get("fill")
    last = fills[-1] if isinstance(fills, list) and fills and isinstance(fills[-1], dict) else {}
    kept = {key: str(last[key]) for key in STAYS if isinstance(last.get(key), str)}
    state = [each for each in request.query_params.getlist("state") if each in FILL_STATES]
    return {**dict.fromkeys(TYPED, ""), **kept, "date": date.today().isoformat(), "mouth": "at", "state": state}


async def _page(request: Request, typed: Mapping[str, Any], *, into: str, problems: tuple[Problem, ...] = ()) -> Response:
    desk, name = desk_of(request), request.path_params["name"]
    desk.folder.read(name)
    own, is_there = beside(desk.folder, name)
    logs = logs_of(desk.folder, name)
    with_log = into if into in logs else own if is_there else ""
    found = await _found(request, with_log)
    by_field = {_field_of(each): _without_option(each) for each in problems}
    return page(
        request,
        "measure.html",
        "Measure",
        status=422 if problems else 200,
        name=name,
        typed=typed,
        wrong=by_field,
        problems=problems,
        elsewhere=tuple(each for each in problems if _field_of(each) not in (*TYPED, "state")),
        next=_next(found[0]),
        intos=tuple(dict.fromkeys((name, *logs, own))),
        new="" if is_there else own,
        into=into or with_log or name,
        written=request.query_params.get("into", "") if "written" in request.query_params else "",
        once=once(),
        states=(TAKEN_OFF, (CLEAN, *CLEANING)),
        signs=SIGNS,
        noticed={key: request.query_params.get(key, "") for key in ("into", "watts", "budget")},
        noticed_signs=request.query_params.getlist("signs"),
        caution=CAUTION,
        found=found,
        q=Quantities(measures=measures_of(request), currency=""),
    )


def _field_of(problem: Problem) -> str:
    """The field that an option is typed into."""
    option = problem.place.removeprefix("--")
    return "height" if option in ("above", "below") else option


def _without_option(problem: Problem) -> Problem:
    """A problem as it is said beside the field, where no option is to be written."""
    return replace(problem, cure=problem.cure.replace(f"{problem.place} ", ""))


def _next(ails: Asking) -> Mapping[str, str] | None:
    """The test that is most worth doing, where it is a fill: its name, and how the loop then differs from the rig file."""
    tests = () if ails.told is None else ails.told.next_tests.tests
    if not tests or tests[0].shrink < LEAST_SHRINK or tests[0].name not in (AS_IT_IS, *FILL_STATES):
        return None
    return {"name": tests[0].name, "state": tests[0].name if tests[0].name in FILL_STATES else ""}


async def _found(request: Request, with_log: str) -> tuple[Asking, ...]:
    """What the fills say, and what ails the loop."""
    desk, name, query = desk_of(request), request.path_params["name"], request.query_params
    catalog = desk.catalog(request)
    files = [name, *([catalog] if catalog else []), *([with_log] if with_log else [])]
    common = [name, *(["--catalog", catalog] if catalog else []), *(["--log", with_log] if with_log else [])]
    noticed = [each for each in query.getlist("signs") if each.strip()]
    more = ["--signs", ", ".join(noticed)] if noticed else []
    more += ["--watts", query["watts"]] if query.get("watts", "").strip() else []
    more += ["--budget", query["budget"]] if query.get("budget", "").strip() else ["--today"]
    asked = (["diagnose", *common, *more], ["measure", *common])
    return tuple(await asyncio.gather(*(asking(request, words, *files) for words in asked)))


ROUTES = [
    Route("/measure/{name:path}", shown),
    Route("/measure/{name:path}", entered, methods=["POST"]),
]
