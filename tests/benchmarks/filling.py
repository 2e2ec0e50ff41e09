"""Fills an empty, migrated database with a ledger of any size, quickly, so that the whole of it proves.

The triggers are taken away, rows are put in by the thousand and sealed as posting would seal them, the sums are
added up by the database, and the triggers are put back. Transfers between twelve vessels in order of time over
thirty-six months at any size, so that the larger ledger is the busier site; about three legs and one gauge to a
movement, as in the sample month. The figures are drawn by a fixed seed and mean nothing.
"""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

# What each account holds so far, microlitres and grams.
Books = dict[int, tuple[int, int]]

VESSELS = 12
MONTHS = 36
BATCH = 5000
START = datetime(2027, 1, 4, 6, tzinfo=UTC)
SPAN_MINUTES = MONTHS * 30 * 1440

SUMS = (
    """INSERT INTO ledger_runningbalance (leg_id, account_id, happened_at, position, balance_ul, mass_g)
       SELECT id, account_id, happened_at, position,
              SUM(pure_ul) OVER w, SUM(mass_g) OVER w
         FROM ledger_leg
       WINDOW w AS (PARTITION BY account_id ORDER BY happened_at, position, id ROWS UNBOUNDED PRECEDING)
        ORDER BY id""",
    """INSERT INTO ledger_balance (account_id, balance_ul, mass_g, last_leg)
       SELECT account_id, SUM(pure_ul), SUM(mass_g), MAX(id) FROM ledger_leg GROUP BY account_id""",
    """INSERT INTO ledger_accountmonth (period, account_id, stage, pure_ul, mass_g)
       SELECT period, account_id, stage, SUM(pure_ul), SUM(mass_g) FROM ledger_leg
        GROUP BY period, account_id, stage""",
    """INSERT INTO ledger_stagemonth (period, stage, in_ul, out_ul, loss_ul, difference_ul)
       SELECT period, stage, SUM(CASE WHEN through > 0 THEN through ELSE 0 END),
              SUM(CASE WHEN through < 0 THEN -through ELSE 0 END), 0, SUM(difference)
         FROM (SELECT l.period, l.movement_id, l.stage, SUM(l.pure_ul) AS through,
                      SUM(CASE WHEN a.kind = 'difference' THEN l.pure_ul ELSE 0 END) AS difference
                 FROM ledger_leg l JOIN ledger_account a ON a.id = l.account_id
                WHERE l.stage <> '' AND a.kind IN ('vessel', 'difference')
                GROUP BY l.period, l.movement_id, l.stage) s
        GROUP BY period, stage""",
)


def fill(size: int) -> None:
    """Puts `size` movements into the database of this process."""
    from django.db import connection, transaction

    from distillery.database.guards import install, remove
    from ledger.guards import ledger_guards
    from ledger.models import Gauge, Head, Leg, Movement
    from ledger.posting.accounts import gauging, open_accounts, vessel_account
    from tests.ledger import plant
    from tests.people import somebody

    person = somebody("ishbel")
    vessels = [plant.vessel(f"V{number:02}") for number in range(VESSELS)]
    refs = [ref for vessel in vessels for ref in (vessel_account(vessel), gauging(vessel))]
    accounts = list(open_accounts(refs).values())
    guards = ledger_guards(connection)
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA synchronous = OFF")
            cursor.execute("PRAGMA cache_size = -200000")
    remove(connection, guards)
    try:
        last_seal = "0" * 64
        books: Books = defaultdict(lambda: (0, 0))
        for first in range(1, size + 1, BATCH):
            numbers = range(first, min(first + BATCH, size + 1))
            movements, legs, gauges = [], [], []
            for movement, own, measured in _drawn(numbers, size, accounts, person, last_seal, books):
                movements.append(movement)
                legs += own
                gauges += measured
                last_seal = movement[-1]
            with transaction.atomic():
                _put(Movement, movements)
                _put(Leg, legs)
                _put(Gauge, gauges)
        with transaction.atomic(), connection.cursor() as cursor:
            for statement in SUMS:
                cursor.execute(statement)
            Head.objects.filter(pk=1).update(last_number=size, last_seal=last_seal)
    finally:
        install(connection, guards)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def cask_accounts(vessels: Sequence[Any]) -> list[Any]:
    """Accounts of casks that are written by bulk rows, as a first filling would open them."""
    from ledger.models import Account
    from ledger.posting.accounts import vessel_account

    refs = [vessel_account(vessel) for vessel in vessels]
    return Account.objects.bulk_create(
        Account(
            code=ref.code,
            kind=ref.kind,
            name=ref.name,
            stage=ref.stage,
            vessel_id=ref.vessel_id,
            floor_zero=ref.floor_zero,
        )
        for ref in refs
    )


