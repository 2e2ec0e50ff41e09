"""What a bundle is asked for: months that cannot be, parts left out, two months together, folders that are taken."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone
from pypdf import PdfReader

from batches.pages.bundle.changes import CORRECTED, STRUCK, TAKEN_BACK, entries_in
from batches.pages.bundle.chosen import EVERY
from batches.pages.bundle.entered import enter_bundle
from batches.pages.bundle.months import NoSuchMonths, months_of
from batches.pages.bundle.parts import Parts
from batches.pages.bundle.words import how_to_read
from batches.returns.months import span_of
from batches.visits.noting import write_visit_note
from distillery.people.models import Person
from distillery.printing.house import impression
from ledger.proof.checking import Asked
from ledger.proof.paper.answering import answer
from tests.batches.pages.bundled import ASKED, MONTH, verified

pytestmark = pytest.mark.django_db


@pytest.mark.usefixtures("small_books")
class TestWhatTheBundleIsAskedFor:
    @pytest.mark.parametrize(
        ("first", "last", "said"),
        [
            ("2027-13", "2027-13", "'2027-13' is not a month; write it as 2027-03."),
            ("2027-04", "2027-03", "the first month comes after the last"),
            ("2027-03", "2031-03", "is still to come|holds at most 24 months"),
            ("2027-03", "2027-12", "December 2027 is still to come"),
            ("2020-01", "2027-03", "A bundle holds at most 24 months"),
        ],
    )
    def test_months_that_cannot_be(self, tmp_path: Path, first: str, last: str, said: str) -> None:
        with pytest.raises(CommandError, match=said):
            call_command("officer_bundle", str(tmp_path / "made"), "--from", first, "--to", last)
        assert list(tmp_path.iterdir()) == []

    def test_how_to_read_it_is_made_again_by_itself(self, manager: Person) -> None:
        months = months_of(MONTH, MONTH)
        reading = how_to_read(months, impression(timezone.now(), "tests"))
        enter_bundle(months, [(reading, True)], 1, person=manager)
        said = answer(Asked(reading.furniture.digest[:16])).as_data()
        assert (said["known"], said["stands"]) == (True, True)

    def test_a_folder_with_something_in_it_is_left_as_it_is(self, tmp_path: Path) -> None:
        (tmp_path / "mine.txt").write_text("mine")
        with pytest.raises(CommandError, match="is not empty; name a new folder"):
            call_command("officer_bundle", str(tmp_path), *ASKED)
        assert [one.name for one in tmp_path.iterdir()] == ["mine.txt"]

    def test_what_was_put_right_and_struck_is_listed_with_both_values(self) -> None:
        found = entries_in(span_of(MONTH))
        [corrected] = [one for one in found if one.what == CORRECTED and one.why == "read one mark short"]
        assert (corrected.record, corrected.now) == ("TR0001", "281")
        [struck] = [one for one in found if one.what == STRUCK]
        assert (struck.record, struck.now, struck.why) == ("SR0001", "73.5", "misread")
        assert struck.was not in ("", "73.5")
        taken_back = {one.record for one in found if one.what == TAKEN_BACK}
        assert "TR0001" in taken_back
        assert [one.at for one in found] == sorted(one.at for one in found)

    def test_two_months_make_one_document_with_the_notes_of_visits(self, tmp_path: Path, officer: Person) -> None:
        for day, text in ((date(2027, 2, 26), "Seen before."), (date(2027, 5, 4), "Row 2 was counted.")):
            write_visit_note(text, visited_on=day, person=officer)
        call_command("officer_bundle", str(tmp_path / "made"), "--from", MONTH, "--to", "2027-04")
        paper = PdfReader(tmp_path / "made" / "bundle.pdf")
        top = [one.title for one in paper.outline if not isinstance(one, list)]
        [noted] = [text for page in paper.pages if "VN0002" in (text := page.extract_text())]
        assert "Row 2 was counted." in noted
        assert "Noted in ink at this visit" in noted
        assert "Seen before." not in noted
        assert top[3:5] == ["March 2027", "April 2027"]
        assert verified(tmp_path / "made").returncode == 0

    def test_parts_that_are_not_asked_for_are_left_out_and_named(self, tmp_path: Path, officer: Person) -> None:
        folder = tmp_path / "made"
        call_command("officer_bundle", str(folder), *ASKED, "--part", "visits", "--part", "losses")
        lines = (folder / "documents.jsonl").read_text(encoding="utf-8").splitlines()
        titles = [one["title"] for one in map(json.loads, lines)]
        assert titles[2:-1] == [
            "Keyholders",
            "Opening times of the warehouses",
            "Loss register",
            "Loss enquiry",
            "Loss enquiry",
            "Visit notes",
        ]
        first = PdfReader(folder / "bundle.pdf").pages[0].extract_text()
        assert f"OB-{MONTH}, parts 4 7" in first
        assert "Stock in vessels, casks and bottles; Records, and removals with their duty" in " ".join(first.split())
        assert verified(folder).returncode == 0

    @pytest.mark.parametrize("chosen", [(), *((one,) for one in EVERY)])
    def test_as_many_documents_are_made_as_are_said(self, chosen: tuple[str, ...]) -> None:
        parts = Parts(months_of(MONTH, "2027-04", chosen), impression(timezone.now(), "tests"))
        assert parts.number == len(list(parts.made()))

    def test_a_part_that_no_bundle_has_is_named(self) -> None:
        with pytest.raises(NoSuchMonths, match="no part 'gossip'; its parts are accounts, stock"):
            months_of(MONTH, MONTH, ["gossip"])
