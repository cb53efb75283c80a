"""The guide and the glossary, with a search over both."""

from __future__ import annotations

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from optimizer.desk.desk import page
from optimizer.desk.guide_html import anchor, found_in, html_of
from optimizer.desk.told import measures_of
from optimizer.glossary import GLOSSARY, Term
from optimizer.guide import NAMES, page_of, pages
from optimizer.report.html.words import Words


async def contents(request: Request) -> Response:
    """All pages of the guide, or what a text is found in."""
    wanted = request.query_params.get("q", "").strip()[:200]
    found = found_in(wanted) if wanted else ()
    terms = _terms(wanted) if wanted else ()
    return page(
        request, "guide.html", "Guide", pages=pages(), wanted=wanted, found=found, terms=terms, anchor=anchor, w=_words(request)
    )


async def one(request: Request) -> Response:
    """One page."""
    name = request.path_params["page"].casefold()
    if name not in NAMES:
        raise HTTPException(404, "The guide has no such page.")
    if name == "words":
        return await words(request)
    found, at = page_of(name), NAMES.index(name)
    beside = [pages()[n] if 0 <= n < len(NAMES) else None for n in (at - 1, at + 1)]
    return page(
        request, "guide_page.html", found.title, pages=pages(), name=name, body=html_of(found, _words(request)), beside=beside
    )


async def words(request: Request) -> Response:
    """The glossary."""
    wanted = request.query_params.get("q", "").strip()[:200]
    terms = _terms(wanted) if wanted else tuple(GLOSSARY.values())
    return page(request, "words.html", page_of("words").title, pages=pages(), wanted=wanted, terms=terms, w=_words(request))


def _terms(wanted: str) -> tuple[Term, ...]:
    """The terms in whose names or meaning a text occurs."""
    key = wanted.casefold()
    return tuple(
        term for term in GLOSSARY.values() if any(key in each.casefold() for each in (term.term, *term.also, term.means))
    )


def _words(request: Request) -> Words:
    return Words(measures=measures_of(request), page="/words")


ROUTES = [
    Route("/guide", contents),
    Route("/guide/{page}", one),
    Route("/words", words),
]
