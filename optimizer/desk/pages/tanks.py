"""The first page: a card for every tank of the folder."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from optimizer.desk.desk import desk_of, page


async def tanks(request: Request) -> Response:
    """All tanks."""
    return page(request, "tanks.html", "Tanks", rigs=desk_of(request).folder.of_kind("rig"))


ROUTES = [Route("/", tanks)]
