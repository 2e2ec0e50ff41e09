"""The server that listens, without a site behind it: whom it believes, and what a request may be."""

from __future__ import annotations

import http.client
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any
from urllib.parse import urlsplit

import pytest

from distillery.management.listening import LARGEST_BODY, LARGEST_HEAD, listening

SAID = {"X_Forwarded_For": "10.0.0.9", "X_Forwarded_Proto": "https"}


def _says_who_asks(environ: dict[str, Any], start: Callable[..., Any]) -> list[bytes]:
    start("200 OK", [("Content-Type", "text/plain")])
    return [f"{environ['wsgi.url_scheme']} {environ['REMOTE_ADDR']}".encode()]


@contextmanager
def heard(**given: str) -> Iterator[str]:
    """A server of the site's kind at a free port of this computer; gives its address."""
    server: Any = listening(_says_who_asks, host="127.0.0.1", port=0, **given)
    thread = threading.Thread(target=_run, args=(server,), daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.effective_port}"
    finally:
        server.close()
        thread.join(5)


def _run(server: Any) -> None:
    try:
        server.run()
    except OSError:
        # Its socket was closed under it.
        return


def ask(address: str, **headers: str) -> str:
    parts = urlsplit(address)
    connection = http.client.HTTPConnection(str(parts.hostname), parts.port, timeout=10)
    try:
        connection.request("GET", "/", headers={name.replace("_", "-"): value for name, value in headers.items()})
        return connection.getresponse().read().decode()
    finally:
        connection.close()


def test_nobody_is_believed_who_is_not_the_proxy() -> None:
    with heard() as address:
        assert ask(address, **SAID) == "http 127.0.0.1"
    with heard(trusted_proxy="10.0.0.1") as address:
        assert ask(address, **SAID) == "http 127.0.0.1"


def test_the_proxy_says_who_asks_and_how() -> None:
    with heard(trusted_proxy="127.0.0.1") as address:
        assert ask(address, **SAID) == "https 10.0.0.9"


@pytest.mark.parametrize(
    ("sent", "status"),
    [
        (b"GET /?q=" + b"x" * LARGEST_HEAD + b" HTTP/1.1\r\nHost: x\r\n\r\n", b"431"),
        (b"GET / HTTP/1.1\r\nHost: x\r\nCookie: " + b"y" * LARGEST_HEAD, b"431"),
        (b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: %d\r\n\r\n" % (LARGEST_BODY + 1), b"413"),
    ],
)
def test_what_is_too_large_is_refused_before_it_is_read(sent: bytes, status: bytes) -> None:
    with heard() as address:
        parts = urlsplit(address)
        with socket.create_connection((str(parts.hostname), int(parts.port or 0)), timeout=10) as client:
            client.sendall(sent)
            assert client.recv(100).split(b" ")[1] == status


def test_one_address_holds_no_more_connections_than_its_share(monkeypatch: pytest.MonkeyPatch) -> None:
    from distillery.management import listening as bounds

    monkeypatch.setattr(bounds, "CONNECTIONS_OF_ONE_ADDRESS", 3)
    with heard() as address:
        parts = urlsplit(address)
        there = (str(parts.hostname), int(parts.port or 0))
        held = [socket.create_connection(there, timeout=10) for _ in range(6)]
        try:
            for one in held[-1:]:
                one.sendall(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n")
                assert one.recv(100).startswith(b"HTTP/1.1 200"), "the newest is heard"
            assert held[0].recv(1) == b"", "the one that was silent longest is let go"
        finally:
            for one in held:
                one.close()


def test_a_head_that_drips_is_let_go(monkeypatch: pytest.MonkeyPatch) -> None:
    from distillery.management import listening as bounds

    monkeypatch.setattr(bounds, "HEAD_WITHIN_S", 0)
    with heard() as address:
        parts = urlsplit(address)
        with socket.create_connection((str(parts.hostname), int(parts.port or 0)), timeout=10) as client:
            client.sendall(b"GET / HTTP/1.1\r\n")
            time.sleep(0.3)
            client.sendall(b"Host: x\r\n")
            assert client.recv(1) == b""
