"""Seals noted in a file elsewhere, and what two people record where these books lack some. Names are invented."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest
from django.db import DatabaseError, connection, transaction
from django.urls import reverse
from django.utils import timezone

from distillery.people.models import Person
from distillery.rules.setting.figures import add_loss_cause
from distillery.seals.keeper import SealsKeeper
from distillery.seals.lookup import foot_line, last_seal, said_of
from distillery.seals.losing import NoGap, note_put_back, record_gap
from distillery.seals.models import BooksSeal, SealGap
from distillery.seals.noted import UnreadableNote, append_to, compared_with, line_of
from ledger.proof.noted import look_for
from ledger.proof.proving import prove
from tests.conftest import PASSWORD

pytestmark = pytest.mark.django_db

A_SEAL = "9f3c71d044abe802" * 4


def write(name: str) -> BooksSeal:
    add_loss_cause(name=name, from_day=date(2027, 1, 1), source="invented")
    found = last_seal()
    assert found is not None
    return found


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "seals.txt"


def test_the_last_seal_is_noted_once_and_stands(file: Path) -> None:
    first = write("frost")
    assert append_to(file) is True
    assert append_to(file) is False
    second = write("flood")
    assert append_to(file) is True
    assert file.read_text().splitlines() == [line_of(first).strip(), line_of(second).strip()]
    assert compared_with(file) == []


def test_a_file_with_seals_that_these_books_lack_names_each(file: Path) -> None:
    first = write("frost")
    append_to(file)
    with file.open("a") as noted:
        noted.write(f"2027-03-31T10:00:00.000000Z {first.number + 5} {A_SEAL}\n")
        noted.write(f"2027-03-30T10:00:00.000000Z {first.number} {A_SEAL}\n")
    ahead, other = compared_with(file)
    assert f"seal {first.number + 5} of 2027-03-31 is not there" in ahead
    assert f"seal {first.number} of 2027-03-30 is another" in other


@pytest.mark.parametrize(
    ("content", "says"),
    [(b"no seal at all\n", "line 1"), ("Überraschung\n".encode(), "no file of seals"), (None, "cannot be read")],
)
def test_a_file_that_is_none_is_said_to_be_none(file: Path, content: bytes | None, says: str) -> None:
    if content is None:
        file.mkdir()
    else:
        file.write_bytes(content)
    with pytest.raises(UnreadableNote, match=says):
        compared_with(file)


def test_the_keeper_notes_at_the_start_at_a_new_day_and_at_the_end(file: Path) -> None:
    first = write("frost")
    warned: list[str] = []
    keeper = SealsKeeper(file, warn=warned.append, every_s=3600)
    with keeper:
        assert file.read_text() == line_of(first)
        second = write("flood")
    assert file.read_text() == line_of(first) + line_of(second)
    assert warned == []


def test_a_file_that_cannot_be_written_is_said_and_does_not_stop_the_site(tmp_path: Path) -> None:
    write("frost")
    warned: list[str] = []
    with SealsKeeper(tmp_path / "gone" / "seals.txt", warn=warned.append, every_s=3600):
        pass
    assert len(warned) == 1
    assert "cannot be written" in warned[0]


def test_books_that_lack_what_the_file_holds_are_named_when_serving_starts(file: Path) -> None:
    write("frost")
    file.write_text(f"2027-03-31T10:00:00.000000Z 9999 {A_SEAL}\n")
    warned: list[str] = []
    with SealsKeeper(file, warn=warned.append, every_s=3600):
        pass
    assert "seal 9999 of 2027-03-31 is not there" in warned[0]


class TestAGap:
    @pytest.fixture
    def lost(self) -> int:
        """The number of a seal that was noted after the copy was taken, which was then put back."""
        here = write("frost")
        note_put_back("gaugebook-of-monday.sqlite3")
        write("flood")
        return here.number + 7

    def record(self, number: int, manager: Person, second: Person) -> SealGap:
        return record_gap(
            noted_number=number,
            noted_seal=A_SEAL[:16],
            noted_on=date(2027, 3, 31),
            reason="the disk broke, and Monday's copy was put back",
            person=manager,
            second=second,
        )

    def test_is_recorded_once_by_two_and_said_ever_after(self, lost: int, manager, staff, file: Path) -> None:
        file.write_text(f"2027-03-31T10:00:00.000000Z {lost} {A_SEAL}\n")
        assert len(compared_with(file)) == 1
        gap = self.record(lost, manager, staff)
        assert gap.after == lost - 7
        assert compared_with(file) == []
        assert f"seals {lost - 6} to {lost} are recorded as lost" in foot_line()
        said = look_for(A_SEAL)
        assert (said.stands, said_of(gap) in said.sentence) == (False, True)
        assert not [place for place in prove().broken if "gap" in place]
        with pytest.raises(NoGap, match="recorded already"):
            self.record(lost, manager, staff)

    def test_needs_a_manager_and_another_who_writes(self, lost: int, manager, staff, officer) -> None:
        for person, second, says in (
            (staff, manager, "a manager does"),
            (manager, manager, "another person"),
            (manager, officer, "may not write"),
        ):
            with pytest.raises(NoGap, match=says):
                self.record(lost, person, second)
        assert not SealGap.objects.exists()

    def test_of_a_seal_that_stands_is_none(self, lost: int, manager, staff) -> None:
        last = last_seal()
        assert last is not None
        with pytest.raises(NoGap, match="nothing is lost"):
            record_gap(
                noted_number=last.number,
                noted_seal=last.seal,
                noted_on=timezone.localdate(),
                reason="a mistake",
                person=manager,
                second=staff,
            )

    def test_cannot_be_changed_or_taken_away(self, lost: int, manager, staff) -> None:
        gap = self.record(lost, manager, staff)
        for statement in ("UPDATE seals_sealgap SET reason = 'x'", "DELETE FROM seals_sealgap"):
            with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
                cursor.execute(statement)
        assert SealGap.objects.get() == gap

    def test_is_recorded_on_the_page_with_the_second_persons_password(
        self, lost: int, manager, staff, browser_of
    ) -> None:
        page = browser_of(manager)
        typed = {
            "noted_number": str(lost),
            "noted_seal": "9f3c 71d0 44ab e802",
            "noted_on": "2027-03-31",
            "reason": "the disk broke",
            "username": staff.username,
            "password": "not this",
        }
        refused = page.post(reverse("seals"), typed)
        assert "do not belong together" in refused.content.decode()
        assert "the disk broke" in refused.content.decode(), "what was typed stays"
        assert not SealGap.objects.exists()
        page.post(reverse("seals"), {**typed, "password": PASSWORD})
        assert SealGap.objects.get().second == staff
        shown = page.get(reverse("seals")).content.decode()
        assert f"Seals {lost - 6} to {lost} of Wed 31 Mar 2027 are lost: the disk broke." in shown

    def test_is_not_recorded_by_an_officer(self, lost: int, officer, browser_of) -> None:
        assert browser_of(officer).post(reverse("seals"), {"noted_number": str(lost)}).status_code == 403
        assert not SealGap.objects.exists()


def test_the_page_says_whether_a_noted_seal_stands(staff, browser_of) -> None:
    here = write("frost")
    page = browser_of(staff)
    assert "It stands in these books" in page.get(reverse("seals"), {"seal": here.seal[:16]}).content.decode()
    assert "It does not stand in these books" in page.get(reverse("seals"), {"seal": A_SEAL}).content.decode()
    assert "Seal has &#x27;x&#x27; in it" in page.get(reverse("seals"), {"seal": "xyz"}).content.decode()
    checked = page.get(reverse("check_digest"), {"digest": here.seal[:16]}).content.decode()
    assert f"Seal {here.number} of the books" in checked


def test_the_last_seal_of_each_day_is_listed(staff, browser_of) -> None:
    first = write("frost")
    shown = browser_of(staff).get(reverse("seals")).content.decode()
    assert first.seal in shown
    assert first.made_at - timezone.now() < timedelta(seconds=5)
