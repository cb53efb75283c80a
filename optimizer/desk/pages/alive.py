"""An open page says so now and then: a desk whose pages are all closed ends after a while."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route


async def alive(_: Request) -> Response:
    """Nothing: that it was asked for is enough."""
    return Response(status_code=204)


ROUTES = [Route("/alive", alive)]
