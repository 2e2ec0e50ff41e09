"""What is only worked out from a record is asked again of its versions and postings, with every trigger standing.

The month is invented.
"""

from __future__ import annotations

import json

import pytest
from django.db import connection

from batches.audit.proving_standing import prove_standing
from batches.models import Link, Record, State
from batches.records import recording
from distillery.people.models import Person
from ledger.proof.proving import prove

from .test_recording_records import charged  # noqa: F401

pytestmark = pytest.mark.django_db


@pytest.fixture
def site(small_books: None) -> None:
    assert list(prove_standing()) == []


def tell(sql: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(sql)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("state = 'void', identity = ''", "it is kept as 'void'"),
        ("state = 'open'", "it is kept as 'open'"),
        ("state = 'awaiting a second person'", "it is kept as 'awaiting"),
        ("happened_from = '2027-01-01 00:00:00'", "when it happened"),
        ("happened_to = NULL", "when it happened"),
        ("identity = 'another'", "what tells it from others"),
        ("opened_at = '2027-01-01 00:00:00'", "who opened it"),
    ],
)
@pytest.mark.parametrize("number", ["WR0001", "MA0001", "TR0001", "RM0001"])
def test_where_a_record_stands_is_what_the_facts_say(site: None, number: str, change: str, said: str) -> None:
    record = Record.objects.get(number=number)
    tell(f"UPDATE batches_record SET {change} WHERE id = {record.pk}")
    assert any(place.startswith(f"{record.number}: ") and said in place for place in prove().broken)


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE batches_mention SET code = code || 'x' WHERE id = (SELECT MIN(id) FROM batches_mention)",
        "DELETE FROM batches_mention WHERE id = (SELECT MAX(id) FROM batches_mention)",
        "INSERT INTO batches_mention (record_id, field, what, code) SELECT record_id, field, what, code "
        "FROM batches_mention WHERE id = (SELECT MIN(id) FROM batches_mention)",
        "UPDATE batches_mention SET what = 'lot' "
        "WHERE id = (SELECT MIN(id) FROM batches_mention WHERE what = 'vessel')",
    ],
)
def test_what_a_record_is_found_by_is_what_it_names(site: None, sql: str) -> None:
    tell(sql)
    assert any("it is found by" in place for place in prove().broken)


def test_a_link_by_malt_or_mash_that_is_gone_is_missed(site: None) -> None:
    link = Link.objects.filter(account=None).order_by("pk").first()
    assert link is not None
    tell(f"DELETE FROM batches_link WHERE id = {link.pk}")
    assert f"{link.taker}: nothing says what it took from {link.giver}, which it names" in prove().broken


def test_a_link_by_malt_or_mash_that_is_there_twice_is_found(site: None) -> None:
    link = Link.objects.filter(account=None).order_by("pk").first()
    assert link is not None
    link.pk = None
    link.save(force_insert=True)
    assert f"{link.taker}: what it took from {link.giver} is kept 2 times" in prove().broken


def test_a_series_may_not_fall_behind(site: None) -> None:
    tell("UPDATE batches_series SET last = 0 WHERE prefix = 'TR'")
    assert any("the series TR is kept as if 0" in place for place in prove().broken)


def test_a_record_made_void_stands_void(charged: Record, staff: Person) -> None:  # noqa: F811
    recording.void(charged, person=staff, reason="written on the wrong day")
    assert prove().broken == []
    tell(f"UPDATE batches_record SET state = 'open' WHERE id = {charged.pk}")
    assert any("make it 'void'" in place for place in prove().broken)


def test_a_record_that_posts_nothing_stands_void_by_its_last_version(site: None, staff: Person) -> None:
    first = Record.objects.get(number="M001")
    typed = {**json.loads(first.versions.latest("serial").values), "received_at": "2027-05-05T09:00"}
    record = recording.save(first.kind, None, typed, person=staff)
    recording.void(record, person=staff, reason="delivered elsewhere")
    assert Record.objects.get(pk=record.pk).state == State.VOID
    assert list(prove_standing()) == []
    tell(f"UPDATE batches_record SET state = 'complete' WHERE id = {record.pk}")
    assert any(place.startswith(f"{record.number}: it is kept as 'complete'") for place in prove_standing())
