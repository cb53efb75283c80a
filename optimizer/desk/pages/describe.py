"""Describing a tank: the questions of `fullbore new` as a form of a few pages, kept as they are typed, with a summary."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from functools import lru_cache
from pathlib import PurePosixPath
from urllib.parse import quote

from markupsafe import escape
from starlette.datastructures import FormData
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from optimizer import api
from optimizer.commands.interview import CAUTION, DEFAULT_NAME
from optimizer.commands.streams import reason
from optimizer.desk.described import Described, described, differing
from optimizer.desk.desk import Desk, desk_of, form_of, page
from optimizer.desk.folder import Forbidden
from optimizer.errors import BadValue, InputError, quoted
from optimizer.files.kept_answers import KeptAnswers
from optimizer.files.rig_writer import ASSUMED
from optimizer.model.catalog import Catalog

RIG, KEPT = ".toml", ".toml.answers"
SUMMARY = "summary"
MOST_NAMES = 1000
LONGEST_NAME = 100


async def begin(request: Request) -> Response:
    """Name the file, or go on with one that was begun."""
    return _start(request, "", "")


async def named(request: Request) -> Response:
    """Take the name of the file, and lead to its questions."""
    form = await form_of(request)
    given = str(form.get("name") or "")
    try:
        name = _name(desk_of(request), given)
    except BadValue as error:
        return _start(request, given, str(error))
    return RedirectResponse(f"/describe/{quote(name)}", 303)


async def questions(request: Request) -> Response:
    """One page of questions, or the summary."""
    told = _told(request)
    wanted = request.query_params.get("page", "")
    if wanted.isascii() and wanted.isdecimal() and len(wanted) < 3:
        return _page(request, told, min(int(wanted), len(told.pages) - 1))
    if wanted == SUMMARY and told.next_page == len(told.pages):
        return _summary(request, told)
    return _page(request, told, told.next_page) if told.next_page < len(told.pages) else _summary(request, told)


async def answers(request: Request) -> Response:
    """Take what was typed: keep it, then go where the form wants to go."""
    form = await form_of(request)
    told, go = _told(request), str(form.get("go") or "next")
    if go == "write":
        return _written(request, told, form)
    if go == "forget":
        KeptAnswers(told.place).forget()
        return RedirectResponse("/describe", 303)
    at = _number(form, told)
    texts = [str(form.get(f"q{item.number}") or "") for item in told.pages[at].items]
    lines = told.with_page(at, texts, whole=go != "keep")
    changed = differing(lines, told.lines) if form.get("seen") != _seen(told.lines) else {}
    if changed and go == "keep":
        return Response("changed meanwhile", 409)
    if changed:
        return _page(request, described(told.place, told.catalog, lines), at, texts=texts, meanwhile=changed)
    return _kept(request, described(told.place, told.catalog, lines), at, go, texts)


def _kept(request: Request, told: Described, at: int, go: str, texts: Sequence[str]) -> Response:
    """Keep the answers, and answer a form that wants to go somewhere."""
    try:
        KeptAnswers(told.place).keep(told.lines)
    except OSError as error:
        if go == "keep":
            raise
        return _page(request, told, at, texts=texts, unkept=reason(error))
    if go == "keep":
        return Response(_seen(told.lines), media_type="text/plain")
    if go == "next" and not told.pages[at].is_done:
        return _page(request, told, at, texts=texts, tried=True)
    to = {"next": at + 1, "back": max(at - 1, 0)}.get(go, int(go) if go.isascii() and go.isdecimal() else at)
    where = str(to) if to < len(told.pages) and go != SUMMARY else SUMMARY
    return RedirectResponse(f"/describe/{quote(request.path_params['name'])}?page={where}", 303)


def _written(request: Request, told: Described, form: FormData) -> Response:
    """Write the rig file, under the name that it gets in the end."""
    if told.next_page < len(told.pages):
        return _page(request, told, told.next_page, tried=True)
    desk, given = desk_of(request), str(form.get("name") or "")
    try:
        name = _name(desk, given)
        last = described(desk.folder.path(name), told.catalog, told.lines)
        last.write(replaces=_may_replace(desk, form, name, is_seen=last.place == told.place))
    except BadValue as error:
        return _summary(request, told, name=given, wrong=str(error))
    except InputError as error:
        return _summary(request, told, name=given, problems=tuple(error.placed))
    KeptAnswers(told.place).forget()
    return RedirectResponse(f"/tank/{quote(name)}", 303)


def _may_replace(desk: Desk, form: FormData, name: str, *, is_seen: bool) -> bool:
    """Whether the form says that a file may be replaced, and means the one that is there now. Raises BadValue for another."""
    if form.get("replace") != "yes" or not is_seen:
        return False
    if form.get("was") != desk.folder.version(name):
        raise BadValue(f"{name} was changed since this page was made.", "Look at it before you replace it.")
    return True


# -- pages ---------------------------------------------------------------------------------------------------------


def _start(request: Request, given: str, wrong: str) -> Response:
    desk = desk_of(request)
    names = [name.removesuffix(".answers") for name in desk.folder.files(KEPT)]
    begun = [(name, len(KeptAnswers(desk.folder.path(name)).read())) for name in names]
    name = given or _free(desk)
    return page(request, "describe.html", "Describe a tank", name=name, wrong=wrong, begun=begun, caution=CAUTION)


def _page(
    request: Request,
    told: Described,
    number: int,
    *,
    texts: Sequence[str] | None = None,
    meanwhile: Mapping[int, str] | None = None,
    tried: bool = False,
    unkept: str = "",
) -> Response:
    """One page of questions; ``texts`` is what was typed now, ``meanwhile`` what somebody else has answered, ``unkept`` why
    nothing could be kept, and with ``tried`` the page was to be left."""
    at = told.pages[number]
    typed = [item.text or "" for item in at.items] if texts is None else texts
    values = {
        "name": request.path_params["name"],
        "pages": told.pages,
        "at": at,
        "asked": list(zip(at.items, map(escape, typed), strict=True)),  # in a field a text stays as it was typed
        "meanwhile": meanwhile or {},
        "tried": tried,
        "unkept": unkept,
        "seen": _seen(KeptAnswers(told.place).read()) if meanwhile else _seen(told.lines),
        "caution": CAUTION,
    }
    return page(request, "describe_page.html", at.about, **values)


def _summary(
    request: Request,
    told: Described,
    *,
    name: str = "",
    wrong: str = "",
    problems: tuple[object, ...] = (),
) -> Response:
    """All answers and assumptions, and the name of the file that they go into."""
    assumed: tuple[str, ...] = ()
    try:
        assumed = told.assumed()
    except InputError as error:
        problems = problems or tuple(error.placed)
    values = {
        "name": request.path_params["name"],
        "file": name or request.path_params["name"],
        "pages": told.pages,
        "title_assumed": ASSUMED,
        "assumed": assumed,
        "problems": problems,
        "wrong": wrong,
        "there": told.place.exists(),
        "was": desk_of(request).folder.version(_name(desk_of(request), request.path_params["name"])),
    }
    return page(request, "describe_summary.html", "Before it is written", **values)


# -- names and catalogs --------------------------------------------------------------------------------------------


def _told(request: Request) -> Described:
    """The tank that a page is about. Raises HTTPException for a name that no rig file can have."""
    desk = desk_of(request)
    try:
        name = _name(desk, request.path_params["name"])
    except BadValue as error:
        raise HTTPException(404, str(error)) from None
    return described(desk.folder.path(name), _catalog_of(desk, desk.catalog(request)))


def _catalog_of(desk: Desk, name: str) -> Catalog:
    """The chosen catalog; without one a tank can still be described."""
    return _read(str(desk.folder.path(name)), desk.folder.basis([name])) if name else Catalog(parts={}, products=())


@lru_cache(maxsize=2)
def _read(path: str, basis: str) -> Catalog:  # noqa: ARG001
    return api.read_catalog(path)


def _name(desk: Desk, given: str) -> str:
    """The name of a rig file as it was given, with its ending. Raises BadValue for one that cannot be."""
    text = given.strip()
    name = text if text.endswith(RIG) else f"{text}{RIG}"
    try:
        if len(name) > LONGEST_NAME or not name.isprintable() or name.startswith("-"):
            raise Forbidden
        path = desk.folder.path(name)
    except Forbidden:
        raise BadValue(f"{quoted(given)} is no name of a file of this folder.", 'Write for example "hall_tank".') from None
    if text and PurePosixPath(name).stem.strip() and path.parent.is_dir():
        return name
    what = "there is no name." if not text else f"there is no folder {quoted(PurePosixPath(name).parent)}."
    raise BadValue(what, 'Write for example "hall_tank".')


def _free(desk: Desk) -> str:
    """A name that no file has yet."""
    names = (f"{DEFAULT_NAME}{f'_{n}' if n else ''}{RIG}" for n in (0, *range(2, MOST_NAMES)))
    return next((name for name in names if not desk.folder.path(name).exists()), "")


def _number(form: FormData, told: Described) -> int:
    """The number of the page that was filled in. Raises HTTPException for none."""
    text = str(form.get("page") or "")
    if text.isascii() and text.isdecimal() and len(text) < 3 and int(text) < len(told.pages):
        return int(text)
    raise HTTPException(422, "There is no such page of questions.")


def _seen(lines: Sequence[str]) -> str:
    return hashlib.blake2b("\n".join(lines).encode("utf-8", "replace"), digest_size=8).hexdigest()


ROUTES = [
    Route("/describe", begin),
    Route("/describe", named, methods=["POST"]),
    Route("/describe/{name:path}", questions),
    Route("/describe/{name:path}", answers, methods=["POST"]),
]
