"""Proves the running balances: each is the one before it in the order of time, and its leg.

Most legs are written in the order in which things happened, so the reading of the chain looks at their running
balances as it comes by them, and remembers one for each account. An account for which that does not come out (a late
entry came in between, or something is wrong) is asked of the database in the order of time, which judges alone.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from typing import Any

from django.db import connection
from django.db.models import F

from ledger.models import Leg, RunningBalance
from ledger.proof.parts.sums import Frozen
from ledger.proof.sealed_columns import Row

# Where a run of legs of one account begins and ends: place in time, and what was held before and after. Microlitres, g.
Place = tuple[Any, int, int]
Run = list[Any]


def _place_of(leg: Row) -> Place:
    return leg[7], leg[2], leg[-4]


class Runs:
    """The legs of each account as far as they came in the order of time, each meeting its running balance."""

    def __init__(self) -> None:
        # First place, microlitres and grams before it; last place, microlitres and grams after it.
        self.runs: dict[int, Run] = {}
        # Accounts that have to be looked at in the order of time.
        self.apart: set[int] = set()

    def add(self, legs: Sequence[Row], since: str) -> None:
        """Goes on with the legs of a movement, each followed by what `chain.RUNNING` names."""
        runs, apart = self.runs, self.apart
        last = legs[0][2] if legs else 0
        for row in legs:
            if row[2] < last:
                # Lines of a movement may stand otherwise than in the order of their places.
                legs = sorted(legs, key=_place_of)
                break
            last = row[2]
        for _, _, position, account, _, _, _, at, period, pure, mass, leg, fits, kept_ul, kept_g in legs:
            if period <= since:
                continue
            place = (at, position, leg)
            try:
                run = runs[account]
            except KeyError:
                if fits:
                    runs[account] = [place, kept_ul - pure, kept_g - mass, place, kept_ul, kept_g]
                else:
                    apart.add(account)
                continue
            if fits and run[4] + pure == kept_ul and run[5] + mass == kept_g and run[3] < place:
                run[3:] = place, kept_ul, kept_g
            else:
                apart.add(account)

    def take(self, later: Runs) -> None:
        """Goes on with the runs of a later stretch of the chain."""
        self.apart |= later.apart
        for account, run in later.runs.items():
            own = self.runs.get(account)
            if own is None:
                self.runs[account] = list(run)
            elif own[3] < run[0] and own[4] == run[1] and own[5] == run[2]:
                own[3:] = run[3:]
            else:
                self.apart.add(account)

    def not_begun_from(self, frozen: Frozen) -> set[int]:
        """Accounts to be looked at, among them those whose run does not begin with what was held before it."""
        wrong = {pk for pk, run in self.runs.items() if frozen.get(pk, (0, 0)) != (run[1], run[2])}
        return self.apart | wrong


def running_apart(accounts: Collection[int] | None, closing: tuple[int, Any] | None = None) -> Iterator[str]:
    """A sentence for each running balance that does not hold, of some accounts or of all.

    From a closing on (its number, and its end as the database keeps it) the first has to follow what it froze.
    """
    if accounts is not None:
        if not accounts:
            return
        accounts = set(accounts) | _kept_elsewhere(accounts)
    values: list[Any] = []
    frozen, where, before_ul, before_g = "", [], "CAST(0 AS bigint)", "CAST(0 AS bigint)"
    if closing is not None:
        frozen = " LEFT JOIN ledger_closingbalance f ON f.account_id = b.account_id AND f.closing_id = %s"
        before_ul, before_g = "COALESCE(f.pure_ul, 0)", "COALESCE(f.mass_g, 0)"
        where.append("b.happened_at >= %s")
        values += closing
    if accounts is not None:
        where.append(f"b.account_id IN ({_listed(accounts)})")
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT r.leg_id, a.code, l.movement_id, r.balance_ul, r.mass_g FROM ("
            " SELECT b.leg_id, b.account_id, b.happened_at, b.position, b.balance_ul, b.mass_g,"
            f" LAG(b.balance_ul, 1, {before_ul}) OVER w AS before_ul,"
            f" LAG(b.mass_g, 1, {before_g}) OVER w AS before_g"
            f" FROM ledger_runningbalance b{frozen}{' WHERE ' if where else ''}{' AND '.join(where)}"
            " WINDOW w AS (PARTITION BY b.account_id ORDER BY b.happened_at, b.position, b.leg_id)) r"
            " LEFT JOIN ledger_leg l ON l.id = r.leg_id LEFT JOIN ledger_account a ON a.id = r.account_id"
            " WHERE l.id IS NULL OR l.account_id <> r.account_id OR l.happened_at <> r.happened_at"
            " OR l.position <> r.position OR r.balance_ul <> r.before_ul + l.pure_ul"
            " OR r.mass_g <> r.before_g + l.mass_g",
            values,
        )
        for leg, account, movement, kept, kept_mass in cursor.fetchall():
            yield (
                f"account {account} after leg {leg} of movement {movement}: its running balance is kept as {kept} µL, "
                f"{kept_mass} g, which is not what was there before and this leg"
            )


def _kept_elsewhere(accounts: Collection[int]) -> set[int]:
    """Accounts under which the running balance of a leg of some others is kept, where it does not belong."""
    rows = RunningBalance.objects.filter(leg__account_id__in=accounts).exclude(account_id=F("leg__account_id"))
    return set(rows.values_list("account_id", flat=True))


def _listed(accounts: Collection[int]) -> str:
    return ", ".join(str(int(one)) for one in sorted(accounts))


def without_running_balance(first: int | None = None) -> Iterator[str]:
    """Legs that have none, of all movements or from one on."""
    legs = Leg.objects.filter(running=None)
    if first is not None:
        legs = legs.filter(movement_id__gte=first)
    for leg, movement in legs.order_by("pk").values_list("pk", "movement_id"):
        yield f"leg {leg} of movement {movement} has no running balance"


def as_many_as_legs(sealed_legs: int, first: int = 1) -> bool:
    """True where there are as many running balances and legs as the movements have legs: none hangs on nothing.

    From a movement on, counted are those whose keys are not below that of its first leg.
    """
    running, legs = RunningBalance.objects.all(), Leg.objects.all()
    if first > 1:
        key = Leg.objects.filter(movement_id__gte=first).order_by("movement_id", "line").values_list("pk", flat=True)
        begins = key.first()
        if begins is None:
            return sealed_legs == 0
        running, legs = running.filter(leg_id__gte=begins), legs.filter(pk__gte=begins)
    return running.count() == legs.count() == sealed_legs


def below_nothing(accounts: Collection[int] | None = None, since: Any = None) -> Iterator[str]:
    """Casks and bottles may at no time hold less than nothing.

    Only the last entry in a place counts: an opposite and a restatement stand where what they answer stands, and all
    that is carried from a closed period (below place nought) stands together. Of some accounts from a moment on, as the
    database keeps it, where both are given.
    """
    where = ""
    if accounts is not None:
        if not accounts:
            return
        where = f" WHERE b.happened_at >= %s AND b.account_id IN ({_listed(accounts)})"
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT r.code, l.movement_id FROM ("
            " SELECT b.leg_id, b.account_id, b.happened_at, b.position, b.balance_ul, a.code,"
            " LEAD(b.happened_at) OVER w AS next_at, LEAD(b.position) OVER w AS next_position"
            f" FROM ledger_runningbalance b JOIN ledger_account a ON a.id = b.account_id AND a.floor_zero{where}"
            " WINDOW w AS (PARTITION BY b.account_id ORDER BY b.happened_at, b.position, b.leg_id)) r"
            " JOIN ledger_leg l ON l.id = r.leg_id"
            " WHERE r.balance_ul < 0 AND"
            " (r.next_at IS NULL OR r.next_at <> r.happened_at"
            " OR (r.next_position <> r.position AND r.next_position >= 0))"
            " ORDER BY r.code, r.happened_at, r.position, r.leg_id",
            None if accounts is None else [since],
        )
        for account, movement in cursor.fetchall():
            yield f"account {account} falls below 0 after movement {movement}"
