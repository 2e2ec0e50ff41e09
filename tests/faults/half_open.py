"""Connections that are opened and left, that drip, or that break off: none of them holds a page.

A hundred and twenty send half a request and stop, as many send a byte now and then, others send more than is taken, and
uploads break off in the middle. Meanwhile a page is asked for again and again. Run: `python -m tests.faults.half_open
--seconds 60`, on the engine that DATABASE_URL names; SQLite if none. Bounded by its seconds; talks to 127.0.0.1 only.
"""

from __future__ import annotations

import argparse
import socket
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from urllib.parse import urlsplit
from urllib.request import urlopen

from tests.faults.scratch import kill, scratch_site, start

HALF_OPEN = 120
HALF = b"GET /sign-on/ HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: "
LONGEST_PAGE_S = 5.0
# The longest that one may be silent and the look round after it, with room for a busy machine.
LONG_ENOUGH_S = 50
UPLOAD = b"POST /sign-on/ HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: %s\r\nContent-Length: %d\r\n\r\n%s"
BROKEN_OFF = b"multipart/form-data; boundary=b", 1_000_000, b'--b\r\nContent-Disposition: form-data; name="f'


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60)
    options = parser.parse_args()
    wrong: list[str] = []
    with scratch_site() as url:
        process, address = start(url)
        try:
            pages_s = _while_others_dawdle(address, options.seconds, wrong)
            wrong += [*_too_large(address), *_breaking_off(address)]
        finally:
            kill(process)
    print(f"{len(pages_s)} pages beside {2 * HALF_OPEN} dawdling connections, the slowest {max(pages_s):.2f} s.")
    for sentence in wrong:
        print("WRONG:", sentence)
    return 1 if wrong else 0


def _while_others_dawdle(address: str, seconds: float, wrong: list[str]) -> list[float]:
    """Seconds that each page took."""
    took = []
    # Read in before anybody dawdles.
    _page(address)
    with _connections(address, HALF_OPEN) as silent, _connections(address, HALF_OPEN) as dripping:
        for one in (*silent, *dripping):
            with suppress(OSError):
                one.sendall(HALF)
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            for one in dripping:
                with suppress(OSError):
                    one.sendall(b".")
            began = time.monotonic()
            _page(address)
            took.append(time.monotonic() - began)
            if took[-1] > LONGEST_PAGE_S:
                wrong.append(f"a page took {took[-1]:.1f} s")
            time.sleep(0.2)
        if seconds >= LONG_ENOUGH_S:
            wrong += [f"{left} {which} connections are still open" for which, left in _open(silent, dripping) if left]
    return took


def _open(silent: list[socket.socket], dripping: list[socket.socket]) -> list[tuple[str, int]]:
    return [("silent", sum(map(_is_open, silent))), ("dripping", sum(map(_is_open, dripping)))]


def _is_open(one: socket.socket) -> bool:
    one.setblocking(False)
    try:
        return bool(one.recv(1))
    except BlockingIOError:
        return True
    except OSError:
        return False


def _too_large(address: str) -> list[str]:
    """An address and a body beyond what is taken are refused before they are read whole."""
    wrong = []
    for what, sent, status in (
        ("an address of 40 kB", b"GET /find/?q=" + b"x" * 40_000 + b" HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n", b"431"),
        ("a body of 30 MB", UPLOAD % (b"text/plain", 30_000_000, b""), b"413"),
        ("half a header that never ends", HALF + b"y" * 40_000, b"431"),
    ):
        answer = _sent(address, sent)
        if answer.split(b" ")[1:2] != [status]:
            wrong.append(f"{what} was answered {answer[:60]!r}, wanted {status.decode()}")
    return wrong


def _breaking_off(address: str) -> list[str]:
    """Uploads that end in the middle leave the pages as quick as they were."""
    for _ in range(40):
        with _connections(address, 1) as [one]:
            one.sendall(UPLOAD % BROKEN_OFF)
    began = time.monotonic()
    _page(address)
    return ["a page waits behind broken uploads"] if time.monotonic() - began > LONGEST_PAGE_S else []


def _page(address: str) -> None:
    with urlopen(f"{address}/sign-on/", timeout=60) as answer:
        assert answer.status == 200


def _sent(address: str, sent: bytes) -> bytes:
    with _connections(address, 1) as [one]:
        with suppress(OSError):
            one.sendall(sent)
        with suppress(OSError):
            return one.recv(1000)
    return b""


@contextmanager
def _connections(address: str, number: int) -> Iterator[list[socket.socket]]:
    parts = urlsplit(address)
    made = [socket.create_connection((str(parts.hostname), int(parts.port or 0)), timeout=10) for _ in range(number)]
    try:
        yield made
    finally:
        for one in made:
            one.close()


if __name__ == "__main__":
    sys.exit(main())
