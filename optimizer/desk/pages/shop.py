"""The shop: its catalogs, the sheets that are brought in, its shop files; and the stock of one catalog as a table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import quote, urlencode

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from optimizer.desk.desk import desk_of, form_of, page
from optimizer.desk.household_files import listed
from optimizer.desk.sheets_there import ENDINGS, goes_into, sheets_there
from optimizer.desk.standing import address, restored
from optimizer.desk.stock_changes import Conflict, differing, saved
from optimizer.errors import BadValue, InputError
from optimizer.files.shelf_rows import ShelfRow, shelf_rows
from optimizer.model.stock import CatalogCheck
from optimizer.money import MoneyError, parse_money

EACH_PAGE = 60
CHECK_S = 3.0
"""So long the table waits for what is beside its rows: it is not loaded again later, since somebody may be typing in it."""


async def shop(request: Request) -> Response:
    """What a shop works on: catalogs, sheets, shop files."""
    folder = desk_of(request).folder
    return page(
        request,
        "shop.html",
        "Shop",
        shops=[listed(folder, file, "band") for file in folder.of_kind("shop")],
        sheets=sheets_there(folder),
        endings=",".join(ENDINGS),
        into=goes_into(desk_of(request).catalog(request)),
    )


# -- the stock of one catalog -------------------------------------------------------------------------------------------


async def stock(request: Request) -> Response:
    """The rows of a catalog, with what a check of it finds beside them."""
    return await _table(request)


async def change(request: Request) -> Response:
    """Save what was changed in the table; what cannot be is told, and nothing that was typed is lost."""
    form = await form_of(request)
    folder, catalog = desk_of(request).folder, _catalog(request)
    new, conflicts = differing(await run_in_threadpool(shelf_rows, folder.path(catalog)), form)
    typed = {name: text for name, text in form.items() if isinstance(text, str)}
    if conflicts:
        return await _table(request, typed, conflicts=conflicts, status=409)
    try:
        count = await run_in_threadpool(saved, folder, catalog, new)
    except InputError as error:
        return await _table(request, typed, problems=list(error.placed), status=422)
    query = {**_view(request), "saved": str(count)}
    return RedirectResponse(f"/stock/{quote(catalog)}?{urlencode(query)}", 303)


def _catalog(request: Request) -> str:
    name: str = request.path_params["name"]
    if not desk_of(request).folder.path(name).is_dir():
        raise HTTPException(404, "There is no such catalog in this folder.")
    return name


def _view(request: Request) -> dict[str, str]:
    """Which part of the table is shown."""
    given = request.query_params
    return {name: given[name] for name in ("kind", "search", "only", "page") if given.get(name)}


async def _table(
    request: Request,
    typed: Mapping[str, str] | None = None,
    *,
    conflicts: Sequence[Conflict] = (),
    problems: Sequence[object] = (),
    status: int = 200,
) -> Response:
    desk, catalog = desk_of(request), _catalog(request)
    rows = await run_in_threadpool(shelf_rows, desk.folder.path(catalog))
    job = desk.ask(["stock", "check", f"./{catalog}" if catalog.startswith("-") else catalog], catalog)
    answer = await desk.jobs.until_known(job, CHECK_S)
    check = restored(CatalogCheck, answer)
    return page(
        request,
        "stock.html",
        catalog,
        status=status,
        here=address(request),
        name=catalog,
        job=job,
        answer=answer,
        typed=typed or {},
        conflicts=conflicts,
        problems=problems,
        saved=request.query_params.get("saved", ""),
        **_said(check, desk.units(request)),
        **_shown(request, rows, check),
    )


def _said(check: CatalogCheck | None, units: str) -> dict[str, Any]:
    """The findings by the rows that they are about, and the verdict, in the words of the check."""
    from optimizer.report.measures import system
    from optimizer.report.stock_check_text import COUNTED, headline

    if check is None:
        return {"verdict": "", "beside": {}}
    words = system(units).words
    beside: dict[str, list[dict[str, str]]] = {}
    for each in check.findings:
        for row in each.ids:
            said = {"what": words(each.what), "cure": words(each.cure), "first": each.ids[0]}
            beside.setdefault(row, []).append({"weight": COUNTED[each.weight][0], "sort": each.weight, **said})
    return {"verdict": headline(check, units).strip(), "beside": beside}


def _shown(request: Request, rows: Sequence[ShelfRow], check: CatalogCheck | None) -> dict[str, Any]:
    """The rows of the page that is asked for, of those that are searched for."""
    view = _view(request)
    found = {row for each in check.findings for row in each.ids} if check is not None else set()
    words = view.get("search", "").casefold().split()
    fit = [
        row
        for row in rows
        if view.get("kind", row.kind) == row.kind
        and (not view.get("only") or row.id in found)
        and all(word in f"{row.id} {row.name}".casefold() for word in words)
    ]
    number = int(view["page"]) if view.get("page", "").isascii() and view.get("page", "").isdecimal() else 1
    pages = max(1, -(-len(fit) // EACH_PAGE))
    number = min(max(number, 1), pages)
    return {
        "rows": fit[(number - 1) * EACH_PAGE : number * EACH_PAGE],
        "count": len(fit),
        "of": len(rows),
        "kinds": list(dict.fromkeys(row.kind for row in rows)),
        "view": view,
        "number": number,
        "pages": pages,
        "to_page": lambda n: f"?{urlencode({**view, 'page': str(n)})}",
        "has_cost": any(row.cost for row in rows),
        "margin": _margin,
    }


def _margin(row: ShelfRow) -> str:
    """What is left of the price, as money; empty where either is not known."""
    from optimizer.report.measures import money

    try:
        return money(parse_money(row.price) - parse_money(row.cost)) if row.price and row.cost else ""
    except (MoneyError, BadValue):
        return ""


ROUTES = [
    Route("/shop", shop),
    Route("/stock/{name:path}", stock),
    Route("/stock/{name:path}", change, methods=["POST"]),
]
