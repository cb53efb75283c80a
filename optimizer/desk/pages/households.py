"""Several tanks: the households of the folder, a new one, and what one budget does for all tanks of one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote, urlencode

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from optimizer.commands.table import command_of
from optimizer.desk.desk import WAIT_S, desk_of, file_and_catalog, form_of, page
from optimizer.desk.folder import ABSENT, Changed, Folder
from optimizer.desk.household_files import NewHousehold, NewTank, check, household_text, listed, named_in, rigs_of, slug
from optimizer.desk.jobs import Job
from optimizer.desk.standing import address, as_file, restored, whole_page
from optimizer.errors import InputError, Problem
from optimizer.model.ageing import Ageing
from optimizer.model.household import Household
from optimizer.model.shared import SharedResult

FOLDER = "households"
"""Where new ones go."""

ROOMS = 3
AIMS = ("worst", "shortfall", "flow")
CLEANED_S = 3.0
"""So long the page waits for what each tank delivers once it is clean, when all else is known."""


# -- all households, and a new one ------------------------------------------------------------------------------------


async def households(request: Request) -> Response:
    """All households of the folder, and the form of a new one."""
    return _listed(request, {})


def _listed(request: Request, typed: Mapping[str, str], *, problems: object = (), status: int = 200) -> Response:
    folder = desk_of(request).folder
    return page(
        request,
        "households.html",
        "Several tanks",
        status=status,
        there=[listed(folder, file, "tank") for file in folder.of_kind("household")],
        rigs=folder.of_kind("rig"),
        rooms=range(1, ROOMS + 1),
        typed=typed,
        problems=problems,
    )


async def new(request: Request) -> Response:
    """Write a household of the ticked tanks once its reader takes it; else the form again with all that is wrong."""
    form = await form_of(request)
    desk = desk_of(request)
    typed = {name: text for name, text in form.items() if isinstance(text, str)}
    found = _found(form, desk.folder.of_kind("rig"))
    name = f"{FOLDER}/{slug(found.name)}.toml"
    try:
        await run_in_threadpool(check, desk.folder, found, name, desk.catalog(request))
        await run_in_threadpool(desk.folder.save, name, household_text(found, FOLDER), ABSENT)
    except InputError as error:
        return _listed(request, typed, problems=error.placed, status=422)
    except Changed:
        there = Problem(where="name", what=f"{name} is there already.", cure="Give it another name.")
        return _listed(request, typed, problems=[there], status=409)
    return RedirectResponse(f"/household/{quote(name)}", 303)


def _found(form: FormData, rigs: tuple[str, ...]) -> NewHousehold:
    def text(name: str) -> str:
        return str(form.get(name, "")).strip()

    keys = ("name", "room", "flow", "turnover")
    return NewHousehold(
        name=text("name"),
        budget=text("budget"),
        rooms=tuple((text(f"room-{n}"), text(f"noise-{n}")) for n in range(1, ROOMS + 1) if text(f"room-{n}")),
        tanks=tuple(NewTank(rig=rig, **{key: text(f"{key}:{rig}") for key in keys}) for rig in rigs if form.get(f"in:{rig}")),
    )


# -- one household ------------------------------------------------------------------------------------------------------


def _words(request: Request, *more: str) -> tuple[str, ...]:
    """The words of `share` that ask what the address holds."""
    given = request.query_params
    name, catalog = request.path_params["name"], desk_of(request).catalog(request)
    words = ["share", f"./{name}" if name.startswith("-") else name, "--catalog", catalog]
    words += [f"--budget={given['budget']}"] if given.get("budget") else []
    words += ["--unmeasured"] if given.get("unmeasured") else []
    return (*words, f"--objective={given.get('aim') or AIMS[0]}", *more)


def _asked(request: Request, *more: str) -> Job:
    desk = desk_of(request)
    name, catalog = file_and_catalog(request)
    return desk.ask(_words(request, *more), *named_in(desk.folder, name), catalog)


def _with(request: Request, **more: str) -> str:
    """The address of the page with something else asked."""
    held = {**request.query_params, **more}
    query = urlencode({name: text for name, text in held.items() if text})
    return request.url.path + (f"?{query}" if query else "")


@dataclass(frozen=True, slots=True, kw_only=True)
class AsItStands:
    """A tank of a household before anything is done; no flow is known yet where it is None."""

    name: str
    room: str
    wish_m3s: float
    now_m3s: float | None = None
    clean_m3s: float | None = None
    waiting: bool = False


async def _as_it_stands(request: Request, within_s: float) -> list[AsItStands]:
    """The tanks of a household: their wishes by its file, their flows by `ageing`, which the page of each tank asks as well. None
    of a file that cannot be read: its own question says why."""
    desk, name = desk_of(request), request.path_params["name"]
    catalog = desk.catalog(request)
    try:
        read = await run_in_threadpool(_read, desk.folder, name, catalog)
    except InputError:
        return []
    rigs = rigs_of(desk.folder, name)
    jobs = {rig: desk.ask(["ageing", rig, "--catalog", catalog], rig, catalog) for rig in rigs if rig}
    found = []
    for tank, rig in zip(read.tanks, rigs, strict=False):
        ageing = restored(Ageing, await desk.jobs.until_known(jobs[rig], within_s)) if rig else None
        first = ageing.rows[0] if ageing is not None else None
        found.append(
            AsItStands(
                name=tank.name,
                room=tank.room,
                wish_m3s=tank.target_m3s,
                now_m3s=None if first is None else first.undone_m3s,
                clean_m3s=None if first is None else first.flow_m3s,
                waiting=bool(rig) and jobs[rig].state == "waiting",
            )
        )
    return found


def _read(folder: Folder, name: str, catalog: str) -> Household:
    from optimizer import api

    return api.read_household(folder.path(name), api.read_catalog(folder.path(catalog)))


async def household(request: Request) -> Response:
    """What one budget does for all tanks of a household."""
    from optimizer.report.html.household_page import values
    from optimizer.report.html.quantities import Quantities
    from optimizer.report.measures import system
    from optimizer.report.spoken import spoken

    desk = desk_of(request)
    job = _asked(request)
    answer = await desk.jobs.until_known(job, WAIT_S)
    told = restored(SharedResult, answer)
    shown: dict[str, Any] = {} if told is None else values(spoken(told), desk.units(request), "/words")
    shown.pop("title", None)
    others = await _aims(request) if told is not None and request.query_params.get("aims") else {}
    name = request.path_params["name"]
    stands = await _as_it_stands(request, CLEANED_S if answer is not None else 0.05)
    measures = system(desk.units(request))
    return page(
        request,
        "household.html",
        name if told is None else told.household,
        **{"told": None, **shown, **others},
        here=address(request),
        name=name,
        job=job,
        answer=answer,
        given=request.query_params,
        stands=stands,
        flow=measures.flow,
        bare=Quantities(measures=measures, currency="").bare_flow,
        aims=AIMS,
        aim=request.query_params.get("aim") or AIMS[0],
        aim_help={option.name: option for option in command_of("share").options}["objective"].does,
        with_aim=lambda aim: _with(request, aim=aim),
        all_aims=_with(request, aims="1"),
        kept=lambda ending: f"/household-file/{quote(name)}?{urlencode({**request.query_params, 'as': ending})}",
    )


async def _aims(request: Request) -> dict[str, Any]:
    """The three aims side by side: a question of its own, asked when it is wanted."""
    desk = desk_of(request)
    job = _asked(request, "--all-aims")
    answer = await desk.jobs.until_known(job, WAIT_S)
    return {"aims_job": job, "aims_told": restored(SharedResult, answer), "aims_answer": answer}


async def file(request: Request) -> Response:
    """The answer as a page to print, or its bill as a table. Waits for an answer that is not there yet."""
    from optimizer import api
    from optimizer.report.sheet_csv import bill_csv
    from optimizer.report.sheet_xlsx import bill_xlsx

    desk = desk_of(request)
    told = restored(SharedResult, await desk.jobs.until_known(_asked(request), WAIT_S))
    if told is None:
        raise HTTPException(404, "This is not answered yet: open the household first.")
    ending = request.query_params.get("as", "html")
    if ending == "csv":
        return as_file(bill_csv(told.bill, told.currency).encode("utf-8-sig"), "bill.csv", "text/csv")
    if ending == "xlsx":
        kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
        return as_file(bill_xlsx(told.bill, told.currency), "bill.xlsx", kind)
    html = api.page(told, desk.units(request))
    return as_file(html.encode(), "tanks.html", "text/html") if ending == "file" else whole_page(html)


ROUTES = [
    Route("/households", households),
    Route("/households", new, methods=["POST"]),
    Route("/household/{name:path}", household),
    Route("/household-file/{name:path}", file),
]
