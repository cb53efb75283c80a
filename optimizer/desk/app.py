"""The application: all routes, what stands before them, and what is said where something fails."""

from __future__ import annotations

import asyncio
import contextlib
import traceback
from collections.abc import AsyncIterator, Callable
from importlib import resources
from pathlib import Path

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles

from optimizer.commands.streams import reason, say
from optimizer.desk.desk import Desk, page
from optimizer.desk.folder import Changed, Folder, Forbidden
from optimizer.desk.guards import Guard, Pulse, Session
from optimizer.desk.jobs import Busy, Jobs
from optimizer.desk.later import Later
from optimizer.desk.pages import alive, asked, choose, keep, tanks
from optimizer.errors import InputError

__all__ = ["application"]

FIRST = (tanks, asked, choose, keep, alive)
"""Pages that are there at once, and load little; all others of the room `pages` are loaded behind them (`Later`)."""

QUIET_S = 1800.0
"""After so long without a request, and without a page that is open, a desk ends."""

LOOK_EACH_S = 5.0

FAILED = "Something went wrong here, and nothing was saved. What it was is told where the desk was opened."
BUSY = "So many questions are being worked out that no more are taken. Stop some, or wait."


def application(folder: Path, session: Session, hosts: frozenset[str], over: Callable[[], None] | None = None) -> Guard:
    """The desk over a folder, for a session, at these hosts. ``over`` is called once nobody has asked for anything for a while;
    None for a desk that stays."""
    pulse = Pulse()
    later = Later(frozenset(each.__name__.rpartition(".")[2] for each in FIRST))

    @contextlib.asynccontextmanager
    async def lasting(app: Starlette) -> AsyncIterator[None]:
        files = Folder(folder)
        jobs = Jobs(folder, next(iter(files.catalogs), ""))
        app.state.desk = Desk(folder=files, session=session, jobs=jobs)
        tasks = [asyncio.create_task(_end_when_quiet(pulse, over)), asyncio.create_task(_load_behind(pulse, later))]
        try:
            yield
        finally:
            for task in tasks:
                task.cancel()
            await jobs.close()

    static = StaticFiles(directory=str(resources.files("optimizer.desk").joinpath("static")))
    app = Starlette(
        routes=[*(route for each in FIRST for route in each.ROUTES), Mount("/static", static)],
        exception_handlers={
            HTTPException: _told,
            InputError: _wrong,
            Forbidden: _wrong,
            OSError: _wrong,
            Changed: _changed,
            Busy: _busy,
            Exception: _failed,
        },
        lifespan=lasting,
    )
    app.router.default = later
    return Guard(app, session, hosts, pulse, lambda: app.state.desk.jobs.end())


async def _load_behind(pulse: Pulse, later: Later) -> None:
    """Load the other pages once the first is out, which would come later otherwise."""
    while not pulse.answered:
        await asyncio.sleep(0.05)
    await later.loaded()


async def _end_when_quiet(pulse: Pulse, over: Callable[[], None] | None) -> None:
    while over is not None:
        await asyncio.sleep(LOOK_EACH_S)
        if pulse.quiet_s() > QUIET_S:
            over()
            return


async def _told(request: Request, error: Exception) -> Response:
    status, what = (error.status_code, error.detail) if isinstance(error, HTTPException) else (500, str(error))
    return page(request, "problem.html", "Not found" if status == 404 else "Not possible", status=status, what=what, problems=())


async def _wrong(request: Request, error: Exception) -> Response:
    """Bad input: the list of all problems, as a command prints it."""
    if isinstance(error, InputError):
        return page(request, "problem.html", "To put right", status=422, what="", problems=tuple(error.placed))
    status = 404 if isinstance(error, FileNotFoundError) else 403 if isinstance(error, Forbidden) else 409
    what = f"{reason(error)[:1].upper()}{reason(error)[1:]}." if isinstance(error, OSError) else str(error)
    if request.method == "POST":
        what = f"{what} Nothing was saved."
    return page(request, "problem.html", "Not possible", status=status, what=what, problems=())


async def _changed(request: Request, error: Exception) -> Response:
    """Both texts, so that whoever saves second decides, and loses nothing of either."""
    assert isinstance(error, Changed)
    back = request.headers.get("referer", "").partition(request.headers["host"])[2] or "/"
    return page(request, "changed.html", "Changed meanwhile", status=409, now=error.now, mine=error.mine, back=back)


async def _busy(request: Request, _: Exception) -> Response:
    return page(request, "problem.html", "Not now", status=503, what=BUSY, problems=())


async def _failed(_: Request, error: Exception) -> Response:
    """A mistake of the program: a plain page, which needs nothing that may have failed; the reason goes to standard error."""
    say("".join(traceback.format_exception(error)))
    return PlainTextResponse(FAILED, 500)
