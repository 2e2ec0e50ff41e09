"""The pages of findings, enquiries, losses and cask bands, as people of each role meet them."""

from __future__ import annotations

import io
import re
from collections.abc import Callable

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader

from distillery.people.models import Person
from ledger.enquiries.balance import open_of
from ledger.enquiries.models import Enquiry, EnquiryEvent, What
from ledger.enquiries.standing import State, history, standing_of
from ledger.models import Movement, MovementKind
from ledger.statements.month import month_account
from tests.conftest import PASSWORD
from tests.signing import seen_on

PERIOD = "2027-03"
SLIP = "SR0007"
ANSWER = {
    "ending": "loss",
    "checked": "The floor under the receiver.",
    "reason": "The receiver ran over.",
    "cause": "spillage",
    "happened_at": "2027-03-13T02:21",
    "product": "new spirit",
    "pure": "150,5",
    "percent": "70.4",
}

Browser = Callable[[Person], Client]


def about(record: str = SLIP) -> Enquiry:
    return Enquiry.objects.get(record_number=record, period=PERIOD)


def address(then: str = "", record: str = SLIP) -> str:
    return f"/books/enquiries/{about(record).number}/{then}"


def text_of(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)


@pytest.mark.usefixtures("loaded_month")
class TestFindings:
    def test_the_list_is_grouped_and_says_how_each_stands(self, browser_of: Browser, staff: Person) -> None:
        page = browser_of(staff).get(f"/books/findings/?month={PERIOD}").content.decode()
        page = page[page.index("<table") :]
        answer, watch = page.index("To be answered"), page.index("Small losses that lean one way")
        assert page.index(SLIP) < answer < watch
        assert f"{about().number} open</a>" in page
        assert "no enquiry" in page[watch:]

    def test_the_gravest_comes_first(self, browser_of: Browser, staff: Person) -> None:
        page = browser_of(staff).get(f"/books/findings/?month={PERIOD}").content.decode()
        assert page.index(SLIP) < page.index("WR0012") < page.index("RG0007")

    def test_one_that_is_only_watched_can_be_enquired_into_by_hand(self, browser_of: Browser, staff: Person) -> None:
        watched = re.search(r"/books/findings/2027-03/(SR\d{4})/", self._page(browser_of, staff))
        assert watched is not None
        page = browser_of(staff).get(f"/books/findings/{PERIOD}/{watched[1]}/").content.decode()
        assert f"/books/enquiries/new/spirit_run/{watched[1]}/" in page
        for caption in ("sum for a slow drift", "sum for an abrupt change", "moving average"):
            assert f"Spirit run: {caption}" in page
        assert "a signal beyond 8.01" in page

    def _page(self, browser_of: Browser, staff: Person) -> str:
        page = browser_of(staff).get(f"/books/findings/?month={PERIOD}").content.decode()
        return page[page.index("Small losses that lean one way") :]


