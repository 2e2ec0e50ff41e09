"""The tables of books on SQLite are counted once they hold much, and again once they have grown."""

from __future__ import annotations

import pytest
from django.db import connection

from batches.models import Reading
from distillery.database import counted_tables
from distillery.database.counted_tables import count_tables
from distillery.trail.models import Entry

pytestmark = [pytest.mark.sqlite, pytest.mark.django_db]


def _counted() -> int:
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1 FROM sqlite_master WHERE name = 'sqlite_stat1'")
        if cursor.fetchone() is None:
            return 0
        cursor.execute("SELECT stat FROM sqlite_stat1 WHERE tbl = 'trail_entry'")
        row = cursor.fetchone()
    return int(row[0].split()[0]) if row else 0


def test_small_books_are_not_counted(loaded_month: None) -> None:
    before = _counted()
    count_tables()
    assert _counted() == before


def test_tables_are_counted_once_they_have_grown(loaded_month: None, monkeypatch: pytest.MonkeyPatch) -> None:
    there = Entry.objects.count()
    monkeypatch.setattr(counted_tables, "FEW", there + 1)
    count_tables()
    assert _counted() != there
    monkeypatch.setattr(counted_tables, "FEW", there)
    count_tables()
    assert _counted() == there
    for counted_before, counted_now in ((there * 9 // 10, there * 9 // 10), (there // 2, there)):
        with connection.cursor() as cursor:
            cursor.execute("UPDATE sqlite_stat1 SET stat = %s WHERE tbl = 'trail_entry'", [f"{counted_before} 3 1"])
        count_tables()
        assert _counted() == counted_now


def test_what_strikes_a_reading_is_looked_up_once_the_tables_are_counted(loaded_month: None) -> None:
    # In the sample month none strikes another, so that the unique column alone counts as one value everywhere.
    record = Reading.objects.latest("pk").record
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
        plan = Reading.objects.filter(record=record).select_related("struck_by").explain()
    assert "SCAN" not in plan
    assert "reading_striking" in plan
