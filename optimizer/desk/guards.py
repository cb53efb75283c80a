"""Who may ask the desk: a browser on this machine that has opened the printed address, and nobody else.

Other pages in the same browser can send requests to a loopback address too, under a name of their own (rebinding) or as a form.
So the host must be this one, the origin of what is written too, a cookie must hold the session, and a form its token.
"""

from __future__ import annotations

import hmac
import secrets
from dataclasses import dataclass, field

from starlette.datastructures import Headers, MutableHeaders, QueryParams
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["COOKIE", "TOKEN", "Guard", "Session", "token_agrees"]

COOKIE, TOKEN = "fullbore_desk", "token"
SAFE = ("GET", "HEAD")
LARGEST_BODY = 12 << 20

HEADERS = {
    "content-security-policy": "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'",
    "x-frame-options": "DENY",
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}
"""On every answer: nothing is loaded, run or sent but what is the desk's own, and nobody frames it. Forms of the desk need their
origin, so the referrer policy keeps it within."""


@dataclass(frozen=True, slots=True)
class Session:
    """One run of the desk: the key in its printed address, what its cookie holds, and the token of its forms."""

    key: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    cookie: str = field(default_factory=lambda: secrets.token_urlsafe(24))

    @property
    def token(self) -> str:
        """The token that every form holds."""
        return hmac.new(self.key.encode(), self.cookie.encode(), "sha256").hexdigest()


@dataclass(frozen=True, slots=True)
class Guard:
    """Stands before the application; ``hosts`` are what a browser may call this machine, with the port."""

    app: ASGIApp
    session: Session
    hosts: frozenset[str]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it with what is wrong."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        refused = self._refused(scope)
        await (refused or self.app)(scope, receive, _with_headers(send))

    def _refused(self, scope: Scope) -> Response | None:
        headers = Headers(scope=scope)
        if headers.get("host") not in self.hosts:
            return _no("This desk answers to its own address only.")
        if scope["method"] not in SAFE and headers.get("origin") not in {f"http://{host}" for host in self.hosts}:
            return _no("This was sent by another page.")
        if int(headers.get("content-length") or 0) > LARGEST_BODY:
            return PlainTextResponse("This is too large.", 413)
        key = QueryParams(scope["query_string"]).get("key")
        if scope["method"] in SAFE and key and hmac.compare_digest(key.encode(), self.session.key.encode()):
            return self._welcome()
        cookie = Request(scope).cookies.get(COOKIE, "")
        if not hmac.compare_digest(cookie.encode(), self.session.cookie.encode()):
            return _no("Open the address that the desk has printed: it holds the key.")
        return None

    def _welcome(self) -> Response:
        response = RedirectResponse("/", 303)
        response.set_cookie(COOKIE, self.session.cookie, httponly=True, samesite="strict", path="/")
        return response


def token_agrees(session: Session, given: object) -> bool:
    """Whether a form, or the header of a script of ours, holds the token of the session."""
    return isinstance(given, str) and hmac.compare_digest(given.encode(), session.token.encode())


def _no(why: str) -> Response:
    return PlainTextResponse(why, 403)


def _with_headers(send: Send) -> Send:
    async def sent(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            headers.setdefault("cache-control", "no-store")
        await send(message)

    return sent
