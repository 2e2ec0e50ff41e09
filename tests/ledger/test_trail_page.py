"""The trail in words: on its page under Books and by the command. Names and figures are invented."""

from __future__ import annotations

import io
import json
from datetime import date
from pathlib import Path

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from distillery.plant.models import Kind, Stage, Vessel
from distillery.rules.models import LossCause
from distillery.seals.writing import written_by
from distillery.trail.models import Entry
from distillery.trail.telling import LINES, Run, Told, page, told
from ledger.posting.post import post

from . import plant

pytestmark = pytest.mark.django_db


def renamed() -> Vessel:
    vessel = Vessel.objects.create(
        code="LWR", name="Low wines receiver", kind=Kind.RECEIVER, stage=Stage.LOW_WINES, capacity_ul=9_000_000_000
    )
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE plant_vessel SET name = 'Spirit receiver', capacity_ul = 9500500000, stage = 'new spirit' "
            "WHERE code = 'LWR'"
        )
    return vessel


def newest() -> Told:
    return next(told())


class TestAnEntryInWords:
    def test_says_which_row_and_each_column_from_what_to_what(self) -> None:
        renamed()
        one = newest()
        assert (one.which, one.act, one.by) == ("Vessel LWR", "changed", "nobody: written past the program")
        assert [(change.what, change.before, change.after) for change in one.changes] == [
            ("name", "Low wines receiver", "Spirit receiver"),
            ("stage", "Low wines and feints", "New spirit"),
            ("capacity", "9000 L", "9500.5 L"),
        ]

    def test_of_a_row_that_is_gone_says_which_it_was(self) -> None:
        cause = LossCause.objects.create(name="angels", from_day=date(2027, 1, 1), source="nobody")
        cause.delete()
        one = newest()
        assert (one.which, one.act, one.changes) == ("Loss cause angels", "removed", ())

    def test_names_the_roles_that_a_person_was_given(self, staff, manager) -> None:
        staff.groups.set(manager.groups.all())
        assert {(one.which, one.act) for one in list(told())[:2]} >= {("Role test-staff, manager", "entered")}

    def test_says_who_entered_a_row_that_names_its_writer(self, staff) -> None:
        from ledger.enquiries.models import Enquiry

        with written_by(None, "tests"):
            Enquiry.objects.create(
                number="EQ0001",
                key="of the test",
                kind="enquiry",
                opened_at=timezone.now(),
                opened_by=None,
                record_kind="x",
                record_number="1",
                operation="x",
                happened_at=timezone.now(),
                period="2027-03",
                said="x",
            ).events.create(serial=1, what="note", at=timezone.now(), person=staff)
        one = newest()
        assert (one.which, one.act, one.by) == ("Enquiry event EQ0001, 1", "entered", "test-staff")

    def test_leaves_out_what_is_only_kept_to_be_missed(self) -> None:
        assert not any(one.which.startswith(("Version", "Sending", "Closing")) for one in told())