@pytest.mark.usefixtures("loaded_month")
class TestAnEnquiry:
    def test_it_shows_readings_causes_history_and_the_way_to_correct(self, browser_of: Browser, staff: Person) -> None:
        page = browser_of(staff).get(address()).content.decode()
        for words in (
            "194.43 LPA missing",
            "Fits far better than anything else.",
            "What was measured",
            "What was done",
        ):
            assert words in page
        assert "<svg" in page
        # The best cause is filled in beside what was written; the correction itself is made by a person.
        assert f"/records/spirit_run/{SLIP}/correct/?suggest=spirit_after_dip_mm%40SR%3A927" in page
        form = (
            browser_of(staff)
            .get(f"/records/spirit_run/{SLIP}/correct/?suggest=spirit_after_dip_mm%40SR%3A927")
            .content.decode()
        )
        assert "Suggested 927; written 827." in form

    def test_an_officer_reads_and_prints_and_writes_nothing(self, browser_of: Browser, officer: Person) -> None:
        client = browser_of(officer)
        page = client.get(address()).content.decode()
        assert "Say how it ends" not in page
        assert "Correct the dip" not in page
        assert "Write down what was done" not in page
        assert client.get(address("propose/")).status_code == 403
        assert client.post(address("add/"), {"what": "note", "words": "Seen."}).status_code == 403
        assert client.get(address("agree/")).status_code == 403
        assert client.get(address("open-again/")).status_code == 403
        printed = client.get(address("enquiry.pdf"))
        assert printed["Content-Type"] == "application/pdf"
        text = text_of(printed.content)
        for words in (about().number, SLIP, "194.43", "It has not ended.", "Enquired into by"):
            assert words in text

    def test_its_number_in_the_find_box_leads_to_it(self, browser_of: Browser, officer: Person) -> None:
        assert browser_of(officer).get("/find/", {"q": about().number.lower()})["Location"] == address()

    def test_a_stranger_is_sent_to_sign_on(self, stranger: Client) -> None:
        assert stranger.get(address()).status_code == 302
        assert stranger.get("/books/enquiries/EQ9999/").status_code == 302

    def test_one_that_is_not_there(self, browser_of: Browser, staff: Person) -> None:
        assert browser_of(staff).get("/books/enquiries/EQ9999/").status_code == 404

    def test_what_was_done_is_written_down(self, browser_of: Browser, staff: Person) -> None:
        client = browser_of(staff)
        page = client.post(address("add/"), {"what": "checked", "words": " "}).content.decode()
        assert "1 thing to put right" in page
        assert "say which reading, vessel or paper was looked at" in page
        answer = client.post(address("add/"), {"what": "checked", "words": "Rod laid in again: 927."}, follow=True)
        assert "Rod laid in again: 927." in answer.content.decode()
        assert [event.what for event in history(about())] == [What.CHECKED]

    def test_a_known_loss_by_two_people_at_one_pc(self, browser_of: Browser, staff: Person, manager: Person) -> None:
        client, before = browser_of(staff), month_account(PERIOD)
        form = client.get(address("propose/")).content.decode()
        # What is known already is filled in: the open difference, its time and its stage.
        assert 'value="194.4333"' in form
        assert 'value="2027-03-13T02:21"' in form
        answer = client.post(address("propose/"), ANSWER, follow=True)
        page = answer.content.decode()
        assert answer.redirect_chain[-1][0] == address()
        assert "someone else has to agree" in page
        assert standing_of(about()).state == State.WAITING

        refused = client.post(address("agree/"), {"username": manager.username, "password": "wrong"}).content.decode()
        assert "Name and password do not belong together" in refused
        own = client.post(address("agree/"), {"username": staff.username, "password": PASSWORD}).content.decode()
        assert "someone else has to agree to it" in own
        assert month_account(PERIOD) == before

        signs = {"username": manager.username, "password": PASSWORD} | seen_on(client.get(address("agree/")))
        done = client.post(address("agree/"), signs, follow=True)
        page = done.content.decode()
        # 150.5 of 194.43 are explained; 43.93 are left and lie beyond the threshold, so the rest stays open.
        assert "43.93 LPA are left" in page
        after = month_account(PERIOD)
        assert dict(after.losses)["spillage"] == 150_500_000
        assert before.site.difference_ul - after.site.difference_ul == 150_500_000
        movement = Movement.objects.get(kind=MovementKind.EXPLANATION)
        assert (movement.person, movement.second) == (staff, manager)
        assert done.wsgi_request.user == staff, "the pen stays with the one who has it"

    @pytest.mark.parametrize("typed", ["10.8964", "10,8964", "10.90", "10.9"])
    def test_the_figure_the_form_itself_proposes_is_accepted_and_leaves_exactly_nothing(
        self, browser_of: Browser, staff: Person, manager: Person, typed: str
    ) -> None:
        """10.896392 LPA are open; the form shows 10.8964, the page 10.90, both rounded up; 10.9 is shown nowhere."""
        enquiry = about("RG0007")
        assert open_of(enquiry).open_ul == 10_896_392
        form = browser_of(staff).get(address("propose/", "RG0007")).content.decode()
        assert 'value="10.8964"' in form
        loss = {"cause": "evaporation in cask", "happened_at": "2027-03-16T09:20", "product": "cask", "pure": typed}
        page = browser_of(staff).post(address("propose/", "RG0007"), ANSWER | loss, follow=True).content.decode()
        if typed == "10.9":
            assert "give at most what is open" in page
            return
        assert "give at most what is open" not in page
        seen = seen_on(browser_of(manager).get(address("agree/", "RG0007")))
        browser_of(manager).post(address("agree/", "RG0007"), seen)
        assert standing_of(enquiry).state == State.ANSWERED
        assert (open_of(enquiry).open_ul, open_of(enquiry).parts) == (0, ())

    def test_the_second_person_at_another_pc(self, browser_of: Browser, staff: Person, manager: Person) -> None:
        browser_of(staff).post(address("propose/"), ANSWER | {"pure": "194.4333"})
        page = browser_of(manager).get(address()).content.decode()
        assert "Waits for a second person" in page
        assert ">Agree</button>" in page
        assert "Password of the second person" not in page
        assert "The receiver ran over." in page
        opened = seen_on(browser_of(manager).get(address("agree/")))
        done = browser_of(manager).post(address("agree/"), opened, follow=True).content.decode()
        assert "Answered: spillage" in done
        printed = text_of(browser_of(manager).get(address("enquiry.pdf")).content)
        for words in ("How it ended", "spillage", "new spirit", "70.4", "194.4333", staff.shown_name):
            assert words in printed

    def test_sent_back_with_a_reason(self, browser_of: Browser, staff: Person, manager: Person) -> None:
        browser_of(staff).post(address("propose/"), ANSWER)
        page = browser_of(manager).post(address("send-back/"), {"reason": ""}, follow=True).content.decode()
        assert "Reason is blank" in page
        browser_of(manager).post(address("send-back/"), {"reason": "Dip the receiver first."})
        assert standing_of(about()).state == State.OPEN
        assert history(about())[-1].text == "Dip the receiver first."

    @pytest.mark.parametrize(
        ("change", "sentence"),
        [
            ({"checked": ""}, "What was checked is blank"),
            ({"cause": ""}, "Cause is not chosen"),
            ({"happened_at": "yesterday"}, "is no time; write it like"),
            ({"happened_at": ""}, "When it was lost is blank"),
            ({"pure": "a lot"}, "write a figure such as 12.5"),
            ({"pure": "500"}, "give at most what is open"),
            ({"percent": ""}, "Strength has to lie above 0"),
            ({"ending": "set off"}, "Tie it with the other enquiry first"),
        ],
    )
    def test_what_is_missing_is_said_and_what_was_typed_stays(
        self, browser_of: Browser, staff: Person, change: dict[str, str], sentence: str
    ) -> None:
        page = browser_of(staff).post(address("propose/"), ANSWER | change).content.decode()
        assert sentence in page
        assert "<title>Error: " in page
        assert "The receiver ran over." in page
        assert not EnquiryEvent.objects.exists()

    def test_a_cause_that_is_not_found_leaves_it_to_the_law(
        self, browser_of: Browser, staff: Person, manager: Person
    ) -> None:
        answer = {"ending": "not found", "checked": "All gauges taken again.", "reason": "Nothing found."}
        browser_of(staff).post(address("propose/"), answer)
        browser_of(manager).post(address("agree/"), seen_on(browser_of(manager).get(address("agree/"))))
        page = browser_of(staff).get(address()).content.decode()
        assert "the law and the officer decide" in page
        assert about().number in browser_of(staff).get(f"/books/losses/?month={PERIOD}").content.decode()
        reopened = browser_of(manager).post(address("open-again/"), {"reason": "The rod was bent."}, follow=True)
        assert "open again" in reopened.content.decode()
        assert standing_of(about()).state == State.OPEN

    def test_a_loss_and_a_gain_are_tied_with_a_reason(self, browser_of: Browser, staff: Person) -> None:
        other = about("WR0012")
        page = browser_of(staff).get(address("tie/")).content.decode()
        assert other.number in page
        refused = browser_of(staff).post(address("tie/"), {"other": other.number, "reason": ""}).content.decode()
        assert "Reason is blank" in refused
        opened = seen_on(browser_of(staff).get(address("tie/")))
        browser_of(staff).post(address("tie/"), {"other": other.number, "reason": "One dip stood in both."} | opened)
        assert [event.what for event in history(other)] == [What.TIED]

    def test_a_person_opens_one_on_any_record(self, browser_of: Browser, staff: Person) -> None:
        record = browser_of(staff).get("/records/spirit_run/SR0002/").content.decode()
        assert "Usual: nothing here is beyond its review threshold." in record
        assert "/books/enquiries/new/spirit_run/SR0002/" in record
        new = "/books/enquiries/new/spirit_run/SR0002/"
        assert "Why is blank" in browser_of(staff).post(new, {"words": ""}).content.decode()
        opened = browser_of(staff).post(new, {"words": "Smelt of spirit at the still."}, follow=True).content.decode()
        assert "Smelt of spirit at the still." in opened
        assert "Smelt of spirit at the still." in browser_of(staff).get("/records/spirit_run/SR0002/").content.decode()
        listed = browser_of(staff).get(f"/books/findings/?month={PERIOD}").content.decode()
        assert "Other enquiries of the month" in listed

    def test_a_record_and_a_vessel_name_their_enquiries(self, browser_of: Browser, staff: Person) -> None:
        for page in (f"/records/spirit_run/{SLIP}/", f"/books/accounts/FR/?month={PERIOD}"):
            assert f"Enquiry {about().number}" in browser_of(staff).get(page).content.decode()


