"""`person` and `set_figure`: how a site in earnest gets its people and its dated figures."""

from __future__ import annotations

import io
import subprocess
import sys
from datetime import date
from decimal import Decimal

import pytest
from django.contrib.auth import authenticate
from django.core.management import CommandError, call_command

from distillery.people.models import Person
from distillery.people.roles import may_write
from distillery.rules import in_force
from distillery.rules.models import DutyRate

pytestmark = pytest.mark.django_db


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch):
    def give(text: str) -> None:
        monkeypatch.setattr(sys, "stdin", io.StringIO(text))

    return give


def test_a_new_person_may_do_what_the_role_says(typed, capsys: pytest.CaptureFixture[str]) -> None:
    typed("copper and steam 9\n")
    call_command("person", "mara", "--role", "staff", "--first-name", "Mara", "--last-name", "Quill")
    assert "Mara Quill may sign on. Roles: staff." in capsys.readouterr().out
    assert authenticate(username="mara", password="copper and steam 9")
    assert may_write(Person.objects.get(username="mara"))


def test_roles_change_and_the_password_stays(typed, staff: Person) -> None:
    before = staff.password
    call_command("person", staff.username, "--role", "officer")
    changed = Person.objects.get(pk=staff.pk)
    assert changed.password == before
    assert not may_write(changed)


def test_who_has_gone_can_no_longer_sign_on(typed, staff: Person) -> None:
    call_command("person", staff.username, "--gone")
    assert authenticate(username=staff.username, password="of-tests-only") is None


def test_who_comes_back_has_a_new_password_and_no_session_from_before(typed, staff: Person, browser_of) -> None:
    at_work = browser_of(staff)
    call_command("person", staff.username, "--gone")
    typed("\n")
    with pytest.raises(CommandError):
        call_command("person", staff.username)
    typed("copper and steam 9\n")
    call_command("person", staff.username)
    assert at_work.get("/").status_code == 302, "the session from before goes on"
    assert authenticate(username=staff.username, password="copper and steam 9")


def test_a_name_in_capitals_is_the_person_who_is_there(typed, staff: Person) -> None:
    typed("copper and steam 9\n")
    call_command("person", staff.username.upper(), "--role", "officer")
    assert Person.objects.filter(username__iexact=staff.username).count() == 1


@pytest.mark.usefixtures("bare")
@pytest.mark.parametrize(
    ("arguments", "password", "sentence"),
    [
        (("mara",), "copper and steam 9", "Say with --role"),
        (("mara", "--role", "staff"), "1234", "too short"),
        (("mara", "--role", "staff"), " " * 14, "different characters"),
        (("mara", "--role", "staff"), "mara-mara-mara-7", "hardly more than the name"),
        (("mara", "--role", "staff"), "qwertyuiop123", "too common"),
        (("mara the second", "--role", "staff"), "copper and steam 9", "valid username"),
    ],
)
def test_who_cannot_be_added_is_told_why(typed, arguments: tuple[str, ...], password: str, sentence: str) -> None:
    typed(f"{password}\n")
    with pytest.raises(CommandError, match=sentence):
        call_command("person", *arguments)
    assert not Person.objects.exists()


def test_next_years_duty_rate_is_entered() -> None:
    call_command(
        "set_figure",
        "duty-rate",
        "--from-day",
        "2027-02-01",
        "--strength-from-percent",
        "22.1",
        "--strength-to-percent",
        "100",
        "--pounds-per-lpa",
        "35.01",
        "--tax-type",
        "345",
        "--source",
        "invented here",
    )
    assert in_force.duty_rate(date(2027, 2, 1), Decimal(40)).pence_hundredths_per_lpa == 350_100
    assert in_force.duty_rate(date(2027, 1, 31), Decimal(40)).pence_hundredths_per_lpa == 339_900


def test_a_threshold_of_one_still_is_entered() -> None:
    call_command(
        "set_figure",
        "threshold",
        "--from-day",
        "2027-02-01",
        "--operation",
        "spirit run",
        "--vessel",
        "SS1",
        "--usual-percent",
        "0.4",
        "--usual-half-width-percent",
        "0.1",
        "--spread-percent",
        "0.1",
        "--threshold-percent",
        "1.5",
        "--floor-lpa",
        "8",
        "--source",
        "forty runs",
    )
    assert in_force.review_threshold("spirit run", "SS1", date(2027, 2, 1)).floor_ul == 8_000_000


