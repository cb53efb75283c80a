"""Every command as a form made from its options: whatever can be asked at a terminal can be asked here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import urlencode

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from optimizer.commands.options import Option
from optimizer.commands.table import COMMANDS, command_of
from optimizer.desk.desk import WAIT_S, desk_of, form_of, page
from optimizer.desk.folder import Folder
from optimizer.desk.forms import fields_of, given_of, problems_apart, too_long, words_of
from optimizer.desk.household_files import named_in

HERE: Mapping[str, str] = {
    "new": "/describe",
    "demo": "/",
    "guide": "/guide",
    "glossary": "/words",
}
"""Commands that have a page of their own here, which does the same."""

NOT_SAID = frozenset({"desk", "help", *HERE})
"""Commands that are not asked for as a form."""

NOT_SHOWN = frozenset({"json", "quiet", "units", "scheduler", "catalog"})
"""Options that say how an answer is printed, which the page does by itself, or what is chosen for all pages, or would ask
another machine."""


FEW = 9
"""Of a command with so many options all are shown at once."""


async def listed(request: Request) -> Response:
    """All commands with what they do."""
    said = [(name, does) for name, does in COMMANDS.items() if name not in NOT_SAID]
    here = [(COMMANDS[name], path) for name, path in HERE.items()]
    return page(request, "commands.html", "Every command", said=said, have_pages=here)


async def say(request: Request) -> Response:
    """The form of a command, filled with what the address holds."""
    name = _name(request)
    given = {option.name: request.query_params.get(option.name, "") for option in _options(name)}
    return _page(request, name, given, {})


async def asked(request: Request) -> Response:
    """Ask what was typed; the answer has an address of its own."""
    form, name, desk = await form_of(request), _name(request), desk_of(request)
    given = {option.name: str(form.get(option.name, "")).strip() for option in _options(name)}
    long = too_long(_options(name), given)
    if long:
        return _page(request, name, given, long, status=422)
    has = {option.flag for option in command_of(name).options}
    # a catalog is of no use to a command that may be asked without a tank, and is
    about = "--catalog" in has and ("--rig" not in has or bool(given["rig"]))
    more = {"catalog": desk.catalog(request) if about else "", "units": desk.units(request) if "--units" in has else ""}
    words = words_of(name, command_of(name).options, given | more)
    job = desk.ask(words, *_files(desk.folder, name, given | more))
    return RedirectResponse(f"/said/{job.key}", 303)


def _files(folder: Folder, name: str, given: Mapping[str, str]) -> list[str]:
    """All files of the folder that an answer hangs on: those that are named, and those that one of them names."""
    options = [option for option in command_of(name).options if option.names_files]
    texts = (text.strip() for option in options for text in given.get(option.name, "").splitlines())
    named = [text for text in texts if folder.has_name(text)]
    tables = (text for text in named if text.endswith(".toml"))
    return [*named, *(each for text in tables for each in named_in(folder, text))]


async def said(request: Request) -> Response:
    """The form as it was sent, with its answer, or how far that is."""
    desk = desk_of(request)
    job = desk.jobs.get(request.path_params["key"])
    if job is None or job.words[0] in NOT_SAID:
        raise HTTPException(404, "This question is not known any more: ask it again.")
    answer = await desk.jobs.until_known(job, WAIT_S)
    given = given_of(command_of(job.words[0]).options, job.words)
    problems = () if answer is None else answer.problems
    wrong, others = problems_apart(problems, [option.flag for option in _options(job.words[0])])
    status = 422 if problems else 200
    return _page(request, job.words[0], given, wrong, job=job, answer=answer, problems=others, status=status)


def _name(request: Request) -> str:
    name: str = request.path_params["command"]
    if name not in COMMANDS or name in NOT_SAID:
        raise HTTPException(404, "There is no form for such a command.")
    return name


def _options(name: str) -> list[Option]:
    return [option for option in command_of(name).options if option.name not in NOT_SHOWN]


def _page(
    request: Request, name: str, given: Mapping[str, str], wrong: Mapping[str, Sequence[str]], *, status: int = 200, **more: Any
) -> Response:
    command, folder = command_of(name), desk_of(request).folder
    fields = fields_of(_options(name), given, wrong)
    needed = [field for field in fields if field.needed]
    files = [*folder.files(), *folder.files(".log"), *folder.files(".json"), *folder.catalogs]
    shown: dict[str, Any] = {
        "job": None,
        "answer": None,
        "problems": (),
        "command": name,
        "does": " ".join(command.does.split()),
        "files": files,
    }
    shown |= {"needed_fields": needed, "other_fields": [field for field in fields if field not in needed]}
    shown["other_open"] = len(fields) <= FEW or any(field.wrong or field.value for field in shown["other_fields"])
    shown["again"] = f"/say/{name}?{urlencode({key: text for key, text in given.items() if text})}"
    title = COMMANDS[name][:1].upper() + COMMANDS[name][1:]
    return page(request, "say.html", title, status=status, **{**shown, **more})


ROUTES = [
    Route("/say", listed),
    Route("/say/{command}", say),
    Route("/say/{command}", asked, methods=["POST"]),
    Route("/said/{key}", said),
]
