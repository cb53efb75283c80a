"""Who may ask the desk: a browser on this machine that has opened the printed address, and nobody else.

Other pages in the same browser can send requests to a loopback address too, under a name of their own (rebinding) or as a form;
another port of this machine even counts as the same site. So the host must be this one, the origin too where one is given and of
everything that is written, a cookie must hold the session, and a form its token.
"""

from __future__ import annotations

import hmac
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass, field

from starlette.datastructures import Headers, MutableHeaders, QueryParams
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["TOKEN", "Guard", "Pulse", "Session", "token_agrees"]

TOKEN = "token"
SAFE = ("GET", "HEAD")
OURS = ("same-origin", "none")
"""What a browser says of a request that a page of this desk makes, and of an address that somebody types."""

LARGEST_BODY = 12 << 20
TOO_LARGE = "This is too large: nothing was saved."

HEADERS = {
    "content-security-policy": "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'",
    "x-frame-options": "DENY",
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "x-dns-prefetch-control": "off",
}
"""On every answer: nothing is loaded, run or sent but what is the desk's own, and nobody frames it. Forms of the desk need their
origin, so the referrer policy keeps it within."""

OPENED = '<!doctype html><html lang="en"><meta charset="utf-8"><meta http-equiv="refresh" content="0;url=/">'
OPENED += '<title>fullbore</title><p><a href="/">Open the desk</a></p></html>'
"""Where the address was opened from another page: the cookie goes along only with what the desk itself asks for."""


@dataclass(frozen=True, slots=True)
class Session:
    """One run of the desk: the key in its printed address, what its cookie holds, and the token of its forms. Cookies know no
    ports, so its ``port`` is in the name of that of each desk."""

    key: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    cookie: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    port: int = 0

    @property
    def token(self) -> str:
        """The token that every form holds."""
        return hmac.new(self.key.encode(), self.cookie.encode(), "sha256").hexdigest()

    @property
    def cookie_name(self) -> str:
        """The name of its cookie."""
        return f"fullbore_desk_{self.port}"


@dataclass(slots=True)
class Pulse:
    """When the desk was last asked for anything, how many requests are being answered, and how many are."""

    last_s: float = field(default_factory=time.monotonic)
    under_way: int = 0
    answered: int = 0

    def quiet_s(self) -> float:
        """For how long nobody has asked for anything: nothing while something is being answered."""
        return 0.0 if self.under_way else time.monotonic() - self.last_s


@dataclass(frozen=True, slots=True)
class Guard:
    """Stands before the application; ``hosts`` are what a browser may call this machine, with the port. ``pulse`` beats with
    everything that is let through, ``let_go`` ends what waits for news."""

    app: ASGIApp
    session: Session
    hosts: frozenset[str]
    pulse: Pulse = field(default_factory=Pulse)
    let_go: Callable[[], None] = lambda: None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it with what is wrong."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        refused = self._refused(scope)
        if refused is not None:
            await refused(scope, receive, _with_headers(send))
            return
        self.pulse.under_way += 1
        try:
            await self.app(scope, _bounded(receive), _with_headers(send))
        finally:
            self.pulse.under_way -= 1
            self.pulse.answered += 1
            self.pulse.last_s = time.monotonic()

    def _refused(self, scope: Scope) -> Response | None:
        headers = Headers(scope=scope)
        if headers.getlist("host")[1:] or headers.get("host", "").casefold() not in self.hosts:
            return _no("This desk answers to its own address only.")
        if _is_large(headers.get("content-length")):
            return PlainTextResponse(TOO_LARGE, 413)
        key = QueryParams(scope["query_string"]).get("key")
        if scope["method"] in SAFE and key and _same(key, self.session.key):
            return self._welcome(is_ours=headers.get("sec-fetch-site", "none") in OURS)
        if not self._from_here(scope["method"], headers):
            return _no("This was sent by another page.")
        if not _same(Request(scope).cookies.get(self.session.cookie_name, ""), self.session.cookie):
            return _no("Open the address that the desk has printed: it holds the key.")
        return None

    def _from_here(self, method: str, headers: Headers) -> bool:
        origin = headers.get("origin")
        its_own = f"http://{headers['host'].casefold()}"
        if origin != its_own and (origin is not None or method not in SAFE):
            return False
        return headers.get("sec-fetch-site", "none") in OURS

    def _welcome(self, *, is_ours: bool) -> Response:
        response = RedirectResponse("/", 303) if is_ours else HTMLResponse(OPENED)
        response.set_cookie(self.session.cookie_name, self.session.cookie, httponly=True, samesite="strict", path="/")
        return response


def token_agrees(session: Session, given: object) -> bool:
    """Whether a form, or the header of a script of ours, holds the token of the session."""
    return isinstance(given, str) and _same(given, session.token)


def _same(given: str, ours: str) -> bool:
    return hmac.compare_digest(given.encode("utf-8", "replace"), ours.encode())


def _is_large(length: str | None) -> bool:
    """Whether a body is said to be too large, or of a length that is none."""
    return length is not None and not (length.isascii() and length.isdecimal() and int(length[:20]) <= LARGEST_BODY)


def _bounded(receive: Receive) -> Receive:
    """What is received, counted: a length need not be said beforehand, nor be true."""
    taken = 0

    async def received() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > LARGEST_BODY:
            raise HTTPException(413, TOO_LARGE)
        return message

    return received


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
