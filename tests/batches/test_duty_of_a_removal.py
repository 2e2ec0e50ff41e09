"""A removal whose duty is not known: it is posted, said as not known everywhere, and worked out once it is entered.

Rates and days: distillery/rules/data/duty_rates.csv with its sources. 60 bottles of 70 cl at 41.4 % vol are 17.388 LPA.
"""

from __future__ import annotations

import csv
import json
import re
import subprocess
import sys
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

from batches.loading.load_folder import load_folder
from batches.models import Record
from batches.records import recording
from distillery.people.models import Person
from distillery.rules.in_force import DutyNotKnown, NoDutyRate, duty_on_line, duty_rate, let_go
from distillery.rules.models import DutyRate
from distillery.rules.setting.figures import set_rounding_rule
from ledger.models import Duty, Movement
from ledger.proof.proving import prove
from ledger.statements.month import month_account
from tests.distillery.rules.invented_rate import enter_rate
from tests.people import agreed_by

from .tiny_month import write_folder

Write = Callable[..., Record]
pytestmark = pytest.mark.django_db
GIN = {"product": "gin", "bottle_centilitres": "70", "label_percent": "41.4"}


def left(write: Write, day: str, bottles: str = "60", number: str = "RM0001") -> Record:
    if not Movement.objects.filter(record_kind="opening_bottled_stock").exists():
        write("opening_bottled_stock", at=f"{day[:4]}-01-01T06:00", bottles="100", **GIN)
    return write("removal", number, at=f"{day}T08:00", kind="home use", bottles=bottles, **GIN)


@pytest.mark.parametrize("day", [date(2027, 2, 1), date(2027, 3, 10), date(2100, 1, 1)])
def test_past_its_known_end_no_rate_is_used(day: date) -> None:
    """Excise reference of November 2026: the rate after 31 January 2027 is to be treated as unknown."""
    with pytest.raises(DutyNotKnown, match=r"known to Sun 31 Jan 2027. The manager enters the next"):
        duty_rate(day, Decimal(40))


def test_on_its_last_day_the_rate_holds() -> None:
    assert duty_rate(date(2027, 1, 31), Decimal(40)).pence_hundredths_per_lpa == 339_900


def test_an_open_rate_behind_one_that_ended_is_not_taken_up_again() -> None:
    enter_rate("35.00", date(2028, 2, 1))
    enter_rate("36.00", date(2029, 2, 1))
    DutyRate.objects.filter(from_day=date(2029, 2, 1)).update(to_day=date(2030, 1, 31))
    let_go()
    with pytest.raises(DutyNotKnown):
        duty_rate(date(2030, 2, 1), Decimal(40))


def test_a_removal_past_the_known_end_is_posted_and_its_duty_is_not_known(write: Write) -> None:
    left(write, "2027-03-09")
    duty = Duty.objects.get()
    assert (duty.rate_pence_hundredths, duty.pence, duty.pure_ul) == (None, None, 17_388_000)
    [line] = month_account("2027-03").removals
    assert (line.kind, line.pence, line.known_pence) == ("home use", None, 0)
    assert re.search(r"^RM0001: The duty rate for 41.4 % vol on Tue 9 Mar 2027 is not known: ", line.not_known[0])
    assert prove().broken == []


def test_once_the_rate_is_entered_the_duty_is_worked_out_and_no_fact_changes(write: Write) -> None:
    """17.388 LPA at 35.01 are 608.75388 pounds, part-pence dropped."""
    left(write, "2027-03-09")
    seal = Movement.objects.latest("pk").seal
    enter_rate()
    [line] = month_account("2027-03").removals
    assert (line.pence, line.not_known) == (60_875, ())
    assert Duty.objects.get().pence is None
    assert Movement.objects.latest("pk").seal == seal
    assert prove().broken == []


def test_one_known_and_one_not_make_a_sum_that_is_not_known(write: Write) -> None:
    enter_rate(from_day=date(2027, 3, 9))
    left(write, "2027-03-09", "50")
    left(write, "2027-03-08", "10", "RM0002")
    [line] = month_account("2027-03").removals
    assert line.pence is None
    assert line.known_pence == 50_729  # 14.49 LPA at 35.01: 507.2949
    assert [sentence.split(":")[0] for sentence in line.not_known] == ["RM0002"]


@pytest.mark.parametrize("entered_first", [False, True])
def test_a_removal_put_right_is_not_counted_twice(write: Write, staff: Person, entered_first: bool) -> None:
    record = left(write, "2027-03-09")
    if entered_first:
        enter_rate()
    correct(record, staff)
    [line] = month_account("2027-03").removals
    if not entered_first:
        assert (line.pence, len(line.not_known)) == (None, 1)
        enter_rate()
        [line] = month_account("2027-03").removals
    assert line.pence == 50_729
    assert prove().broken == []


def correct(record: Record, staff: Person) -> None:
    values: dict[str, Any] = {**GIN, "at": "2027-03-09T08:00", "kind": "home use", "bottles": "50"}
    recording.correct(record, values, person=staff, reason="ten were found in the store")


@pytest.mark.parametrize("day", ["2014-03-24", "2020-07-01", "2023-07-31"])
def test_before_the_roundings_are_known_a_removal_is_posted_and_says_what_to_enter(write: Write, day: str) -> None:
    """The roundings known here belong to the duty of 1 August 2023 (SI 2023/884 reg 2); the rates begin in 2014."""
    left(write, day)
    [line] = month_account(day[:7]).removals
    assert line.pence is None
    assert "no rule is in force on that day" in line.not_known[0]
    assert "set_figure rounding-rule" in line.not_known[0]


