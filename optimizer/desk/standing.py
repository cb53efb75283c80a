"""Answers taken back from a question, and pages and files of `report` that stand for themselves."""

from __future__ import annotations

from typing import TypeVar
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from optimizer.desk.worker import Answered
from optimizer.model.answer import Answer
from optimizer.model.saved import taken_back
from optimizer.report.html.templating import policy

__all__ = ["address", "as_file", "restored", "whole_page"]

A = TypeVar("A", bound=Answer)


def restored(kind: type[A], answered: Answered | None) -> A | None:
    """The answer of a kind that a question came to; None where there is none."""
    body = None if answered is None else answered.body
    if not isinstance(body, dict) or body.get("schema") != kind.schema():
        return None
    return taken_back(kind, body)


def whole_page(html: str, style: str = "page.css") -> HTMLResponse:
    """A page of `report` as it is written to a file: with its own style sheet, and nothing else let through."""
    return HTMLResponse(html, headers={"content-security-policy": f"{policy(style)}; frame-ancestors 'none'"})


def as_file(content: bytes, name: str, media: str) -> Response:
    """A file to keep."""
    return Response(content, media_type=media, headers={"content-disposition": f"attachment; filename*=UTF-8''{quote(name)}"})


def address(request: Request) -> str:
    """The path of a page with what was asked there, so that one comes back to the same."""
    query = request.url.query
    return request.url.path + (f"?{query}" if query else "")
