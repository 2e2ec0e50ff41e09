"""Keeps every book at its gauges: what was written moves a vessel's book only as far as its next gauge.

There the same writing restates what that gauge had found.
"""

from __future__ import annotations

from typing import Final

from distillery.database.fixed_sql import as_kept, ask_one, marks
from ledger.models import AccountKind, Entry, Gauge, Movement, MovementKind
from ledger.periods.places import Key, book_at
from ledger.posting.accounts import gauging_of
from ledger.posting.chain_end import ChainEnd
from ledger.posting.legs import LegPlan
from ledger.posting.rows import leg_rows
from ledger.proof.sealing import Details

# Gauges that stand, as `Gauge.objects.standing()` has them.
_STANDING: Final = """
SELECT gauge.id FROM ledger_measurement gauge JOIN ledger_movement movement ON movement.id = gauge.movement_id
WHERE gauge.giver_id IS NULL AND movement.corrects_id IS NULL
AND NOT EXISTS (SELECT 1 FROM ledger_movement opposite WHERE opposite.corrects_id = gauge.movement_id)
"""
_NEXT: Final = f"""{_STANDING}
AND gauge.movement_id > %s AND gauge.account_id = %s AND (gauge.happened_at, gauge.position) > (%s, %s)
ORDER BY gauge.happened_at, gauge.position LIMIT 1
"""
_ANY_LATER: Final = f"{_STANDING} AND gauge.movement_id <= %s AND gauge.happened_at >= %s AND gauge.account_id IN "


def restate(end: ChainEnd) -> None:
    """Restates each gauge that what was written has moved the book away from, and those behind it."""
    vessels = {pk for pk in end.touched if end.accounts[pk].kind == AccountKind.VESSEL}
    if not vessels:
        return
    earliest = min(key for pk in vessels for key in end.touched[pk])
    # What was written here alone stands at its gauges already.
    if ask_one(f"{_ANY_LATER}{marks(vessels)} LIMIT 1", [end.before, as_kept(earliest[0]), *vessels]) is None:
        return
    next_gauges: dict[int, Gauge] = {}
    for pk in vessels:
        for key in end.touched[pk]:
            gauge = _next_gauge(pk, key)
            if gauge is not None:
                next_gauges[gauge.pk] = gauge
    while next_gauges:
        gauge = min(next_gauges.values(), key=lambda gauge: (gauge.happened_at, gauge.position))
        del next_gauges[gauge.pk]
        if not _restate_at(end, gauge):
            continue
        # A later gauge of this same writing met the book before this was put right; older ones did not.
        after = _next_gauge(gauge.account.pk, (gauge.happened_at, gauge.position), after=end.before)
        if after is not None:
            next_gauges[after.pk] = after


def _restate_at(end: ChainEnd, gauge: Gauge) -> bool:
    """Brings the book back to a gauge that stands, against what that gauge had found; False where it is there."""
    account = gauge.account
    place = end.carrying.place_at(gauge.happened_at)
    book = book_at(account.pk, gauge.happened_at, gauge.position, closed=place.is_carried)
    pure_ul, mass_g = gauge.pure_ul - book[0], gauge.mass_g - book[1]
    if pure_ul == 0 and mass_g == 0:
        return False
    other = gauging_of(account)
    accounts = end.open([other])
    accounts[account.code] = account
    carrier = Movement.objects.get(pk=gauge.movement_id)
    movement = end.movement(
        kind=MovementKind.RESTATEMENT,
        operation=carrier.operation,
        place=place,
        record=(carrier.record_kind, carrier.record_number, carrier.moment),
        reason=f"What the gauge of {account.name} found, restated after an entry before it",
        slot=carrier.slot,
        restates=gauge,
    )
    plans = [
        LegPlan(account.code, other.code, gauge.position, account.stage, Entry.GAUGING, pure_ul, mass_g),
        LegPlan(other.code, account.code, gauge.position, account.stage, Entry.DIFFERENCE, -pure_ul, -mass_g),
    ]
    end.put(movement, leg_rows(movement, plans, accounts, ahead=place.ahead), Details())
    return True


def _next_gauge(account_id: int, key: Key, *, after: int = 0) -> Gauge | None:
    """The first gauge that stands strictly after a place: a leg in a gauge's own place is that gauge's doing.

    Only those of movements with numbers higher than `after`.
    """
    row = ask_one(_NEXT, [after, account_id, as_kept(key[0]), key[1]])
    return None if row is None else Gauge.objects.select_related("account").get(pk=row[0])
