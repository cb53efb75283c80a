"""The log of a tank: its fills over days, the next cleaning, and what is entered into it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from optimizer.commands.reader import refused
from optimizer.desk.desk import Desk, desk_of, form_of, page
from optimizer.desk.logs import asked_of, beside, enter, is_new, logs_of, mark_entered, once, problems_of
from optimizer.desk.told import Asking, asking, measures_of
from optimizer.errors import InputError, Problem
from optimizer.report.html.chart import ageing_chart, log_chart
from optimizer.report.html.quantities import Quantities
from optimizer.report.measured_lines import relative_text
from optimizer.report.measurement_words import CAUTION

ENTRIES = ("cleaned", "changed", "watts")
"""What can be entered here; a fill is entered where it is timed."""

NOTHING = {
    "cleaned": ("nothing is ticked.", "Tick what was cleaned."),
    "changed": ("the text is empty.", 'Write for example "bar re-drilled to 3 mm".'),
    "watts": ("nothing was read.", 'Write for example "18".'),
}


async def shown(request: Request) -> Response:
    """The log, and forms for what was done."""
    query = request.query_params
    return await _page(request, query.get("log", ""), {}, written=query.get("written", ""))


async def entered(request: Request) -> Response:
    """A cleaning, a change, or watts that were read."""
    form = await form_of(request)
    name, log = request.path_params["name"], str(form.get("log") or "")
    what = str(form.get("what") or "")
    values = [str(each) for each in form.getlist(what)] if what in ENTRIES else []
    typed = {"what": what, "date": str(form.get("date") or ""), what: ", ".join(values)}
    if is_new(request, form.get("once")):
        try:
            await run_in_threadpool(_enter, desk_of(request), name, log, typed, desk_of(request).catalog(request))
        except (InputError, OSError) as error:
            return await _page(request, log, typed, problems=problems_of(error))
        mark_entered(request, form.get("once"))
    return RedirectResponse(f"/log/{quote(name)}?log={quote(log)}&written=1", 303)


def _enter(desk: Desk, name: str, log: str, typed: Mapping[str, str], catalog: str) -> None:
    what = typed["what"]
    if not typed.get(what, "").strip() or what not in ENTRIES:
        told, cure = NOTHING.get(what, NOTHING["changed"])
        raise refused(f"--{what}", told, cure)
    enter(desk, log, asked_of({what: typed[what], "date": typed["date"]}, log), name, catalog)


async def _page(
    request: Request, log: str, typed: Mapping[str, Any], *, written: str = "", problems: tuple[Problem, ...] = ()
) -> Response:
    desk, name, query = desk_of(request), request.path_params["name"], request.query_params
    desk.folder.read(name)
    logs = logs_of(desk.folder, name)
    own, _ = beside(desk.folder, name)
    log = log or own
    found = await _found(request, log) if log in logs else None
    aged = await _aged(request, log if log in logs else "") if "ageing" in query else None
    measures = measures_of(request)
    return page(
        request,
        "log.html",
        "Log",
        status=422 if problems else 200,
        name=name,
        log=log,
        own=own,
        logs=logs,
        found=found,
        chart=None if found is None or found.told is None else log_chart(found.told, measures),
        aged=aged,
        aged_chart=None if aged is None or aged.told is None else ageing_chart(aged.told, measures),
        typed={"what": "", "date": date.today().isoformat(), "cleaned": "", "changed": "", "watts": "", **typed},
        wrong={each.place.removeprefix("--"): each for each in problems},
        problems=problems,
        written=written,
        once=once,
        cleanable=_cleanable(),
        flow=query.get("flow", ""),
        days=query.get("days", ""),
        caution=CAUTION,
        measures=measures,
        relative=relative_text,
        q=Quantities(measures=measures, currency=""),
    )


def _cleanable() -> tuple[str, ...]:
    """What a cleaning can be of."""
    from optimizer.answers.log_lines import CLEANABLE  # the first page does without

    return tuple(CLEANABLE)


async def _found(request: Request, log: str) -> Asking:
    """The log as the command reads it, with the rig where it is of that tank."""
    desk, name, flow = desk_of(request), request.path_params["name"], request.query_params.get("flow", "")
    catalog = desk.catalog(request)
    words = ["log", log, "--rig", name, *(["--catalog", catalog] if catalog else [])]
    words += ["--flow", flow] if flow.strip() else []
    return await asking(request, words, log, name, *([catalog] if catalog else []))


async def _aged(request: Request, log: str) -> Asking:
    """Flow against days since a clean, by the model of dirt and the fills."""
    desk, name, days = desk_of(request), request.path_params["name"], request.query_params.get("days", "")
    catalog = desk.catalog(request)
    words = ["ageing", name, *(["--catalog", catalog] if catalog else []), *(["--log", log] if log else [])]
    words += ["--days", days] if days.strip() else []
    return await asking(request, words, name, *([catalog] if catalog else []), *([log] if log else []))


ROUTES = [
    Route("/log/{name:path}", shown),
    Route("/log/{name:path}", entered, methods=["POST"]),
]