@pytest.mark.parametrize(
    ("kind", "given", "said"),
    [
        ("interval", ("--what", "records are kept", "--months", "84"), "84"),
        ("details", ("--name", "Underhill Stillhouse", "--address", "2 Weir Lane, Harrowmere"), "Underhill Stillhouse"),
        (
            "reporting",
            (
                *("--operation", "removal", "--occasion", "always", "--report", "a copy of the note to the office"),
                *("--by-whom", "whoever sends", "--until", "the same evening"),
            ),
            "the same evening",
        ),
        ("package-errors", ("--bands", "5 1000 9 mL; 1000 - 1.5 %"), "15000"),
        ("bottle-sizes", ("--sizes", "350 700", "--listed-from-ml", "100", "--listed-to-ml", "2000"), "700000"),
    ],
)
def test_every_figure_that_has_a_page_is_entered(kind: str, given: tuple[str, ...], said: str) -> None:
    from batches.management.commands.set_figure import KINDS
    from batches.pages.setting_up.declared import FORMS

    call_command("set_figure", kind, "--from-day", "2027-02-01", "--source", "invented here", *given, verbosity=0)
    rows = FORMS[KINDS[kind]].model._default_manager.filter(source="invented here")
    assert any(said in str(value) for row in rows.values() for value in row.values())
    assert set(KINDS.values()) == set(FORMS), "a figure that has a page has a word here too"


def test_a_band_that_leaves_a_gap_is_refused_by_its_name() -> None:
    same = ("--from-day", "2027-02-01", "--source", "invented here")
    with pytest.raises(CommandError, match=r"^--bands: .*begins at 1,500 mL"):
        call_command("set_figure", "package-errors", "--bands", "5 1000 9 mL; 1500 - 1.5 %", *same)


def test_a_figure_that_cannot_be_is_refused_by_its_name() -> None:
    with pytest.raises(CommandError, match=r"^--high-percent-a-year: .*exchange the two"):
        call_command(
            "set_figure",
            "cask-band",
            "--from-day",
            "2027-02-01",
            "--low-percent-a-year",
            "3",
            "--high-percent-a-year",
            "1",
            "--source",
            "regauges",
        )


def test_a_day_that_is_none_is_named() -> None:
    with pytest.raises(CommandError, match="31-02-2027 is no day"):
        call_command("set_figure", "loss-cause", "--from-day", "31-02-2027", "--name", "hose", "--source", "register")


RATE = (
    "set_figure",
    "duty-rate",
    "--from-day",
    "2027-02-01",
    "--strength-from-percent",
    "22.1",
    "--strength-to-percent",
    "100",
    "--source",
    "invented here",
    "--pounds-per-lpa",
)


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("1e30", "^--pounds-per-lpa: .*write all its digits"),
        ("1e400", "^--pounds-per-lpa: .*write all its digits"),
        ("1_000", "^--pounds-per-lpa: .*write all its digits"),
        ("٣٥", "^--pounds-per-lpa: .*type digits with a point"),
        ("9" * 35, "^--pounds-per-lpa: .*larger than can be kept"),
        ("35,012,", "^--pounds-per-lpa: .*not a figure"),
        ("", "^--pounds-per-lpa: .*not a figure"),
    ],
)
def test_a_rate_that_is_no_figure_is_a_sentence(typed: str, sentence: str) -> None:
    before = DutyRate.objects.count()
    with pytest.raises(CommandError, match=sentence):
        call_command(*RATE, typed)
    assert DutyRate.objects.count() == before


def test_a_command_that_refuses_a_figure_ends_with_status_one_and_no_traceback() -> None:
    ended = subprocess.run([sys.executable, "manage.py", *RATE, "1e400"], capture_output=True, text=True, check=False)
    assert ended.returncode == 1
    assert "write all its digits" in ended.stderr
    assert "Traceback" not in ended.stderr


def test_a_decimal_comma_is_read_as_on_the_sheets() -> None:
    call_command(*RATE, "35,01", "--to-day", "2028-01-31")
    assert in_force.duty_rate(date(2027, 2, 1), Decimal(40)).pence_hundredths_per_lpa == 350_100
    with pytest.raises(in_force.DutyNotKnown, match="known to Mon 31 Jan 2028"):
        in_force.duty_rate(date(2028, 2, 1), Decimal(40))
