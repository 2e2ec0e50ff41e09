"""Random receipts, issues, counts, corrections and voids of a few lots, beside a book of plain lists.

The plain book knows no opposite and no restating: it keeps what every record says now, and adds it up in order of time.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import count
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from batches.audit.proving_stores import prove_stores
from batches.models import Record, Version
from batches.stores.book import book_of
from batches.stores.kinds import Act, MaterialKind, StockLine
from batches.stores.models import Lot
from batches.stores.writing import Short, keep_stock
from distillery.people.models import Person
from ledger.posting.turns import turn
from tests.batches.plain_stores import PlainStores

START = datetime(2027, 3, 1, 6, tzinfo=UTC)
NUMBERS = count(1)

LINES = st.tuples(st.sampled_from(list(Act)), st.sampled_from(["A", "a", "B"]), st.integers(0, 40), st.integers(0, 200))
ACTS = st.lists(
    st.one_of(
        st.tuples(st.just("write"), st.lists(LINES, min_size=1, max_size=3)),
        st.tuples(st.just("correct"), st.tuples(st.integers(0, 9), st.lists(LINES, max_size=3))),
    ),
    max_size=12,
)


def _line(said: tuple[Act, str, int, int], row: int) -> StockLine:
    act, lot, hours, amount = said
    at = START + timedelta(hours=hours)
    return StockLine(act, MaterialKind.YEAST, lot, amount if act is Act.COUNTED else amount + 1, at, "kilograms", row)


@pytest.mark.django_db
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(acts=ACTS)
def test_the_book_is_what_a_plain_list_says(staff: Person, acts: list[tuple[str, Any]]) -> None:
    plain, records = PlainStores(), []
    lots = {name: f"{name}{next(NUMBERS)}" for name in ("A", "B")} | {"a": ""}
    lots["a"] = lots["A"].lower()
    for what, said in acts:
        if what == "write":
            record = Record(kind="transfer", number=f"T{next(NUMBERS)}", opened_by=staff)
            record.opened_at = record.happened_from = START
            given_lines = said
        else:
            place, given_lines = said
            if not records:
                continue
            record = records[place % len(records)]
        lines = [_line((one[0], lots[one[1]], *one[2:]), row) for row, one in enumerate(given_lines)]
        fits = plain.would_fit(record.number, lines)
        try:
            with turn(staff):
                if record.pk is None:
                    record.save()
                serial = record.versions.count() + 1
                version = Version.objects.create(
                    record=record, serial=serial, values="{}", digest="", written_at=START, person=staff
                )
                keep_stock(record, version, lines)
        except Short:
            assert not fits
            if what == "write":
                record.pk = None
            continue
        assert fits
        plain.keep(record.number, lines)
        if record not in records:
            records.append(record)
    for lot in Lot.objects.filter(code__in=lots.values()):
        assert [line.held for line in book_of(lot)] == plain.helds(lot.key)
        every = sum(lot.entries.values_list("amount", flat=True))
        assert every == lot.held == (plain.helds(lot.key)[-1:] or [0])[0]
    assert not [one for one in prove_stores() if "come to" in one or "opposite" in one]
