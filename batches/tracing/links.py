"""Which record's alcohol is in which vessel, and what each record took from which other.

Contents are taken as well mixed: whatever leaves a vessel carries the mix that was in it; bottles whose lot is named
are of that lot, and those of it that come back are its bottling's. A link says that one record
took so much pure alcohol (whole microlitres) that another had given, by way of one account. What a gauge finds more
or less leaves the mix as it is; so do losses and differences where nothing went from one place to another. A step
that works what a vessel holds (`working.works_all`) passes all of it through its record. Stills belong to the run
that charges them, so no mix is kept for them.

Links follow the ledger's entries, each in its true place, also where the books carry it later because its period was
closed. A late or corrected entry is followed again from the last month's end before it; other vessels need not be,
because a link reaches only one record back.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Final, NamedTuple

from django.db import DEFAULT_DB_ALIAS
from django.db.models import OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from batches.models import Contents, Link, Record
from batches.tracing.mix import Mix, apportion
from batches.tracing.of_lots import bottled_before, of_the_same_lot
from batches.tracing.working import works_all
from distillery.database.fixed_sql import add, as_read, ask_one, change
from distillery.database.rows_as_kept import MomentText, moment_of, rows_of
from distillery.plant.models import Kind as VesselKind
from ledger.models import Account, AccountKind, Entry, Leg, MovementKind
from ledger.periods.places import TRUE_AT, TRUE_POSITION

Key = tuple[datetime, int]
# An entry of the ledger that belongs to no batch record.
UNKNOWN = 0
# Columns of contents, and those that change as they go on within a month.
_COLUMNS: Final = ["id", "account_id", "happened_at", "slot", "book_ul", "shares"]
_GOES_ON: Final = ("happened_at", "slot", "book_ul", "shares")
_NEWEST: Final = f"""
SELECT {", ".join(_COLUMNS)} FROM batches_contents WHERE account_id = %s ORDER BY happened_at DESC, slot DESC LIMIT 1
"""
# Of `_Leg`, as a question gives them.
_OF_A_LEG: Final = (
    *("account_id", "movement_id", "movement__kind", "movement__record_kind", "movement__record_number"),
    *(MomentText(Coalesce("movement__true_at", "movement__happened_at")), "movement__slot", "entry", "pure_ul"),
)
PLACES = (AccountKind.VESSEL, AccountKind.STOCK, AccountKind.SOURCE, AccountKind.REMOVAL)
HOLDING = (AccountKind.VESSEL, AccountKind.STOCK)


class _Leg(NamedTuple):
    """What is followed of an entry of the ledger; `at` and `slot` are where its movement truly stands."""

    account_id: int
    movement_id: int
    kind: str
    record_kind: str
    record_number: str
    at: datetime
    slot: int
    entry: str
    pure_ul: int


class Held(NamedTuple):
    """What an account held after an entry, by the record that gave it, as `Contents` keeps it."""

    happened_at: datetime
    slot: int
    book_ul: int
    shares: str


class Passed(NamedTuple):
    """What one record took of another by way of an account, as `Link` keeps it."""

    giver_id: int
    taker_id: int
    happened_at: datetime
    slot: int
    pure_ul: int
    mass_g: int = 0


@dataclass(frozen=True, slots=True)
class _Step:
    """One movement's part in one account, restatements of its gauges included."""

    key: Key
    record: int
    legs: tuple[_Leg, ...]
    moves: bool
    passes_through: bool
    of: frozenset[int]
    comes_back_of: frozenset[int]


def last_movement() -> int:
    """The number of the newest movement, from which `follow` goes on."""
    row = ask_one("SELECT MAX(id) FROM ledger_movement")
    return row[0] or 0 if row is not None else 0


def followed_accounts() -> QuerySet[Account]:
    """Where alcohol stays to be mixed: vessels and bottled stock. A still only passes on what came in."""
    return Account.objects.filter(kind__in=HOLDING).exclude(vessel__kind=VesselKind.STILL)


def _is_followed(account: Account) -> bool:
    """The same of an account that is read already, with its vessel."""
    return account.kind in HOLDING and (account.vessel is None or account.vessel.kind != VesselKind.STILL)


def written_since(number: int) -> QuerySet[Leg]:
    """Legs of every movement after this number, account by account in their true order.

    Which accounts are followed is not asked here: SQLite would begin with these, and read all legs they ever had.
    """
    return (
        Leg.objects.filter(movement_id__gt=number)
        .select_related("movement", "account__vessel")
        .annotate(true_at=TRUE_AT, true_position=TRUE_POSITION)
        .order_by("account_id", "true_at", "true_position", "id")
    )


def follow(since: int) -> None:
    """Brings contents and links up with every movement written after number `since`."""
    fresh = [_leg_of(leg) for leg in written_since(since) if _is_followed(leg.account)]
    around = _around(fresh)
    for account_id, group in groupby(fresh, key=lambda leg: leg.account_id):
        legs = list(group)
        newest = _newest(account_id)
        first = min((leg.at, leg.slot) for leg in legs)
        only_new = all(leg.kind == MovementKind.OPERATION for leg in legs)
        if only_new and (newest is None or (newest.happened_at, newest.slot) < first):
            _go_on(account_id, newest, _steps(legs, around))
        else:
            _follow_again(account_id, first)


