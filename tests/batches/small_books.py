"""The small month on which tests try what a forger could do: of every kind of row that paper depends on it has one."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from unittest import mock

from batches.loading.load_folder import load_folder
from batches.models import Reading, Record
from batches.records import recording
from distillery.people.models import Person
from distillery.seals.writing import written_by
from ledger.periods import service
from ledger.proof.proving import prove
from tests.people import somebody

from .tiny_month import THIRD_STILL, write_folder


def fill(folder: Path) -> None:
    """A month with a third-still run, a correction, readings struck and replaced, a closing, a stock period.

    Written by the people whom the fixtures `staff` and `manager` give.
    """
    staff, manager = somebody("test-staff", "staff"), somebody("test-manager", "manager")
    load_folder(write_folder(folder, third_still_runs=THIRD_STILL))
    transfer = Record.objects.get(number="TR0001")
    recording.correct(transfer, {"from_before_dip_mm": "281"}, person=staff, reason="read one mark short")
    reading = Reading.objects.get(record__number="SR0001")
    recording.strike_reading(reading, person=staff, reason="misread", value="73.5")
    recording.add_reading(Record.objects.get(number="SR0001"), "2027-03-04T19:00", "distillate_percent", "72", staff)
    with written_by(None, "tests"):
        Person.objects.filter(pk=staff.pk).update(first_name="Ishbel")
    later = datetime.fromisoformat("2027-06-01T00:00+00:00")
    with mock.patch.object(service, "_settled", return_value=[]):
        asked = service.ask("2027-03", person=manager, remark="all was gauged", now=later)
        service.agree(asked, person=staff, now=later)
    service.enter_stock_period(
        "2027-07", date(2027, 6, 28), date(2027, 8, 1), source="letter of the test", person=manager, now=later
    )
    assert prove().broken == []
