"""Movements with the line that their seals cover, in the order of the chain, one batch in memory at a time.

Read with plain cursors, since a proof or an export reads every row there is and needs no objects for it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.db import connection, models

from distillery.people.models import Person
from ledger.models import Account, Gauge, Leg, MeasuredFlow, Movement
from ledger.proof.sealed_columns import MOVEMENT, PARTS, Part, Row
from ledger.proof.sealing import Details, Script, accounts_of, seal

BATCH = 1000
CLOSED = ("previous_seal", "seal")
# Of the running balance of a leg: the leg's number, whether it is of the same account and place, microlitres, grams.
RUNNING = (
    "l.id",
    "r.account_id = l.account_id AND r.happened_at = l.happened_at AND r.position = l.position",
    "r.balance_ul",
    "r.mass_g",
)


@dataclass(slots=True)
class Sealed:
    """One movement as rows, with the line its seal covers; `line` is blank where it names what is not there."""

    number: int
    movement: Row
    parts: Sequence[Sequence[Row]]
    previous_seal: str
    seal: str
    line: str
    wrong: str = ""

    @property
    def legs(self) -> Sequence[Row]:
        return self.parts[0]

    @property
    def place(self) -> str:
        return f"movement {self.number} ({self.movement[8]} {self.movement[9]})"


def script() -> Script:
    """Writes the line of any movement of this ledger."""
    return Script(Account.objects.in_bulk(), dict(Person.objects.values_list("pk", "username")))


def sealed_movements(*, upto: int | None = None, batch: int = BATCH) -> Iterator[Sealed]:
    """Every movement, to a number where one is given; six queries a batch."""
    writes = script()
    for rows, found in batches(1, upto, size=batch, running=False):
        reached = [0] * len(PARTS)
        for row in rows:
            number = row[0]
            parts: list[Sequence[Row]] = []
            for at, own in enumerate(found):
                start, end = reached[at], len(own)
                # Rows that belong to no movement are left out here; the proof counts them.
                while start < end and own[start][0] < number:
                    start += 1
                stop = start
                while stop < end and own[stop][0] == number:
                    stop += 1
                reached[at] = stop
                parts.append(own[start:stop])
            yield _sealed(writes, row, parts)


def batches(
    first: int, last: int | None, *, size: int = BATCH, running: bool = True
) -> Iterator[tuple[list[Row], list[list[Row]]]]:
    """Movements from one number on, to another where one is given, and their parts in the order of `PARTS`.

    With `running`, each leg has behind its own columns what RUNNING names.
    """
    bound = "" if last is None else f" AND id <= {last:d}"
    movements = _select(Movement, (*MOVEMENT, *CLOSED), f"id > %s{bound}", "id") + f" LIMIT {size:d}"
    legs, *others = PARTS
    selects = [_legs_with_running(legs) if running else _part_select(legs), *map(_part_select, others)]
    reached = first - 1
    with connection.cursor() as cursor:
        while True:
            cursor.execute(movements, [reached])
            rows = cursor.fetchall()
            if not rows:
                return
            start, reached = rows[0][0], rows[-1][0]
            found: list[list[Row]] = []
            for select in selects:
                cursor.execute(select, [start, reached])
                found.append(cursor.fetchall())
            yield rows, found


def _sealed(writes: Script, row: Row, parts: Sequence[Sequence[Row]]) -> Sealed:
    try:
        return Sealed(row[0], row, parts, row[-2], row[-1], writes.line(row, *parts))
    except (KeyError, ValueError, TypeError) as missing:
        return Sealed(row[0], row, parts, row[-2], row[-1], "", str(missing))


def rows_in_order(part: Part, *, upto: int) -> Iterator[Row]:
    """Rows of a part, or of movements themselves, in the order of the movements, to a number; one query a batch."""
    select = _part_select(part)
    with connection.cursor() as cursor:
        for first in range(1, upto + 1, BATCH):
            cursor.execute(select, [first, min(first + BATCH - 1, upto)])
            yield from cursor.fetchall()


def _part_select(part: Part) -> str:
    by_number = "id" if part.model is Movement else "movement_id"
    where = f"{by_number} BETWEEN %s AND %s{f' AND {part.only}' if part.only else ''}"
    return _select(part.model, part.columns, where, f"{by_number}, {part.order}")


def _select(model: type[models.Model], columns: Sequence[str], where: str, order: str) -> str:
    names = ", ".join(_names(model, columns))
    return f"SELECT {names} FROM {model._meta.db_table} WHERE {where} ORDER BY {order}"


def _names(model: type[models.Model], columns: Sequence[str], of: str = "") -> Iterator[str]:
    """Columns as they are read: moments as text, which is nearer to what is sealed than the object a driver makes."""
    moments = {one.column for one in model._meta.concrete_fields if isinstance(one, models.DateTimeField)}
    for column in columns:
        name = of + connection.ops.quote_name(column)
        if column not in moments:
            yield name
        elif connection.vendor == "sqlite":
            # As it is kept: the sign changes nothing, but what it makes has no declared type that would be converted.
            yield f"+{name}"
        else:
            yield f"to_char({name} AT TIME ZONE 'UTC', 'YYYY-MM-DD\"T\"HH24:MI:SS.US\"Z\"')"


def _legs_with_running(legs: Part) -> str:
    """As `_part_select`, each leg with its number, whether its running balance is of it, and that balance."""
    names = ", ".join(_names(Leg, legs.columns, "l."))
    return (
        f"SELECT {names}, {', '.join(RUNNING)} FROM ledger_leg l"
        " LEFT JOIN ledger_runningbalance r ON r.leg_id = l.id"
        " WHERE l.movement_id BETWEEN %s AND %s ORDER BY l.movement_id, l.line"
    )


@dataclass(frozen=True, slots=True)
class Link:
    """One movement as objects, with its legs and all else that its seal covers."""

    movement: Movement
    legs: list[Leg]
    details: Details


def link_of(movement: Movement) -> Link:
    """One movement with all that its seal covers."""
    return Link(
        movement,
        list(movement.legs.select_related("account", "other").order_by("line")),
        Details(
            list(Gauge.objects.filter(movement=movement)),
            list(MeasuredFlow.objects.filter(movement=movement)),
            list(movement.figures.all()),
            list(movement.duties.all()),
        ),
    )


def seal_holds(link: Link) -> bool:
    """True where the content of one movement, asked for by itself, gives its seal."""
    movement = link.movement
    people = {one.pk: one.username for one in (movement.person, movement.second) if one is not None}
    named = Account.objects.in_bulk(accounts_of(link.legs, link.details))
    line = Script(named, people).line_of(movement, link.legs, link.details)
    return seal(movement.previous_seal, line) == movement.seal
