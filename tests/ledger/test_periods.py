"""Periods close with two people, freeze what the books came to, and take no posting any more.

All figures are invented and worked by hand.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import DatabaseError, IntegrityError, connection, transaction

from distillery.database.guards import remove
from distillery.people.models import Person
from ledger.guards import ledger_guards
from ledger.models import Account, Gauge, Leg, Movement
from ledger.periods import is_closed, open_from
from ledger.periods.models import CloseRequest, Closing, ClosingBalance, StockPeriod
from ledger.periods.readiness import next_to_close, not_ready
from ledger.periods.service import CannotClose, agree, ask, enter_stock_period
from ledger.posting.post import correct, post
from ledger.proof.proving import prove
from ledger.statements.month import month_account

from . import plant
from .closed_books import APRIL, LATER, REMARK, close, month, refused

__all__ = ["month"]


pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("nothing_compared")]


# -- two people, in order


def test_two_people_close_a_month_and_its_books_are_frozen(
    manager: Person, staff: Person, month: list[Movement]
) -> None:
    assert next_to_close() == "2027-03"
    request = ask("2027-03", person=manager, remark=REMARK, now=LATER)
    assert not is_closed("2027-03")
    closing = agree(request, person=staff, now=LATER + timedelta(hours=1))
    assert (closing.number, closing.begins, closing.ends) == (1, datetime(2027, 3, 1, tzinfo=UTC), APRIL)
    assert (closing.last_number, closing.last_seal) == (month[-1].pk, month[-1].seal)
    assert is_closed("2027-03")
    assert is_closed("2027-02")
    assert not is_closed("2027-04")
    assert open_from() == APRIL
    assert next_to_close() == "2027-04"
    frozen = {row.account.code: row.pure_ul for row in ClosingBalance.objects.select_related("account")}
    # By hand: opened with 100, 1 found missing at the gauge, 39 unaccounted for in the draw.
    assert frozen == {
        "vessel:VAT": 60_000_000,
        "source:opening stock": -100_000_000,
        "difference:gauging:VAT": 1_000_000,
        "difference:draw": 39_000_000,
    }
    assert [line.opening_ul for line in month_account("2027-04").stages if line.stage == "new spirit"] == [60_000_000]
    assert prove().broken == []


def test_who_asked_cannot_agree_and_who_may_not_write_cannot_either(
    manager: Person, staff: Person, officer: Person, month: list[Movement]
) -> None:
    with pytest.raises(CannotClose, match="a manager asks for it"):
        ask("2027-03", person=staff, now=LATER)
    request = ask("2027-03", person=manager, remark=REMARK, now=LATER)
    with pytest.raises(CannotClose, match="another person has to agree"):
        agree(request, person=manager, now=LATER)
    with pytest.raises(CannotClose, match="may not write"):
        agree(request, person=officer, now=LATER)
    assert "by two people" in refused(
        "INSERT INTO ledger_closing (number, period, begins, ends, request_id, person_id, agreed_at, last_number,"
        f" last_seal, previous_digest, digest) VALUES (1, '2027-03', '2027-03-01', '2027-03-31', {request.pk},"
        f" {manager.pk}, '2027-04-01', 3, 'a', 'b', 'c')"
    )
    assert not is_closed("2027-03")


def test_periods_close_in_order_when_they_are_over_and_once(
    manager: Person, staff: Person, month: list[Movement]
) -> None:
    with pytest.raises(CannotClose, match="March 2027 comes first"):
        ask("2027-04", person=manager, remark=REMARK, now=LATER)
    with pytest.raises(CannotClose, match="not over; it can be closed from Thu 1 Apr 2027 00:00"):
        ask("2027-03", person=manager, now=APRIL - timedelta(minutes=1))
    close("2027-03", manager, staff)
    with pytest.raises(CannotClose, match="closed already, by closing 1"):
        ask("2027-03", person=manager, remark=REMARK, now=LATER)
    assert "in order and each once" in refused(
        "INSERT INTO ledger_closing (number, period, begins, ends, request_id, person_id, agreed_at, last_number,"
        " last_seal, previous_digest, digest) SELECT 2, '2027-03', begins, ends, request_id, person_id, agreed_at,"
        " last_number, last_seal, previous_digest, 'x' FROM ledger_closing"
    )
    close("2027-04", manager, staff)
    assert Closing.objects.get(number=2).previous_digest == Closing.objects.get(number=1).digest
    assert prove().broken == []


def test_what_is_written_after_it_was_asked_for_has_to_be_looked_at_first(
    manager: Person, staff: Person, month: list[Movement]
) -> None:
    request = ask("2027-03", person=manager, remark=REMARK, now=LATER)
    vat = plant.vessel("VAT")
    post(plant.draft("stock take", "ST9", 24 * 25, plant.found(vat, 60)), person=staff)
    assert agree(request, person=staff, now=LATER).number == 1, "an entry of April does not touch March"
    later = ask("2027-04", person=manager, remark=REMARK, now=LATER)
    post(plant.draft("stock take", "ST10", 24 * 26, plant.found(vat, 61)), person=staff)
    with pytest.raises(CannotClose, match="1 entry was written into this period after it was asked for"):
        agree(later, person=staff, now=LATER)
    again = ask("2027-04", person=manager, remark=REMARK, now=LATER)
    with pytest.raises(CannotClose, match="asked for again since"):
        agree(later, person=staff, now=LATER)
    agree(again, person=staff, now=LATER)


def test_entries_ahead_of_the_clock_make_no_month_over(manager: Person, month: list[Movement]) -> None:
    """The entries of March are ahead of this clock; that says nothing about March, and no remark closes it."""
    early = datetime(2026, 11, 25, tzinfo=UTC)
    found = {one.sentence: one.must for one in not_ready("2027-03", now=early)}
    assert found == {
        "March 2027 is not over; it can be closed from Thu 1 Apr 2027 00:00. The clock of the books says "
        "Wed 25 Nov 2026 00:00.": True,
        "No stock was taken in this period.": False,
    }
    with pytest.raises(CannotClose, match="March 2027 is not over"):
        ask("2027-03", person=manager, remark="the month's last sheet is in", now=early)


# -- no posting


def test_the_database_itself_takes_nothing_into_a_closed_period(
    manager: Person, staff: Person, month: list[Movement]
) -> None:
    closing = close("2027-03", manager, staff)
    columns = "line, position, account_id, stage, entry, happened_at, period, pure_ul, mass_g"
    for changed in (
        "99, position, account_id, stage, entry, happened_at, '2027-04', 1, 0",
        "99, position, account_id, stage, entry, '2027-04-02 00:00:00', '2027-03', 1, 0",
    ):
        assert "this period is closed" in refused(
            f"INSERT INTO ledger_leg (movement_id, {columns}) SELECT 4, {changed} FROM ledger_leg WHERE line = 1"
            " AND movement_id = 3"
        )
    copied = Movement.objects.get(pk=3)
    copied.pk, copied.seal = 4, "f" * 64
    with pytest.raises(DatabaseError, match="this period is closed"), transaction.atomic():
        copied.save(force_insert=True)
    copied.happened_at = APRIL
    with pytest.raises(DatabaseError, match="this period is closed"), transaction.atomic():
        copied.save(force_insert=True)
    assert "takes no more balances" in refused(
        "INSERT INTO ledger_closingbalance (closing_id, account_id, pure_ul, mass_g)"
        f" SELECT {closing.number}, id, 1, 0 FROM ledger_account WHERE kind = 'difference'"
        " AND id NOT IN (SELECT 0)"
    )
    assert "keeps what was written" in refused("UPDATE ledger_closingbalance SET pure_ul = 0")
    assert "keeps what was written" in refused("DELETE FROM ledger_closing")
    assert "keeps what was written" in refused("UPDATE ledger_closerequest SET remark = ''")


# -- proof


@pytest.mark.parametrize(
    ("table", "change", "says"),
    [
        ("ledger_closingbalance", "pure_ul = pure_ul + 1", "2027-03: its content does not give its digest"),
        ("ledger_closingbalance", "mass_g = mass_g + 1", "closing 1 of 2027-03"),
        ("ledger_closing", "ends = '2027-04-02 00:00:00+00'", "closing 1 of 2027-03"),
        ("ledger_closing", "last_number = 2", "closing 1 of 2027-03"),
        ("ledger_closerequest", "remark = 'x'", "closing 1 of 2027-03"),
    ],
)
def test_what_was_frozen_and_changed_behind_its_back_is_found(
    manager: Person, staff: Person, month: list[Movement], table: str, change: str, says: str
) -> None:
    close("2027-03", manager, staff)
    assert prove().broken == []
    remove(connection, [guard for guard in ledger_guards(connection) if guard.table == table])
    with connection.cursor() as cursor:
        key = "number" if table == "ledger_closing" else "id"
        cursor.execute(f"UPDATE {table} SET {change} WHERE {key} = (SELECT MIN({key}) FROM {table})")
    assert any(says in broken for broken in prove().broken)


def test_what_was_frozen_is_what_the_legs_add_up_to(manager: Person, staff: Person, month: list[Movement]) -> None:
    """A balance changed together with its digest does not agree with the legs."""
    from ledger.periods.proof import frozen_apart

    close("2027-03", manager, staff)
    assert list(frozen_apart()) == []
    remove(connection, [guard for guard in ledger_guards(connection) if guard.table == "ledger_closingbalance"])
    vat = Account.objects.get(code="vessel:VAT")
    ClosingBalance.objects.filter(account=vat).update(pure_ul=61_000_000)
    assert [said for said in frozen_apart() if "vessel:VAT" in said]


def test_a_movement_slipped_into_a_closed_period_is_found(
    manager: Person, staff: Person, month: list[Movement]
) -> None:
    close("2027-03", manager, staff)
    remove(connection, [guard for guard in ledger_guards(connection) if "open_period" in guard.name])
    Closing.objects.all()
    late = Movement.objects.get(pk=3)
    late.pk, late.seal, late.corrects, late.happened_at = 4, "f" * 64, None, APRIL - timedelta(hours=1)
    late.save(force_insert=True)
    assert any("movement 4" in said and "closed" in said for said in prove().broken)


def test_no_value_of_a_closing_or_a_stock_period_is_changed_unseen(
    manager: Person, staff: Person, month: list[Movement]
) -> None:
    """Every column in turn, in a row of its table, and back again."""
    enter_stock_period("2027-04", date(2027, 3, 29), date(2027, 5, 2), source="a letter", person=manager)
    enter_stock_period("2027-05", date(2027, 5, 3), date(2027, 5, 30), source="a letter", person=manager)
    close("2027-03", manager, staff)
    correct([month[-1]], [], person=manager, reason="never happened")
    carried = Movement.objects.get(true_at__isnull=False, corrects=month[-1])
    assert prove().broken == []
    remove(connection, ledger_guards(connection))
    rows = (
        StockPeriod.objects.get(code="2027-05"),
        CloseRequest.objects.get(),
        Closing.objects.get(),
        ClosingBalance.objects.order_by("pk").last(),
        carried,
    )
    unseen = []
    for row in rows:
        fields = [Movement._meta.get_field("true_at")] if row is carried else type(row)._meta.concrete_fields
        for field in fields:
            # Which key a row has tells no figure, as long as what names it finds it.
            if field.name == "id":
                continue
            value = getattr(row, field.attname)
            other: object = "x" * min(len(value) or 1, 7) if isinstance(value, str) else None
            if isinstance(value, datetime):
                other = value + timedelta(seconds=1)
            elif isinstance(value, date):
                other = value + timedelta(days=1)
            elif field.name == "person":
                other = staff.pk if value == manager.pk else manager.pk
            elif isinstance(value, int):
                other = value + 1
            mark = transaction.savepoint()
            try:
                with transaction.atomic():
                    type(row).objects.filter(pk=row.pk).update(**{field.attname: other})
                    if not prove().broken:
                        unseen.append(f"{type(row).__name__}.{field.name}")
            except IntegrityError:
                pass
            transaction.savepoint_rollback(mark)
    assert unseen == []


def test_requests_are_kept(manager: Person, staff: Person, month: list[Movement]) -> None:
    ask("2027-03", person=manager, remark=REMARK, now=LATER)
    close("2027-03", manager, staff)
    assert CloseRequest.objects.count() == 2
    assert Gauge.objects.count() == Leg.objects.filter(entry="gauging").count() + 3
