"""One browser: a connection that stays open, cookies, and the time until the whole of an answer has been read."""

from __future__ import annotations

import http.client
import re
import time
from dataclasses import dataclass
from urllib.parse import urlencode, urlsplit

LONGEST_ANSWER_S = 120
HIDDEN = re.compile(r'name="(csrfmiddlewaretoken|sending)"[^>]*value="([^"]*)"')
REDIRECTED = 302


@dataclass(frozen=True, slots=True)
class Answer:
    """What came back, and after how many seconds."""

    status: int
    page: str
    leads_to: str
    seconds: float


@dataclass(frozen=True, slots=True)
class Asked:
    """One answer as it is counted: what was asked, when after the beginning, for how many seconds it was waited."""

    kind: str
    at: float
    seconds: float
    writes: bool
    wrong: str = ""


class Browser:
    """Signed on as one person. Raises OSError and HTTPException where the server does not answer."""

    def __init__(self, address: str) -> None:
        parts = urlsplit(address)
        self._connection = http.client.HTTPConnection(
            parts.hostname or "127.0.0.1", parts.port, timeout=LONGEST_ANSWER_S
        )
        self._cookies: dict[str, str] = {}

    def sign_on(self, username: str, password: str) -> float:
        """Seconds until the first page was there."""
        began = time.monotonic()
        form = self.ask("/sign-on/")
        sent = self.ask("/sign-on/", {**hidden(form.page), "username": username, "password": password})
        if sent.status != REDIRECTED or "sessionid" not in self._cookies:
            raise AssertionError(f"Signing on gave {sent.status}.")
        self.ask(sent.leads_to)
        return time.monotonic() - began

    def ask(self, path: str, body: dict[str, str | list[str]] | dict[str, str] | None = None) -> Answer:
        """One question on the connection that is open; where the server has closed it meanwhile, on a new one."""
        began = time.monotonic()
        connection = self._connection
        content = urlencode(body, doseq=True) if body is not None else None
        headers = {
            "Cookie": "; ".join(f"{name}={value}" for name, value in self._cookies.items()),
            **({"Content-Type": "application/x-www-form-urlencoded"} if content is not None else {}),
        }
        method = "GET" if content is None else "POST"
        try:
            connection.request(method, path, content, headers)
            answer = connection.getresponse()
        except http.client.RemoteDisconnected:
            connection.close()
            connection.request(method, path, content, headers)
            answer = connection.getresponse()
        page = answer.read()
        seconds = time.monotonic() - began
        for cookie in answer.headers.get_all("Set-Cookie") or []:
            name, _, value = cookie.split(";")[0].partition("=")
            self._cookies[name] = value
        text = page.decode("utf-8", "replace") if page[:4] != b"%PDF" else ""
        return Answer(answer.status, text, answer.headers.get("Location", ""), seconds)

    def close(self) -> None:
        self._connection.close()


def hidden(page: str) -> dict[str, str]:
    """The tokens that the form of a page sends along."""
    return dict(HIDDEN.findall(page))
