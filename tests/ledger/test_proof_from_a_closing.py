"""The proof from the last closing on: it finds what is forged after it, says what it did not look at, asks by indexes.

The figures of the small ledger are invented.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.db.models import F
from django.test.utils import CaptureQueriesContext

from distillery.database.guards import remove
from distillery.people.models import Person
from distillery.plant.models import Vessel
from distillery.seals.models import BooksSeal
from distillery.trail.checks import all_guards
from ledger.models import AccountMonth, Balance, Gauge, Head, Leg, Movement, RunningBalance, StageMonth
from ledger.periods.models import Closing, ClosingBalance
from ledger.periods.service import agree, ask
from ledger.posting.post import correct, post
from ledger.proof.proving import prove

from . import plant

pytestmark = pytest.mark.django_db

LATER = datetime(2027, 5, 10, 12, tzinfo=UTC)
CLOSED = "Everything before the closing of March 2027 was taken as that closing says."


@pytest.fixture
def closed(manager: Person, staff: Person) -> list[Movement]:
    """Three movements in March, one in April written before March was closed, two after; gives those of April."""
    vat, tank = plant.vessel("VAT"), plant.vessel("TANK")
    apart = plant.difference("transfer")

    def moved(number: str, day: int, before: float, after: float, more: float) -> Movement:
        drawn = plant.draft(
            "transfer",
            number,
            24 * day,
            plant.found(vat, before),
            plant.found(tank, more),
            plant.left(vat, after, apart),
            plant.left(tank, more + before - after, apart),
        )
        return post(drawn, person=manager)

    march = [post(plant.opening(vat, 100), person=manager), post(plant.opening(tank, 10), person=manager)]
    march.append(moved("1", 2, 99, 90, 10))
    april = [moved("2", 30, 90, 80, 19)]
    agree(ask("2027-03", person=manager, remark="no stock was taken", now=LATER), person=staff, now=LATER)
    april += [moved("3", 31, 80, 71, 29), moved("4", 33, 70, 60, 38)]
    correct([march[2]], [], person=staff, reason="never happened")
    assert Movement.objects.filter(true_at__isnull=False).exists(), "carried from the closed month"
    assert {one.period for one in april} == {"2027-04"}
    return april


def unguarded() -> None:
    remove(connection, all_guards(connection))


def said() -> list[str]:
    return prove(from_closing=True).broken


def test_it_holds_and_says_what_was_taken_as_it_stands(closed: list[Movement]) -> None:
    proof = prove(from_closing=True)
    assert proof.broken == []
    assert proof.not_looked_at[0] == CLOSED
    assert f"movements from {closed[0].pk} on" in proof.not_looked_at[1]
    assert proof.last_seal == Head.objects.get().last_seal
    assert prove().not_looked_at == []
    assert prove().broken == []


@pytest.mark.parametrize("at", [0, 1, 2])
def test_every_value_of_what_was_written_after_it_is_found(closed: list[Movement], at: int) -> None:
    """At 0 of a movement that was written before the closing into the month after it."""
    unguarded()
    number = closed[at].pk
    for model, columns in (
        (Leg, ("pure_ul", "mass_g", "position", "line", "account_id", "stage", "period")),
        (Gauge, ("pure_ul", "mass_g", "litres20_ul", "raw", "position", "name")),
    ):
        row = model.objects.filter(movement=number).order_by("pk").last()
        assert row is not None
        for column in columns:
            was = getattr(row, column)
            other = was + 1 if isinstance(was, int) else f"{was}x"[-7:]
            if column == "account_id":
                other = Balance.objects.exclude(account_id__in=[was]).values_list("account_id", flat=True)[0]
            model.objects.filter(pk=row.pk).update(**{column: other})
            assert said(), (model, column)
            model.objects.filter(pk=row.pk).update(**{column: was})
    for column, other in (("reason", "x"), ("period", "2027-05"), ("seal", "0" * 64), ("previous_seal", "0" * 64)):
        was = getattr(closed[at], column)
        Movement.objects.filter(pk=number).update(**{column: other})
        assert said(), column
        Movement.objects.filter(pk=number).update(**{column: was})
    assert said() == []


def test_every_sum_kept_after_it_is_found(closed: list[Movement]) -> None:
    unguarded()
    kept = (
        (RunningBalance, RunningBalance.objects.filter(leg__movement__gte=closed[0].pk), ("balance_ul", "mass_g")),
        (Balance, Balance.objects.exclude(balance_ul=0), ("balance_ul", "mass_g")),
        (AccountMonth, AccountMonth.objects.filter(period="2027-04"), ("pure_ul", "mass_g")),
        (StageMonth, StageMonth.objects.filter(period="2027-04"), ("in_ul", "out_ul", "difference_ul")),
    )
    for model, rows, columns in kept:
        for key in list(rows.values_list("pk", flat=True)):
            for column in columns:
                model.objects.filter(pk=key).update(**{column: F(column) + 1})
                assert said(), (model, key, column)
                model.objects.filter(pk=key).update(**{column: F(column) - 1})
    assert said() == []


def test_what_is_taken_away_or_added_after_it_is_found(closed: list[Movement]) -> None:
    unguarded()
    last = Movement.objects.order_by("pk").last()
    assert last is not None
    RunningBalance.objects.filter(leg__movement=last).delete()
    Leg.objects.filter(movement=last).delete()
    assert any("its content does not give its seal" in place for place in said())


def test_a_running_balance_taken_away_is_named(closed: list[Movement]) -> None:
    unguarded()
    leg = Leg.objects.filter(movement=closed[1]).order_by("pk").first()
    assert leg is not None
    RunningBalance.objects.filter(leg=leg).delete()
    assert f"leg {leg.pk} of movement {closed[1].pk} has no running balance" in said()


def test_rows_changed_added_or_removed_behind_the_trail_after_it_are_found(closed: list[Movement]) -> None:
    from distillery.seals.writing import written_by

    with written_by(None, "test"):
        late = plant.vessel("LATE")
        gone = plant.vessel("GONE")
    assert said() == []
    unguarded()
    Vessel.objects.filter(pk=late.pk).update(code="LATER")
    assert f"plant_vessel {late.pk}: it is not what the trail says was written" in said()
    Vessel.objects.filter(pk=late.pk).update(code="LATE")
    Vessel.objects.filter(pk=gone.pk).delete()
    assert f"plant_vessel {gone.pk}: it is gone and the trail says nothing of that" in said()
    slipped_in = plant.vessel("SLIPPED")
    assert f"plant_vessel {slipped_in.pk}: the trail knows nothing of it" in said()


def test_seals_of_the_books_after_it_are_proved(closed: list[Movement]) -> None:
    unguarded()
    last = BooksSeal.objects.order_by("-number").first()
    assert last is not None
    BooksSeal.objects.filter(pk=last.pk).update(entry_digest="0" * 64)
    assert any(f"seal {last.number} of the books" in place for place in said())
    BooksSeal.objects.filter(pk=last.pk).update(entry_digest=last.entry_digest, movement_seal="0" * 64)
    assert any(f"seal {last.number} of the books" in place for place in said())


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"last_seal": "0" * 64}, "does not bear the seal it names"),
        ({"digest": "0" * 64}, "its content does not give its digest"),
        ({"previous_digest": "f" * 64}, "it does not follow the digest"),
        ({"books_seal": "0" * 64}, "the seal of the books it names is not in these books"),
    ],
)
def test_the_closing_itself_is_proved(closed: list[Movement], change: dict[str, str], says: str) -> None:
    unguarded()
    Closing.objects.update(**change)
    assert any(says in place for place in said())


def test_what_it_froze_is_proved(closed: list[Movement]) -> None:
    unguarded()
    ClosingBalance.objects.filter(account__code="vessel:VAT").update(pure_ul=F("pure_ul") + 1)
    broken = said()
    assert any("its content does not give its digest" in place for place in broken)
    assert any("running balance" in place for place in broken)


def test_what_is_forged_before_it_is_not_looked_at_and_it_says_so(closed: list[Movement]) -> None:
    unguarded()
    Leg.objects.filter(movement=2).update(pure_ul=F("pure_ul") * 2)
    assert prove().broken
    proof = prove(from_closing=True)
    assert proof.broken == []
    assert CLOSED in proof.not_looked_at


def test_the_command_says_it_and_ends_as_before(closed: list[Movement]) -> None:
    out = StringIO()
    call_command("verify_ledger", from_closing=True, stdout=out)
    assert CLOSED in out.getvalue()
    assert "From that closing on every account adds up" in out.getvalue()
    out = StringIO()
    call_command("verify_ledger", from_closing=True, json=True, stdout=out)
    told = json.loads(out.getvalue())
    assert told["holds"] is True
    assert told["not_looked_at"][0] == CLOSED
    unguarded()
    Balance.objects.filter(account__code="vessel:VAT").update(balance_ul=1)
    with pytest.raises(CommandError, match="First broken place: the balance of vessel:VAT is kept wrong"):
        call_command("verify_ledger", from_closing=True, stdout=StringIO())


def test_without_a_closing_it_asks_for_the_whole(manager: Person) -> None:
    with pytest.raises(CommandError, match="Nothing is closed yet; prove the whole"):
        call_command("verify_ledger", from_closing=True, stdout=StringIO())


@pytest.mark.sqlite
def test_what_grows_with_the_years_is_asked_by_indexes(closed: list[Movement]) -> None:
    with connection.cursor() as cursor:
        # Without it the planner takes a small table for one that is quickly read through.
        cursor.execute("ANALYZE")
        cursor.execute("UPDATE sqlite_stat1 SET stat = '1000000' || substr(stat, instr(stat, ' '))")
        cursor.execute("ANALYZE sqlite_schema")
    with CaptureQueriesContext(connection) as asked:
        prove(from_closing=True)
    grow = {
        *(
            "ledger_movement",
            "ledger_leg",
            "ledger_measurement",
            "ledger_figure",
            "ledger_duty",
            "ledger_runningbalance",
        ),
        *("ledger_accountmonth", "ledger_closingbalance", "trail_entry", "trail_claim", "seals_booksseal"),
        *("batches_record", "batches_version", "batches_posted", "batches_contents", "batches_link", "batches_reading"),
        # What these are called in statements of the proof itself.
        *"lbgmecst",
    }
    with connection.cursor() as cursor:
        for sql in {one["sql"] for one in asked if one["sql"].startswith("SELECT")}:
            cursor.execute(f"EXPLAIN QUERY PLAN {sql}")
            read = {step.split()[1] for *_, step in cursor.fetchall() if step.startswith("SCAN ")}
            assert not read & grow or sql.endswith(("LIMIT 0", "LIMIT 1")), (read & grow, sql)