def _follow_again(account_id: int, first: Key) -> None:
    """Follows one account again from the last contents kept before a moment."""
    base = Contents.objects.filter(account_id=account_id).filter(_before(first)).order_by("happened_at", "slot").last()
    if base is None:
        later = Q()
    else:
        later = Q(happened_at__gt=base.happened_at) | Q(happened_at=base.happened_at, slot__gt=base.slot)
    Contents.objects.filter(later, account_id=account_id).delete()
    Link.objects.filter(later, account_id=account_id).delete()
    _go_on(account_id, base, _steps(_standing([account_id], {} if base is None else {account_id: base})))


def _go_on(account_id: int, base: Contents | None, steps: Sequence[_Step]) -> None:
    """Applies steps to the contents they follow on, and keeps the last contents of each month."""
    if not steps:
        return
    held, passed = _walk(base, steps)
    add([Link(account_id=account_id, **one._asdict()) for one in passed])
    if base is not None and _month(base.happened_at) == _month(held[0].happened_at):
        base.happened_at, base.slot, base.book_ul, base.shares = held.pop(0)
        change(base, _GOES_ON)
    add([Contents(account_id=account_id, **one._asdict()) for one in held])


def _walk(base: Contents | None, steps: Sequence[_Step]) -> tuple[list[Held], list[Passed]]:
    """What steps make of the contents they follow on: what was held last in each month with steps, and the links."""
    mix = Mix(base.book_ul, base.by_giver()) if base is not None else Mix()
    passed: list[Passed] = []
    held: list[Held] = []
    for at, step in enumerate(steps):
        (happened_at, slot), record = step.key, step.record
        for giver, pure_ul in _apply(mix, step):
            if UNKNOWN not in (giver, record):
                passed.append(Passed(giver, record, happened_at, slot, pure_ul))
        if at + 1 == len(steps) or _month(steps[at + 1].key[0]) != _month(happened_at):
            held.append(Held(happened_at, slot, mix.book_ul, json.dumps(mix.shares, separators=(",", ":"))))
    return held, passed


def _month(at: datetime) -> tuple[int, int]:
    return at.year, at.month


def followed(accounts: Sequence[int]) -> Iterator[tuple[int, list[Held], list[Passed]]]:
    """Contents and links of accounts worked out from their legs from the beginning. Nothing is written."""
    legs = _standing(accounts)
    around = _around(legs)
    by_account = {pk: list(own) for pk, own in groupby(legs, key=lambda leg: leg.account_id)}
    for account_id in accounts:
        yield account_id, *_walk(None, _steps(by_account.get(account_id, []), around))


def contents_before(accounts: Sequence[int], since: datetime) -> dict[int, Contents]:
    """The last contents kept of before a moment, by account; those that have none are left out. One question."""
    earlier = Contents.objects.filter(account=OuterRef("pk"), happened_at__lt=since).order_by("-happened_at", "-slot")
    last = Account.objects.filter(pk__in=accounts).annotate(last=Subquery(earlier.values("pk")[:1]))
    return {one.account_id: one for one in Contents.objects.filter(pk__in=last.values("last"))}


def beyond(bases: Mapping[int, Contents], accounts: Sequence[int]) -> Q:
    """Rows of these accounts from the moment of their contents on, by the books' own moment; all of those without.

    One step along the index for each account. What stands at that very moment is told apart by its slot.
    """
    found = Q(account_id__in=[pk for pk in accounts if pk not in bases])
    for pk, base in bases.items():
        found |= Q(account_id=pk, happened_at__gte=base.happened_at)
    return found


def is_beyond(base: Contents | None, key: Key) -> bool:
    """Whether a place in the books lies after some contents; every place does where there are none."""
    return base is None or key > (base.happened_at, base.slot)


def followed_on(
    accounts: Sequence[int], bases: Mapping[int, Contents]
) -> Iterator[tuple[int, list[Held], list[Passed]]]:
    """What the legs after some contents make of them, account by account. Nothing is written."""
    legs = _standing(accounts, bases)
    around = _around(legs)
    by_account = {pk: list(own) for pk, own in groupby(legs, key=lambda leg: leg.account_id)}
    for account_id in accounts:
        yield account_id, *_walk(bases.get(account_id), _steps(by_account.get(account_id, []), around))


