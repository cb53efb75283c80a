"""Saves a text over one that was changed meanwhile, once somebody has seen both."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from optimizer.desk.desk import desk_of, form_of, leads_to


async def keep(request: Request) -> Response:
    """Save what was decided on. Raises Changed where the file was changed once more."""
    form = await form_of(request)
    name, content, seen = (str(form.get(field) or "") for field in ("name", "content", "seen"))
    desk_of(request).folder.save(name, content.replace("\r\n", "\n"), seen)
    return RedirectResponse(leads_to(form, "/"), 303)


ROUTES = [Route("/keep", keep, methods=["POST"])]
