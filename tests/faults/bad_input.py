"""Generated form posts, addresses, workbooks and month folders, from people of every role and from strangers.

Run: `python -m tests.faults.bad_input --number 10000 --seed 1`, on the engine that DATABASE_URL names; SQLite if none.
In one process, on a database made for it; nothing is sent over a network. Wanted: no fault of the program, nothing of
its insides on a page, and nothing written by an officer or a stranger.
"""

from __future__ import annotations

import argparse
import hashlib
import html
import io
import json
import logging
import math
import random
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode, urlsplit

from tests.faults import nasty

# Of every hundred tries: so many form posts, so many addresses, so many workbooks, the rest month folders.
POSTS, ADDRESSES, WORKBOOKS = 56, 36, 4
WEB = POSTS + ADDRESSES + WORKBOOKS
WRITERS = ("staff", "manager", "administrator")
READERS = ("officer", "stranger")
OF_EACH_PAGE = 3
MOST_PAGES = 400
STARTS = (
    "/",
    "/site/",
    "/plant/instruments/",
    "/books/",
    "/books/check/",
    "/records/",
    "/bench/",
    "/sign-on/",
)
# What neither an officer nor a stranger may write; everybody has tries, drafts, prints, sessions and long work.
HELD = (
    *("ledger", "batches", "handover", "recalls", "counting", "stores"),
    *("plant", "rules", "trail", "seals", "clock", "people", "pen", "tokens"),
)
# What an officer prints is entered in the register of prints, claimed and sealed.
THEIRS = ("pen_try", "trail_claim", "seals_booksseal")
OF_PRINTS = ("prints_print", "trail_claim")
INSIDES = ("Traceback (most recent call last)", "You're seeing this error because", "django.db.utils", "psycopg.")
STAYS_SIGNED_ON = "/sign-off/"
QUERIES = (
    "month",
    "before",
    "after",
    "q",
    "kind",
    "state",
    "as",
    "copies",
    "warehouse",
    "suggest",
    "seal",
    "digest",
    "number",
    "vessel",
    "next",
    "dip_mm",
    "celsius",
    "hydrometer_percent",
    "page",
    "version",
)


@dataclass(frozen=True)
class Form:
    """A form as a page shows it: where it is sent, and what stands in its boxes."""

    action: str
    boxes: Mapping[str, str]


class _Forms(HTMLParser):
    """The forms and links of a page."""

    def __init__(self, address: str) -> None:
        super().__init__()
        self.address = address
        self.forms: list[Form] = []
        self.links: list[str] = []
        self._action = ""
        self._boxes: dict[str, str] | None = None
        self._list = self._area = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        name = given.get("name", "")
        if tag == "a" and given.get("href", "").startswith(("/", "?")):
            link = given["href"]
            self.links.append(urlsplit(self.address).path + link if link.startswith("?") else link)
        elif tag == "form" and given.get("method", "").lower() == "post":
            self._action, self._boxes = given.get("action") or self.address, {}
        elif self._boxes is None or not name:
            if tag == "option" and self._list and self._boxes is not None and "selected" in given:
                self._boxes[self._list] = given.get("value", "")
        elif tag == "input" and name != "csrfmiddlewaretoken":
            if given.get("type") not in ("radio", "checkbox") or "checked" in given or name not in self._boxes:
                self._boxes[name] = given.get("value", "")
        elif tag == "select":
            self._list = name
            self._boxes[name] = ""
        elif tag == "textarea":
            self._area = name
            self._boxes[name] = ""
        elif tag == "button" and given.get("type", "submit") == "submit" and given.get("value"):
            self._boxes.setdefault(f"?{name}", given["value"])

    def handle_data(self, data: str) -> None:
        if self._area and self._boxes is not None:
            self._boxes[self._area] += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "form" and self._boxes is not None:
            self.forms.append(Form(html.unescape(self._action), self._boxes))
            self._boxes = None
        elif tag == "select":
            self._list = ""
        elif tag == "textarea":
            self._area = ""