@pytest.mark.usefixtures("loaded_month")
class TestLossesAndCasks:
    def test_the_register_on_page_text_and_paper(self, browser_of: Browser, officer: Person) -> None:
        client = browser_of(officer)
        page = client.get(f"/books/losses/?month={PERIOD}").content.decode()
        for words in ("Loss register, March 2027", "By cause", "By stage", "Gains: losses booked back", SLIP):
            assert words in page
        text = client.get(f"/books/losses/{PERIOD}/register.csv")
        assert text["Content-Type"].startswith("text/csv")
        rows = text.content.decode().splitlines()
        assert sum(row.startswith("known loss,") for row in rows) == 52
        printed = text_of(client.get(f"/books/losses/{PERIOD}/register.pdf").content)
        for words in ("Totals by cause", "Known losses", "Evaporation in cask".lower(), SLIP, "Prepared by"):
            assert words in printed
        assert client.get("/books/losses/never/register.csv").status_code == 404
        assert client.get("/books/losses/?month=never").status_code == 404

    def test_the_leaking_cask_comes_first(self, browser_of: Browser, staff: Person) -> None:
        client = browser_of(staff)
        page = client.get("/warehouse/expected/").content.decode()
        casks = re.findall(r"/casks/(\d{4}/\d{4})/", page)
        assert casks[0] == "2022/0007"
        assert "below its band: look for a leak" in page
        assert page[page.index("<table") :].count("below its band: look for a leak") == 1
        rows = b"".join(client.get("/warehouse/expected/?as=csv").streaming_content).decode().splitlines()
        assert rows[1].startswith("2022/0007,barrel,1A,")
        assert rows[1].endswith(",below its band: look for a leak")
        assert len(rows) == 13
        assert "2022/0007" in text_of(client.get("/warehouse/expected/?as=pdf").content)

    def test_one_warehouse_by_itself(self, browser_of: Browser, staff: Person) -> None:
        client = browser_of(staff)
        assert "2022/0007" in client.get("/warehouse/expected/?warehouse=1A").content.decode()
        assert "2022/0007" not in client.get("/warehouse/expected/?warehouse=1B").content.decode()
        assert "There is no &#x27;9Z&#x27;" in client.get("/warehouse/expected/?warehouse=9Z").content.decode()

    def test_queries_do_not_grow_with_the_lines(self, browser_of: Browser, staff: Person) -> None:
        client = browser_of(staff)
        for page, most in ((f"/books/losses/?month={PERIOD}", 18), ("/warehouse/expected/", 12)):
            with CaptureQueriesContext(connection) as asked:
                assert client.get(page).status_code == 200
            assert len(asked) <= most