class TestAPage:
    def test_folds_rows_entered_one_after_another(self) -> None:
        for number in range(30):
            plant.vessel(f"V{number:02}")
        found = page()
        run = found.lines[0]
        assert isinstance(run, Run)
        assert "vessels" in run.said
        assert run.examples[0].which == "Vessel V29"
        assert run.more > 0
        assert " to " not in run.when or run.first_at != run.last_at

    def test_speaks_of_several_in_words(self) -> None:
        from distillery.trail.words import kind_of
        from ledger.enquiries.models import Enquiry

        assert kind_of(Enquiry, several=True) == "enquiries"
        assert kind_of(Vessel, several=True) == "vessels"

    def test_goes_on_by_key_without_a_gap(self) -> None:
        vessel = renamed()
        for number in range(LINES + 20):
            Vessel.objects.filter(pk=vessel.pk).update(name=f"Name {number}")
        first = page()
        assert (len(first.lines), first.older is not None) == (LINES, True)
        second = page(before=first.older)
        names = [
            change.after
            for line in (*first.lines, *second.lines)
            if isinstance(line, Told)
            for change in line.changes
            if change.what == "name"
        ]
        assert names[: LINES + 20] == [f"Name {number}" for number in reversed(range(LINES + 20))]

    def test_asks_the_database_no_more_for_more_lines(self) -> None:
        vessel = renamed()
        with CaptureQueriesContext(connection) as few:
            page()
        for number in range(30):
            Vessel.objects.filter(pk=vessel.pk).update(name=f"Name {number}")
        with CaptureQueriesContext(connection) as many:
            page()
        assert len(many) <= len(few)

    @pytest.mark.parametrize("role", ["manager", "officer", "administrator"])
    def test_is_read_by_those_who_answer_for_the_site(self, role: str, person_of, browser_of) -> None:
        renamed()
        browser = browser_of(person_of("reader", role))
        answer = browser.get(reverse("trail"))
        assert answer.status_code == 200
        text = answer.content.decode()
        assert "Vessel LWR, name" in text
        assert "Low wines receiver" in text
        assert "plant_vessel" not in text
        assert reverse("trail") in browser.get(reverse("books")).content.decode()

    def test_is_not_for_the_shift(self, staff, browser_of) -> None:
        browser = browser_of(staff)
        assert browser.get(reverse("trail")).status_code == 403
        assert reverse("trail") not in browser.get(reverse("books")).content.decode()

    def test_is_of_one_day_where_one_is_chosen(self, officer, browser_of) -> None:
        renamed()
        today = timezone.localdate().isoformat()
        browser = browser_of(officer)
        assert "Vessel LWR" in browser.get(reverse("trail"), {"day": today}).content.decode()
        empty = browser.get(reverse("trail"), {"day": "2001-01-01"}).content.decode()
        assert "Nothing was entered or changed on this day." in empty

    @pytest.mark.parametrize(
        "asked",
        [
            {"day": "yesterday"},
            {"day": "9999-12-31"},
            {"day": "0001-01-01"},
            {"day": "\x00"},
            {"day": "9" * 60_000},
            {"before": "x"},
            {"before": "9" * 400},
            {"before": "-1"},
            {"before": "0"},
            {"before": "٣"},
        ],
    )
    def test_takes_any_address(self, asked: dict[str, str], officer, browser_of) -> None:
        # What no engine can read is refused before any page looks at it.
        unreadable = "\x00" in asked.get("day", "")
        assert browser_of(officer).get(reverse("trail"), asked).status_code == (400 if unreadable else 200)

    def test_says_so_while_there_is_nothing(self, officer, browser_of, monkeypatch) -> None:
        monkeypatch.setattr("distillery.trail.telling.told_models", dict)
        text = browser_of(officer).get(reverse("trail")).content.decode()
        assert "Nothing has been entered or changed yet." in text

    def test_of_the_loaded_month_is_short(self, loaded_month: Path) -> None:
        found = page()
        assert Entry.objects.count() > 3_000
        assert sum(isinstance(line, Run) for line in found.lines) > 1


class TestTheCommand:
    def said(self, *arguments: str) -> str:
        out = io.StringIO()
        call_command("trail", *arguments, stdout=out)
        return out.getvalue()

    def test_prints_when_which_from_and_to(self) -> None:
        renamed()
        text = self.said()
        assert "Vessel LWR: changed" in text
        assert "    name: Low wines receiver -> Spirit receiver" in text

    def test_prints_one_document_of_json(self) -> None:
        renamed()
        [first, *_] = json.loads(self.said("--json"))
        assert set(first) == {"at", "which", "act", "changes", "by"}
        assert first["changes"][0] == {"what": "name", "from": "Low wines receiver", "to": "Spirit receiver"}

    def test_begins_with_a_day(self) -> None:
        with time_machine.travel("2027-03-02 12:00Z", tick=False):
            renamed()
            before = json.loads(self.said("--json", "--since", "2150-01-01"))
        assert before == []
        assert "Nothing has been written since then." in self.said("--since", "2150-01-01")
        assert json.loads(self.said("--json", "--since", "2001-01-01"))

    @pytest.mark.parametrize("day", ["99-1", "2027-13-01", "9999-12-31", "x"])
    def test_refuses_what_is_no_day(self, day: str) -> None:
        with pytest.raises(CommandError, match=r"is not a day; write it as 2027-03-04\."):
            self.said("--since", day)


def test_a_change_by_plain_sql_is_told_and_leaves_the_proof_whole(staff) -> None:
    """With every trigger standing it looks like any other change, so it must be there to be read."""
    post(plant.opening(plant.vessel("VAT"), 10), person=staff)
    with connection.cursor() as cursor:
        cursor.execute("UPDATE rules_losscause SET source = 'said otherwise' WHERE name = 'spillage'")
    one = newest()
    assert one.which.startswith("Loss cause spillage")
    assert one.changes[0].after == "said otherwise"
