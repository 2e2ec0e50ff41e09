"""What the comparison of a period is made from, and whether any of it has moved on since.

A period's comparison rests on what took place in it and before it, on what was explained of it since, on the site's
rules, vessels, tables and instruments, and on the program's own method. What is written into a later period touches
none of these, so the periods before it stay as they are kept.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Final

from django.db.models import F, Q

from distillery.clock.reading import AHEAD, offset_days
from distillery.database.fixed_sql import as_read, ask_one
from distillery.plant.models import Cask
from distillery.trail.models import Entry
from ledger.models import Measurement, Movement, MovementKind
from ledger.periods.calendar import Calendar
from ledger.posting.accounts import OPENING_STOCK

# Tables outside the movements that comparing reads, all of which have a trail.
READ_BESIDE: Final = frozenset(
    {
        "plant_vessel",
        "plant_cask",
        "plant_calibrationpoint",
        "plant_instrument",
        "plant_instrumentuse",
        "plant_certificate",
        "plant_certificatepoint",
        "plant_vesselcalibration",
        "plant_obscurationfound",
        "plant_recipe",
        "rules_reviewthreshold",
        "rules_gravityfactor",
        "rules_caskband",
        "rules_losscause",
        "rules_usualfigure",
        "clock_booksclock",
    }
)
# A vessel or cask that held nothing yet is in no comparison.
OF_ONE_VESSEL: Final = frozenset({"plant_vessel", "plant_cask"})
MEASURED_WITH: Final = READ_BESIDE - {"plant_cask"}
# Number of an entry of the trail, and its time: another database has another at that number.
PlantState = tuple[int, datetime]
# The program's own packages that a comparison goes through.
METHOD_OF: Final = (
    "ledger/comparing",
    "ledger/statements",
    "ledger/posting",
    "distillery/alcoholometry",
    "distillery/plant",
    "distillery/rules",
)
_ENDS: Final = """
SELECT head.last_number, head.last_seal, entry.id, entry.at FROM ledger_head head
LEFT JOIN (SELECT id, at FROM trail_entry ORDER BY id DESC LIMIT 1) entry ON 1 = 1
WHERE head.id = 1
"""
ROOT: Final = Path(__file__).resolve().parents[2]


@dataclass(frozen=True, slots=True)
class MadeFrom:
    """Everything up to a movement (number, seal) and an entry of the trail (number, time as text; 0 and blank where
    there is none), between two moments, by a method."""

    movement: int
    seal: str
    entry: int
    entry_at: str
    starts: datetime
    ends: datetime
    method: str


def made_from_now(period: str) -> MadeFrom:
    """What a comparison of the period is made from that begins now. Raises NoSuchPeriod."""
    starts, ends = Calendar.read().bounds(period)
    at = ends_now()
    return MadeFrom(at.movement, at.seal, at.entry, at.entry_at, starts, ends, method())


@dataclass(frozen=True, slots=True)
class Ends:
    """The newest movement (number, seal) and the newest entry of the trail (number, time as text; 0 and blank where
    there is none)."""

    movement: int
    seal: str
    entry: int
    entry_at: str


def ends_now() -> Ends:
    """How far everything is written; one question."""
    row = ask_one(_ENDS)
    assert row is not None, "a migration made the head"
    movement, seal, entry, at = row
    return Ends(movement, seal, entry or 0, as_read(at).isoformat() if at is not None else "")


def holds_still(made: MadeFrom, period: str, ends: Ends | None = None) -> bool:
    """Whether a comparison of the period that was made from this would come out the same now. Raises NoSuchPeriod.

    A few queries, over what was written since; where nothing was, they ask for the ends alone, and not for them where
    the caller has them.
    """
    ends = ends or ends_now()
    if made.method != method() or (made.starts, made.ends) != Calendar.read().bounds(period):
        return False
    return _no_movement(made, period, ends) and _nothing_beside(made, period, ends)


def plant_now(before: PlantState | None = None) -> PlantState:
    """The newest entry of the trail about the plant, its rules and its vessels: what readings are measured anew with.

    `before` is what it was when it was asked for last, so that only the entries since are gone through. Rows of casks
    are left out: what a cask is moves no reading.
    """
    entries = Entry.objects.filter(table__in=MEASURED_WITH).order_by("-pk").values_list("pk", "at")
    if before is not None:
        since = list(entries.filter(pk__gte=before[0]))
        if before in since:
            return since[0]
    return entries.first() or (0, datetime.min)


def _no_movement(made: MadeFrom, period: str, ends: Ends) -> bool:
    if (ends.movement, ends.seal) == (made.movement, made.seal):
        return True
    since = Movement.objects.filter(pk__gte=made.movement)
    last = since.filter(Q(pk=made.movement) | _bears_on(period, made.ends)).order_by("-pk")
    return (last.values_list("pk", "seal").first() or (0, made.seal)) == (made.movement, made.seal)


def _bears_on(period: str, ends: datetime) -> Q:
    """Movements that a comparison of the period reads, wherever the books carry them."""
    ahead = Q(happened_at__gt=F("written_at") + timedelta(days=offset_days()) + AHEAD)
    explained = Q(kind=MovementKind.EXPLANATION) | Q(corrects__kind=MovementKind.EXPLANATION)
    return Q(period__lte=period) | Q(true_at__lt=ends) | explained | Q(operation=OPENING_STOCK) | ahead


def _nothing_beside(made: MadeFrom, period: str, ends: Ends) -> bool:
    if (ends.entry, ends.entry_at) == (made.entry, made.entry_at):
        return True
    entries = Entry.objects.filter(pk__gte=made.entry).filter(Q(pk=made.entry) | Q(table__in=READ_BESIDE))
    rows = list(entries.order_by("pk").values_list("pk", "at", "table", "row"))
    if made.entry:
        if not rows or (rows[0][0], rows[0][1].isoformat()) != (made.entry, made.entry_at):
            # These are other books than those it was made from.
            return False
        rows = rows[1:]
    if any(table not in OF_ONE_VESSEL for _, _, table, _ in rows):
        return False
    return not _measured(((table, row) for _, _, table, row in rows), period)


def _measured(rows: Iterable[tuple[str, str]], period: str) -> bool:
    """Whether any of these vessels and casks was measured in the period or before it."""
    vessels: set[int] = set()
    casks: set[int] = set()
    for table, row in rows:
        (casks if table == "plant_cask" else vessels).add(int(row))
    if casks:
        vessels |= set(Cask.objects.filter(pk__in=casks).values_list("vessel_id", flat=True))
    if not vessels:
        return False
    of_them = Q(account__vessel__in=vessels) | Q(giver__vessel__in=vessels) | Q(taker__vessel__in=vessels)
    return Measurement.everything.filter(of_them, movement__period__lte=period).exists()


@cache
def method() -> str:
    """A digest of the source that comparing is made of: another release may find other things."""
    digest = hashlib.sha256()
    for folder in METHOD_OF:
        for file in sorted((ROOT / folder).rglob("*.py")):
            digest.update(file.read_bytes())
    return digest.hexdigest()
