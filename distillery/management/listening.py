"""The server that listens: how long, how large and how many a request may be before it is let go of.

Waitress reads a request whole before one of its threads sees it, so a client that sends slowly holds a connection and
no thread. What it leaves open is bounded here: a client that sends without end, byte by byte, and one that opens more
connections than any browser does.
"""

from __future__ import annotations

import time
from typing import Any, Final

from waitress.channel import HTTPChannel
from waitress.server import BaseWSGIServer, MultiSocketServer, create_server

# SQLite has one writer at a time; a few threads keep readers from waiting behind it.
THREADS: Final = 6
# Windows looks at 512 connections at most (FD_SETSIZE of its select), and a process opens files too.
CONNECTIONS: Final = 400
# Browsers open six to one server (common practice, no source); a PC has a few windows.
CONNECTIONS_OF_ONE_ADDRESS: Final = 100
# Nothing sent or read for so long, and the connection is closed.
SILENT_S: Final = 30
LOOKED_AT_EVERY_S: Final = 5
# From its first byte, however busily it drips: the head of a request, and the whole of it. 20 MB in five minutes is
# half a megabit a second.
HEAD_WITHIN_S: Final = 20
WHOLE_WITHIN_S: Final = 300
# A workbook may have 20 MB (batches/loading/workbook/opening.py); the boxes beside it are small.
LARGEST_BODY: Final = 24_000_000
# Address and cookies together. The longest address that a page of the site makes has under 2 kB.
LARGEST_HEAD: Final = 32_768
# An answer goes to a file until it is read, so that no thread waits for a slow reader; none is as large as this.
LARGEST_UNREAD: Final = 256_000_000
PROXY_SAYS: Final = "x-forwarded-for x-forwarded-proto"


class Patient(HTTPChannel):  # type: ignore[misc]
    """A connection whose request must come within its time, and that gives way to newer ones of its own address."""

    _began_s = 0.0

    def __init__(self, server: Any, sock: Any, addr: Any, adj: Any, map: Any = None) -> None:
        super().__init__(server, sock, addr, adj, map=map)
        if adj.trusted_proxy is None or _host(addr) != adj.trusted_proxy:
            self._let_one_go()

    def received(self, data: bytes) -> bool:
        """Takes what came; closes where it comes too slowly."""
        now = time.monotonic()
        if self.request is None:
            self._began_s = now
        whole_head = self.request is not None and self.request.headers_finished
        if now - self._began_s > (WHOLE_WITHIN_S if whole_head else HEAD_WITHIN_S):
            self.will_close = True
            return False
        return bool(super().received(data))

    def _let_one_go(self) -> None:
        """The one of this address that has been silent longest, where it has too many."""
        own = [
            one
            for one in list(self.server.active_channels.values())
            if _host(one.addr) == _host(self.addr) and not one.will_close
        ]
        idle = [one for one in own if one is not self and not one.requests and not one.total_outbufs_len]
        if len(own) > CONNECTIONS_OF_ONE_ADDRESS and idle:
            min(idle, key=lambda one: one.last_activity).will_close = True


def listening(application: Any, *, host: str, port: int, trusted_proxy: str = "") -> BaseWSGIServer | MultiSocketServer:
    """A server for the site, not yet running. `trusted_proxy` is the address of a proxy whose word on scheme and
    client is taken; from anybody else such words are thrown away. Raises what the system says of host and port.
    """
    proxied = {"trusted_proxy": trusted_proxy, "trusted_proxy_headers": PROXY_SAYS} if trusted_proxy else {}
    server = create_server(
        application,
        host=host,
        port=port,
        threads=THREADS,
        ident=None,
        clear_untrusted_proxy_headers=True,
        connection_limit=CONNECTIONS,
        channel_timeout=SILENT_S,
        cleanup_interval=LOOKED_AT_EVERY_S,
        max_request_body_size=LARGEST_BODY,
        max_request_header_size=LARGEST_HEAD,
        outbuf_high_watermark=LARGEST_UNREAD,
        # Where the system has it: it is not bounded by the number of a file.
        asyncore_use_poll=True,
        **proxied,
    )
    # A name may stand for several addresses, each listened to by a server of its own.
    for one in server.map.values() if isinstance(server, MultiSocketServer) else [server]:
        if isinstance(one, BaseWSGIServer):
            one.channel_class = Patient
    return server


def _host(addr: Any) -> str:
    return str(addr[0]) if isinstance(addr, tuple) and addr else ""
