"""A copy of a document is counted where somebody presses for it; changed data make the next version, and say so."""

from __future__ import annotations

import base64
import io
import re
import zlib
from collections.abc import Callable

import pytest
from django.db import DatabaseError, transaction
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from batches.models import Record
from batches.records import recording
from distillery.people.models import Person
from distillery.prints import counting
from distillery.prints.figures_kept import figures_of
from distillery.prints.models import Print, PrintedFigures
from distillery.prints.views import NO_DOCUMENT
from ledger.proof.checking import Asked
from ledger.proof.paper.answering import answer
from ledger.proof.proving import prove

RECORD, LIST = "/records/spirit_run/SR0007/record.pdf", "/books/movements/?as=pdf"


def text_of(pdf: bytes) -> str:
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages))


def pressed(here: Client, address: str) -> str:
    """The text of a counted copy of what an address prints."""
    answered = here.post(reverse("print_copy"), {"address": address})
    assert answered.status_code == 200
    return text_of(answered.content)


def correct(person: Person, litres: str) -> None:
    record = Record.objects.get(number="SR0007")
    recording.correct(record, {"spent_lees_litres": litres}, person=person, reason="read anew")


@pytest.fixture
def here(officer: Person, browser_of: Callable[[Person], Client]) -> Client:
    return browser_of(officer)


def test_each_press_is_the_next_copy_and_a_look_is_none(loaded_month, here: Client, officer: Person) -> None:
    assert f"by {officer.shown_name}, screen copy" in text_of(here.get(RECORD).content)
    assert [f"copy {copy}" in pressed(here, RECORD) for copy in (1, 2, 3)] == [True, True, True]
    assert "screen copy" in text_of(here.get(RECORD).content)
    entered = list(Print.objects.order_by("pk").values_list("version", "copy", "address"))
    assert entered == [(2, 0, RECORD), (2, 1, RECORD), (2, 2, RECORD), (2, 3, RECORD), (2, 0, RECORD)]
    assert prove().places == []


def test_another_document_and_another_list_are_counted_by_themselves(loaded_month, here: Client) -> None:
    assert "copy 1" in pressed(here, RECORD)
    assert "copy 1" in pressed(here, "/records/spirit_run/SR0008/record.pdf")
    first, other = pressed(here, LIST), pressed(here, "/books/movements/?kind=operation&as=pdf")
    assert "copy 1" in first
    assert "copy 1" in other
    numbers = [re.search(r"List [0-9a-f]{8}, version 1", one) for one in (first, other)]
    assert numbers[0] is not None
    assert numbers[1] is not None
    assert numbers[0][0] != numbers[1][0]
    assert "copy 2" in pressed(here, LIST)


def test_changed_data_make_the_next_version_and_name_what_changed(loaded_month, here: Client, staff: Person) -> None:
    assert "SR0007, version 2" in pressed(here, RECORD)
    first = Print.objects.get()
    correct(staff, "1")
    second = pressed(here, RECORD)
    assert "SR0007, version 3" in second
    assert "copy 1" in second
    changed = re.search(r"Other than in version 2: ([^.]*)\.", second)
    assert changed is not None
    assert "corrections" in changed[1]
    assert "Gauges" not in changed[1]
    # Each figure as it was and as it is, on a page of its own behind the run's one page.
    assert "Changed since version 2" in second
    assert "Difference Spirit run 194.43 missing LPA 195.62 missing LPA" in second
    assert "spent lees: In, LPA 1.19 0.00" in second
    assert "What changed since version 2 stands at the end." in second
    again = pressed(here, RECORD)
    assert "version 3" in again
    assert "copy 2" in again
    assert "Other than in version 2" in again
    said = answer(Asked(first.digest[:16])).as_data()
    assert (said["known"], said["stands"], said["version"]) == (True, False, 2)
    assert "corrections" in said["changed"]
    assert "as copy 1 of version 2" in said["says"]
    other = {"part": "Difference", "what": "Spirit run", "was": "194.43 missing LPA", "now": "195.62 missing LPA"}
    assert other in said["figures"]
    assert "Then and now: " in said["says"]
    assert prove().places == []


def test_figures_that_do_not_give_their_digest_are_not_compared(loaded_month, here: Client, staff: Person) -> None:
    pressed(here, RECORD)
    digest, text = Print.objects.get().digest, PrintedFigures.objects.get()
    assert figures_of(digest) is not None
    pressed(here, RECORD)
    assert PrintedFigures.objects.count() == 1
    other = base64.b64encode(zlib.compress(b'{"number":"SR0008"}')).decode()
    forged = PrintedFigures(digest="0" * 64, packed=other)
    torn = PrintedFigures(digest="1" * 64, packed=text.packed[: len(text.packed) // 2])
    for one in (forged, torn):
        one.save(force_insert=True)
        assert figures_of(one.digest) is None
    # What is kept cannot be written over.
    with pytest.raises(DatabaseError), transaction.atomic():
        PrintedFigures.objects.filter(pk=text.pk).update(packed=other)


def test_a_record_first_printed_after_it_was_put_right_bears_its_own_version(
    loaded_month, here: Client, staff: Person
) -> None:
    # It was completed in a second saving, so the correction is its third version.
    correct(staff, "1")
    assert "SR0007, version 3" in pressed(here, RECORD)


def test_what_prints_nothing_is_refused_and_counts_nothing(loaded_month, here: Client) -> None:
    for address in ("", "/records/", "/records/spirit_run/SR0007/", reverse("print_copy")):
        refused = here.post(reverse("print_copy"), {"address": address})
        assert (refused.status_code, refused.content.decode()) == (400, NO_DOCUMENT)
    for address in ("/nowhere.pdf", "/records/spirit_run/SR9999/record.pdf", "https://example.invalid/a.pdf"):
        assert here.post(reverse("print_copy"), {"address": address}).status_code == 404
    assert not Print.objects.exists()


def test_looking_at_the_press_is_refused_and_so_is_a_stranger(loaded_month, here: Client, stranger: Client) -> None:
    assert here.get(reverse("print_copy")).status_code == 405
    assert stranger.post(reverse("print_copy"), {"address": RECORD}).status_code == 403
    assert not Print.objects.exists()


def test_a_register_that_cannot_be_written_costs_no_print_but_its_number(
    loaded_month, here: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_given: object, **_more: object) -> None:
        raise DatabaseError("the disk is full")

    monkeypatch.setattr(counting, "print_of", refuse)
    assert "screen copy" in pressed(here, RECORD)
    assert not Print.objects.exists()
