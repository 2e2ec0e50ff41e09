"""One writing into the ledger, from taking the end of the chain to the last restatement.

Whoever writes holds the end of the chain until commit, so movements are written one after another and
no two writings can deadlock. Everything here happens inside the caller's transaction.

What truly happened in a closed period is carried by the books at the first open moment (ledger/periods/places.py): its
legs are worked out, and the gauges after it restated, as if it were written in its true place.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db.models import Exists, Min, OuterRef, Q
from django.utils import timezone

from distillery.people.models import Person
from distillery.plant.models import MICRO
from ledger.models import (
    Account,
    AccountKind,
    Duty,
    Entry,
    Figure,
    Gauge,
    Head,
    Leg,
    Measure,
    Movement,
    MovementKind,
    RunningBalance,
)
from ledger.periods.carrying import Carrying, Place
from ledger.periods.places import Key, book_at, lowest_from, true_key
from ledger.posting.accounts import AccountRef, gauging_of, open_accounts
from ledger.posting.drafts import Draft, Emptied, Moved, Refused, Taken
from ledger.posting.legs import PLACES, Books, LegPlan, plan_legs
from ledger.posting.rows import duty_row, figure_row, gauge_row, judge_against, measure_row
from ledger.proof import sealing
from ledger.proof.sealing import Details


class Writing:
    """Holds the end of the chain and writes movements until `finish`."""

    def __init__(self, *, person: Person, second: Person | None, written_at: datetime) -> None:
        self._head = Head.objects.select_for_update().get(id=1)
        self._person = person
        self._second = second
        self._written_at = written_at
        self._carrying = Carrying()
        self._accounts: dict[int, Account] = {}
        self._touched: dict[int, set[Key]] = {}
        self._written: set[int] = set()

    def write(
        self,
        draft: Draft,
        *,
        record_digest: str = "",
        slot: int | None = None,
        reason: str = "",
        kind: str = MovementKind.OPERATION,
    ) -> Movement:
        """Works out the legs of a draft against the books as they stood and writes it."""
        if not timezone.is_aware(draft.happened_at):
            raise Refused("A movement needs a time with its zone.", field="happened_at")
        number = self._head.last_number + 1
        slot, replacing = (number, False) if slot is None else (slot, True)
        place = self._carrying.place_of(draft)
        accounts = self._open(_refs_of(draft))
        books = Books(
            happened_at=draft.happened_at,
            base=slot * PLACES,
            ids={code: account.pk for code, account in accounts.items()},
            replacing=replacing,
            closed=place.is_carried,
        )
        plans, book_at_gauge = plan_legs(draft.lines, books)
        movement = self._movement(
            number=number,
            kind=kind,
            operation=draft.operation,
            place=place,
            record=(draft.record_kind, draft.record_number, draft.moment),
            reason=reason or draft.reason,
            slot=slot,
            record_digest=record_digest,
        )
        judge_against(movement, draft.judged, sum(book_at_gauge))
        legs = self._legs(movement, plans, accounts, ahead=place.ahead)
        gauges = [
            gauge_row(movement, line.gauge, accounts[line.gauge.vessel_account.code].pk, slot * PLACES + index, book_ul)
            for (index, line), book_ul in zip(
                ((i, line) for i, line in enumerate(draft.lines) if isinstance(line, Taken)), book_at_gauge, strict=True
            )
        ]
        rest = Details(
            gauges=gauges,
            measures=[
                measure_row(movement, index, line, accounts)
                for index, line in enumerate(draft.lines)
                if isinstance(line, Moved) and line.measured is not None
            ],
            figures=[figure_row(movement, index, one) for index, one in enumerate(draft.figures)],
            duties=[duty_row(movement, due) for due in draft.duty],
        )
        return self._put(movement, legs, rest)

    def reverse(self, original: Movement, *, reason: str) -> None:
        """Writes the exact opposite of a movement and of every restatement of its gauges."""
        if original.kind not in (MovementKind.OPERATION, MovementKind.EXPLANATION):
            raise Refused(f"Movement {original.pk} follows from another; correct the record it belongs to.")
        if Movement.objects.filter(corrects=original).exists():
            raise Refused(f"Movement {original.pk} has been corrected already; correct what replaced it.")
        behind = Movement.objects.standing().filter(restates__movement=original)
        for movement in [*behind.order_by("-id"), original]:
            self._opposite(movement, reason=reason)

    def finish(self) -> None:
        """Restates gauges whose book has moved, refuses casks and bottles below 0, and writes the chain's new end."""
        self._restate()
        self._keep_floors()
        self._head.save(update_fields=["last_number", "last_seal"])

    # -- making the rows

    def _open(self, refs: Iterable[AccountRef]) -> dict[str, Account]:
        accounts = open_accounts(refs)
        self._accounts.update({account.pk: account for account in accounts.values()})
        return accounts

    def _movement(
        self,
        *,
        number: int,
        kind: str,
        operation: str,
        place: Place,
        record: tuple[str, str, str],
        reason: str,
        slot: int,
        record_digest: str = "",
        corrects: Movement | None = None,
        restates: Gauge | None = None,
    ) -> Movement:
        return Movement(
            id=number,
            kind=kind,
            operation=operation,
            happened_at=place.happened_at,
            true_at=place.true_at,
            written_at=self._written_at,
            period=place.period,
            person=self._person,
            second=self._second,
            record_kind=record[0],
            record_number=record[1],
            moment=record[2],
            reason=reason,
            corrects=corrects,
            restates=restates,
            slot=slot,
            record_digest=record_digest,
            previous_seal=self._head.last_seal,
        )

    def _legs(
        self, movement: Movement, plans: Iterable[LegPlan], accounts: dict[str, Account], *, ahead: int
    ) -> list[Leg]:
        return [
            Leg(
                movement_id=movement.pk,
                line=line,
                position=plan.position - ahead,
                account=accounts[plan.account],
                other=accounts[plan.other] if plan.other else None,
                stage=plan.stage,
                entry=plan.entry,
                happened_at=movement.happened_at,
                period=movement.period,
                pure_ul=plan.pure_ul,
                mass_g=plan.mass_g,
            )
            for line, plan in enumerate(plans, start=1)
        ]

    def _opposite(self, original: Movement, *, reason: str) -> None:
        place = self._carrying.place_of_opposite(original)
        movement = self._movement(
            number=self._head.last_number + 1,
            kind=MovementKind.CORRECTION,
            operation=original.operation,
            place=place,
            record=(original.record_kind, original.record_number, original.moment),
            reason=reason,
            slot=original.slot,
            corrects=original,
        )
        legs = [
            Leg(
                movement_id=movement.pk,
                line=leg.line,
                position=leg.position - place.ahead,
                account_id=leg.account_id,
                other_id=leg.other_id,
                stage=leg.stage,
                entry=leg.entry,
                happened_at=movement.happened_at,
                period=movement.period,
                pure_ul=-leg.pure_ul,
                mass_g=-leg.mass_g,
            )
            for leg in original.legs.order_by("line")
        ]
        duties = [
            Duty(
                movement_id=movement.pk,
                removal=duty.removal,
                tax_type=duty.tax_type,
                litres20_ul=-duty.litres20_ul,
                percent_millionths=duty.percent_millionths,
                pure_ul=-duty.pure_ul,
                rate_pence_hundredths=duty.rate_pence_hundredths,
                pence=None if duty.pence is None else -duty.pence,
                source=duty.source,
            )
            for duty in original.duties.order_by("pk")
        ]
        self._put(movement, legs, Details(duties=duties))

    def _put(self, movement: Movement, legs: list[Leg], details: Details) -> Movement:
        """Writes legs, gauges and the rest, and the movement last: with it the database checks and closes them."""
        self._know(sealing.accounts_of(legs, details))
        Leg.objects.bulk_create(legs)
        Gauge.objects.bulk_create(details.gauges)
        Measure.objects.bulk_create(details.measures)
        Figure.objects.bulk_create(details.figures)
        Duty.objects.bulk_create(details.duties)
        people = {person.pk: person.username for person in (self._person, self._second) if person is not None}
        line = sealing.Script(self._accounts, people).line_of(movement, legs, details)
        movement.seal = sealing.seal(self._head.last_seal, line)
        movement.save(force_insert=True)
        self._head.last_number, self._head.last_seal = movement.pk, movement.seal
        self._written.add(movement.pk)
        for leg in legs:
            self._touched.setdefault(leg.account_id, set()).add(true_key(movement, leg))
        for gauge in details.gauges:
            # A gauge equal to its book has no leg; the book after it still begins anew there.
            self._touched.setdefault(gauge.account_id, set()).add((gauge.happened_at, gauge.position))
        return movement

    def _know(self, account_ids: set[int]) -> None:
        unknown = account_ids - self._accounts.keys()
        if unknown:
            self._accounts.update(Account.objects.in_bulk(unknown))

    # -- keeping every book at its gauges

    def _restate(self) -> None:
        vessels = {pk for pk in self._touched if self._accounts[pk].kind == AccountKind.VESSEL}
        if not vessels:
            return
        earliest = min(key for pk in vessels for key in self._touched[pk])
        standing = Gauge.objects.standing()
        later = standing.filter(account__in=vessels, happened_at__gte=earliest[0]).exclude(movement__in=self._written)
        if not later.exists():
            return
        next_gauges: dict[int, Gauge] = {}
        for pk in vessels:
            for key in self._touched[pk]:
                gauge = _next_gauge(pk, key)
                if gauge is not None:
                    next_gauges[gauge.pk] = gauge
        while next_gauges:
            gauge = min(next_gauges.values(), key=lambda gauge: (gauge.happened_at, gauge.position))
            del next_gauges[gauge.pk]
            if not self._restate_at(gauge):
                continue
            # A later gauge of this same writing met the book before this was put right; older ones did not.
            after = _next_gauge(gauge.account_id, (gauge.happened_at, gauge.position), movement__in=self._written)
            if after is not None:
                next_gauges[after.pk] = after

    def _restate_at(self, gauge: Gauge) -> bool:
        """Brings the book back to a gauge that stands, against what that gauge had found; False where it is there."""
        place = self._carrying.place_at(gauge.happened_at)
        book = book_at(gauge.happened_at, gauge.position, closed=place.is_carried, account_id=gauge.account_id)
        pure_ul, mass_g = gauge.pure_ul - book[0], gauge.mass_g - book[1]
        if pure_ul == 0 and mass_g == 0:
            return False
        account = self._accounts[gauge.account_id]
        other = gauging_of(account)
        accounts = self._open([other])
        accounts[account.code] = account
        carrier = Movement.objects.get(pk=gauge.movement_id)
        movement = self._movement(
            number=self._head.last_number + 1,
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
        self._put(movement, self._legs(movement, plans, accounts, ahead=place.ahead), Details())
        return True

    def _keep_floors(self) -> None:
        """Refuses where a cask or bottled stock would fall below 0, at that moment or at any later one."""
        for pk, keys in self._touched.items():
            account = self._accounts[pk]
            if not account.floor_zero:
                continue
            first = min(keys)
            if self._carrying.is_closed(first[0]):
                short_ul = -lowest_from(pk, first)
                if short_ul > 0:
                    raise Refused(_too_little(account, short_ul), field="quantity")
                continue
            # An opposite and a restatement stand in the place of what they answer; only the last in a place counts.
            # What is carried here from a closed period has a negative position and was looked at in its true place.
            behind = RunningBalance.objects.filter(
                account=OuterRef("account"),
                happened_at=OuterRef("happened_at"),
                position=OuterRef("position"),
                leg__gt=OuterRef("leg"),
            )
            lowest = RunningBalance.objects.filter(
                ~Exists(behind), account_id=pk, happened_at__gte=first[0], position__gte=0
            ).aggregate(lowest=Min("balance_ul"))["lowest"]
            if lowest is not None and lowest < 0:
                raise Refused(_too_little(account, -lowest), field="quantity")


def _next_gauge(account_id: int, key: Key, **more: object) -> Gauge | None:
    """The first gauge that stands strictly after a place: a leg in a gauge's own place is that gauge's doing."""
    happened_at, position = key
    return (
        Gauge.objects.standing()
        .filter(account_id=account_id, **more)
        .filter(Q(happened_at__gt=happened_at) | Q(happened_at=happened_at, position__gt=position))
        .order_by("happened_at", "position")
        .first()
    )


def _too_little(account: Account, missing_ul: int) -> str:
    if account.bottle_pure_ul:
        bottles = -(-missing_ul // account.bottle_pure_ul)
        return f"There are {bottles} bottles too few of {account.name} for this; count the stock or change the number."
    return (
        f"This draws {missing_ul / MICRO:.2f} litres of pure alcohol more from {account.name} than its book holds; "
        f"check the cask and the figures."
    )


def _refs_of(draft: Draft) -> list[AccountRef]:
    refs: list[AccountRef] = []
    for line in draft.lines:
        if isinstance(line, Taken):
            refs += [line.gauge.vessel_account, line.against]
        elif isinstance(line, Moved):
            refs += [line.giver, line.taker]
        elif isinstance(line, Emptied):
            refs += [line.account, line.into]
    return refs
