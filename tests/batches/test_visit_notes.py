"""Visit notes: an officer's alone, never changed, put right by another, proved, and found again by their digest."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from io import BytesIO

import pytest
from django.db import DatabaseError, connection, transaction
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from batches.sheets.typed.read_sheet import Unfit
from batches.visits import noting
from batches.visits.models import VisitNote
from batches.visits.noting import LONGEST_NOTE, notes_since, shown_of, write_visit_note
from distillery.clock.reading import books_today
from distillery.people.models import Person
from distillery.printing.furniture import grouped
from distillery.signed import digest_of
from distillery.trail.models import Entry
from ledger.proof.checking import Asked, check
from ledger.proof.proving import prove
from tests.people import somebody

pytestmark = pytest.mark.django_db
DAY = date(2027, 5, 3)
TEXT = "Casks of row 2 were counted; all were there."
Browser = Callable[[Person], Client]


def noted(officer: Person, text: str = TEXT) -> VisitNote:
    return write_visit_note(text, visited_on=DAY, person=officer)


class TestWriting:
    def test_an_officer_writes_and_puts_right_by_another_note(self, officer: Person) -> None:
        first = noted(officer, f"  {TEXT} ")
        later = write_visit_note("It was row 3.", visited_on=DAY, person=officer, corrects=first)
        assert [str(first), str(later)] == ["VN0001", "VN0002"]
        assert (first.text, later.corrects) == (TEXT, first)
        assert first.digest == digest_of(shown_of(VisitNote.objects.get(pk=first.pk)))
        with pytest.raises(Unfit, match="VN0001 is put right already"):
            write_visit_note("It was row 4.", visited_on=DAY, person=officer, corrects=first)
        assert [one.number for one in notes_since(DAY)] == [1, 2]
        assert notes_since(DAY + timedelta(days=1)) == []

    @pytest.mark.parametrize("role", ["staff", "manager", "administrator"])
    def test_nobody_of_the_site_writes_one(self, role: str, request: pytest.FixtureRequest) -> None:
        with pytest.raises(Unfit, match="written by officers only"):
            noted(request.getfixturevalue(role))
        assert not VisitNote.objects.exists()

    def test_who_holds_a_role_of_the_site_besides_is_no_officer(self, manager: Person) -> None:
        both = somebody("both-of-them", "officer", "manager")
        with pytest.raises(Unfit, match="written by officers only"):
            noted(both)

    def test_what_cannot_be_is_refused(self, officer: Person) -> None:
        with pytest.raises(Unfit, match="Note is blank"):
            noted(officer, "  ")
        with pytest.raises(Unfit, match="2,001 characters"):
            noted(officer, "x" * (LONGEST_NOTE + 1))
        with pytest.raises(Unfit, match="is still to come; write the day on which you were here"):
            write_visit_note(TEXT, visited_on=books_today() + timedelta(days=1), person=officer)
        assert not VisitNote.objects.exists()

    def test_a_press_sent_twice_is_one_note(self, officer: Person, monkeypatch: pytest.MonkeyPatch) -> None:
        assert noted(officer) == noted(officer)
        monkeypatch.setattr(noting, "SENT_TWICE", -noting.SENT_TWICE)
        assert noted(officer).number == 2


class TestKept:
    def test_the_database_refuses_to_change_or_remove_one(self, officer: Person) -> None:
        note = noted(officer)
        for change in (
            lambda: VisitNote.objects.filter(pk=note.pk).update(text="other"),
            lambda: VisitNote.objects.filter(pk=note.pk).delete(),
        ):
            with pytest.raises(DatabaseError), transaction.atomic():
                change()
        assert VisitNote.objects.get(pk=note.pk).text == TEXT

    def test_its_entry_of_the_trail_is_claimed_and_the_proof_holds(self, officer: Person) -> None:
        note = noted(officer)
        assert Entry.objects.filter(table="visits_visitnote", row=str(note.pk)).count() == 1
        assert prove().broken == []

    @pytest.mark.sqlite
    def test_one_that_was_changed_behind_the_guards_is_named_by_the_proof(self, officer: Person) -> None:
        note = noted(officer)
        with connection.cursor() as cursor:
            cursor.execute("DROP TRIGGER visits_visitnote_no_update")
            cursor.execute("DROP TRIGGER visits_visitnote_trail_update")
            cursor.execute("UPDATE visits_visitnote SET text = 'nothing was found' WHERE id = %s", [note.pk])
        assert any("visits_visitnote" in one for one in prove().broken), prove().broken
        assert [one.agrees for one in check(Asked(note.digest))] == [False]

    def test_its_digest_is_known(self, officer: Person) -> None:
        note = noted(officer)
        [found] = check(Asked(note.digest[:16]))
        assert (found.agrees, found.href) == (True, reverse("visit_note", args=[1]))
        assert "noted of the visit of 3 May 2027" in found.sentence.replace("Mon ", "")


class TestPages:
    def test_an_officer_writes_one_on_the_page(self, browser_of: Browser, officer: Person, staff: Person) -> None:
        here = browser_of(officer)
        assert "Write the note" in here.get(reverse("visit_notes")).content.decode()
        sent = here.post(reverse("visit_notes"), {"visited_on": "2027-05-03", "text": TEXT})
        assert sent["Location"] == reverse("visit_notes")
        page = here.get(reverse("visit_notes")).content.decode()
        note = VisitNote.objects.get()
        assert TEXT in page
        assert grouped(note.digest) in page
        assert here.get(reverse("visit_note_put_right", args=[1])).status_code == 200
        # The site reads it and writes none.
        theirs = browser_of(staff)
        assert TEXT in (page := theirs.get(reverse("visit_notes")).content.decode())
        assert "Write the note" not in page
        theirs.post(reverse("visit_notes"), {"visited_on": "2027-05-03", "text": "ours"})
        assert theirs.post(reverse("visit_note_put_right", args=[1]), {"text": "ours"}).status_code == 403
        assert VisitNote.objects.count() == 1

    def test_what_was_typed_stays_with_what_is_wrong_beside_it(self, browser_of: Browser, officer: Person) -> None:
        page = browser_of(officer).post(reverse("visit_notes"), {"visited_on": "soon", "text": TEXT}).content.decode()
        assert TEXT in page
        assert "This is not a day" in page
        assert not VisitNote.objects.exists()

    def test_on_paper_both_notes_name_each_other(self, browser_of: Browser, officer: Person) -> None:
        first = noted(officer)
        write_visit_note("It was row 3.", visited_on=DAY, person=officer, corrects=first)
        here = browser_of(officer)

        def paper(number: int) -> str:
            sent = here.get(reverse("visit_note_print", args=[number]))
            return " ".join(page.extract_text() for page in PdfReader(BytesIO(sent.content)).pages)

        assert TEXT in paper(1)
        assert "VN0002" in paper(1)
        assert grouped(first.digest) in paper(1)
        assert "VN0001" in paper(2)
        listed = here.get(reverse("visit_notes"), {"as": "pdf"})
        text = " ".join(page.extract_text() for page in PdfReader(BytesIO(listed.content)).pages)
        assert "put right by VN0002" in " ".join(text.split())
