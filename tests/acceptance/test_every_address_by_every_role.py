"""Every address asked for and sent to by every role, with the very boxes that its own forms have.

A manager's pages are walked and their forms taken as a browser would send them; then an officer, a member of the staff
and somebody who is not signed on send all of them. What the books say is facts with a trail, so whatever was written
shows as a new entry of the trail, whoever wrote it.
"""

from __future__ import annotations

from collections.abc import Iterator
from html.parser import HTMLParser
from typing import Any
from urllib.parse import urljoin, urlsplit

import pytest
from django.apps import apps
from django.contrib.sessions.models import Session
from django.db.models import QuerySet
from django.test import Client
from django.urls import get_resolver, reverse

from batches.visits.models import VisitNote
from distillery.jobs.models import Job
from distillery.people.models import Person
from distillery.prints.models import Print
from distillery.seals.models import BooksSeal
from distillery.trail.models import Claim, Entry
from ledger.periods.models import CloseRequest, Closing
from tests.acceptance.test_every_list_is_a_table_class import SIGNING, arguments, routes

TO_SIGN_ON = "/sign-on/"
# What grows as an officer reads and presses, none of it a fact of the books: the register of prints with its claims and
# seals, what is asked of long work, and the sessions of those who are signed on.
MAY_GROW = {
    Print._meta.label,
    Claim._meta.label,
    Entry._meta.label,
    BooksSeal._meta.label,
    Job._meta.label,
    Session._meta.label,
}
LONG_WORK = {"officer_bundle", "export"}
BENCH = {"bench", "bench_tables", "bench_table_pdf", "bench_tool", "bench_slip"}
# How the server fares has no figure of the books in it.
OPEN_TO_ALL = BENCH | {"health", "login", "pen_key", "screen"}
ASK_BY_THEMSELVES = {"api", "api_root", "draft_keep", "server_here", "logout"}


