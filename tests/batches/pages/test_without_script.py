"""With script off: only what a page as it was served has in its forms and links is sent, by the button that is pressed.

Sheets without script are journeys (`tests.journeys`); here stand the pen, second signatures, handover, what is struck,
and readings that nobody took. The site is invented.
"""

from __future__ import annotations

from html.parser import HTMLParser
from typing import Any

import pytest
from small_site import FINISH, charged_run
from test_what_signs import MANAGER_PIN, STAFF_PIN

from batches.handover.models import Handover, Note
from batches.models import Reading, Record, State
from batches.records import recording
from batches.records.readings import add_reading
from distillery.pen.trying import pins
from tests.distillery.pen.conftest import who

pytestmark = pytest.mark.django_db


class Page(HTMLParser):
    """What a browser without script knows of a page: its links, and its forms with their boxes and buttons."""

    def __init__(self, here: Any, address: str) -> None:
        super().__init__()
        answer = here.get(address, follow=True)
        assert answer.status_code == 200
        self.here = here
        self.address = answer.redirect_chain[-1][0] if answer.redirect_chain else address
        self.links: dict[str, str] = {}
        self.forms: list[tuple[str, dict[str, str], dict[str, tuple[str, str]]]] = []
        self._form: tuple[str, dict[str, str], dict[str, tuple[str, str]]] | None = None
        self._select = self._href = self._text = ""
        self._button: tuple[str, str] | None = None
        self.feed(answer.content.decode())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        had = {name: value or "" for name, value in attrs}
        name, value = had.get("name", ""), had.get("value", "")
        if tag == "a":
            self._href, self._text = had.get("href", ""), ""
        elif tag == "form":
            self._form = (had.get("action") or self.address, {}, {})
            if had.get("method", "").lower() == "post":
                self.forms.append(self._form)
        elif tag == "button" and had.get("type", "submit") == "submit":
            self._button, self._text = (name, value), ""
        elif self._form is None:
            return
        elif tag == "input" and name and (had.get("type") not in ("radio", "checkbox") or "checked" in had):
            self._form[1][name] = value
        elif tag == "textarea" and name:
            self._form[1][name] = ""
        elif tag == "select":
            self._select = name
        elif tag == "option" and (self._select not in self._form[1] or "selected" in had):
            self._form[1][self._select] = value

    def handle_data(self, data: str) -> None:
        self._text += data

    def handle_endtag(self, tag: str) -> None:
        words = " ".join(self._text.split())
        if tag == "a":
            self.links[words] = self._href
        elif tag == "form":
            self._form = None
        elif tag == "button" and self._button is not None:
            if self._form is not None:
                self._form[2][words] = self._button
            self._button = None

    def follow(self, words: str) -> Page:
        """The page behind a link."""
        return Page(self.here, self.links[words])

    def press(self, words: str, **typed: str) -> str:
        """Fills in the form of a button and presses it; the page that comes of it."""
        address, boxes, buttons = next(form for form in self.forms if words in form[2])
        name, value = buttons[words]
        # Tiles of people are a choice of which none need be made beforehand.
        assert typed.keys() - {"username"} <= boxes.keys(), f"no such box beside {words}"
        sent = {**boxes, **typed, **({name: value} if name else {})}
        answer = self.here.post(address, sent, follow=True)
        assert answer.status_code == 200
        return str(answer.content.decode())


@pytest.fixture
def at_pc(site: Any, manager: Any, browser_of: Any) -> Any:
    """A PC that was enrolled, with PINs chosen by their own pages, at which the staff has taken the pen."""
    here = browser_of(manager)
    assert "is enrolled" in Page(here, "/site/pc/enrol/").press("Enrol this PC", name="Still house PC")
    for person, pin in ((site, STAFF_PIN), (manager, MANAGER_PIN)):
        choosing = Page(here, "/site/pin/").follow(f"Let {person.shown_name} choose a PIN")
        assert "has a PIN now" in choosing.press("Keep this PIN", pin=pin, again=pin)
    taking = Page(here, "/plant/").follow("Change person F2")
    assert "<h1>Plant</h1>" in taking.press("Take the pen", username=site.username, password=STAFF_PIN)
    assert who(here) == site.username
    return here


def test_a_pc_is_enrolled_pins_are_chosen_and_the_pen_is_taken_by_the_pages_alone(at_pc: Any, manager: Any) -> None:
    assert pins.is_pin_of(manager, MANAGER_PIN)
    at_pc.post("/pen/lock/")
    Page(at_pc, "/").press("Take the pen", username=manager.username, password=MANAGER_PIN)
    assert who(at_pc) == manager.username


def test_a_second_person_countersigns_where_the_first_has_the_pen(at_pc: Any, site: Any, manager: Any) -> None:
    line = {"vessel": "V1", "gauge_dip_mm": "1000", "gauge_celsius": "20.0", "gauge_hydrometer_percent": "63.5"}
    take = recording.save("stock_take", None, {"at": "2027-03-31 18:00"}, [line], person=site)
    page = Page(at_pc, f"/records/stock_take/{take.number}/")
    page.press("Countersign here", second_name=manager.username, second_password=MANAGER_PIN)
    take.refresh_from_db()
    assert (take.state, take.second) == (State.COMPLETE, manager)
    assert who(at_pc) == site.username


def test_a_shift_is_handed_over_and_taken_and_a_note_is_struck(at_pc: Any, manager: Any) -> None:
    Page(at_pc, "/").press("Add", text="The valve is stiff.")
    note = Note.objects.get()
    Page(at_pc, f"/notes/{note.pk}/strike/").press("Strike note", text="The cock is stiff.", reason="the wrong word")
    assert Note.objects.get(strikes=note).text == "The cock is stiff."
    Page(at_pc, "/").follow("Hand over").press("Sign and hand over", text="All is well.")
    handed = Handover.objects.get()
    Page(at_pc, "/").follow("Change person F2").press("Take the pen", username=manager.username, password=MANAGER_PIN)
    said = Page(at_pc, f"/handover/{handed.pk}/").press("Sign for your shift")
    assert f"Signed by {manager.shown_name}" in said


def test_a_reading_is_struck_and_one_that_nobody_took_is_written_as_missing(at_pc: Any, site: Any) -> None:
    record = charged_run(site)
    reading = add_reading(record, record.happened_from, "distillate_percent", "70.1", site, sure=True)
    striking = Page(at_pc, f"/records/spirit_run/{record.number}/reading/{reading.pk}/strike/")
    striking.press("Strike reading", reason="misread", value="70.4", again_password=STAFF_PIN)
    assert Reading.objects.get(strikes=reading).reason == "misread"
    finish = FINISH | {"spent_lees_percent": "missing", "late_reason": "It was forgotten"}
    said = Page(at_pc, f"/records/spirit_run/{record.number}/complete/").press("Save F8", **finish)
    record.refresh_from_db()
    assert record.state == State.COMPLETE, said
    assert Record.objects.count() == 4
