"""Nobody asks the desk but a browser that has opened its address, and nothing but its own pages writes."""

import http.client
import re
import socket
from collections.abc import Mapping
from urllib.parse import urlsplit

import pytest
from desk_at_work import AtWork

FORM = {"units": "us", "back": "/"}


def _cookie(desk: AtWork) -> str:
    link = http.client.HTTPConnection(urlsplit(desk.origin).netloc, timeout=30)
    link.request("GET", "/" + desk.address.partition("/?")[2].join(("?", "")))
    reply = link.getresponse()
    reply.read()
    link.close()
    return reply.headers["set-cookie"].partition(";")[0]


def _asked(desk: AtWork, method: str, path: str, headers: Mapping[str, str], body: bytes | None = None) -> tuple[int, str]:
    """Status and text of a request with exactly these headers."""
    link = http.client.HTTPConnection(urlsplit(desk.origin).netloc, timeout=30)
    link.putrequest(method, path, skip_host=True)
    for name, value in headers.items():
        link.putheader(name, value)
    if body is not None and "Transfer-Encoding" not in headers:
        link.putheader("Content-Length", str(len(body)))
    link.endheaders(body)
    reply = link.getresponse()
    text = reply.read().decode()
    link.close()
    return reply.status, text


def test_a_request_needs_host_origin_and_cookie_of_this_desk(desk: AtWork) -> None:
    """Each alone, missing or forged, is refused, and says nothing of what the folder holds."""
    host = urlsplit(desk.origin).netloc
    port = host.partition(":")[2]
    right = {"Host": host, "Cookie": _cookie(desk)}
    assert _asked(desk, "GET", "/", right)[0] == 200
    assert _asked(desk, "GET", "/", right | {"Host": f"localhost:{port}"})[0] == 200
    wrong: tuple[dict[str, str], ...] = (
        {"Host": "evil.example"},
        {"Host": f"evil.example:{port}"},
        {"Host": "127.0.0.1"},
        {"Host": f"[::1]:{port}"},
        {"Host": f"{host}, evil.example"},
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Origin": f"https://{host}"},
        {"Origin": f"http://localhost:{port}"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Cookie": ""},
        {"Cookie": right["Cookie"][:-1]},
        {"Cookie": right["Cookie"].replace(f"_{port}", "_1")},
        {"Cookie": f"fullbore_desk_{port}=\u00e4"},
    )
    for each in wrong:
        status, text = _asked(desk, "GET", "/", right | each)
        assert (status, "parts_demo" in text) == (403, False), each
    assert _asked(desk, "GET", "/?key=wrong", {"Host": host})[0] == 403
    assert _asked(desk, "GET", "/" + desk.address.partition("/")[2], {"Host": "evil.example"})[0] in (403, 404)


def test_what_is_written_needs_origin_and_token(desk: AtWork) -> None:
    """A form of another page, one without an origin and one with another token change nothing."""
    host = urlsplit(desk.origin).netloc
    right = {"Host": host, "Cookie": _cookie(desk), "Content-Type": "application/x-www-form-urlencoded"}
    form = f"units=us&back=%2F&token={desk.token}".encode()
    assert _asked(desk, "POST", "/choose", right | {"Origin": desk.origin}, form)[0] == 303
    assert _asked(desk, "POST", "/choose", right, form)[0] == 403
    assert _asked(desk, "POST", "/choose", right | {"Origin": "http://evil.example"}, form)[0] == 403
    for token in ("", "0" * 64, desk.token[:-1], "\u202e" + desk.token):
        reply = desk.post("/choose", {**FORM, "token": token})
        assert (reply.status, "set-cookie" in reply.headers) == (403, False)


def test_no_answer_lets_itself_be_framed_or_run_what_is_not_its_own(desk: AtWork) -> None:
    """Pages, files, refusals and mistakes all say so."""
    for path in ("/", "/static/desk.css", "/nowhere", "/asked/none"):
        headers = {name.lower(): value for name, value in desk.get(path).headers.items()}
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy and "frame-ancestors 'none'" in policy and "unsafe" not in policy
        assert headers["x-frame-options"] == "DENY" and headers["cache-control"] == "no-store"
    assert "Traceback" not in desk.get("/nowhere").text


@pytest.mark.parametrize("says_its_length", [True, False])
def test_a_body_is_bounded_whatever_it_says_of_its_length(desk: AtWork, says_its_length: bool) -> None:
    """One that is too large is refused before it is all there, in pieces as well."""
    host = urlsplit(desk.origin)
    how = "Content-Length: 90000000" if says_its_length else "Transfer-Encoding: chunked"
    lines = (
        "POST /choose HTTP/1.1",
        f"Host: {host.netloc}",
        f"Origin: {desk.origin}",
        f"Cookie: {_cookie(desk)}",
        "Content-Type: application/x-www-form-urlencoded",
        how,
        "",
        "",
    )
    piece = b"a" * 65536
    with socket.create_connection(("127.0.0.1", host.port or 0), 30) as link:
        link.sendall("\r\n".join(lines).encode())
        try:
            for _ in range(300):
                link.sendall(piece if says_its_length else b"10000\r\n" + piece + b"\r\n")
        except ConnectionError:
            pass  # it has said no by then
        link.settimeout(30)
        try:
            said = link.recv(200)
        except ConnectionError:
            said = b""
    assert not said or re.match(rb"HTTP/1.1 4(00|13)", said)
    assert desk.get("/").status == 200


def test_two_desks_at_once_keep_their_cookies_apart(desk: AtWork) -> None:
    """A browser sends the cookies of one port to every other: each desk has a name of its own for it."""
    assert urlsplit(desk.origin).netloc.partition(":")[2] in _cookie(desk).partition("=")[0]
