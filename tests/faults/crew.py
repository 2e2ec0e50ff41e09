"""People at browsers who move alcohol through the real pages and know what must be where.

A tank is handled by one person at a time, as it is in a still house, so what it holds is known exactly; the books, the
numbers and the bottles are everybody's. A sheet that got no answer is sent again as it was, and some are sent twice at
once. What the site acknowledged is kept, to be looked for afterwards.
"""

from __future__ import annotations

import html
import http.client
import random
import re
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeVar
from urllib.parse import urlencode, urlsplit

from tests.faults import small_plant
from tests.faults.small_plant import TANKS

T = TypeVar("T")

LONGEST_ANSWER_S = 90
# A machine that is busy with other things starts a server in a minute or two.
LONGEST_DOWN_S = 240
MOVEMENTS_A_MINUTE = 20
BOX = re.compile(r'<input[^>]*\bname="([^"]+)"[^>]*>')
VALUE = re.compile(r'\bvalue="([^"]*)"')
LIST = re.compile(r'<select[^>]*\bname="([^"]+)".*?</select>', re.DOTALL)
CHOSEN = re.compile(r'<option value="([^"]*)" selected')
HIDDEN = re.compile(r'name="(csrfmiddlewaretoken|sending)"[^>]*value="([^"]*)"')
AWAY = "The database does not answer"
MUST_WAIT = "before the next try"
WRONG = re.compile(r'class="error-summary.*?</(?:section|div)>', re.DOTALL)


def boxes_of(page: str) -> dict[str, str]:
    """What would be sent if Save were pressed: every box and hidden field of the sheet on a page."""
    sheet = page[page.index('id="sheet"') :]
    found = [*BOX.finditer(sheet), *LIST.finditer(sheet)]
    values = [(box[1], (CHOSEN if box[0].startswith("<select") else VALUE).search(box[0])) for box in found]
    return {name: html.unescape(value[1]) if value else "" for name, value in values}


class Unanswered(Exception):
    """The server went away before it answered."""


@dataclass
class Crew:
    """What everybody knows together."""

    dips: dict[str, int] = field(default_factory=lambda: dict.fromkeys(TANKS, small_plant.FIRST_DIP_MM))
    tanks: dict[str, threading.Lock] = field(default_factory=lambda: {code: threading.Lock() for code in TANKS})
    # Number of a record to the sheet it was acknowledged for.
    acknowledged: dict[str, dict[str, str]] = field(default_factory=dict)
    # Number of a record and the document that an acknowledged correction named on it.
    corrected: list[tuple[str, str]] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    saved: threading.Event = field(default_factory=threading.Event)
    answers_s: list[float] = field(default_factory=list)
    resent: int = 0
    doubled: int = 0
    refused: int = 0
    crossed: int = 0
    address: str = ""
    up: threading.Event = field(default_factory=threading.Event)
    stop: threading.Event = field(default_factory=threading.Event)
    at_the_door: threading.Lock = field(default_factory=threading.Lock)
    _guard: threading.Lock = field(default_factory=threading.Lock)
    _started: int = 0

    def served_at(self, address: str) -> None:
        """The server is up."""
        self.address = address
        self.saved.clear()
        self.up.set()

    def gone(self) -> None:
        """The server is about to go."""
        self.up.clear()

    def fault(self, what: str) -> None:
        with self._guard:
            self.faults.append(what)

    def keep(self, number: str, sheet: dict[str, str]) -> None:
        """A record was acknowledged; the same number for another sheet is a fault."""
        self.saved.set()
        with self._guard:
            if self.acknowledged.setdefault(number, sheet) is not sheet:
                self.faults.append(f"{number} was given to two sheets")

    def next_minute(self) -> int:
        with self._guard:
            self._started += 1
            return self._started // MOVEMENTS_A_MINUTE