@dataclass
class Trial:
    """The people at their browsers, what they can reach, and what went wrong."""

    browsers: Mapping[str, Any]
    dice: random.Random
    of_each_page: int = OF_EACH_PAGE
    addresses: list[str] = field(default_factory=list)
    forms: list[Form] = field(default_factory=list)
    answers: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    tried: int = 0

    def look_round(self) -> None:
        """Every page that links lead to, a few of each kind, as a manager and an administrator see them."""
        from django.urls import Resolver404, resolve

        found: dict[str, Form] = {}
        known: set[str] = set()
        for role in ("manager", "administrator"):
            seen: Counter[str] = Counter()
            waiting = list(STARTS)
            done: set[str] = set()
            while waiting and len(done) < MOST_PAGES:
                address = waiting.pop(0)
                if address in done:
                    continue
                try:
                    match = resolve(urlsplit(address).path)
                except Resolver404:
                    continue
                # Each kind of record has a form of its own, and so has each tool of the bench.
                kind = f"{match.view_name} {match.kwargs.get('kind', '')}{match.kwargs.get('name', '')}"
                seen[kind] += 1
                if seen[kind] > self.of_each_page:
                    continue
                done.add(address)
                answer = self._ask(role, "GET", address)
                if not str(answer.get("Content-Type", "")).startswith("text/html"):
                    continue
                page = _Forms(address)
                page.feed(answer.content.decode())
                waiting += page.links
                for form in page.forms:
                    if STAYS_SIGNED_ON not in form.action:
                        found.setdefault(f"{form.action} {sorted(form.boxes)}", form)
            known |= done
        self.addresses, self.forms = sorted(known), [found[key] for key in sorted(found)]

    # -- what is tried

    def post(self, role: str) -> None:
        """A form as it stands, with one to four of its boxes filled with something else."""
        dice = self.dice
        form = dice.choice(self.forms)
        if dice.random() < 0.04:
            sent, kind = nasty.body(dice)
            self._ask(role, "POST", form.action, sent, kind)
            return
        boxes = {name: value for name, value in form.boxes.items() if not name.startswith("?")}
        if dice.random() < 0.5:
            # A reason and a note are asked for nearly everywhere; with them a post goes further in.
            boxes |= {name: "looked at again" for name in boxes if name in ("reason", "words", "checked", "source")}
        for name in dice.sample(sorted(boxes), min(len(boxes), dice.randint(1, 4))) if boxes else ():
            if name != "sending" or dice.random() < 0.1:
                boxes[name] = nasty.text(dice)
        buttons = [name for name in form.boxes if name.startswith("?")]
        if buttons and dice.random() < 0.3:
            button = dice.choice(buttons)
            boxes[button[1:]] = dice.choice((form.boxes[button], nasty.text(dice)))
        pairs = [(name, value) for name, value in boxes.items() if dice.random() > 0.02]
        if dice.random() < 0.05 and pairs:
            pairs.append((dice.choice(pairs)[0], nasty.text(dice)))
        if dice.random() < 0.05:
            pairs.append((nasty.text(dice)[:200], nasty.text(dice)))
        sent = urlencode(pairs, errors="surrogatepass").encode()
        self._ask(role, "POST", form.action, sent, "application/x-www-form-urlencoded")

    def address(self, role: str) -> None:
        """A known address with a piece of it changed, or with a query of its own."""
        dice = self.dice
        parts = urlsplit(dice.choice(self.addresses))
        path, query = parts.path, parts.query
        if dice.random() < 0.6:
            pieces = path.split("/")
            place = dice.randrange(1, len(pieces))
            piece = dice.choice(nasty.RAW) if dice.random() < 0.2 else quote(nasty.text(dice)[:3_000], safe="")
            pieces[place] = piece
            path = "/".join(pieces)
        if dice.random() < 0.6:
            names = [pair.partition("=")[0] for pair in query.split("&") if pair] + [dice.choice(QUERIES)]
            query = urlencode({name: nasty.text(dice) for name in names}, errors="surrogatepass")
            if dice.random() < 0.1:
                query += f"&{dice.choice(QUERIES)}={dice.choice(nasty.RAW)}"
        method = dice.choices(("GET", "HEAD", "POST", "PUT", "DELETE", "OPTIONS"), (80, 4, 8, 3, 3, 2))[0]
        if STAYS_SIGNED_ON in path:
            return
        self._ask(role, method, f"{path}?{query}" if query else path)

    def upload(self, role: str) -> None:
        """A workbook with some of its bytes others, cut short, or something else altogether, sent as one."""
        from django.test.client import BOUNDARY, MULTIPART_CONTENT
        from django.urls import reverse

        name, sent = nasty.file(self.dice)
        head = f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="workbook"; filename="{name}"\r\n\r\n'
        body = head.encode("utf-8", "surrogatepass") + sent + f"\r\n--{BOUNDARY}--\r\n".encode()
        self._ask(role, "POST", reverse("bring_in"), body, MULTIPART_CONTENT)

    def folder(self) -> None:
        """A month's folder with a few things changed in it, given to the command that loads it; nothing stays of it."""
        from django.core.management import CommandError, call_command
        from django.db import transaction

        with tempfile.TemporaryDirectory() as place:
            changes = mutated_month(Path(place), self.dice)
            said = io.StringIO()
            try:
                with transaction.atomic():
                    try:
                        call_command("load_month", place, json=self.dice.random() < 0.3, stdout=said, stderr=said)
                        self.answers["loaded"] += 1
                    except (CommandError, SystemExit) as refused:
                        self.answers["refused"] += 1
                        if isinstance(refused, CommandError) and not str(refused).strip():
                            self.wrong.append(f"{changes}: refused without a word")
                    transaction.set_rollback(True)
            except Exception as error:
                self.wrong.append(f"{changes}: {type(error).__name__}: {str(error)[:300]}")
            if any(inside in said.getvalue() for inside in INSIDES):
                self.wrong.append(f"{changes}: the program's insides are on the console")

    def _ask(self, role: str, method: str, address: str, sent: bytes = b"", kind: str = "") -> Any:
        browser = self.browsers[role]
        more = {"content_type": kind or "application/x-www-form-urlencoded"}
        try:
            answer = browser.generic(method, address, sent, **more)
            shown = _shown(answer)
        except Exception as error:
            self.wrong.append(f"{role} {method} {address[:160]} {sent[:400]!r}: {type(error).__name__}: {error}"[:900])
            raise
        self.answers[str(answer.status_code)] += 1
        if answer.status_code >= 500:
            cause = getattr(answer, "exc_info", None)
            said = f"{cause[0].__name__}: {cause[1]}"[:300] if cause else ""
            self.wrong.append(f"{role} {method} {address[:160]} {sent[:400]!r}: {answer.status_code} {said}")
        elif any(inside in shown for inside in INSIDES):
            self.wrong.append(f"{role} {method} {address[:160]}: the program's insides are on the page")
        return answer