def _standing(accounts: Sequence[int], bases: Mapping[int, Contents] | None = None) -> list[_Leg]:
    """Legs that stand, account by account, in their true order, those beyond some contents where they are given."""
    # Nothing is carried earlier than it truly happened, so the books' own moment narrows what is read.
    standing = (
        Leg.objects.standing()
        .filter(beyond(bases or {}, accounts))
        .annotate(true_at=TRUE_AT, true_position=TRUE_POSITION)
        .order_by("account_id", "true_at", "true_position", "id")
    )
    legs = (
        _Leg(account, movement, kind, of, number, moment_of(at), slot, entry, pure)
        for account, movement, kind, of, number, at, slot, entry, pure in rows_of(standing, *_OF_A_LEG)
    )
    return [leg for leg in legs if not bases or is_beyond(bases.get(leg.account_id), (leg.at, leg.slot))]


def _leg_of(leg: Leg) -> _Leg:
    movement = leg.movement
    said = movement.kind, movement.record_kind, movement.record_number, movement.took_place_at, movement.slot
    return _Leg(leg.account_id, leg.movement_id, *said, leg.entry, leg.pure_ul)


def _apply(mix: Mix, step: _Step) -> Iterable[tuple[int, int]]:
    """Changes the mix and yields what the step's record took from which giver."""
    net = 0
    for leg in step.legs:
        if leg.entry == Entry.GAUGING:
            mix.scale(mix.book_ul + leg.pure_ul, found_by=step.record)
        else:
            net += leg.pure_ul
    if step.passes_through:
        held = mix.take(max(mix.book_ul, 0))
        yield from ((giver, pure) for giver, pure in held.items() if giver != step.record)
        mix.scale(sum(held.values()) + net, found_by=step.record)
    elif not step.moves:
        if net:
            mix.scale(mix.book_ul + net, found_by=step.record)
    elif net > 0:
        yield from apportion(net, dict.fromkeys(sorted(step.comes_back_of), 1)).items()
        mix.give(step.record, net)
    elif net < 0:
        yield from ((giver, pure) for giver, pure in mix.take(-net, step.of).items() if giver != step.record)


@dataclass(frozen=True, slots=True)
class _Around:
    """What else the movements of some legs did: the places they touched, which worked contents, their records, whose
    bottles bear the lot that a record takes out of stock, and who bottled the lot that comes back by one."""

    places: dict[int, set[int]]
    working: set[int]
    records: dict[str, int]
    lots: dict[int, frozenset[int]]
    bottled: dict[int, frozenset[int]]


def _around(legs: Sequence[_Leg]) -> _Around:
    carriers = {leg.movement_id: leg.record_kind for leg in legs if leg.kind == MovementKind.OPERATION}
    places: dict[int, set[int]] = {pk: set() for pk in carriers}
    touched = Leg.objects.filter(movement_id__in=carriers, account__kind__in=PLACES).exclude(entry=Entry.GAUGING)
    for movement_id, account_id in touched.values_list("movement_id", "account_id"):
        places[movement_id].add(account_id)
    working = works_all(carriers)
    numbers = {leg.record_number for leg in legs}
    records = dict(Record.objects.filter(number__in=numbers).values_list("number", "pk"))
    said = {(leg.record_kind, leg.record_number) for leg in legs}
    return _Around(places, working, records, of_the_same_lot(said), bottled_before(said))


def _steps(legs: Sequence[_Leg], around: _Around | None = None) -> list[_Step]:
    """Legs of one account in order, gathered by the movement they belong to."""
    around = around or _around(legs)
    steps = []
    for key, group in groupby(legs, key=lambda leg: (leg.at, leg.slot)):
        own = tuple(group)
        movements = {leg.movement_id for leg in own} & around.places.keys()
        others = set().union(*(around.places[pk] for pk in movements)) - {own[0].account_id} if movements else set()
        record = around.records.get(own[0].record_number, UNKNOWN)
        steps.append(
            _Step(
                key=key,
                record=record,
                legs=own,
                moves=bool(others),
                passes_through=bool(movements & around.working),
                of=around.lots.get(record, frozenset()),
                comes_back_of=around.bottled.get(record, frozenset()),
            )
        )
    return steps


def _before(key: Key) -> Q:
    return Q(happened_at__lt=key[0]) | Q(happened_at=key[0], slot__lt=key[1])


def _newest(account_id: int) -> Contents | None:
    row = ask_one(_NEWEST, [account_id])
    return None if row is None else Contents.from_db(DEFAULT_DB_ALIAS, _COLUMNS, (*row[:2], as_read(row[2]), *row[3:]))


def contents_of(account_id: int) -> dict[int, int]:
    """What an account holds now by the record that gave it: record id to whole microlitres."""
    newest = _newest(account_id)
    return newest.by_giver() if newest is not None else {}


def contents_at(account_id: int, before: datetime) -> dict[int, int]:
    """The same just before a moment, which is worked out where more happened since."""
    last = _newest(account_id)
    if last is not None and last.happened_at >= before:
        bases = contents_before([account_id], before)
        legs = [leg for leg in _standing([account_id], bases) if leg.at < before]
        held, _ = _walk(bases.get(account_id), _steps(legs))
        last = Contents(shares=held[-1].shares) if held else bases.get(account_id)
    return last.by_giver() if last is not None else {}