def _drawn(
    numbers: range, size: int, accounts: Sequence[Any], person: Any, last_seal: str, books: Books
) -> Iterator[tuple[list[Any], list[list[Any]], list[list[Any]]]]:
    """Rows of movements: their own columns with both seals, legs and gauges."""
    from ledger.periods.calendar import Calendar
    from ledger.proof.sealing import Script, seal

    by_code = {account.code: account for account in accounts}
    script = Script({account.pk: account for account in accounts}, {person.pk: person.username})
    calendar = Calendar.read()
    dice = random.Random(numbers.start)
    written = datetime(2030, 1, 1, tzinfo=UTC)
    for number in numbers:
        happened = START + timedelta(minutes=number * SPAN_MINUTES // size)
        period, place = calendar.period_of(happened), number * 4096
        giver, taker = (by_code[f"vessel:V{one:02}"] for one in dice.sample(range(VESSELS), 2))
        pure, mass, found = dice.randrange(1, 9_000_000), dice.randrange(1, 9000), dice.randrange(1, 9000)
        # The giver is gauged first, and found to hold what it gives: its book meets every gauge.
        book = books[giver.pk]
        more = (max(pure - book[0], 0) + found * (number % 2), max(mass - book[1], 0))
        held = (book[0] + more[0], book[1] + more[1])
        lines = [(place + 1, giver, taker, "flow", -pure, -mass), (place + 1, taker, giver, "flow", pure, mass)]
        if any(more):
            apart = by_code[f"difference:gauging:{giver.code.removeprefix('vessel:')}"]
            lines += [(place, giver, apart, "gauging", *more), (place, apart, giver, "difference", -more[0], -more[1])]
        books[giver.pk] = (held[0] - pure, held[1] - mass)
        books[taker.pk] = (books[taker.pk][0] + pure, books[taker.pk][1] + mass)
        legs = [
            [number, at, position, one.pk, other.pk, one.stage, entry, happened, period, pure_ul, mass_g]
            for at, (position, one, other, entry, pure_ul, mass_g) in enumerate(lines, 1)
        ]
        gauges = [
            [
                number,
                giver.pk,
                "from_before",
                "before",
                "dip",
                happened,
                place,
                *held,
                2 * held[0],
                50_000_000,
                500_000,
                0,
                "OIML R 22",
                '{"from_before_dip_mm":"1234","from_before_celsius":"15.5"}',
                "",
            ],
        ]
        movement = [
            number,
            "operation",
            "transfer",
            happened,
            written,
            period,
            person.pk,
            None,
            "transfer",
            str(number),
            "finish",
            "",
            "",
            None,
            None,
            number,
            None,
            "",
            None,
            "",
        ]
        closed = seal(last_seal, script.line(movement, legs, gauges))
        yield [*movement, last_seal, closed], legs, gauges
        last_seal = closed


def _put(model: Any, rows: list[list[Any]]) -> None:
    from django.db import connection

    from ledger.proof.sealed_columns import GAUGE, LEG, MOVEMENT

    columns = {
        "Movement": (*MOVEMENT, "previous_seal", "seal"),
        "Leg": LEG,
        "Gauge": GAUGE,
    }[model.__name__]
    names = ", ".join(connection.ops.quote_name(column) for column in columns)
    table = model._meta.db_table
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            with cursor.copy(f"COPY {table} ({names}) FROM STDIN") as copy:
                for row in rows:
                    copy.write_row(row)
            return
        moments = {at for at, column in enumerate(columns) if column.endswith("_at")}
        kept = [
            [str(value)[:19] if at in moments and value is not None else value for at, value in enumerate(row)]
            for row in rows
        ]
        marks = ", ".join(["%s"] * len(columns))
        cursor.executemany(f"INSERT INTO {table} ({names}) VALUES ({marks})", kept)
