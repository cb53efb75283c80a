"""The first page: a card for every tank of the folder, and what an empty folder can begin with."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from typing import TYPE_CHECKING

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from optimizer.commands import demo
from optimizer.desk.desk import Desk, desk_of, form_of, page
from optimizer.desk.jobs import Busy, Job
from optimizer.desk.tanks_there import Group, Tank, groups, log_beside
from optimizer.files.demo_files import DEMO

if TYPE_CHECKING:
    from optimizer.desk.glance import Look

WAIT_S = 20.0
"""So long a card waits for its figures; its script then asks again."""


async def tanks(request: Request) -> Response:
    """All tanks; what is known of them stands on their cards, and the first that nothing is known of is asked about."""
    desk = desk_of(request)
    found = groups(desk.folder)
    looks = _looks(desk, found, request)
    return page(request, "tanks.html", "Tanks", groups=found, looks=looks, demo=DEMO, has_demo=(desk.folder.root / DEMO).exists())


def _looks(desk: Desk, found: tuple[Group, ...], request: Request) -> dict[str, Look | None]:
    catalog, units = desk.catalog(request), desk.units(request)
    looks: dict[str, Look | None] = {}
    for tank in (tank for group in found for tank in group.tanks):
        looks[tank.name] = _known(desk, tank, catalog, units)
        if looks[tank.name] is None:
            break
    return looks


def _questions(desk: Desk, tank: Tank, catalog: str) -> Iterator[Job]:
    """Put the questions of a card, the first one first: whoever wants the next has its answer."""
    shop = ["--catalog", catalog] if catalog else []
    files = [each for each in (tank.name, catalog, tank.log) if each]
    log = ["--log", tank.log] if tank.log else []
    yield desk.ask(["ageing", tank.name, *log, *shop], *files)
    yield desk.ask(["diagnose", tank.name, "--today", *log, *shop], *files)
    if tank.log:
        yield desk.ask(["log", tank.log, "--rig", tank.name, *shop], *files)


def _known(desk: Desk, tank: Tank, catalog: str, units: str) -> Look | None:
    """What is known of a tank by now; the first of its questions that is not answered yet is put, and there is no look yet. One
    tank is asked about at a time, so that whoever asks something else meanwhile finds a worker free."""
    answers = []
    try:
        for job in _questions(desk, tank, catalog):
            if job.answer is None:
                return None
            answers.append(job.answer)
    except (Busy, OSError):  # the page comes without; its script asks again, and is told why
        return None
    from optimizer.desk.glance import look_of  # the words of answers: the first page comes without

    return look_of(tank, answers, units)


async def glance(request: Request) -> Response:
    """What stands on the card of one tank, for a script; without content while it is being worked out."""
    desk = desk_of(request)
    name = request.path_params["name"]
    desk.folder.path(name)
    tank = Tank(name=name, called="", log=log_beside(desk.folder, name))
    look = await _waited(desk, tank, request)
    return Response(status_code=204) if look is None else page(request, "glance.html", "", look=look, tank=tank)


async def _waited(desk: Desk, tank: Tank, request: Request) -> Look | None:
    answers = []
    try:
        async with asyncio.timeout(WAIT_S):
            for job in _questions(desk, tank, desk.catalog(request)):
                answers.append(await desk.jobs.until_known(job, WAIT_S))
    except (Busy, TimeoutError):
        return None
    from optimizer.desk.glance import look_of

    given = [answer for answer in answers if answer is not None]
    return look_of(tank, given, desk.units(request)) if len(given) == len(answers) else None


async def write_demo(request: Request) -> Response:
    """Write the demo out, as the command does. Raises InputError where it cannot be written."""
    await form_of(request)
    demo.written(DEMO, desk_of(request).folder.path(DEMO))
    return RedirectResponse("/", 303)


ROUTES = [
    Route("/", tanks),
    Route("/glance/{name:path}", glance),
    Route("/demo", write_demo, methods=["POST"]),
]