@pytest.mark.usefixtures("loaded_month")
@pytest.mark.parametrize(
    ("box", "typed", "sentence"),
    [
        ("pure", "9" * 401, "Alcohol is 401 characters long; a figure has at most 40."),
        ("percent", "0.0000001", "Strength has to be at least 0.01 % by volume"),
        ("product", "x" * 2_000, "Product is 2000 characters long; at most 80 are kept."),
        ("happened_at", "9999-12-31T23:59", "is no time; write it like 2027-03-12T14:30."),
        ("pure", "\u0661\u0662", "write a figure such as 12.5."),
    ],
)
def test_an_absurd_proposal_is_refused_and_the_typed_values_stay(
    browser_of: Browser, staff: Person, box: str, typed: str, sentence: str
) -> None:
    page = browser_of(staff).post(address("propose/"), ANSWER | {box: typed})
    assert page.status_code == 200
    assert sentence in page.content.decode()
    assert f'value="{typed}"' in page.content.decode()
    assert 'value="70.4"' in page.content.decode() or box == "percent"
    assert standing_of(about()).state == State.OPEN


@pytest.mark.usefixtures("loaded_month")
def test_a_long_name_kept_from_before_does_not_break_the_print(browser_of: Browser, staff: Person) -> None:
    from ledger.enquiries.answering import proposing

    # PostgreSQL never kept more than 120; SQLite kept whatever came.
    longest = 120 if connection.vendor == "postgresql" else 2_000
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(proposing, "LONGEST_PRODUCT", longest)
        browser_of(staff).post(address("propose/"), ANSWER | {"product": "spirit " * (longest // 7)})
    assert standing_of(about()).state == State.WAITING
    answer = browser_of(staff).get(address("enquiry.pdf"))
    assert answer.status_code == 200
    assert text_of(answer.content).count("spirit") > longest // 8
