"""Periods close with two people, freeze what the books came to, and take no posting any more.

All figures are invented and worked by hand.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import DatabaseError, IntegrityError, connection, transaction

from distillery.guards import remove
from distillery.people.models import Person
from distillery.plant.models import Kind, Stage
from ledger.guards import ledger_guards
from ledger.models import Account, Balance, Gauge, Leg, Movement, RunningBalance
from ledger.periods import is_closed, open_from, period_of
from ledger.periods.calendar import Calendar, NoSuchPeriod, Span, bounds, name_of
from ledger.periods.models import CloseRequest, Closing, ClosingBalance, StockPeriod
from ledger.periods.readiness import next_to_close, not_ready
from ledger.periods.service import CannotClose, agree, ask, enter_stock_period
from ledger.posting.drafts import Draft, Line
from ledger.posting.post import Refused, correct, post
from ledger.proof.proving import prove
from ledger.statements.month import month_account

from . import plant

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("nothing_compared")]

# By the site's clock, on summer time from the last Sunday of March: April begins an hour earlier in UTC.
APRIL = datetime(2027, 3, 31, 23, tzinfo=UTC)
MAY = datetime(2027, 4, 30, 23, tzinfo=UTC)
LATER = datetime(2027, 6, 1, tzinfo=UTC)
# These books have no records, so none of a stock take.
REMARK = "vats were gauged, nothing more is to be written"


@pytest.fixture
def month(manager: Person) -> list[Movement]:
    """A vat opened with 100 LPA, gauged at 99, drawn to 60 on 14 March."""
    vat = plant.vessel("VAT")
    return [
        post(plant.opening(vat, 100.0), person=manager),
        post(plant.draft("stock take", "ST1", 0, plant.found(vat, 99)), person=manager),
        post(
            plant.draft("draw", "D1", 48, plant.found(vat, 99), plant.left(vat, 60, plant.difference("draw"))),
            person=manager,
        ),
    ]


def close(period: str, manager: Person, staff: Person, now: datetime = LATER) -> Closing:
    return agree(ask(period, person=manager, remark=REMARK, now=now), person=staff, now=now)


def refused(sql: str) -> str:
    with pytest.raises(DatabaseError) as refusal, transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql)
    return str(refusal.value)


def balances() -> dict[str, tuple[int, int]]:
    return {
        code: (pure, mass)
        for code, pure, mass in Balance.objects.values_list("account__code", "balance_ul", "mass_g")
        if pure or mass
    }


# -- which period


def test_a_month_runs_by_the_sites_own_clock() -> None:
    assert bounds("2027-03") == (datetime(2027, 3, 1, tzinfo=UTC), APRIL)
    assert period_of(APRIL - timedelta(microseconds=1)) == "2027-03"
    assert period_of(APRIL) == "2027-04"
    assert name_of("2027-03") == "March 2027"
    with pytest.raises(NoSuchPeriod, match="write it like 2027-03"):
        bounds("2027-13")


def test_stock_periods_follow_the_last_month_and_one_another() -> None:
    calendar = Calendar(
        [Span("2027-05", date(2027, 5, 3), date(2027, 5, 30)), Span("2027-04", date(2027, 3, 29), date(2027, 5, 2))]
    )
    assert calendar.period_of(datetime(2027, 3, 28, 12, tzinfo=UTC)) == "2027-03"
    assert calendar.bounds("2027-03") == (datetime(2027, 3, 1, tzinfo=UTC), datetime(2027, 3, 28, 23, tzinfo=UTC))
    assert calendar.period_of(datetime(2027, 3, 28, 23, tzinfo=UTC)) == "2027-04"
    assert (calendar.after("2027-03"), calendar.after("2027-04"), calendar.before("2027-04")) == (
        "2027-04",
        "2027-05",
        "2027-03",
    )
    assert calendar.name_of("2027-04") == "Stock period 2027-04, Mon 29 Mar 2027 to Sun 2 May 2027"
    with pytest.raises(NoSuchPeriod, match="enter the next one first"):
        calendar.period_of(datetime(2027, 5, 31, 12, tzinfo=UTC))
    with pytest.raises(NoSuchPeriod, match="no stock period"):
        calendar.bounds("2027-06")


def test_a_stock_period_leaves_no_gap_is_no_longer_than_five_weeks_and_comes_before_its_entries(
    manager: Person, month: list[Movement]
) -> None:
    def enter(code: str, first: date, last: date, source: str = "letter of 1 March 2027") -> None:
        enter_stock_period(code, first, last, source=source, person=manager)

    with pytest.raises(CannotClose, match="at most 35 days"):
        enter("2027-04", date(2027, 3, 29), date(2027, 5, 3))
    with pytest.raises(CannotClose, match="happened on Sun 14 Mar 2027"):
        enter("2027-04", date(2027, 3, 14), date(2027, 4, 10))
    with pytest.raises(CannotClose, match="come after 2027-03"):
        enter("2027-03", date(2027, 3, 29), date(2027, 5, 2))
    with pytest.raises(CannotClose, match="who allowed it"):
        enter("2027-04", date(2027, 3, 29), date(2027, 5, 2), source=" ")
    enter("2027-04", date(2027, 3, 29), date(2027, 5, 2))
    with pytest.raises(CannotClose, match="begins on Mon 3 May 2027"):
        enter("2027-05", date(2027, 5, 4), date(2027, 5, 30))
    enter("2027-05", date(2027, 5, 3), date(2027, 5, 30))
    vat = plant.vessel("VAT")
    on_29_march = (datetime(2027, 3, 29, 12, tzinfo=UTC) - plant.START).total_seconds() / 3600
    movement = post(plant.draft("stock take", "ST2", on_29_march, plant.found(vat, 60)), person=manager)
    assert movement.period == "2027-04"
    with pytest.raises(Refused, match="enter the next one first"):
        post(plant.draft("stock take", "ST3", 24 * 100, plant.found(vat, 60)), person=manager)
    assert month_account("2027-04").name == "Stock period 2027-04, Mon 29 Mar 2027 to Sun 2 May 2027"
    assert prove().broken == []


def test_a_stock_period_closes_after_the_month_it_cut_short(
    manager: Person, staff: Person, month: list[Movement]
) -> None:
    for code, first, last in (
        ("2027-04", date(2027, 3, 29), date(2027, 5, 2)),
        ("2027-05", date(2027, 5, 3), date(2027, 5, 30)),
    ):
        enter_stock_period(code, first, last, source="letter of 1 March 2027", person=manager)
    assert close("2027-03", manager, staff).ends == datetime(2027, 3, 28, 23, tzinfo=UTC)
    assert close("2027-04", manager, staff).ends == datetime(2027, 5, 2, 23, tzinfo=UTC)
    [late] = correct(
        [month[-1]],
        [plant.draft("draw", "D1", 48, plant.found(plant.vessel("VAT"), 99))],
        person=manager,
        reason="nothing was drawn",
    )
    assert (late.period, late.happened_at) == ("2027-05", datetime(2027, 5, 2, 23, tzinfo=UTC))
    assert month_account("2027-05").stages[2].closing_ul == 99_000_000
    close("2027-05", manager, staff)
    with pytest.raises(NoSuchPeriod, match="enter the next one first"):
        next_to_close()
    assert prove().broken == []


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


# -- what is put right after the close


def test_what_is_put_right_after_the_close_stands_in_the_open_month_and_ends_where_it_would_have_ended(
    manager: Person, staff: Person
) -> None:
    """By hand. March: 100 opened; drawn to 60 into a cask book (40); 15 March gauged at 58. Closed. April: gauged 57.

    Put right in May: the draw left 64, so the cask got 36. In its place that would have been: difference of the draw
    0, and the gauge of 15 March finds 6 missing instead of 2. The books carry it on 1 April: vat +4 and -4 again,
    cask -4, found by gauging 4 more.
    """
    vat, cask = plant.vessel("VAT"), plant.vessel("C1", kind=Kind.CASK, stage=Stage.MATURING)
    wood = plant.vessel_account(cask)

    def draw(left: float, filled: float) -> list[Line]:
        return [
            plant.found(vat, 100),
            plant.Moved(plant.vessel_account(vat), wood, plant.quantity(filled)),
            plant.left(vat, left, plant.difference("fill")),
        ]

    post(plant.opening(vat, 100.0), person=manager)
    filled = post(plant.draft("fill", "F1", 0, *draw(60, 40)), person=manager)
    stock_take = post(plant.draft("stock take", "ST1", 72, plant.found(vat, 58)), person=manager)
    close("2027-03", manager, staff)
    frozen = month_account("2027-03")
    post(plant.draft("stock take", "ST2", 24 * 40, plant.found(vat, 57)), person=manager)

    again = correct([filled], [plant.draft("fill", "F1", 0, *draw(64, 36))], person=manager, reason="misread")

    assert month_account("2027-03").stages == frozen.stages
    opposite = Movement.objects.get(corrects=filled)
    assert [(one.happened_at, one.period, one.true_at) for one in (opposite, *again)] == [
        (APRIL, "2027-04", plant.at(0))
    ] * 2
    gauges = Gauge.objects.filter(movement=again[0]).order_by("position")
    assert list(gauges.values_list("happened_at", "pure_ul", "book_ul")) == [
        (plant.at(0), 100_000_000, 100_000_000),
        (plant.at(0), 64_000_000, 64_000_000),
    ]
    restated = Movement.objects.get(restates__movement=stock_take)
    assert (restated.happened_at, restated.period, restated.true_at) == (APRIL, "2027-04", plant.at(72))
    # On 1 April the vat's book is what it was, 58, and only then the gauge of 21 April finds 1 missing.
    on_april_first = RunningBalance.objects.filter(account__code="vessel:VAT", happened_at=APRIL)
    assert [row.balance_ul for row in on_april_first.order_by("position", "leg")][-1] == 58_000_000
    assert {code: pure / 1e6 for code, (pure, _) in balances().items()} == {
        "vessel:VAT": 57,
        "vessel:C1": 36,
        "source:opening stock": -100,
        "difference:gauging:VAT": 7,
    }
    assert month_account("2027-04").foots
    assert prove().broken == []


def test_without_a_gauge_in_the_closed_time_the_next_open_one_is_restated(manager: Person, staff: Person) -> None:
    """By hand: 100 opened, 10 received on 12 March; closed; 3 April gauged at 109, 1 missing. 13 were received: 4."""
    vat = plant.vessel("VAT")
    received = plant.source("received")

    def receipt(lpa: float) -> list[Draft]:
        return [plant.draft("receipt", "R1", 0, plant.Moved(received, plant.vessel_account(vat), plant.quantity(lpa)))]

    post(plant.opening(vat, 100.0), person=manager)
    first = post(receipt(10)[0], person=manager)
    close("2027-03", manager, staff)
    gauged = post(plant.draft("stock take", "ST2", 24 * 22, plant.found(vat, 109)), person=manager)
    second = correct([first], receipt(13), person=manager, reason="misread")
    assert Movement.objects.get(restates__movement=gauged).period == "2027-04"
    assert Movement.objects.get(restates__movement=gauged).true_at is None
    assert balances()["difference:gauging:VAT"][0] == 4_000_000
    # Once more, after April is closed too: carried by May, and the gauge of April by May as well.
    close("2027-04", manager, staff)
    correct(second, receipt(11), person=manager, reason="misread again")
    assert balances()["difference:gauging:VAT"][0] == 2_000_000
    assert balances()["vessel:VAT"][0] == 109_000_000
    assert set(Movement.objects.filter(period="2027-05").values_list("happened_at", flat=True)) == {MAY}
    assert prove().broken == []


def test_a_gauge_at_the_very_first_open_moment_comes_after_what_is_carried_there(
    manager: Person, staff: Person
) -> None:
    """By hand: 100 opened, 10 received; closed; gauged at 109 on 1 April 00:00. 13 were received: 4 missing, not 1."""
    vat = plant.vessel("VAT")

    def receipt(lpa: float) -> Draft:
        received = plant.Moved(plant.source("received"), plant.vessel_account(vat), plant.quantity(lpa))
        return plant.draft("receipt", "R1", 0, received)

    post(plant.opening(vat, 100.0), person=manager)
    first = post(receipt(10), person=manager)
    close("2027-03", manager, staff)
    hours = (APRIL - plant.START).total_seconds() / 3600
    post(plant.draft("stock take", "ST2", hours, plant.found(vat, 109)), person=manager)
    correct([first], [receipt(13)], person=manager, reason="misread")
    rows = RunningBalance.objects.filter(account__code="vessel:VAT", happened_at=APRIL).order_by("position", "leg")
    # Ten taken back, thirteen in, then the gauge finds 1 missing and is restated by 3 more.
    assert [(row.position < 0, row.balance_ul / 1e6) for row in rows] == [
        (True, 100),
        (True, 113),
        (False, 112),
        (False, 109),
    ]
    assert balances()["difference:gauging:VAT"][0] == 4_000_000
    assert prove().broken == []


def test_a_late_entry_of_a_closed_month_meets_the_book_as_it_stood(manager: Person, staff: Person) -> None:
    """By hand: 100 opened; 15 March gauged at 70 (30 missing). Closed. Late: on 13 March 30 went into a cask."""
    vat = plant.vessel("VAT")
    wood = plant.vessel_account(plant.vessel("C1", kind=Kind.CASK, stage=Stage.MATURING))
    post(plant.opening(vat, 100.0), person=manager)
    post(plant.draft("stock take", "ST1", 72, plant.found(vat, 70)), person=manager)
    close("2027-03", manager, staff)
    late = post(
        plant.draft(
            "fill",
            "F1",
            24,
            plant.found(vat, 100),
            plant.Moved(plant.vessel_account(vat), wood, plant.quantity(30)),
            plant.left(vat, 70, plant.difference("fill")),
        ),
        person=staff,
    )
    assert (late.happened_at, late.true_at, late.took_place_at) == (APRIL, plant.at(24), plant.at(24))
    gauges = Gauge.objects.filter(movement=late).order_by("position")
    assert list(gauges.values_list("book_ul", flat=True)) == [100_000_000, 70_000_000]
    assert {code: pure / 1e6 for code, (pure, _) in balances().items()} == {
        "vessel:VAT": 70,
        "vessel:C1": 30,
        "source:opening stock": -100,
    }
    assert prove().broken == []


def test_a_cask_may_not_fall_below_nothing_in_the_closed_month_either(manager: Person, staff: Person) -> None:
    """By hand: filled with 100, drawn 80 in March, filled with 90 in April: a fill of 70 never covered the draw."""
    wood = plant.vessel_account(plant.vessel("C1", kind=Kind.CASK, stage=Stage.MATURING))

    def fill(lpa: float) -> Draft:
        return plant.draft("fill", "F1", 0, plant.Moved(plant.source("received"), wood, plant.quantity(lpa)))

    filled = post(fill(100), person=manager)
    post(plant.draft("draw", "D1", 5, plant.Moved(wood, plant.loss("leak"), plant.quantity(80))), person=manager)
    close("2027-03", manager, staff)
    post(
        plant.draft("fill", "F2", 24 * 30, plant.Moved(plant.source("received"), wood, plant.quantity(90))),
        person=manager,
    )
    with pytest.raises(Refused, match=r"10\.00 litres of pure alcohol more"):
        correct([filled], [fill(70)], person=manager, reason="weighed again")
    correct([filled], [fill(85)], person=manager, reason="weighed again")
    assert balances()[wood.code][0] == 95_000_000
    assert prove().broken == []


def test_opening_stock_found_later_opens_the_first_open_month(manager: Person, staff: Person) -> None:
    post(plant.opening(plant.vessel("VAT"), 100.0), person=manager)
    close("2027-03", manager, staff)
    assert post(plant.opening(plant.vessel("B"), 10.0, hours=24 * 30), person=manager).period == "2027-04"
    earlier = post(plant.opening(plant.vessel("A"), 10.0, hours=-50), person=manager)
    assert (earlier.period, earlier.true_at) == ("2027-04", plant.at(-50))
    assert prove().broken == []


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
