"""What crossed a close: entries about a closed period that the books carry in a later one.

Both periods' accounts name the same entries with the same amounts, so that a reader of either finds the other. Entries
of one record about one moment stand on one line, what takes back and what is written anew together. Microlitres of pure
alcohol with the signs of the account: in, out, known losses and differences (missing) count as positive.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import Q, Sum

from ledger.models import AccountKind, Duty, Leg, Movement
from ledger.periods.calendar import Calendar
from ledger.periods.models import Closing


@dataclass(slots=True)
class Removed:
    """What crossed of one kind of removal: microlitres of pure alcohol, and pence of duty (None: not known)."""

    pure_ul: int = 0
    pence: int | None = 0


@dataclass(slots=True)
class Crossing:
    """What one record's late entries change of a closed period's account, and the period that bears it.

    `truly_at` is when it happened, `of` the period that was closed, `into` the one that carries it; `removals` are
    by kind of removal.
    """

    record_kind: str
    record: str
    operation: str
    truly_at: datetime
    of: str
    into: str
    of_name: str
    into_name: str
    written_at: datetime
    in_ul: int = 0
    out_ul: int = 0
    loss_ul: int = 0
    difference_ul: int = 0
    removals: dict[str, Removed] = field(default_factory=dict)
    movements: list[int] = field(default_factory=list)


def crossings(period: str) -> list[Crossing]:
    """Entries about a period that later ones carry, and entries it carries itself, in order of the time they are about.

    Four queries, and none but the first while nothing is closed. Raises NoSuchPeriod.
    """
    if not Closing.objects.exists():
        return []
    calendar = Calendar.read()
    starts, ends = calendar.bounds(period)
    moved = list(
        Movement.objects.filter(Q(period=period) | Q(true_at__gte=starts, true_at__lt=ends), true_at__isnull=False)
        .order_by("true_at", "pk")
        .values_list("pk", "record_kind", "record_number", "operation", "true_at", "period", "written_at")
    )
    found: dict[tuple[str, str, datetime, str], Crossing] = {}
    lines: dict[int, Crossing] = {}
    for number, kind, record, operation, true_at, into, written_at in moved:
        assert true_at is not None
        place = kind, record, true_at, into
        if place not in found:
            of = calendar.period_of(true_at)
            found[place] = Crossing(
                kind, record, operation, true_at, of, into, calendar.name_of(of), calendar.name_of(into), written_at
            )
        lines[number] = found[place]
        found[place].movements.append(number)
        found[place].written_at = written_at
    _add_up(lines)
    return list(found.values())


def carried_into(period: str, lines: Sequence[Crossing]) -> list[Crossing]:
    """Those that this period carries for one that was closed."""
    return [one for one in lines if one.into == period]


def carried_from(period: str, lines: Sequence[Crossing]) -> list[Crossing]:
    """Those about this period that a later one carries."""
    return [one for one in lines if one.of == period]


def _add_up(lines: dict[int, Crossing]) -> None:
    boundary = (AccountKind.SOURCE, AccountKind.REMOVAL, AccountKind.LOSS, AccountKind.DIFFERENCE)
    legs = Leg.objects.filter(movement__in=list(lines), account__kind__in=boundary)
    sums = legs.values_list("movement_id", "account__kind", "account__name").annotate(Sum("pure_ul")).order_by()
    for number, kind, name, pure_ul in sums:
        one = lines[number]
        if kind == AccountKind.SOURCE:
            one.in_ul -= pure_ul
        elif kind == AccountKind.LOSS:
            one.loss_ul += pure_ul
        elif kind == AccountKind.DIFFERENCE:
            one.difference_ul += pure_ul
        else:
            one.out_ul += pure_ul
            one.removals.setdefault(name, Removed()).pure_ul += pure_ul
    duties = Duty.objects.filter(movement__in=list(lines))
    for number, removal, pence in duties.values_list("movement_id", "removal", "pence"):
        removed = lines[number].removals.setdefault(removal, Removed())
        removed.pence = None if pence is None or removed.pence is None else removed.pence + pence
