"""A shop's own sheet on its way into a catalog: what each heading is taken for, what changes, and the word to write it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from urllib.parse import quote, urlencode

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from optimizer.desk.desk import WAIT_S, desk_of, form_of, page
from optimizer.desk.sheets_there import brought_in, goes_into
from optimizer.desk.standing import address, restored
from optimizer.errors import InputError, Problem
from optimizer.model.stock_import import StockImport
from optimizer.sheets.mapping import SUFFIX
from optimizer.sheets.words import ABOUT, FIELDS

WRITE_S = 60.0
LONGEST = 200
LARGEST_BYTES = 12 << 20


async def bring(request: Request) -> Response:
    """Keep a sheet that was chosen in the browser, and look at it."""
    form = await form_of(request)
    sheet, into = form.get("sheet"), str(form.get("into", "")).strip() or goes_into(desk_of(request).catalog(request))
    if not isinstance(sheet, UploadFile) or not sheet.filename:
        raise InputError("sheet", [Problem(where="sheet", what="no file is chosen.", cure="Choose your price list.")])
    folder = desk_of(request).folder
    folder.path(into)
    name = await run_in_threadpool(brought_in, folder, sheet.filename, await sheet.read(LARGEST_BYTES + 1))
    return RedirectResponse(_address(name, into, {}), 303)


def _address(name: str, into: str, answers: Mapping[str, str], **more: str) -> str:
    query = [("into", into), *(("a", f"{key}={value}") for key, value in answers.items()), *more.items()]
    return f"/sheet/{quote(name)}?{urlencode(query)}"


def _named(request: Request) -> tuple[str, str]:
    """The sheet and the catalog that a request is about. Raises HTTPException, Forbidden."""
    desk, name = desk_of(request), request.path_params["name"]
    if not desk.folder.path(name).is_file():
        raise HTTPException(404, "There is no such sheet in this folder.")
    into = request.query_params.get("into", "").strip() or goes_into(desk.catalog(request))
    desk.folder.path(into)
    return name, into


def _answers(texts: Iterable[str]) -> dict[str, str]:
    """What was answered, as the address holds it."""
    found = {}
    for text in texts:
        key, sign, said = text.rpartition("=") if text.startswith("column ") else text.partition("=")
        if sign and key.strip() and len(said) <= LONGEST:
            found[key.strip()] = said.strip()
    return found


def _words(name: str, into: str, answers: Mapping[str, str]) -> list[str]:
    plain = [f"./{each}" if each.startswith("-") else each for each in (name, into)]
    return ["stock", "import", plain[0], "--into", plain[1], *(f"--answer={key}={said}" for key, said in answers.items())]


async def look(request: Request) -> Response:
    """How the sheet is read, what it would change, what it does not say."""
    desk = desk_of(request)
    name, into = _named(request)
    answers = _answers(request.query_params.getlist("a"))
    done = desk.jobs.get(request.query_params.get("done", ""))
    basis = _basis(request, name, into)
    job = done or desk.ask(_words(name, into, answers), name, f"{name}{SUFFIX}", into)
    answer = await desk.jobs.until_known(job, WAIT_S)
    found = restored(StockImport, answer)
    asked = [] if found is None else found.questions
    return page(
        request,
        "sheet.html",
        name.rpartition("/")[2],
        here=address(request),
        name=name,
        into=into,
        job=job,
        answer=answer,
        found=found,
        answers=answers,
        said=[f"{key}={value}" for key, value in answers.items()],
        open_questions=[each for each in asked if each.key not in answers],
        fields=[(field, ABOUT[field]) for field in FIELDS],
        basis=basis,
        changed=request.query_params.get("changed", ""),
        verdict=_verdict(found),
        counts=_counts(found),
        again=_address(name, into, {}),
    )


def _basis(request: Request, name: str, into: str) -> str:
    folder = desk_of(request).folder
    return folder.basis((name, f"{name}{SUFFIX}", into))


def _verdict(found: StockImport | None) -> str:
    from optimizer.report.stock_import_text import headline

    return "" if found is None else headline(found).strip()


def _counts(found: StockImport | None) -> str:
    from optimizer.report.stock_import_text import counted_changes

    return "" if found is None else ", ".join(counted_changes(found))


async def decide(request: Request) -> Response:
    """Look again with what was answered in the form, or write the sheet into its catalog as it was shown."""
    form = await form_of(request)
    name, before_into = _named(request)
    into = str(form.get("into", "")).strip() or before_into
    desk_of(request).folder.path(into)
    before = _answers(str(each) for each in form.getlist("a"))
    answers = _said(form, before)
    shown = _answers(request.query_params.getlist("a")), before_into
    if form.get("do") != "write" or (answers, into) != shown:
        return RedirectResponse(_address(name, into, answers), 303)
    if form.get("basis") != _basis(request, name, into):
        return RedirectResponse(_address(name, into, answers, changed="1"), 303)
    return await _written(request, name, into, answers)


async def _written(request: Request, name: str, into: str, answers: Mapping[str, str]) -> Response:
    desk = desk_of(request)
    job = desk.ask([*_words(name, into, answers), "--yes"], name, f"{name}{SUFFIX}", into)
    await desk.jobs.until_known(job, WRITE_S)
    return RedirectResponse(_address(name, into, answers, done=job.key), 303)


def _said(form: FormData, before: Mapping[str, str]) -> dict[str, str]:
    """All answers: those from before, and what was chosen or typed in the form."""
    found = dict(before)
    for key, value in form.multi_items():
        sort, colon, rest = key.partition(":")
        if not colon or not isinstance(value, str):
            continue
        said = value.strip()[:LONGEST]
        if sort == "column" and said != form.get(f"was:{rest}"):
            found[f"column {rest}"] = said
        elif sort == "ask" and said:
            found[rest] = said
        elif sort == "row" and said:
            found[f"row {rest}"] = said
        elif sort == "file" and said != form.get(f"was-file:{rest}"):
            found[rest] = said
    return found


ROUTES = [
    Route("/sheets", bring, methods=["POST"]),
    Route("/sheet/{name:path}", look),
    Route("/sheet/{name:path}", decide, methods=["POST"]),
]
