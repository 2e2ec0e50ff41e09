"""Notes and the handover: facts in two names, under the version that was on the page."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.db import DatabaseError, connection, transaction
from django.test import Client

from batches.handover import noting
from batches.handover.handing import hand_over, last_handover, shown_of, take_over
from batches.handover.models import Handover, Note, Taken
from batches.handover.noting import notes_of_shift, strike_note, write_note
from batches.handover.what_stands import GOING_ON, NOTED, WAITING, what_stands
from batches.models import Record
from batches.sheets.read_sheet import Unfit
from distillery.people.models import Person
from distillery.signed import MovedOn, digest_of
from ledger.proof.checking import Asked, check
from ledger.proof.proving import prove

pytestmark = pytest.mark.django_db
TEXT = "The low wines valve is stiff; do not force it."
Browser = Callable[[Person], Client]


class TestNotes:
    def test_a_note_is_struck_by_another_word_with_its_reason(self, staff: Person, manager: Person) -> None:
        note = write_note(" cooling water 9 degrees ", person=staff)
        assert (note.text, note.person) == ("cooling water 9 degrees", staff)
        by = strike_note(note, person=manager, reason="misread", text="cooling water 6 degrees")
        assert [one.text for one in notes_of_shift()] == ["cooling water 6 degrees", "cooling water 9 degrees"]
        assert (by.strikes, by.reason, by.said_at) == (note, "misread", note.said_at)
        with pytest.raises(Unfit, match="struck already"):
            strike_note(note, person=staff, reason="again")

    def test_what_cannot_be_is_refused(self, staff: Person, officer: Person) -> None:
        with pytest.raises(Unfit, match="Note is blank"):
            write_note("  ", person=staff)
        with pytest.raises(Unfit, match="501 characters"):
            write_note("x" * 501, person=staff)
        with pytest.raises(Unfit, match="may read but not write"):
            write_note("seen", person=officer)
        with pytest.raises(Unfit, match="Why is blank"):
            strike_note(write_note("seen", person=staff), person=staff, reason=" ")
        assert Note.objects.count() == 1

    def test_a_press_sent_twice_is_one_note_and_a_later_one_is_another(
        self, staff: Person, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        assert write_note("gauge glass cleaned", person=staff) == write_note("gauge glass cleaned", person=staff)
        monkeypatch.setattr(noting, "SENT_TWICE", -noting.SENT_TWICE)
        write_note("gauge glass cleaned", person=staff)
        assert Note.objects.count() == 2

    def test_a_long_shift_shows_the_last_of_its_notes(self, staff: Person) -> None:
        for number in range(noting.MOST_SHOWN + 3):
            write_note(f"note {number}", person=staff)
        shown = notes_of_shift()
        assert len(shown) == noting.MOST_SHOWN
        assert shown[0].text == f"note {noting.MOST_SHOWN + 2}"


class TestHandover:
    def test_two_sign_the_same_sheet(self, staff: Person, manager: Person) -> None:
        handover = hand_over(TEXT, person=staff)
        assert handover.digest == digest_of(shown_of(handover))
        taken = take_over(handover, person=manager, seen=handover.digest, text="Asked which valve.")
        assert (taken.person, taken.digest, taken.text) == (manager, handover.digest, "Asked which valve.")
        with pytest.raises(Unfit, match="signed by the next shift already"):
            take_over(handover, person=manager, seen=handover.digest)

    def test_who_goes_cannot_be_who_comes(self, staff: Person, officer: Person) -> None:
        handover = hand_over(TEXT, person=staff)
        with pytest.raises(Unfit, match="who comes on shift signs it"):
            take_over(handover, person=staff, seen=handover.digest)
        with pytest.raises(Unfit, match="may read but not write"):
            take_over(handover, person=officer, seen=handover.digest)
        assert not Taken.objects.exists()

    @pytest.mark.parametrize("seen", ["", "0" * 64])
    def test_no_name_goes_under_what_was_not_on_the_page(self, staff: Person, manager: Person, seen: str) -> None:
        handover = hand_over(TEXT, person=staff)
        with pytest.raises(MovedOn):
            take_over(handover, person=manager, seen=seen)
        newer = hand_over(f"{TEXT} WB4 is next.", person=staff)
        with pytest.raises(MovedOn) as moved:
            take_over(handover, person=manager, seen=handover.digest)
        assert moved.value.now == shown_of(newer)
        assert not Taken.objects.exists()

    def test_nothing_is_handed_over_without_a_word(self, staff: Person, officer: Person) -> None:
        for text, person in ((" ", staff), ("x" * 4001, staff), (TEXT, officer)):
            with pytest.raises(Unfit):
                hand_over(text, person=person)
        assert last_handover() is None

    def test_a_press_sent_twice_is_one_handover(self, staff: Person) -> None:
        assert hand_over(TEXT, person=staff) == hand_over(TEXT, person=staff)
        assert Handover.objects.count() == 1


def test_what_stands_is_filled_in_and_stays_as_it_was(staff: Person, loaded_month: Any) -> None:
    """In the sample month two fermentations go on at its end."""
    note = write_note("cooling water 9 degrees", person=staff)
    struck = write_note("wrong", person=staff)
    strike_note(struck, person=staff, reason="of another day")
    stood = what_stands()
    going_on = [text for heading, text in stood if heading == GOING_ON]
    open_ones = Record.objects.filter(state="open").order_by("happened_from")
    assert [one.number in text for one, text in zip(open_ones, going_on, strict=True)] == [True] * len(going_on)
    assert all(re.search(r"gravity [01]\.\d+ at", text) for text in going_on)
    assert [text for heading, text in stood if heading == NOTED] == [
        text for _, text in stood if text.endswith(note.text)
    ]
    assert not [text for heading, text in stood if heading == WAITING]
    handover = hand_over(TEXT, person=staff)
    write_note("after it", person=staff)
    assert "after it" not in Handover.objects.get(pk=handover.pk).stands
    assert prove().holds


@pytest.mark.parametrize("change", ["UPDATE {0} SET person_id = person_id", "DELETE FROM {0}"])
@pytest.mark.parametrize("table", ["handover_note", "handover_handover", "handover_taken"])
def test_the_database_keeps_them(staff: Person, manager: Person, table: str, change: str) -> None:
    write_note("seen", person=staff)
    handover = hand_over(TEXT, person=staff)
    take_over(handover, person=manager, seen=handover.digest)
    refused = pytest.raises(DatabaseError, match="keeps what was written")
    with refused, transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(change.format(table))


class TestPages:
    def test_a_shift_hands_over_to_the_next(
        self, staff: Person, manager: Person, officer: Person, browser_of: Browser
    ) -> None:
        goes, comes = browser_of(staff), browser_of(manager)
        assert "No shift has been handed over yet" in goes.get("/").content.decode()
        assert goes.post("/notes/", {"text": "cooling water 9 degrees"}).status_code == 302
        without = goes.post("/handover/new/", {"text": ""}).content.decode()
        assert "What you hand over is blank" in without
        answer = goes.post("/handover/new/", {"text": TEXT})
        page = answer["Location"]
        own = goes.get(page).content.decode()
        assert "1 of 2" in own
        assert "Sign for your shift" not in own
        home = comes.get("/").content.decode()
        assert f"From {staff.shown_name}" in home
        assert "Sign for your shift" in home
        assert "cooling water 9 degrees" in home
        sheet = comes.get(page)
        seen = sheet.context["seen"].digest
        assert comes.post(f"{page}take/", {"seen": seen, "text": "Asked which valve."}).status_code == 302
        signed = browser_of(officer).get(page).content.decode()
        assert f"Signed by {manager.shown_name}" in signed
        assert "Asked which valve." in signed
        assert "1 of 2" not in signed
        assert manager.shown_name in browser_of(officer).get("/handover/").content.decode()
        assert browser_of(officer).get(f"{page}handover.pdf").content.startswith(b"%PDF")

    def test_what_moved_on_is_shown_beside_what_was_on_the_page(
        self, staff: Person, manager: Person, browser_of: Browser
    ) -> None:
        hand_over(TEXT, person=staff)
        comes = browser_of(manager)
        page = f"/handover/{last_handover().pk}/"  # type: ignore[union-attr]
        seen = comes.get(page).context["seen"]
        hand_over("WB4 is next.", person=staff)
        answer = comes.post(f"{page}take/", {"seen": seen.digest, "seen_words": seen.words})
        assert answer.status_code == 409
        shown = answer.content.decode()
        assert TEXT in shown
        assert "WB4 is next." in shown
        assert not Taken.objects.exists()
        assert "Another handover was written after it" in comes.get(page).content.decode()

    def test_a_note_is_struck_on_its_page(self, staff: Person, officer: Person, browser_of: Browser) -> None:
        here = browser_of(staff)
        note = write_note("wrong", person=staff)
        assert "Why is blank" in here.post(f"/notes/{note.pk}/strike/", {"reason": ""}).content.decode()
        assert here.post(f"/notes/{note.pk}/strike/", {"reason": "of another day"}).status_code == 302
        assert "of another day" in here.get("/notes/").content.decode()
        shift = here.get("/").content.decode()
        assert '<del><span class="visually-hidden">struck </span>wrong</del>' in shift
        reads = browser_of(officer)
        assert reads.get(f"/notes/{note.pk}/strike/").status_code == 403
        assert reads.post("/notes/", {"text": "mine"}).status_code == 200
        assert reads.get("/handover/new/").status_code == 403
        assert Note.objects.count() == 2

    def test_nobody_unknown_reads_them(self, staff: Person, stranger: Client) -> None:
        hand_over(TEXT, person=staff)
        for page in ("/", "/notes/", "/handover/", f"/handover/{last_handover().pk}/"):  # type: ignore[union-attr]
            assert stranger.get(page).status_code == 302


def test_the_digest_of_a_printed_handover_is_known(staff: Person, manager: Person) -> None:
    handover = hand_over(TEXT, person=staff)
    [found] = check(Asked(handover.digest[:16]))
    assert (found.agrees, found.digest) == (True, handover.digest)
    assert "nobody has signed it yet" in found.sentence
    take_over(handover, person=manager, seen=handover.digest)
    [found] = check(Asked(handover.digest))
    assert found.sentence.endswith(f"{manager.shown_name} signed the same.")
    assert found.href == f"/handover/{handover.pk}/"
