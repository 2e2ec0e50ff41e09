"""What an officer sees: Records first, every question answered in three presses, the site as it is set up to be read,
and all changes to one thing on one page and one print."""

from __future__ import annotations

import re
from collections.abc import Callable
from io import BytesIO
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from batches.pages.officer import views
from distillery.people.models import Person
from distillery.prints.models import Print
from tests.conftest import PASSWORD

Browser = Callable[[Person], Client]
# What an officer asks for: one line for each record that the law and the notices name (HMRC, Alcoholic products
# technical guide, chapters 4, 9 and 14; Excise Warehousing (Etc.) Regulations 1988, schedule 2; Revenue Traders
# (Accounts and Records) Regulations 1992, regulations 4, 5 and 8), with words that must stand on the page that answers.
ASKED = {
    "Approval, premises, vessels and their use": "Vessels",
    "Grain bought and used": "Lots of materials",
    "Yield of a period": "Distillation periods",
    "One batch from mash to cask and bottle": "Trace of ",
    "Spirits account of a day": "Spirit runs",
    "Where a cask is, and where it was": "Casks",
    "Stock on a day, by book and as found": "Stock on 31 March 2027",
    "Losses and what was done about them": "Loss register",
    "What was set off against what": "Enquiries",
    "Operations: what went in and out, and the difference": "Movements",
    "Samples": "Samples",
    "Movements in duty suspension": "Removals",
    "Duty account and returns": "Duty account",
    "Production figures of the quarter": "January to March 2027",
    "Corrections, with who, when and why": "Late, missing, struck or put right",
    "Whose the casks are": "Owner",
    "Keyholders and opening times": "Keyholders",
    "Old records": "Kinds of record",
}
ROW = re.compile(r'<tr><th scope="row">(?P<what>[^<]+)</th>(?P<rest>.*?)</tr>', re.DOTALL)
LINK = re.compile(r'href="([^"]+)"')


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


@pytest.fixture
def here(loaded_month: Any, officer: Person, browser_of: Browser) -> Client:
    """The officer's browser."""
    return browser_of(officer)


def rows_of(here: Client, name: str = "records") -> dict[str, list[str]]:
    """By what is asked for: the links of its line, in the March of the demonstration."""
    page = here.get(reverse(name), {"first": "2027-03", "last": "2027-03"}).content.decode()
    body = page.split('data-list="asked-for"')[1].split("</table>")[0]
    return {
        found["what"]: [link.replace("&amp;", "&") for link in LINK.findall(found["rest"])]
        for found in ROW.finditer(body)
    }


class TestTheFirstPage:
    def test_an_officer_begins_at_records_and_everybody_else_at_this_shift(
        self, client: Client, officer: Person, staff: Person
    ) -> None:
        for person, begins in ((officer, reverse("records")), (staff, reverse("shift"))):
            for following in ("", "/"):
                sent = client.post(
                    reverse("login"), {"username": person.username, "password": PASSWORD, "next": following}
                )
                assert sent["Location"] == begins
        sent = client.post(
            reverse("login"), {"username": officer.username, "password": PASSWORD, "next": reverse("seals")}
        )
        assert sent["Location"] == reverse("seals"), "who was on the way to a page comes to it"

    def test_every_question_is_answered_on_the_page_and_on_paper(self, here: Client) -> None:
        rows = rows_of(here)
        assert rows.keys() == ASKED.keys()
        for what, links in rows.items():
            screen, paper = links[0], links[-1]
            answered = here.get(screen)
            assert answered.status_code == 200, what
            assert ASKED[what] in answered.content.decode(), what
            printed = here.get(paper)
            assert (printed.status_code, printed["Content-Type"]) == (200, "application/pdf"), what
            assert "Page 1 of" in text_of(printed.content), what
            for also in links[1:-1]:
                assert here.get(also).status_code == 200, what

    def test_what_is_printed_is_in_the_register_and_what_is_looked_at_is_not(self, here: Client) -> None:
        rows = rows_of(here)
        for links in rows.values():
            here.get(links[0])
        assert not Print.objects.exists()
        here.get(rows["Samples"][-1])
        assert Print.objects.count() == 1

    def test_other_months_and_none(self, here: Client) -> None:
        page = here.get(reverse("records"), {"first": "2027-04", "last": "2027-03"}).content.decode()
        assert "the first month comes after the last" in page
        assert "What an officer asks for" in page

    def test_the_site_sees_the_same_on_a_page_of_its_own(
        self, here: Client, staff: Person, browser_of: Browser
    ) -> None:
        site = browser_of(staff)
        assert 'data-list="asked-for"' not in site.get(reverse("records")).content.decode()
        assert rows_of(site, "asked_for") == rows_of(here)

    def test_books_without_anything_say_so(
        self, officer: Person, browser_of: Browser, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(views, "return_months", lambda today: [])
        assert "Nothing has been written yet." in browser_of(officer).get(reverse("records")).content.decode()


class TestTheSiteToBeRead:
    @pytest.mark.parametrize("name", ["site", "people", "due"])
    def test_an_officer_reads_it_and_finds_no_way_to_change_it(self, here: Client, name: str) -> None:
        page = here.get(reverse(name)).content.decode()
        body = page.split('<main id="content"')[1].split("</main>")[0]
        assert not re.search(r'href="[^"]*(/new/|/enrol/|/pass/|/pin/|/tokens/|bring-in|/key/)', body)
        assert '<form method="post"' not in body
        assert f'<a href="{reverse("site")}"' in page

    def test_every_dated_figure_and_every_persons_roles(self, here: Client, staff: Person) -> None:
        from batches.pages.setting_up.declared import SETTINGS

        for kind in SETTINGS:
            assert here.get(reverse("site_setting", args=[kind])).status_code == 200
            assert here.get(reverse("site_setting_new", args=[kind])).status_code == 403
        person = here.get(reverse("person", args=[staff.username])).content.decode()
        assert "Roles" in person
        assert "staff" in person
        assert here.get(reverse("person_about", args=[staff.username, "roles"])).status_code == 403

    def test_pins_and_tries_are_for_those_who_look_after_them(
        self, here: Client, manager: Person, browser_of: Browser
    ) -> None:
        page = here.get(reverse("site")).content.decode()
        for caption in ("Wrong tries", "PINs chosen", "Enrolled PCs"):
            assert caption not in page
            assert caption in browser_of(manager).get(reverse("site")).content.decode()
        assert "passes" in page