def _shown(answer: Any) -> str:
    if getattr(answer, "streaming", False):
        return b"".join(answer.streaming_content).decode("utf-8", "replace")
    return str(answer.content.decode("utf-8", "replace"))


def mutated_month(folder: Path, dice: random.Random) -> str:
    """Writes a small month with one to three things changed in it, and says which."""
    from tests.batches.tiny_month import write_folder

    write_folder(folder)
    files = sorted(folder.glob("*/*.csv"))
    changes = []
    for _ in range(dice.randint(1, 3)):
        file = dice.choice(files)
        change = dice.choice(CHANGES)
        changes.append(f"{file.parent.name}/{file.name} {change.__name__}")
        change(file, dice)
    return ", ".join(changes)


def a_cell(file: Path, dice: random.Random) -> None:
    """Another text in one cell."""
    if not file.is_file():
        return
    lines = file.read_bytes().decode("utf-8", "replace").split("\n")
    row = dice.randrange(len(lines))
    cells = lines[row].split(",")
    cells[dice.randrange(len(cells))] = nasty.text(dice).replace("\n", " ").replace("\r", " ")
    lines[row] = ",".join(cells)
    _write(file, "\n".join(lines))


def a_row_twice(file: Path, dice: random.Random) -> None:
    """A row stands a second time."""
    if file.is_file():
        lines = file.read_bytes().decode("utf-8", "replace").split("\n")
        _write(file, "\n".join([*lines[:-1], dice.choice(lines), lines[-1]]))


