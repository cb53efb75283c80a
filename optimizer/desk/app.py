"""The application: all routes, what stands before them, and what is said where something fails."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator
from importlib import resources
from pathlib import Path

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles

from optimizer.desk.desk import Desk, page
from optimizer.desk.folder import Changed, Folder, Forbidden
from optimizer.desk.guards import Guard, Session
from optimizer.desk.jobs import Jobs
from optimizer.desk.pages import asked, choose, households, kits, sheets, shop, tanks
from optimizer.errors import InputError

__all__ = ["application"]

PAGES = (tanks, households, shop, sheets, kits, asked, choose)


def application(folder: Path, session: Session, hosts: frozenset[str]) -> Starlette:
    """The desk over a folder, for a session, at these hosts."""

    @contextlib.asynccontextmanager
    async def lasting(app: Starlette) -> AsyncIterator[None]:
        jobs = Jobs(folder)
        app.state.desk = Desk(folder=Folder(folder), session=session, jobs=jobs)
        try:
            yield
        finally:
            jobs.close()

    static = StaticFiles(directory=str(resources.files("optimizer.desk").joinpath("static")))
    return Starlette(
        routes=[*(route for each in PAGES for route in each.ROUTES), Mount("/static", static)],
        middleware=[Middleware(Guard, session=session, hosts=hosts)],
        exception_handlers={HTTPException: _told, InputError: _wrong, Forbidden: _wrong, OSError: _wrong, Changed: _changed},
        lifespan=lasting,
    )


async def _told(request: Request, error: Exception) -> Response:
    status, what = (error.status_code, error.detail) if isinstance(error, HTTPException) else (500, str(error))
    return page(request, "problem.html", "Not found" if status == 404 else "Not possible", status=status, what=what, problems=())


async def _wrong(request: Request, error: Exception) -> Response:
    """Bad input: the list of all problems, as a command prints it."""
    if isinstance(error, InputError):
        return page(request, "problem.html", "To put right", status=422, what="", problems=tuple(error.placed))
    status = 404 if isinstance(error, FileNotFoundError) else 403 if isinstance(error, Forbidden) else 409
    what = (error.strerror or str(error)) if isinstance(error, OSError) else str(error)
    return page(request, "problem.html", "Not possible", status=status, what=what, problems=())


async def _changed(request: Request, error: Exception) -> Response:
    assert isinstance(error, Changed)
    what = f"{error.now.name} was changed since this page was made: nothing was saved. Load the page again to see both."
    return page(request, "problem.html", "Changed meanwhile", status=409, what=what, problems=())
