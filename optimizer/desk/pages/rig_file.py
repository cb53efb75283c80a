"""A file of the folder as text: changed as a whole, taken away, or kept once more under another name."""

from __future__ import annotations

import asyncio
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from optimizer.desk import rig_edit
from optimizer.desk.desk import desk_of, form_of, page
from optimizer.desk.folder import ABSENT, Changed, Text, kind_of
from optimizer.errors import Problem

ENDING = ".toml"


async def shown(request: Request) -> Response:
    """The text in a field, or as a file to keep."""
    file = desk_of(request).folder.read(request.path_params["name"])
    if "download" in request.query_params:
        kept = f"attachment; filename*=UTF-8''{quote(file.name.rpartition('/')[2])}"
        return Response(file.content, media_type="application/toml", headers={"content-disposition": kept})
    return await _page(request, file, file.content)


async def saved(request: Request) -> Response:
    """Take in the text, if the reader of rig files finds nothing wrong with it that was right before. Raises Changed for a file
    that was changed, or taken away, since the page was made."""
    given = await form_of(request)
    folder, name = desk_of(request).folder, request.path_params["name"]
    try:
        file = folder.read(name)
    except FileNotFoundError:
        file = Text(name=name, content="", version=ABSENT)
    text = _lines_as_in(file, str(given.get("text") or ""))
    if file.version != given.get("seen"):
        raise Changed(file, text)
    problems = await _problems(request, file, text)
    if set(problems).difference(await _problems(request, file, file.content)):
        return await _page(request, file, text, problems, status=422)
    folder.save(name, text, file.version)
    return RedirectResponse(f"/file/{quote(name)}?saved=yes", 303)


async def copied(request: Request) -> Response:
    """Keep the file once more under a name that is free."""
    given = await form_of(request)
    folder, name = desk_of(request).folder, request.path_params["name"]
    file, wanted = folder.read(name), str(given.get("to") or "").strip()
    to = wanted if wanted.endswith(ENDING) else f"{wanted}{ENDING}"
    problem = None
    if not wanted:
        problem = Problem(where="copy", what="no name is given.", cure="Write for example my_tank_after.toml.")
    elif folder.version(to) != ABSENT:
        problem = Problem(where="copy", what="a file of this name is there already.", cure="Write another name.")
    if problem is not None:
        return await _page(request, file, file.content, (problem,), to=wanted, status=422)
    folder.save(to, file.content, ABSENT)
    return RedirectResponse(f"/{'tank' if kind_of(file.content) == 'rig' else 'file'}/{quote(to)}", 303)


def _lines_as_in(file: Text, text: str) -> str:
    """What came from a field of a form, with ends of lines as the file has them."""
    lines = text.replace("\r\n", "\n")
    return lines.replace("\n", "\r\n") if "\r\n" in file.content else lines


async def _problems(request: Request, file: Text, text: str) -> tuple[Problem, ...]:
    desk = desk_of(request)
    if kind_of(file.content) != "rig" and kind_of(text) != "rig":
        return ()
    return await asyncio.to_thread(rig_edit.problems_of, desk.folder, file.name, text, desk.catalog(request))


async def _page(
    request: Request,
    file: Text,
    text: str,
    problems: tuple[Problem, ...] = (),
    *,
    to: str = "",
    status: int = 200,
) -> Response:
    found = problems or await _problems(request, file, text)
    return page(
        request,
        "file.html",
        file.name.rpartition("/")[2],
        status=status,
        name=file.name,
        is_rig=kind_of(file.content) == "rig",
        seen=file.version,
        text=text,
        lines=min(max(text.count("\n") + 2, 12), 40),
        problems=rig_edit.numbered(found, text),
        refused=status == 422,
        to=to,
        saved="saved" in request.query_params,
    )


ROUTES = [
    Route("/file/{name:path}", shown),
    Route("/file/{name:path}", saved, methods=["POST"]),
    Route("/copy/{name:path}", copied, methods=["POST"]),
]
