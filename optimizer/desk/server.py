"""Runs a desk on a loopback address until Ctrl-C, or until no page has asked for anything for a while."""

from __future__ import annotations

import contextlib
import socket
import threading
import webbrowser
from collections.abc import Callable
from pathlib import Path

import uvicorn

from optimizer.desk.app import application
from optimizer.desk.guards import Session

__all__ = ["run"]

LOOPBACK = "127.0.0.1"
USUAL_PORT = 7468


def run(folder: Path, port: int | None, told: Callable[[str], None], *, opens: bool) -> None:
    """Serve a folder; ``told`` is given the address once it is bound, which is opened in the browser too. Raises OSError
    where the port is taken."""
    session = Session()
    with _bound(port) as sock:
        number = sock.getsockname()[1]
        hosts = frozenset({f"{LOOPBACK}:{number}", f"localhost:{number}"})
        address = f"http://{LOOPBACK}:{number}/?key={session.key}"
        config = uvicorn.Config(
            application(folder, session, hosts),
            log_level="critical",
            access_log=False,
            server_header=False,
            timeout_graceful_shutdown=2,
            lifespan="on",
        )
        told(address)
        if opens:
            threading.Timer(0.3, webbrowser.open, (address,)).start()
        with contextlib.suppress(KeyboardInterrupt):
            uvicorn.Server(config).run(sockets=[sock])


def _bound(port: int | None) -> socket.socket:
    """A socket at a port; without one at the usual, or any that is free."""
    made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    if port is None:
        try:
            made.bind((LOOPBACK, USUAL_PORT))
        except OSError:
            made.bind((LOOPBACK, 0))
    else:
        made.bind((LOOPBACK, port))
    made.listen(64)  # whoever opens the address at once waits until the desk is up
    return made