def a_column_less(file: Path, dice: random.Random) -> None:
    """A column is missing."""
    if file.is_file():
        rows = [line.split(",") for line in file.read_bytes().decode("utf-8", "replace").split("\n")]
        place = dice.randrange(len(rows[0]))
        _write(file, "\n".join(",".join(cell for at, cell in enumerate(row) if at != place) for row in rows))


def cut_short(file: Path, dice: random.Random) -> None:
    """The file ends too early."""
    if file.is_file():
        content = file.read_bytes()
        file.write_bytes(content[: dice.randrange(len(content) + 1)])


def other_bytes(file: Path, dice: random.Random) -> None:
    """Some bytes are others."""
    if file.is_file():
        content = bytearray(file.read_bytes() or b"x")
        for _ in range(dice.randint(1, 20)):
            content[dice.randrange(len(content))] = dice.randrange(256)
        file.write_bytes(content)


def other_encoding(file: Path, dice: random.Random) -> None:
    """Written by a program that writes text in another way."""
    if file.is_file():
        text = file.read_bytes().decode("utf-8", "replace")
        file.write_bytes(text.encode(dice.choice(("utf-16", "utf-8-sig", "cp037", "utf-32")), errors="replace"))


def gone(file: Path, dice: random.Random) -> None:
    """The file is not there."""
    if file.is_file():
        file.unlink()


def a_folder(file: Path, dice: random.Random) -> None:
    """A folder stands in its place."""
    if file.is_file():
        file.unlink()
        file.mkdir()


def a_dangling_link(file: Path, dice: random.Random) -> None:
    """A link to nothing stands in its place."""
    if file.is_file():
        file.unlink()
        file.symlink_to(file.parent / "nowhere")


def many_rows(file: Path, dice: random.Random) -> None:
    """Many rows that name nothing that is there."""
    if file.is_file():
        lines = file.read_bytes().decode("utf-8", "replace").split("\n")
        _write(file, "\n".join([lines[0], *(",".join([f"ZZ{row}"] * 4) for row in range(400))]))


def _write(file: Path, text: str) -> None:
    file.write_bytes(text.encode("utf-8", "surrogatepass"))


CHANGES = (
    a_cell,
    a_cell,
    a_cell,
    a_cell,
    a_cell,
    a_row_twice,
    a_column_less,
    cut_short,
    other_bytes,
    other_encoding,
    gone,
    a_folder,
    a_dangling_link,
    many_rows,
)


def facts() -> dict[str, str]:
    """Number of rows and digest of every table of the site, but for what signing on writes."""
    from django.apps import apps
    from django.db import connection

    found = {}
    with connection.cursor() as cursor:
        for label in HELD:
            for model in apps.get_app_config(label).get_models():
                if model._meta.db_table in THEIRS:
                    continue
                table = connection.ops.quote_name(model._meta.db_table)
                asked = f"SELECT * FROM {table}"
                if model._meta.db_table == "trail_entry":
                    asked += f" WHERE {connection.ops.quote_name('table')} NOT IN {OF_PRINTS}"
                cursor.execute(asked)
                rows = sorted(repr(row) for row in cursor.fetchall())
                found[model._meta.db_table] = f"{len(rows)} {hashlib.sha256(chr(10).join(rows).encode()).hexdigest()}"
    return found


def build(folder: Path) -> None:
    """The small month with a run that is short by far, so that there are an enquiry and a proposal for it."""
    from batches.loading.load_folder import load_folder
    from tests.batches.tiny_month import changed, write_folder

    short = changed("transfers", "0,20,,1279,20,64.9", "0,20,,1179,20,64.9")
    load_folder(write_folder(folder, transfers=short))


