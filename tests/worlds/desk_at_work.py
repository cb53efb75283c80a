"""A desk at work over a copy of the demo: as a process of its own, and a client that asks it as a browser would."""

import contextlib
import re
import shutil
import signal
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from http.cookiejar import CookieJar
from pathlib import Path
from urllib.parse import urlencode, urlsplit

DEMO = Path(__file__).parents[2] / "parts_demo"
WAIT_S = 60
QUICK = ("nano_60", "gouramis_54")
"""Demo rigs that are soon answered."""

OTHERS = tuple(sorted({each.stem for each in (DEMO / "rigs").glob("*.toml")}.difference(QUICK)))
HALF = len(OTHERS) // 2
RIGS = (QUICK[0], *OTHERS[:HALF], QUICK[1], *OTHERS[HALF:])
"""All demo rigs; every so often (`EVERY`) one that is soon answered."""

EVERY = HALF + 1
LOGGED_RIG = "reading_corner_130"
"""The one beside a log, and what it was after the work: their cards go by that."""


class _Stays(urllib.request.HTTPRedirectHandler):
    """Leaves it to the test where an answer leads."""

    def redirect_request(self, *_: object) -> None:
        """No request."""


@dataclass(frozen=True, kw_only=True)
class Reply:
    """An answer of the desk."""

    status: int
    text: str
    headers: Mapping[str, str]


@dataclass(frozen=True, kw_only=True)
class AtWork:
    """A desk: its folder, its process, the address with its key, and a client with its cookie."""

    folder: Path
    process: "subprocess.Popen[str]"
    address: str
    client: urllib.request.OpenerDirector

    @property
    def origin(self) -> str:
        """The address without path and key."""
        return "http://" + urlsplit(self.address).netloc

    def get(self, path: str, **headers: str) -> Reply:
        """What a page holds."""
        return self._asked(urllib.request.Request(self.origin + path, headers=headers))

    def post(self, path: str, fields: Mapping[str, str], **headers: str) -> Reply:
        """What comes of a form that is sent with its token, unless another is among the fields."""
        body = urlencode({"token": self.token, **fields}).encode()
        return self._asked(urllib.request.Request(self.origin + path, body, {"Origin": self.origin, **headers}))

    @property
    def token(self) -> str:
        """The token that its forms hold: that of the form which chooses the units, on every page."""
        found = re.search(r'name="token" value="([0-9a-f]+)"', self.get("/").text)
        assert found is not None
        return found[1]

    def _asked(self, request: urllib.request.Request) -> Reply:
        try:
            with self.client.open(request, timeout=WAIT_S) as reply:
                return Reply(status=reply.status, text=reply.read().decode(), headers=dict(reply.headers))
        except urllib.error.HTTPError as error:
            return Reply(status=error.code, text=error.read().decode(), headers=dict(error.headers))


@contextlib.contextmanager
def at_work(folder: Path) -> Iterator[AtWork]:
    """A desk over a folder, until the end of the block."""
    command = [sys.executable, "-m", "optimizer", "desk", str(folder), "--no-browser", "--port", str(_free())]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            address = process.stdout.readline().split()[-1]
            client = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()), _Stays())
            with contextlib.suppress(urllib.error.HTTPError):  # it leads to the first page, with the cookie
                client.open(address, timeout=WAIT_S)
            yield AtWork(folder=folder, process=process, address=address, client=client)
        finally:
            process.send_signal(signal.SIGINT)
            try:
                process.wait(10)
            except subprocess.TimeoutExpired:
                process.kill()


def with_demo(folder: Path) -> Path:
    """The folder, with a copy of the demo in it."""
    shutil.copytree(DEMO, folder / "parts_demo")
    return folder


def _free() -> int:
    import socket

    with socket.socket() as made:
        made.bind(("127.0.0.1", 0))
        number: int = made.getsockname()[1]
        return number
