"""Asking for the upgrade of a tank: the answer, what every sum buys, and all that belongs to the sum that is chosen."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import PurePosixPath
from typing import Any

from markupsafe import Markup
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from optimizer.desk.desk import WAIT_S, desk_of, environment, form_of, page
from optimizer.desk.folder import Changed, Forbidden, Text
from optimizer.desk.forms import Field, fields_of, problems_apart, too_long
from optimizer.desk.jobs import Job
from optimizer.desk.question import FIRST, MORE, Question, ask_options
from optimizer.desk.sums_picture import sums_picture
from optimizer.desk.worker import Answered
from optimizer.errors import BadValue
from optimizer.files.toml_tables import tables_of
from optimizer.model.dossiers import Dossier
from optimizer.model.results import Result
from optimizer.model.said_lines import with_texts
from optimizer.model.saved import answer_of
from optimizer.money import parse_money, show_money
from optimizer.report.html.page import values
from optimizer.report.html.sums import aside, sums
from optimizer.report.measures import system
from optimizer.report.spoken import spoken

PARTS: Mapping[str, tuple[str, Mapping[str, str]]] = {
    "sums": ("What every sum buys", {}),
    "bundle": ("What to buy and to do", {}),
    "bands": ("How sure it is", {"bands": "on"}),
    "order": ("In which order to buy", {"order": "on"}),
    "alternatives": ("The next best bundles", {"alternatives": "5"}),
    "why": ("Why a part is not in it", {}),
    "files": ("The bill as a file", {"csv": "bill.csv", "xlsx": "bill.xlsx"}),
    "report": ("All of it as one page to keep", {"report": "report.html"}),
    "after": ("After the work", {}),
}
"""Parts of an answer by name: the heading of each, and what it asks the command for besides."""

FOLDED = tuple(name for name in PARTS if name not in ("sums", "bundle"))
ONLY_BEST = ("alternatives", "why")
"""What only `best` can be asked for."""
NOT_OF_DAYS = ("alternatives",)
"""What is known of the clean day only."""
IN_UNITS = ("alternatives", "why", "report")
"""Parts that come as text, in the units that are chosen."""
WORDS_PAGE = "/words"


def question_of(request: Request) -> Question:
    """What a request asks for."""
    query = request.query_params
    given = {name: query.get(name, "").strip() for name in (*FIRST, *MORE)}
    return Question(
        rig=request.path_params["name"],
        catalog=desk_of(request).catalog(request),
        given={name: text for name, text in given.items() if text},
        sum=_sum(query.get("sum", "")),
    )


def _sum(text: str) -> str:
    """The sum that was chosen, as the slider writes it; none where it is no sum."""
    try:
        return show_money(parse_money(text.strip()))
    except BadValue:
        return ""


async def ask(request: Request) -> Response:
    """The form, and the answer once something is asked."""
    question = question_of(request)
    file = desk_of(request).folder.read(question.rig)
    wrong = too_long(ask_options().values(), question.given)
    if wrong or not request.query_params:
        return _page(request, question, file, wrong)
    job = _asked(request, replace(question, sum=""), {})
    if not question.given.get("interval"):
        _asked_front(request, question)  # beside it, since most pages show both
    answer = await _known(request, job)
    if answer is None:
        return _page(request, question, file, {}, job=job)
    if answer.problems or not answer.body:
        beside, others = problems_apart(answer.problems, [option.flag for option in ask_options().values()])
        return _page(
            request,
            question,
            file,
            beside,
            problems=others,
            text="" if answer.problems else answer.text,
            stopped=job if job.stopped else None,
        )
    base = _values(request, answer.body)
    has_front = _has_front(question, base["d"].result)
    shown = {
        "base": {**base, "shown": _rendered("ask_answer.html", base)},
        "has_front": has_front,
        "sums": await _sums(request, question, answer) if has_front else None,
        "bundle": await _bundle(request, question),
        "folds": [(name, PARTS[name][0], question.address(name)) for name in FOLDED if _may(question, name)],
    }
    return _page(request, question, file, {}, line=job.command, stopped=job if job.stopped else None, **shown)


async def part(request: Request) -> Response:
    """One part of an answer, as a page of its own that a script takes into the page of the answer."""
    question, name = question_of(request), request.path_params["part"]
    if name not in PARTS or not _may(question, name):
        raise HTTPException(404, "There is no such part of an answer.")
    more: dict[str, Any] = {"part": name, "name": question.rig, "question": question, "answer": None, "job": None, "sums": None}
    if name == "sums":
        await _sums_apart(request, question, more)
    elif name == "bundle":
        more["bundle"] = await _bundle(request, question)
    elif name == "after":
        more |= _place(request, question)
    else:
        await _of_command(request, question, name, more)
    return page(request, "part.html", PARTS[name][0], **{**more, "here": question.address(name)})


async def _sums_apart(request: Request, question: Question, more: dict[str, Any]) -> None:
    """The sums as a part of their own, or which of the two answers that they are made of is not known yet."""
    more["job"] = _asked(request, replace(question, sum=""), {})
    base = await _known(request, more["job"])
    if base is not None and base.body:
        more["job"] = _asked_front(request, question)
        more["answer"] = await _known(request, more["job"])
        more["sums"] = None if more["answer"] is None else await _sums(request, question, base)
    else:
        more["answer"] = base


async def _of_command(request: Request, question: Question, name: str, more: dict[str, Any]) -> None:
    """What a part shows that is one more question to the command."""
    options = dict(PARTS[name][1])
    if name == "why":
        parts = request.query_params.get("why", "").strip()
        more["why"] = parts
        more["known"] = _parts_on_offer(request, question)
        if not parts:
            return
        options["why"] = parts
    if name in IN_UNITS:
        options["units"] = desk_of(request).units(request)
    more["job"] = job = _asked(request, question, options)
    more["answer"] = answer = await _known(request, job)
    if answer is not None and answer.body and name in ("bands", "order"):
        more |= _values(request, answer.body)


async def after(request: Request) -> Response:
    """Write the file of the tank as it will be."""
    form = await form_of(request)
    desk, question = desk_of(request), question_of(request)
    name = str(form.get("place", "")).strip()
    more: dict[str, Any] = {"part": "after", "name": question.rig, "question": question, "answer": None, "job": None}
    more["here"] = question.address("after")
    more |= {"place": name, "seen": str(form.get("seen", "")), "written": "", "now": None, "wrong": ""}
    try:
        desk.folder.path(name)
        if not name.endswith(".toml"):
            raise Forbidden("The name of a tank's file ends with .toml.")
    except Forbidden as error:
        return page(request, "part.html", PARTS["after"][0], status=_status(request, 422), **{**more, "wrong": str(error)})
    job = _asked(request, question, {"after": name})
    answer = await desk.jobs.until_known(job, 60.0)
    content = answer.files.get("--after") if answer is not None else None
    if answer is None or content is None:
        return page(request, "part.html", PARTS["after"][0], **{**more, "answer": answer, "job": job})
    try:
        more["written"] = desk.folder.save(name, content.decode("utf-8"), more["seen"]).name
    except Changed as changed:
        more |= {"now": changed.now, "seen": changed.now.version, "made": content.decode("utf-8")}
    return page(request, "part.html", PARTS["after"][0], status=_status(request, 409) if more["now"] else 200, **more)


def _status(request: Request, refused: int) -> int:
    """What a refusal is answered with: a browser puts a line on its console for a request of a script that is refused."""
    return 200 if "x-fullbore-in-place" in request.headers else refused


async def taken(request: Request) -> Response:
    """A file that an answer made, to be kept."""
    job = desk_of(request).jobs.get(request.path_params["key"])
    flag = f"--{request.path_params['flag']}"
    if job is None or job.answer is None:
        raise HTTPException(404, "This answer is not known any more: ask again.")
    if flag == "--json" and job.answer.body:
        content, name = json.dumps(job.answer.body, indent=2, sort_keys=True).encode(), f"{job.words[0]}.json"
    elif flag in job.answer.files:
        content, name = job.answer.files[flag], PurePosixPath(job.words[job.words.index(flag) + 1]).name
    else:
        raise HTTPException(404, "This answer made no such file.")
    kept = "".join(each if (each.isalnum() and each.isascii()) or each in "._-" else "_" for each in name)
    head = {"content-disposition": f'attachment; filename="{kept}"'}
    return Response(content, media_type="application/octet-stream", headers=head)


# -- what is asked ---------------------------------------------------------------------------------------------------


def _asked(request: Request, question: Question, more: Mapping[str, str]) -> Job:
    return desk_of(request).ask(question.words(**more), *question.files(desk_of(request).folder))


def _asked_front(request: Request, question: Question) -> Job:
    return desk_of(request).ask(question.front, *question.files(desk_of(request).folder))


async def _known(request: Request, job: Job, within_s: float = WAIT_S) -> Answered | None:
    """An answer that is there, or soon is."""
    return await desk_of(request).jobs.until_known(job, within_s)


def _may(question: Question, name: str) -> bool:
    """Whether a part can be asked for."""
    if question.given.get("interval") and name in NOT_OF_DAYS:
        return False
    return question.command == "best" or name not in ONLY_BEST


def _has_front(question: Question, result: Result | None) -> bool:
    """Whether there are sums to choose from: none without an end, and none over an interval."""
    if result is None or result.best is None or question.given.get("interval"):
        return False
    return result.question.budget is not None


# -- what is shown ---------------------------------------------------------------------------------------------------


def _dossier(body: Mapping[str, Any], units: str) -> Dossier:
    """A frozen answer taken back from its JSON, its places in words and its texts in the units."""
    problems: list[str] = []
    found = answer_of(body, lambda place, what: problems.append(f"{place}: {what}"))
    if not isinstance(found, Dossier):
        raise RuntimeError(f"an answer cannot be read back: {'; '.join(problems)}")
    return with_texts(spoken(found), system(units).words)


def _values(request: Request, body: Mapping[str, Any]) -> dict[str, Any]:
    """What templates show of an answer."""
    units = desk_of(request).units(request)
    found = values(_dossier(body, units), units, WORDS_PAGE)
    return {name: each for name, each in found.items() if name != "title"} | {"ticks": True, "pictures": {}, "drawn": {}}


async def _sums(request: Request, question: Question, base: Answered) -> Markup | None:
    """What the slider runs over; None while it is not known, or where there is nothing to choose."""
    found = await _known(request, _asked_front(request, question))
    if found is None or not found.body.get("points"):
        return None
    units = desk_of(request).units(request)
    front, result = _dossier(found.body, units).front, _dossier(base.body, units).result
    if front is None or result is None:
        return None
    rows = sums(front, result)
    wanted = 0.0 if result.advice is None else result.advice.wanted_m3s
    addresses = [question.address(sum="" if row.chosen else row.amount) for row in rows]
    here = next((n for n, row in enumerate(rows) if (row.amount if not row.chosen else "") == question.sum), None)
    if here is None:
        here = next(n for n, row in enumerate(rows) if row.chosen)
    shown = values(Dossier(front=front), units, WORDS_PAGE)
    picture = sums_picture(front, rows, wanted, system(units))
    shown |= {"rows": rows, "addresses": addresses, "at": here, "picture": picture, "aside": aside(result)}
    return _rendered("ask_sums.html", shown)


async def _bundle(request: Request, question: Question) -> dict[str, Any]:
    """What to buy and to do for the chosen sum, or how far that is."""
    job = _asked(request, question, {})
    answer = await _known(request, job)
    shown: dict[str, Any] = {"job": None, "text": "", "question": question, "token": desk_of(request).session.token}
    shown |= {"here": question.address()}
    if answer is None:
        shown["job"] = job
    elif not answer.body:
        shown["text"] = answer.text
    else:
        shown |= _values(request, answer.body)
    return {"job": shown["job"], "shown": _rendered("ask_bundle.html", shown)}


def _rendered(template: str, shown: Mapping[str, Any]) -> Markup:
    """A piece of a page, with values of its own."""
    return Markup(environment().get_template(template).render(shown))


def _place(request: Request, question: Question) -> dict[str, Any]:
    """Where the tank as it will be is written to."""
    here = PurePosixPath(question.rig)
    name = str(here.with_name(f"{here.stem}_after.toml"))
    return {"place": name, "seen": desk_of(request).folder.version(name), "written": "", "now": None, "wrong": ""}


def _parts_on_offer(request: Request, question: Question) -> dict[str, str]:
    """Names of the parts of the catalog by their ids, to choose from, as far as its files can be shown here."""
    import csv

    folder = desk_of(request).folder
    found: dict[str, str] = {}
    for name in folder.files(".csv"):
        if PurePosixPath(name).parent.as_posix() == question.catalog:
            with contextlib.suppress(OSError, csv.Error):
                rows = csv.DictReader(folder.read(name).content.splitlines())
                found |= {str(row["id"]): str(row.get("name") or "") for row in rows if row.get("id")}
    return dict(sorted(found.items()))


def _page(request: Request, question: Question, file: Text, wrong: Mapping[str, Sequence[str]], **more: Any) -> Response:
    """The form, with what is known of the answer."""
    fields, tree = {field.name: field for field in fields_of(ask_options().values(), question.given, wrong)}, _tree(file)
    shown: dict[str, Any] = {
        "job": None,
        "problems": (),
        "text": "",
        "base": None,
        "sums": None,
        "bundle": None,
        "folds": (),
        "has_front": False,
        "stopped": None,
    }
    shown |= {"line": "", "question": question, "name": question.rig, "stated": _stated(tree)}
    shown |= {"plain_fields": [fields[name] for name in FIRST], "more_fields": [fields[name] for name in MORE]}
    shown |= {"opened": any(_is_used(fields[name]) for name in MORE), "logs": desk_of(request).folder.files(".log")}
    title = str(tree.get("name") or PurePosixPath(question.rig).stem)
    status = 422 if any(wrong.values()) or more.get("problems") else 200
    return page(request, "ask.html", title, status=status, **{**shown, **more, "here": question.address()})


def _is_used(field: Field) -> bool:
    return bool(field.value or field.wrong)


def _stated(tree: Mapping[str, Any]) -> list[tuple[str, str]]:
    """The wish and the limits as the rig file states them."""
    tables = (tree.get(name) for name in ("wish", "limits"))
    return [(key.replace("_", " "), str(value)) for table in tables if isinstance(table, dict) for key, value in table.items()]


def _tree(file: Text) -> Mapping[str, Any]:
    """What a rig file holds; nothing where it cannot be read, which the command says."""
    return tables_of(file.content) or {}


ROUTES = [
    Route("/ask/{name:path}/part/{part}", part),
    Route("/ask/{name:path}/after", after, methods=["POST"]),
    Route("/ask/{name:path}", ask),
    Route("/taken/{key}/{flag}", taken),
]
