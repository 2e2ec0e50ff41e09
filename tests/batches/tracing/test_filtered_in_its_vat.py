"""A vat filtered back into itself is followed through its filtration, and books from before that stand as they were.

On the plain plant: a litre a millimetre at 20 °C. All figures are invented.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from batches.audit.proving import _links as apart
from batches.models import Link, Record
from batches.recalls.touching import touched_by
from batches.steps import filtration
from batches.tracing.trace import trace_back
from ledger.models import Account
from tests.batches.tiny_plant import gauge

pytestmark = pytest.mark.django_db
Write = Callable[..., Record]


def filtered(write: Write, number: str, at: str, lot: str, **more: str) -> Record:
    vat = {"vat": "BV", **gauge("vat_before", "1000", "43.0"), **gauge("vat_after", "998", "43.0")}
    return write("filtration", number, (), at=at, way="plain", sheet_lot=lot, sheets_used="20", **(vat | more))


@pytest.fixture
def sheets(write: Write, opened: Callable[..., Record]) -> None:
    opened("BV", "1000", "43.0")
    lines = [
        {"material": "filter sheet", "lot": lot, "what": "sheets for cold spirit", "pieces": "60"}
        for lot in ("FS-3", "FS-4")
    ]
    write("material_receipt", None, lines, received_at="2027-03-01T08:00", supplier="Harrowmere Mills")


def drawn(write: Write) -> Record:
    into = gauge("to_before", "0") | gauge("to_after", "400", "43.0")
    vat = gauge("from_before", "998", "43.0") | gauge("from_after", "598", "43.0")
    return write("transfer", "TF0001", (), at="2027-03-04T09:00", from_vessel="BV", to_vessel="GI", **vat, **into)


def vessel(code: str) -> int:
    return Account.objects.get(code=f"vessel:{code}").pk


def test_a_lot_of_sheets_touches_what_was_filtered(write: Write, sheets: None) -> None:
    record = filtered(write, "FI0001", "2027-03-02T09:00", "FS-3")
    assert touched_by("FS-3").accounts == {vessel("BV"): 1.0}
    assert touched_by("FS-4").accounts == {}
    # The opening's alcohol went through it, 430 litres of it, and is still found behind what is drawn.
    (link,) = Link.objects.filter(taker=record, account__isnull=False)
    assert link.pure_ul == 430_000_000
    taken = drawn(write)
    assert touched_by("FS-3").accounts == {vessel("BV"): 1.0, vessel("GI"): 1.0}
    assert touched_by("FS-3").records[taken.pk] == 1.0
    behind = {one.kind: one.of_all for one in trace_back("TF0001")}
    assert behind == {"filtration": 1.0, "opening_stock": 1.0}
    assert list(apart()) == []


def test_what_was_posted_before_stays_as_it_was_followed(
    write: Write, sheets: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as earlier:
        earlier.setattr(filtration, "THROUGH", "contents before")
        before = filtered(write, "FI0001", "2027-03-02T09:00", "FS-3")
    again = gauge("vat_before", "998", "43.0") | gauge("vat_after", "996", "43.0")
    filtered(write, "FI0002", "2027-03-03T09:00", "FS-4", **again)
    assert not Link.objects.filter(taker=before, account__isnull=False).exists()
    assert list(apart()) == []
    # A correction of it is posted anew, and followed as one that is written today.
    filtered(write, "FI0001", "2027-03-02T09:00", "FS-3", filter_bar="1.5")
    assert list(apart()) == []
