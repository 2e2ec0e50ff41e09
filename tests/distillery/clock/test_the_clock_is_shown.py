"""Books kept for practice say on every page and on every print what time it is in them; a site's own books do not."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from io import BytesIO

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from distillery.clock.setting import set_clock
from distillery.printing.house import impression

pytestmark = [pytest.mark.django_db, pytest.mark.own_clock]
REAL = datetime(2026, 11, 29, 14, 10, tzinfo=UTC)
SAID = "The clock of these books stands at"


@pytest.fixture(autouse=True)
def _real_time():
    with time_machine.travel(REAL, tick=False):
        yield


@pytest.mark.parametrize("name", ["shift", "books", "warehouse", "bench", "plant", "records"])
def test_every_page_of_books_for_practice_says_it(name, manager, browser_of):
    set_clock(122, why="for practice")
    page = browser_of(manager).get(reverse(name)).content.decode()
    assert f'{SAID} <time datetime="2027-03-31T15:10:00+01:00">31 March 2027, 15:10</time>' in page
    assert "122 days ahead of real time" in page
    # Pages are made, and copies taken, in real time.
    assert "Sun 29 Nov 14:10" in page


def test_so_does_the_page_on_which_people_sign_on():
    set_clock(-3, why="for practice")
    page = Client().get(reverse("login")).content.decode()
    assert f"{SAID} <time" in page
    assert "3 days behind real time" in page


def test_a_sites_own_books_say_nothing(manager, browser_of):
    assert "The clock of these books" not in browser_of(manager).get(reverse("shift")).content.decode()
    assert impression(REAL, "Isla").books_at is None


def test_every_print_says_it_outside_the_digest(manager, browser_of, settings):
    # Books for practice bear the invented name where the site has none, and the name is covered by the digest.
    settings.SITE_NAME = "Harrowmere Distillery"
    here = browser_of(manager)
    account = reverse("month_pdf", args=["2027-03"])
    own = text_of(here.get(account).content)
    assert "The clock of these books" not in own
    set_clock(122, why="for practice")
    assert digest_in(text_of(here.get(account).content)) == digest_in(own)
    blank = [reverse("blank_sheet_pdf", args=[kind]) for kind in ("transfer", "spirit_run")]
    for address in (account, *blank):
        for page in pages_of(here.get(address).content):
            assert "Printed 29 Nov 2026 14:10" in page
            assert "The clock of these books stood at Wed 31 Mar 2027 15:10" in page


def digest_in(text: str) -> str:
    """The first sixteen figures of the digest, as they stand at the foot of every page beside the seal of the books."""
    short = r"[0-9a-f]{4}(?: [0-9a-f]{4}){3}"
    found = re.search(short, re.sub(rf"Last seal of the books: [^,]*, {short}", "", text))
    assert found is not None
    return found[0]


def pages_of(pdf: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(pdf)).pages]


def text_of(pdf: bytes) -> str:
    return " ".join(pages_of(pdf))
