"""Kits of a shop: whom they are for, which are best, what lies in each, cards to print, and what earns its space."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote, urlencode

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from optimizer.commands.table import command_of
from optimizer.desk.desk import WAIT_S, desk_of, file_and_catalog, page
from optimizer.desk.household_files import named_in
from optimizer.desk.jobs import Job
from optimizer.desk.standing import address, as_file, restored, whole_page
from optimizer.errors import InputError
from optimizer.model.kits import KitPlan
from optimizer.model.shop import Store

KEPT = ".results"


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Customers of one band: so many sorts of ``tanks``, which stand for ``weight``."""

    name: str
    tanks: int
    weight: float


def _words(request: Request) -> tuple[str, ...]:
    """The words of `kits` that ask what the address holds."""
    given, name = request.query_params, request.path_params["name"]
    plain = f"./{name}" if name.startswith("-") else name
    words = ["kits", plain, "--catalog", desk_of(request).catalog(request)]
    words += [f"--kits={given['kits']}"] if given.get("kits") else []
    words += [f"--by={given['by']}"] if given.get("by") else []
    return (*words, "--results", f"{plain}{KEPT}") if given.get("keep") else tuple(words)


def _asked(request: Request) -> Job:
    desk, name = desk_of(request), request.path_params["name"]
    return desk.ask(_words(request), *named_in(desk.folder, name), desk.catalog(request))


async def kits(request: Request) -> Response:
    """Whom the kits of a shop are for; once it is asked, the kits."""
    name, _ = file_and_catalog(request)
    store, problems = await run_in_threadpool(_read, request)
    given = request.query_params
    answering = await _answer(request) if given.get("ask") and store is not None else {"job": None, "answer": None, "plan": None}
    help_of = {option.name: option.does for option in command_of("kits").options}
    return page(
        request,
        "kits.html",
        name if store is None else store.name,
        **answering,
        here=address(request),
        name=name,
        store=store,
        bands=[] if store is None else list(_bands(store)),
        problems=problems,
        given=given,
        help_of=help_of,
        kept_in=f"{name}{KEPT}",
        card=lambda number, sort: f"/kit-card/{quote(name)}?{urlencode({**given, 'kit': str(number), 'as': sort})}",
        kept=lambda ending: f"/kit-card/{quote(name)}?{urlencode({**given, 'as': ending})}",
    )


def _read(request: Request) -> tuple[Store | None, list[Any]]:
    from optimizer import api

    desk = desk_of(request)
    folder = desk.folder
    try:
        catalog = api.read_catalog(folder.path(desk.catalog(request)))
        return api.read_shop(folder.path(request.path_params["name"]), catalog), []
    except InputError as error:
        return None, list(error.placed)


def _bands(store: Store) -> Iterator[Band]:
    for name in dict.fromkeys(each.band for each in store.customers):
        of = [each for each in store.customers if each.band == name]
        yield Band(name=name, tanks=len(of), weight=sum(each.weight for each in of))


async def _answer(request: Request) -> dict[str, Any]:
    from optimizer.report.html.kits_page import values
    from optimizer.report.spoken import spoken

    desk = desk_of(request)
    job = _asked(request)
    answer = await desk.jobs.until_known(job, WAIT_S)
    plan = restored(KitPlan, answer)
    shown: dict[str, Any] = {} if plan is None else values(spoken(plan), desk.units(request), "/words")
    shown.pop("title", None)
    return {"plan": None, **shown, "job": job, "answer": answer}


async def card(request: Request) -> Response:
    """The card of a kit as it is printed, its sheet for the shop, or all kits as a page or a table."""
    from optimizer import api
    from optimizer.report.kit_card import card_html
    from optimizer.report.sheet_csv import kits_csv
    from optimizer.report.shop_sheet import sheet_html
    from optimizer.report.spoken import spoken

    desk, given = desk_of(request), request.query_params
    plan = restored(KitPlan, await desk.jobs.until_known(_asked(request), WAIT_S))
    if plan is None:
        raise HTTPException(404, "This is not answered yet: open the shop's kits first.")
    units, sort = desk.units(request), given.get("as", "card")
    if sort == "csv":
        return as_file(kits_csv(plan).encode("utf-8-sig"), "kits.csv", "text/csv")
    if sort in ("html", "file"):
        html = api.page(plan, units)
        return as_file(html.encode(), "kits.html", "text/html") if sort == "file" else whole_page(html)
    told = spoken(plan)
    number = given.get("kit", "")
    kit = next((each for n, each in enumerate(told.kits, 1) if str(n) == number), None)
    if kit is None:
        raise HTTPException(404, "There is no such kit.")
    return whole_page((sheet_html if sort == "sheet" else card_html)(kit, told, units), "card.css")


ROUTES = [Route("/kits/{name:path}", kits), Route("/kit-card/{name:path}", card)]