def people() -> dict[str, Any]:
    """A browser for each role, signed on, and one at which nobody is."""
    from django.conf import settings
    from django.contrib.auth.models import Group
    from django.test import Client

    from distillery.people.models import Person

    # Argon2 is slow by design, and nothing here is about its strength.
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    browsers = {"stranger": Client(raise_request_exception=False, headers={"host": "127.0.0.1"})}
    for role in ("staff", "manager", "officer", "administrator"):
        person = Person.objects.create_user(f"bad-input-{role}", password="of-tests-only-24")
        person.groups.set(Group.objects.filter(name=role))
        browser = Client(raise_request_exception=False, headers={"host": "127.0.0.1"})
        browser.force_login(person)
        browsers[role] = browser
    return browsers


def tries(number: int) -> Iterator[tuple[str, str]]:
    """Readers first, so that what they may not change can be compared, then writers: what is tried, and by whom."""
    for roles, share in ((READERS, 0.3), (WRITERS, 0.7)):
        for one in range(round(number * WEB / 100 * share)):
            place = one * 97 % WEB
            what = "post" if place < POSTS else "address" if place < POSTS + ADDRESSES else "upload"
            yield what, roles[one % len(roles)]


def folders_of(number: int) -> int:
    """How many of so many tries are month folders."""
    return number - sum(1 for _ in tries(number))


def run(trial: Trial, number: int, seconds: float = math.inf) -> None:
    """All tries but the folders, on a site that is built; in so many seconds as far as they go, readers in a third."""
    trial.look_round()
    before, compared = facts(), False
    began = time.monotonic()
    for what, role in tries(number):
        if role not in READERS and not compared:
            compared = True
            _compare(before, facts(), trial.wrong)
        if time.monotonic() - began > (seconds if compared else seconds / 3):
            continue
        trial.tried += 1
        try:
            {"post": trial.post, "address": trial.address, "upload": trial.upload}[what](role)
        except Exception:
            # It stands among what went wrong already.
            continue
    if not compared:
        _compare(before, facts(), trial.wrong)


def _compare(before: dict[str, str], after: dict[str, str], wrong: list[str]) -> None:
    for table, was in before.items():
        if after[table] != was:
            wrong.append(f"{table} was {was} and is {after[table]} after officer and stranger alone")


def main() -> int:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--number", type=int, default=10_000)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--minutes", type=float, default=math.inf, help="stop then, and say how far it went")
    given = asked.parse_args()
    began = time.monotonic()
    # Every refused page is a line on the console, and here that is nearly every one.
    logging.disable(logging.CRITICAL)
    from tests.faults.scratch import scratch_database

    with scratch_database(), tempfile.TemporaryDirectory() as folder:
        from django.conf import settings
        from django.core.management import call_command

        call_command("migrate", interactive=False, verbosity=0)
        trial = Trial({}, random.Random(given.seed))
        for _ in range(folders_of(given.number)):
            # Of a bounded time, a fifth is theirs.
            if time.monotonic() - began > given.minutes * 12:
                break
            trial.folder()
            trial.tried += 1
        build(Path(folder))
        trial.browsers = people()
        # What is sent is kept for long work, which nobody does here.
        settings.LONG_WORK_FOLDER = Path(folder) / "long-work"
        run(trial, given.number, given.minutes * 60 - (time.monotonic() - began))
    for sentence in trial.wrong[:100]:
        print("WRONG:", sentence)
    answers = json.dumps(dict(sorted(trial.answers.items())))
    print(
        f"{trial.tried} of {given.number} tries with seed {given.seed} in {time.monotonic() - began:.0f} s, "
        f"{len(trial.forms)} forms and {len(trial.addresses)} addresses: {answers}; {len(trial.wrong)} wrong."
    )
    return 1 if trial.wrong else 0


if __name__ == "__main__":
    sys.exit(main())