class Forms(HTMLParser):
    """The forms of a page that are sent by POST: where to, and what stands in their boxes."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str]]] = []
        self._into: dict[str, str] | None = None
        self._area = self._select = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._into = {} if given.get("method", "").lower() == "post" else None
            if self._into is not None:
                self.found.append((given.get("action", ""), self._into))
        elif self._into is None or (not (name := given.get("name", "")) and tag != "option"):
            return
        elif tag == "input":
            # A box that asks for words or figures has some; a tick is set.
            self._into.setdefault(name, given.get("value", "") or "1")
        elif tag == "button":
            self._into.setdefault(name, given.get("value", ""))
        elif tag == "textarea":
            self._into[name], self._area = "seen and noted", name
        elif tag == "select":
            self._select = name
        elif tag == "option" and self._select and given.get("value"):
            self._into.setdefault(self._select, given["value"])

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._into = None


@pytest.fixture
def addresses(loaded_month: Any) -> dict[str, str]:
    """By name of its route: every address of the program that can be filled in."""
    filled = arguments()
    found = [str(one.name) for one in routes(get_resolver().url_patterns) if one.name not in SIGNING]
    return {name: reverse(name, kwargs=filled.get(name)) for name in found}


Sent = list[tuple[str, str, dict[str, str]]]


def forms_of(here: Client, addresses: dict[str, str]) -> Sent:
    """Everything that may be sent: by name of the page, each form of it as somebody has it, and nothing at all."""
    found: Sent = []
    for name, address in addresses.items():
        found.append((name, address, {}))
        answer = here.get(address)
        if answer.status_code != 200 or not answer["Content-Type"].startswith("text/html"):
            continue
        forms = Forms()
        forms.feed(answer.content.decode())
        for action, boxes in forms.found:
            target = urljoin(address, action)
            if urlsplit(target).path not in ("/sign-off/", "/screen/", TO_SIGN_ON):
                found.append((name, target, boxes))
    return found


@pytest.fixture
def keeper(person_of: Any, browser_of: Any) -> Client:
    """The browser of somebody who sees every form there is."""
    browser: Client = browser_of(person_of("test-every-form", "manager", "administrator", "staff"))
    return browser


def facts() -> QuerySet[Entry]:
    """The trail without the register of prints, in which whatever is printed is entered, whoever prints; and without
    the claims on its entries, which go with every entry there is."""
    return Entry.objects.exclude(table__in=[Print._meta.db_table, Claim._meta.db_table])


def last_entry() -> int:
    """The number of the newest of these entries."""
    return facts().order_by("-pk").values_list("pk", flat=True).first() or 0


def sends(here: Client, sent: Sent) -> Iterator[tuple[str, int, Any]]:
    """Sends each, and gives the name of its page, how many entries of the trail that made, and the answer."""
    for name, address, boxes in sent:
        before = last_entry()
        answer = here.post(address, boxes)
        yield name, last_entry() - before, answer


def rows() -> dict[str, int]:
    """By name of every table that the program has: how many rows stand in it."""
    return {one._meta.label: one._base_manager.count() for one in apps.get_models() if one._meta.managed}


def test_an_officer_reads_everything_and_writes_nothing_but_visit_notes(
    addresses: dict[str, str], keeper: Client, officer: Person, browser_of: Any
) -> None:
    # What locks the PC would leave every form behind it refused for that alone.
    sent = [one for one in forms_of(keeper, addresses) if one[1] != reverse("pen_lock")]
    assert len(sent) > 1.3 * len(addresses)
    here, before, held = browser_of(officer), last_entry(), rows()
    for name, address in addresses.items():
        assert here.get(address).status_code < 500, name
    assert last_entry() == before, "reading writes nothing"
    for name, written, answer in sends(here, sent):
        assert not written, name
        assert answer.status_code < 500, name
    now = rows()
    assert {name for name in now if now[name] != held[name]} - MAY_GROW == set()
    assert set(Job.objects.filter(asked_by=officer).values_list("kind", flat=True)) <= LONG_WORK
    # It was not for want of a turn at this PC that the rest was refused.
    notes, copies = VisitNote.objects.count(), Print.objects.filter(copy__gt=0).count()
    here.post(reverse("visit_notes"), {"visited_on": "2027-03-03", "text": "Row 2 was counted."})
    assert VisitNote.objects.count() == notes + 1
    before = last_entry()
    assert here.post(reverse("print_copy"), {"address": addresses["record_pdf"]}).status_code == 200
    assert (Print.objects.filter(copy__gt=0).count(), last_entry()) == (copies + 1, before)


def test_staff_close_nothing_and_enter_no_figure_of_the_site(
    addresses: dict[str, str], keeper: Client, staff: Person, browser_of: Any
) -> None:
    here = browser_of(staff)
    kept = ("close_period", "stock_periods", "site", "people", "person_new", "person_about", "site_setting_new")
    begins = ("token", "pass_", "bring_in", "visit_note")
    refused = {name: address for name, address in addresses.items() if name in kept or name.startswith(begins)}
    for name, written, answer in sends(here, forms_of(keeper, refused)):
        assert not written, name
        assert answer.status_code in (200, 302, 400, 403, 404, 405), name
    assert not CloseRequest.objects.exists()
    assert not Closing.objects.exists()
    assert VisitNote.objects.count() == 1


def test_who_is_not_signed_on_reads_nothing_but_the_bench(addresses: dict[str, str], stranger: Client) -> None:
    answers = {name: stranger.get(address) for name, address in addresses.items()}
    read = {name for name, answer in answers.items() if answer.status_code == 200}
    # The description of what other programs may read has no figure in it; what it describes asks for a token.
    assert read - OPEN_TO_ALL == {"api"}
    shut = {name: answer for name, answer in answers.items() if name not in OPEN_TO_ALL | ASK_BY_THEMSELVES}
    assert {name for name, answer in shut.items() if not answer.get("Location", "").startswith(TO_SIGN_ON)} == set()
    for name, written, answer in sends(stranger, [(name, address, {}) for name, address in addresses.items()]):
        assert not written, name
        if name not in OPEN_TO_ALL | ASK_BY_THEMSELVES:
            assert answer.status_code == 302, name
            assert answer["Location"].startswith(TO_SIGN_ON), name
