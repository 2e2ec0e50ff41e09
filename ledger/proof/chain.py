"""Movements with the line that their seals cover, in the order of the chain, one batch in memory at a time.

Read with plain cursors, since a proof or an export reads every row there is and needs no objects for it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.db import connection, models

from distillery.people.models import Person
from ledger.models import Account, Gauge, Leg, MeasuredFlow, Movement
from ledger.proof.sealing import MOVEMENT, PARTS, Details, Part, Row, Script, accounts_of, seal

BATCH = 1000
CLOSED = ("previous_seal", "seal")


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
    last = 0
    with connection.cursor() as cursor:
        movements = _select(Movement, (*MOVEMENT, *CLOSED), "id > %s", "id") + " LIMIT %s"
        if upto is not None:
            movements = _select(Movement, (*MOVEMENT, *CLOSED), f"id > %s AND id <= {upto:d}", "id") + " LIMIT %s"
        selects = [_part_select(part) for part in PARTS]
        while True:
            cursor.execute(movements, [last, batch])
            rows = cursor.fetchall()
            if not rows:
                return
            first, last = rows[0][0], rows[-1][0]
            found: list[list[Row]] = []
            for select in selects:
                cursor.execute(select, [first, last])
                found.append(cursor.fetchall())
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
    moments = {one.column for one in model._meta.concrete_fields if isinstance(one, models.DateTimeField)}
    quote = connection.ops.quote_name
    # Text as it is kept is nearer to what is sealed than the object SQLite's module would make of it.
    as_kept = " || ''" if connection.vendor == "sqlite" else ""
    names = ", ".join(quote(name) + (as_kept if name in moments else "") for name in columns)
    return f"SELECT {names} FROM {model._meta.db_table} WHERE {where} ORDER BY {order}"


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
