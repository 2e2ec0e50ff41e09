"""Readings of a loaded month stand on their records before the records are finished, so they can be compared then."""

from __future__ import annotations

from pathlib import Path

import pytest

from batches.loading.load_folder import BadRows, load_folder
from batches.models import Reading, Record
from ledger.models import Figure, Gauge, Movement

from .tiny_month import LOG, changed, write_folder

pytestmark = pytest.mark.django_db

LATE = LOG["readings"] + "FE0001,2027-03-04T09:00,gravity,0.9982\nFE0001,2027-03-04T03:00,gravity,0.9984\n"
NAME = "final gravity beside the last logged"


def test_the_last_logged_gravity_is_there_when_the_wash_is_declared(tmp_path: Path) -> None:
    loaded = load_folder(write_folder(tmp_path, readings=LATE))
    assert loaded.readings == 5
    figure = Figure.objects.get(movement__record_number="FE0001", name=NAME)
    assert (figure.value_millionths, figure.expected_millionths) == (998_000, 998_200)
    # Written in order of time, whatever the order of the rows.
    record = Record.objects.get(number="FE0001")
    logged = list(Reading.objects.filter(record=record).order_by("pk").values_list("at", flat=True))
    assert logged == sorted(logged)


def test_a_second_load_passes_them_over_and_posts_nothing(tmp_path: Path) -> None:
    load_folder(write_folder(tmp_path, readings=LATE))
    movements = Movement.objects.count()
    again = load_folder(tmp_path)
    assert (again.readings, Reading.objects.count()) == (0, 5)
    assert Movement.objects.count() == movements


def test_readings_of_a_record_loaded_before_are_added_and_change_nothing_declared(tmp_path: Path) -> None:
    load_folder(write_folder(tmp_path))
    write_folder(tmp_path, readings=LATE)
    assert load_folder(tmp_path).readings == 2
    assert not Figure.objects.filter(name=NAME).exists()


def test_a_bad_reading_is_said_with_its_row_and_nothing_is_loaded(tmp_path: Path) -> None:
    wrong = LATE.replace("FE0001,2027-03-04T09:00,gravity,0.9982", "FE0001,2027-03-04T09:00,gravity,9982")
    folder = write_folder(tmp_path, readings=f"{wrong}XX0001,2027-03-04T09:00,gravity,0.9982\n")
    with pytest.raises(BadRows) as refused:
        load_folder(folder)
    said = [(bad.file, bad.row, bad.column) for bad in refused.value.bad]
    assert said == [("log/readings.csv", 5, "value"), ("log/readings.csv", 7, "record")]
    assert not Record.objects.exists()


def test_readings_of_a_record_that_came_to_nothing_raise_no_complaint(tmp_path: Path) -> None:
    mashes = changed("mashes", "2400,1.0600,18,B1\nMA0002", "2400,1.0600,18,B9\nMA0002")
    with pytest.raises(BadRows) as refused:
        load_folder(write_folder(tmp_path, readings=LATE, mashes=mashes))
    assert {bad.file for bad in refused.value.bad} == {"log/mashes.csv"}


def test_a_month_with_tails_near_nothing_loads(tmp_path: Path) -> None:
    """0.4 at 25 °C lies below what water shows there: nothing within the instrument's error, and no row is refused."""
    stock = LOG["opening_stock"] + "H1,2027-03-01T06:00,900,25,0.4\n"
    load_folder(write_folder(tmp_path, opening_stock=stock))
    (gauge,) = Gauge.objects.filter(account__code="vessel:H1")
    assert gauge.pure_ul == 0
    # 0.29 % vol of 900 litres and what the hydrometer itself leaves open.
    assert gauge.uncertainty_ul == pytest.approx(2_600_000, rel=0.1)