class Member(threading.Thread):
    """One person at one browser."""

    def __init__(self, crew: Crew, seed: int) -> None:
        super().__init__(daemon=True)
        self.crew = crew
        self.dice = random.Random(seed)
        self.cookies: dict[str, str] = {}
        self.seed = seed

    def run(self) -> None:
        try:
            self._patiently(self.sign_on)
            while not self.crew.stop.is_set():
                throw = self.dice.random()
                if throw < 0.2:
                    self._remove()
                elif throw < 0.35:
                    self._correct()
                else:
                    self._transfer()
        except Exception as error:
            self.crew.fault(f"{type(error).__name__}: {error}")

    # -- what they do

    def _transfer(self) -> None:
        crew = self.crew
        giver, taker = self.dice.sample(TANKS, 2)
        held = [crew.tanks[code] for code in sorted((giver, taker))]
        if not held[0].acquire(blocking=False):
            return
        try:
            if not held[1].acquire(blocking=False):
                return
            try:
                room = min(crew.dips[giver], small_plant.DEEPEST_MM - crew.dips[taker])
                moved = self.dice.randint(1, 40)
                if moved > room:
                    return
                sheet = small_plant.transfer(giver, taker, crew.dips, moved, crew.next_minute())
                number = self._write("transfer", sheet)
                if number:
                    crew.dips[giver] -= moved
                    crew.dips[taker] += moved
                elif not crew.stop.is_set():
                    crew.fault(f"a transfer was refused: {sheet}")
            finally:
                held[1].release()
        finally:
            held[0].release()

    def _remove(self) -> None:
        sheet = small_plant.removal(self.dice.randint(1, 6), f"{self.seed}-{self.dice.random()}")
        if not self._write("removal", sheet):
            self.crew.refused += 1

    def _correct(self) -> None:
        """Names another document on a removal, whoever wrote it; often two are at the same one."""
        removals = sorted(number for number, sheet in self.crew.acknowledged.copy().items() if "bottles" in sheet)
        if not removals:
            return
        number, document = self.dice.choice(removals[-3:]), f"{self.seed}-{self.dice.random()}"
        path = f"/records/removal/{number}/correct/"
        _, page, _ = self._patiently(lambda: self.ask("GET", path))
        body = boxes_of(page) | {"document": document, "reason": "another document"}
        while True:
            status, page, where = self._patiently(lambda body=body: self.ask("POST", path, body), again=True)
            if status == 302:
                break
            if "Nothing of yours was saved" not in page:
                self.crew.fault(f"{path} gave {status} {where}")
                return
            # Somebody else was first: the box still says what was typed here, and it is saved as it is.
            self.crew.crossed += 1
            body = boxes_of(page)
            if body["document"] != document:
                self.crew.fault(f"{path} lost {document}")
        self.crew.corrected.append((number, document))

    def _write(self, kind: str, sheet: dict[str, str]) -> str:
        """Writes a sheet to the end and gives the number of its record; nothing where it was refused."""
        path = f"/records/{kind}/new/"
        form = self._patiently(lambda: self.form(path))
        body = {**form, **sheet}
        began = time.monotonic()
        if self.dice.random() < 0.15:
            number = self._twice(path, body)
        else:
            number = self._patiently(lambda: self.send(path, body), again=True)
        self.crew.answers_s.append(time.monotonic() - began)
        if number:
            self.crew.keep(number, sheet)
        return number

    def _twice(self, path: str, body: dict[str, str]) -> str:
        """A double click: both arrive at once, and both must lead to the same record."""
        self.crew.doubled += 1
        got: list[str] = []

        def click() -> None:
            try:
                got.append(self._patiently(lambda: self.send(path, body), again=True))
            except Exception as error:
                self.crew.fault(f"{type(error).__name__}: {error}")

        other = threading.Thread(target=click, daemon=True)
        other.start()
        click()
        other.join(LONGEST_ANSWER_S)
        # Bottles may run out between the two only if neither was written.
        if len(set(got)) != 1:
            self.crew.fault(f"a double click gave {got}")
        return got[0] if got else ""

    def _patiently(self, ask: Callable[[], T], again: bool = False) -> T:
        """Asks until there is an answer, however often the server goes down meanwhile."""
        while True:
            if not self.crew.up.wait(LONGEST_DOWN_S):
                raise TimeoutError("The server did not come back.")
            try:
                return ask()
            except Unanswered:
                if again:
                    self.crew.resent += 1
                time.sleep(0.02)

    # -- how they ask

    def sign_on(self) -> None:
        """Signs on by the page for it, one after another: tries of one person at one moment wait for each other."""
        with self.crew.at_the_door:
            form = self.form("/sign-on/")
            body = {**form, "username": small_plant.USERNAME, "password": small_plant.PASSWORD}
            status, page, where = self.ask("POST", "/sign-on/", body)
        if status == 200 and MUST_WAIT in page:
            # A try that was never answered, because the server died meanwhile, counts as wrong.
            time.sleep(1)
            raise Unanswered
        if status != 302 or "sessionid" not in self.cookies:
            raise AssertionError(f"Signing on gave {status}, {where}.")

    def form(self, path: str) -> dict[str, str]:
        """What a page asks to be sent along: the tokens of its form."""
        status, page, where = self.ask("GET", path)
        if status != 200:
            raise AssertionError(f"{path} gave {status} {where}")
        return self.hidden(page)

    def hidden(self, page: str) -> dict[str, str]:
        return dict(HIDDEN.findall(page))

    def send(self, path: str, body: dict[str, str]) -> str:
        """Sends a sheet; gives the number of its record, or nothing where it was refused."""
        status, page, where = self.ask("POST", path, body)
        if status == 302 and where.startswith(path.removesuffix("new/")):
            return where.rstrip("/").rsplit("/", 1)[-1]
        wrong = WRONG.search(page)
        said = re.sub(r"<[^>]+>|\s+", " ", wrong[0] if wrong else page[:2000])
        if status == 200 and "bottles of" in said:
            return ""
        self.crew.fault(f"{path} gave {status} {where}: {said[:600]}")
        return ""

    def ask(self, method: str, path: str, body: dict[str, str] | None = None) -> tuple[int, str, str]:
        """Status, page and the address it leads on to. Raises Unanswered where the server went away."""
        parts = urlsplit(self.crew.address)
        connection = http.client.HTTPConnection(parts.hostname or "", parts.port, timeout=LONGEST_ANSWER_S)
        try:
            connection.request(
                method,
                path,
                urlencode(body) if body is not None else None,
                {
                    "Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items()),
                    "Content-Type": "application/x-www-form-urlencoded",
                },
            )
            answer = connection.getresponse()
            page = answer.read().decode()
        except TimeoutError:
            raise
        except (OSError, http.client.HTTPException) as error:
            raise Unanswered from error
        finally:
            connection.close()
        for cookie in answer.headers.get_all("Set-Cookie") or []:
            name, _, value = cookie.split(";")[0].partition("=")
            self.cookies[name] = value
        if answer.status == 503 and AWAY in page:
            raise Unanswered
        return answer.status, page, answer.headers.get("Location", "")


def muster(crew: Crew, size: int, seed: int) -> list[Member]:
    """So many people, at work from now on."""
    members = [Member(crew, seed * 1000 + number) for number in range(size)]
    for member in members:
        member.start()
    return members


def send_home(crew: Crew, members: list[Member]) -> None:
    """Lets everybody finish what they are at."""
    crew.stop.set()
    for member in members:
        member.join(LONGEST_ANSWER_S)
        if member.is_alive():
            crew.fault("somebody got no answer")