def test_the_advice_can_be_followed(write: Write) -> None:
    """28.74 a litre from 13 March 2017 (Finance Act 2017 s.21): 17.388 LPA are 499.73112 pounds."""
    left(write, "2020-07-01")
    for name, step in (("duty strength", "0.1"), ("pure alcohol on a return", "0.01"), ("duty on a line", "0.01")):
        call_command(
            "set_figure",
            "rounding-rule",
            "--from-day",
            "2013-01-01",
            "--name",
            name,
            "--step",
            step,
            "--way",
            "down",
            "--source",
            "invented for the test",
        )
    [line] = month_account("2020-07").removals
    # 17.38 LPA, two decimals as entered: 499.5012.
    assert (line.pence, line.not_known) == (49_950, ())


def test_from_the_first_day_of_the_roundings_nothing_changes() -> None:
    """Worked check of the excise reference: 33.6 LPA at 33.99 on 2 November 2026 are 1,142.06."""
    assert duty_on_line(date(2026, 11, 2), Decimal("84"), Decimal("40.0")).pence == 114_206
    assert duty_on_line(date(2023, 8, 1), Decimal("84"), Decimal("40.0")).pence == 33_600 * 3164 // 1000


def test_a_site_s_own_rounding_goes_before_the_one_known_here() -> None:
    set_rounding_rule(
        name="duty on a line", from_day=date(2026, 10, 1), step=Decimal(1), way="half_up", source="invented"
    )
    assert duty_on_line(date(2026, 11, 2), Decimal("84"), Decimal("40.0")).pence == 114_200
    assert duty_on_line(date(2026, 9, 30), Decimal("84"), Decimal("40.0")).pence == 114_206


def test_before_any_rate_it_is_refused_as_ever() -> None:
    with pytest.raises(NoDutyRate) as refused:
        duty_on_line(date(1990, 3, 2), Decimal(84), Decimal(40))
    assert not isinstance(refused.value, DutyNotKnown)


def test_a_month_past_the_known_end_loads_and_says_so_everywhere(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], client: Any, manager: Person
) -> None:
    load_folder(write_folder(tmp_path))
    capsys.readouterr()
    call_command("month_account", "2027-03", "--json")
    [removal] = json.loads(capsys.readouterr().out)["removals"]
    assert (removal["duty"], removal["duty_known"]) == (None, 0)
    assert removal["duty_not_known"][0].startswith("RM0001: The duty rate for 41.4 % vol")
    call_command("month_account", "2027-03")
    assert "duty not known" in capsys.readouterr().out
    client.force_login(manager)
    for page in ("/books/months/2027-03/", "/records/removal/RM0001/", "/bottling/"):
        text = client.get(page).content.decode()
        assert "ot known" in text, page
        assert "0.00" not in re.sub(r"<head>.*?</head>", "", text).split("Removals")[-1].split("</table>")[0]
    assert client.get("/books/months/2027-03/account.pdf").status_code == 200


def test_an_export_with_a_duty_that_is_not_known_is_verified_without_this_program(write: Write, tmp_path: Path) -> None:
    left(write, "2027-03-09")
    call_command("export_ledger", str(tmp_path / "export"), verbosity=0)
    checked = subprocess.run(
        [sys.executable, "-I", "-S", "verify_export.py", "."],
        cwd=tmp_path / "export",
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert checked.returncode == 0, checked.stdout + checked.stderr
    [duty] = csv.DictReader((tmp_path / "export" / "duties.csv").open(encoding="utf-8", newline=""))
    assert (duty["rate_pence_hundredths"], duty["pence"]) == ("", "")


class TestThePages:
    def test_the_manager_enters_a_rate_and_the_month_knows_it(
        self, write: Write, client: Any, manager: Person, staff: Person
    ) -> None:
        left(write, "2027-03-09")
        client.force_login(manager)
        assert "/site/duty-rate/" in client.get("/site/").content.decode()
        given = {
            "from_day": "2027-02-01",
            "to_day": "2028-01-31",
            "strength_from_percent": "22,1",
            "strength_to_percent": "100",
            "pounds_per_lpa": "1e30",
            "tax_type": "345",
            "source": "invented",
        }
        refused = client.post("/site/duty-rate/", given)
        assert "write all its digits" in refused.content.decode()
        assert 'value="22,1"' in refused.content.decode()
        assert client.post("/site/duty-rate/", {**given, "pounds_per_lpa": "9" * 20}).status_code == 200
        given |= {"pounds_per_lpa": "35.01", **agreed_by(staff)}
        assert client.post("/site/duty-rate/", given).status_code == 302
        [line] = month_account("2027-03").removals
        assert line.pence == 60_875
        assert "Entered since the removal" in client.get("/records/removal/RM0001/").content.decode()

    def test_the_manager_enters_a_rounding(self, write: Write, client: Any, manager: Person, staff: Person) -> None:
        left(write, "2020-07-01")
        client.force_login(manager)
        for name in ("duty strength", "pure alcohol on a return", "duty on a line"):
            given = {"name": name, "from_day": "2013-01-01", "step": "0.01", "way": "down", "source": "invented"}
            assert client.post("/site/rounding/", {**given, **agreed_by(staff)}).status_code == 302
        [line] = month_account("2020-07").removals
        assert line.pence == 49_950

    def test_staff_may_not(self, client: Any, staff: Person) -> None:
        client.force_login(staff)
        assert client.get("/site/duty-rate/").status_code == 403
