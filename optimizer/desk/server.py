"""Runs a desk on a loopback address until Ctrl-C, or until no page has asked for anything for a while."""

from __future__ import annotations

import contextlib
import socket
import threading
import webbrowser
from collections.abc import Callable
from pathlib import Path
from types import FrameType

import uvicorn

from optimizer.desk.app import application
from optimizer.desk.guards import Session

__all__ = ["run"]

LOOPBACK = "127.0.0.1"
USUAL_PORT, PLAIN_PORT = 7468, 80
MOST_CONNECTIONS = 100
ENDS_WITHIN_S = 1


class _Server(uvicorn.Server):
    """A server that lets go whoever waits as soon as it is to end."""

    def __init__(self, config: uvicorn.Config, let_go: Callable[[], None]) -> None:
        super().__init__(config)
        self._let_go = let_go

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Take in Ctrl-C or SIGTERM."""
        super().handle_exit(sig, frame)
        self._let_go()


def run(folder: Path, port: int | None, told: Callable[[str], None], *, opens: bool, stays: bool) -> None:
    """Serve a folder; ``told`` is given the address once it is bound, which is opened in the browser too. One that does not stay
    ends once no page is open any more. Raises OSError where the port is taken."""
    with _bound(port) as sock:
        number = sock.getsockname()[1]
        session = Session(port=number)
        address = f"http://{LOOPBACK}:{number}/?key={session.key}"
        app = application(folder, session, _hosts(number), None if stays else lambda: server.handle_exit(0, None))
        server = _Server(_config(app), app.let_go)
        told(address)
        if opens:
            threading.Timer(0.3, webbrowser.open, (address,)).start()
        with contextlib.suppress(KeyboardInterrupt):  # it raises again what has ended it
            server.run(sockets=[sock])


def _config(app: object) -> uvicorn.Config:
    return uvicorn.Config(
        app,  # type: ignore[arg-type]
        loop="asyncio",
        http="h11",
        ws="none",
        log_level="critical",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        limit_concurrency=MOST_CONNECTIONS,
        timeout_graceful_shutdown=ENDS_WITHIN_S,
        lifespan="on",
    )


def _hosts(number: int) -> frozenset[str]:
    """What a browser calls this machine; it leaves the port out where that is the plain one."""
    names = (LOOPBACK, "localhost")
    return frozenset(f"{name}:{number}" for name in names) | frozenset(names if number == PLAIN_PORT else ())


def _bound(port: int | None) -> socket.socket:
    """A socket at a port; without one at the usual, or any that is free."""
    made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        try:
            made.bind((LOOPBACK, USUAL_PORT if port is None else port))
        except OSError:
            if port is not None:
                raise
            made.bind((LOOPBACK, 0))
        made.listen(64)  # whoever opens the address at once waits until the desk is up
    except OSError:
        made.close()
        raise
    return made
