"""What other programs are told: balances, months and movements as plain data.

Pure alcohol in litres (LPA), as on the pages and in `month_account --json`; masses in kilograms, times in UTC.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any, Final

from distillery.plant.models import MICRO
from ledger.models import HOLDING, Account, Leg, Movement
from ledger.periods.models import Closing
from ledger.posting.turns import end_of_chain
from ledger.statements.balances import holdings
from ledger.statements.month import known_periods, month_account
from ledger.statements.monthly.as_data import as_data

MOST_BALANCES: Final = 1000
MOST_MOVEMENTS: Final = 500
GRAMS: Final = 1000


def as_of() -> dict[str, Any]:
    """The last movement of the books as this is read, with its seal."""
    number, seal = end_of_chain()
    return {"movement": number, "seal": seal}


def balances(after: int, limit: int) -> dict[str, Any]:
    """What vessels, casks and bottled stocks hold now, those that hold something, by the keys of their accounts."""
    held = Account.objects.filter(kind__in=HOLDING, pk__gt=after).exclude(balance__balance_ul=0, balance__mass_g=0)
    keys = list(held.filter(balance__isnull=False).order_by("pk").values_list("pk", flat=True)[: limit + 1])
    page = keys[:limit]
    found = sorted(holdings(Account.objects.filter(pk__in=page)), key=lambda one: one.account.pk)
    return {
        "as_of": as_of(),
        "balances": [
            {
                "account": one.account.code,
                "kind": one.account.kind,
                "name": one.account.name,
                "stage": one.account.stage,
                "lpa": one.pure_ul / MICRO,
                "mass_kg": one.mass_g / GRAMS,
                "litres": None if one.litres20 is None else round(one.litres20, 3),
                "percent": None if one.percent20 is None else round(one.percent20, 3),
            }
            for one in found
        ],
        "next": page[-1] if len(keys) > limit else None,
    }


def months() -> dict[str, Any]:
    """The periods of the books, and whether each is closed."""
    closed = set(Closing.objects.values_list("period", flat=True))
    return {
        "as_of": as_of(),
        "months": [{"period": one, "closed": one in closed} for one in sorted(known_periods())],
    }


def month(period: str) -> dict[str, Any]:
    """The account of one period. Raises NoSuchPeriod."""
    return {"as_of": as_of(), **as_data(month_account(period))}


def movements(after: int, limit: int, period: str) -> dict[str, Any]:
    """Movements in the order of the chain, with their legs; of one period where it is named."""
    wanted = Movement.objects.filter(pk__gt=after)
    if period:
        wanted = wanted.filter(period=period)
    rows = list(wanted.select_related("person", "second").order_by("pk")[: limit + 1])
    page = rows[:limit]
    legs: dict[int, list[dict[str, Any]]] = {}
    for leg in Leg.objects.filter(movement__in=page).select_related("account").order_by("movement", "line"):
        legs.setdefault(leg.movement_id, []).append(
            {
                "account": leg.account.code,
                "stage": leg.stage,
                "entry": leg.entry,
                "lpa": leg.pure_ul / MICRO,
                "mass_kg": leg.mass_g / GRAMS,
            }
        )
    return {
        "as_of": as_of(),
        "movements": [
            {
                "number": one.pk,
                "kind": one.kind,
                "operation": one.operation,
                "happened_at": _moment(one.took_place_at),
                "carried_at": _moment(one.happened_at),
                "written_at": _moment(one.written_at),
                "period": one.period,
                "record_kind": one.record_kind,
                "record": one.record_number,
                "person": one.person.username,
                "second": one.second.username if one.second is not None else None,
                "reason": one.reason,
                "corrects": one.corrects_id,
                "seal": one.seal,
                "legs": legs.get(one.pk, []),
            }
            for one in page
        ],
        "next": page[-1].pk if len(rows) > limit else None,
    }


def _moment(at: datetime) -> str:
    return at.astimezone(UTC).isoformat().replace("+00:00", "Z")
