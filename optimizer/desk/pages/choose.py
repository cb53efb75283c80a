"""What is chosen for all pages: the catalog and the system of units. Both are kept by the browser."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from optimizer.desk.desk import CHOSEN, form_of, leads_to

KEPT_S = 400 * 86_400


async def choose(request: Request) -> Response:
    """Keep what is chosen, and go back."""
    form = await form_of(request)
    response = RedirectResponse(leads_to(form, "/"), 303)
    for name in ("units", "catalog"):
        given = form.get(name)
        if isinstance(given, str):
            response.set_cookie(CHOSEN.format(name), given, max_age=KEPT_S, httponly=True, samesite="strict")
    return response


ROUTES = [Route("/choose", choose, methods=["POST"])]
