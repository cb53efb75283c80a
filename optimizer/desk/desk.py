"""What all pages of a desk have in common: its folder, its session, its questions, and how a page is made and a form read."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any
from urllib.parse import quote

from jinja2 import ChoiceLoader, Environment, PackageLoader, PrefixLoader, StrictUndefined
from markupsafe import Markup, escape
from starlette.datastructures import FormData
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse

from optimizer.desk.folder import Folder
from optimizer.desk.guards import TOKEN, Session, token_agrees
from optimizer.desk.jobs import Job, Jobs
from optimizer.report.html.quantities import said

__all__ = ["Desk", "Page", "desk_of", "file_and_catalog", "form_of", "leads_to", "page"]

Page = Callable[[Request], Awaitable[Any]]

WAIT_S = 0.6
"""So long a page waits for an answer before it is sent with what is known by then."""

CHOSEN = "fullbore_{}"
"""Cookies of what was chosen for all pages: the catalog, the units."""

MOST_FIELDS, LARGEST_PART = 500, 8 << 20

AREAS = (
    ("/", "Tanks"),
    ("/households", "Several tanks"),
    ("/shop", "Shop"),
    ("/guide", "Guide"),
)
"""What stands at the top of every page."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """One desk at work."""

    folder: Folder
    session: Session
    jobs: Jobs

    def ask(self, words: Sequence[str], *files: str) -> Job:
        """Ask the question of a command, which hangs on these files and folders and on nothing else. Raises Busy."""
        return self.jobs.ask(words, lambda: self.folder.basis(files))

    def catalog(self, request: Request) -> str:
        """The catalog that was chosen, or the first there is; empty for none."""
        there = self.folder.catalogs
        chosen = request.cookies.get(CHOSEN.format("catalog"), "")
        return chosen if chosen in there else next(iter(there), "")

    def units(self, request: Request) -> str:
        """The system of units that was chosen."""
        return "us" if request.cookies.get(CHOSEN.format("units")) == "us" else "metric"


def desk_of(request: Request) -> Desk:
    """The desk that a request is about."""
    desk: Desk = request.app.state.desk
    return desk


def file_and_catalog(request: Request) -> tuple[str, str]:
    """The file that a page is about, and the catalog. Raises HTTPException where one of them is not there."""
    desk, name = desk_of(request), str(request.path_params["name"])
    if not desk.folder.path(name).is_file():
        raise HTTPException(404, "There is no such file in this folder.")
    catalog = desk.catalog(request)
    if not catalog:
        raise HTTPException(404, "There is no catalog in this folder: bring one in under Shop.")
    return name, catalog


async def form_of(request: Request) -> FormData:
    """The fields of a form that was sent from a page of this desk. Raises HTTPException for any other."""
    form = await request.form(max_files=1, max_fields=MOST_FIELDS, max_part_size=LARGEST_PART)
    given = request.headers.get("x-fullbore-token") or form.get(TOKEN)
    if not token_agrees(desk_of(request).session, given):
        raise HTTPException(403, "This form is not one of this desk, or of an earlier run of it: load the page again.")
    return form


def leads_to(form: FormData, otherwise: str) -> str:
    """The page of this desk that a form wants to go back to."""
    back = form.get("back")
    is_ours = isinstance(back, str) and back.startswith("/") and "//" not in back and "\\" not in back
    return str(back) if is_ours else otherwise


def page(request: Request, template: str, title: str, *, status: int = 200, **values: object) -> HTMLResponse:
    """A page of the desk by a template that extends ``desk.html``; ``title`` is its heading too."""
    desk = desk_of(request)
    common: Mapping[str, object] = {
        "title": title,
        "areas": AREAS,
        "here": request.url.path,
        "token": desk.session.token,
        "catalogs": desk.folder.catalogs,
        "catalog": desk.catalog(request),
        "units": desk.units(request),
    }
    return HTMLResponse(environment().get_template(template).render(**{**common, **values}), status)


@cache
def environment() -> Environment:
    """The templates, those of `report` as "report/..."; every text is made inert, as on its pages."""
    made = Environment(
        loader=ChoiceLoader([PackageLoader("optimizer.desk"), PrefixLoader({"report": PackageLoader("optimizer.report.html")})]),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=said,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["exact"] = lambda text: escape(str(text))
    made.filters["path"] = lambda name: quote(str(name))
    made.filters["lines"] = lambda text: Markup("\n").join(map(said, str(text).split("\n")))
    return made
