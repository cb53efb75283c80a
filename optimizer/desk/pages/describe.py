"""Describing a tank: the questions of `fullbore new`. What they stand on is loaded when the first of them is asked for."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route


async def describe(request: Request) -> Response:
    """Name the file, or go on with one that was begun."""
    from optimizer.desk import describing

    return await (describing.named(request) if request.method == "POST" else describing.begin(request))


async def questions(request: Request) -> Response:
    """Ask the questions of one page, or take their answers."""
    from optimizer.desk import describing

    return await (describing.answers(request) if request.method == "POST" else describing.questions(request))


ROUTES = [
    Route("/describe", describe, methods=["GET", "POST"]),
    Route("/describe/{name:path}", questions, methods=["GET", "POST"]),
]
