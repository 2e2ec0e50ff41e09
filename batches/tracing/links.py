"""Which record's alcohol is in which vessel, and what each record took from which other.

Contents are taken as well mixed: whatever leaves a vessel carries the mix that was in it. A link says that one record
took so much pure alcohol (whole microlitres) that another had given, by way of one account. What a gauge finds more
or less leaves the mix as it is; so do losses and differences where nothing went from one place to another. A step
that works what a vessel holds (`Sheet.works_contents`) passes all of it through its record. Stills belong to the run
that charges them, so no mix is kept for them.

Links follow the ledger's entries, each in its true place, also where the books carry it later because its period was
closed. A late or corrected entry is followed again from the last month's end before it; other vessels need not be,
because a link reaches only one record back.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import groupby
from typing import Final

from django.db import DEFAULT_DB_ALIAS
from django.db.models import Q, QuerySet

from batches.models import Contents, Link, Record
from batches.sheets.register import all_sheets
from distillery.fixed_sql import add, as_read, ask_one, change
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
PLACES = (AccountKind.VESSEL, AccountKind.STOCK, AccountKind.SOURCE, AccountKind.REMOVAL)
HOLDING = (AccountKind.VESSEL, AccountKind.STOCK)


@dataclass(slots=True)
class Mix:
    """What an account holds, by the record that gave it, in whole microlitres."""

    book_ul: int = 0
    shares: dict[int, int] = field(default_factory=dict)

    def scale(self, book_ul: int, *, found_by: int) -> None:
        """The same mix in another amount; where the mix is unknown, the record `found_by` counts as its giver."""
        self.book_ul = book_ul
        if book_ul <= 0:
            self.shares = {}
        elif any(self.shares.values()):
            self.shares = apportion(book_ul, self.shares)
        else:
            self.shares = {found_by: book_ul}

    def give(self, giver: int, pure_ul: int) -> None:
        """A record adds to the contents."""
        self.book_ul += pure_ul
        self.shares[giver] = self.shares.get(giver, 0) + pure_ul

    def take(self, pure_ul: int) -> dict[int, int]:
        """So much leaves with the mix that is there; returns it by giver."""
        taken = apportion(pure_ul, self.shares)
        self.book_ul -= pure_ul
        left = max(self.book_ul, 0)
        self.shares = apportion(left, self.shares) if left else {}
        return taken


def apportion(total: int, weights: dict[int, int]) -> dict[int, int]:
    """Parts a whole amount by weights so that the parts add up to it; the largest remainders are rounded up."""
    whole = sum(weights.values())
    if whole <= 0 or total <= 0:
        return {}
    parts = {key: total * weight // whole for key, weight in weights.items()}
    short = total - sum(parts.values())
    by_remainder = sorted(weights, key=lambda key: (-(total * weights[key] % whole), key))
    for key in by_remainder[:short]:
        parts[key] += 1
    return {key: part for key, part in parts.items() if part}


@dataclass(frozen=True, slots=True)
class _Step:
    """One movement's part in one account, restatements of its gauges included."""

    key: Key
    record: int
    legs: tuple[Leg, ...]
    moves: bool
    passes_through: bool


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
    fresh = [leg for leg in written_since(since) if _is_followed(leg.account)]
    around = _around(fresh)
    for account_id, group in groupby(fresh, key=lambda leg: leg.account_id):
        legs = list(group)
        newest = _newest(account_id)
        first = min((leg.movement.took_place_at, leg.movement.slot) for leg in legs)
        only_new = all(leg.movement.kind == MovementKind.OPERATION for leg in legs)
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
    _go_on(account_id, base, _steps(list(_standing([account_id], after=base))))


def _go_on(account_id: int, base: Contents | None, steps: Sequence[_Step]) -> None:
    """Applies steps to the contents they follow on, and keeps the last contents of each month."""
    contents, links = _walk(account_id, base, steps)
    add(links)
    add([row for row in contents if row.pk is None])
    for row in contents:
        if row is base:
            change(row, _GOES_ON)


def _walk(account_id: int, base: Contents | None, steps: Sequence[_Step]) -> tuple[list[Contents], list[Link]]:
    """What steps make of contents: the last of each month, the one they follow on among them, and the links."""
    mix = Mix(base.book_ul, base.by_giver()) if base is not None else Mix()
    links: list[Link] = []
    contents: list[Contents] = []
    row, gone_on = base, False
    for step in steps:
        for giver, pure_ul in _apply(mix, step):
            if UNKNOWN in (giver, step.record):
                continue
            links.append(
                Link(
                    giver_id=giver,
                    taker_id=step.record,
                    account_id=account_id,
                    happened_at=step.key[0],
                    slot=step.key[1],
                    pure_ul=pure_ul,
                )
            )
        if row is None or (row.happened_at.year, row.happened_at.month) != (step.key[0].year, step.key[0].month):
            if row is not None and gone_on:
                contents.append(row)
            row = Contents(account_id=account_id)
        gone_on = True
        row.happened_at, row.slot = step.key
        row.book_ul, row.shares = mix.book_ul, json.dumps(mix.shares, separators=(",", ":"))
    if row is not None and steps:
        contents.append(row)
    return contents, links


def followed(accounts: Sequence[int]) -> Iterator[tuple[int, list[Contents], list[Link]]]:
    """Contents and links of accounts worked out from their legs from the beginning. Nothing is written."""
    legs = list(_standing(accounts))
    around = _around(legs)
    by_account = {pk: list(own) for pk, own in groupby(legs, key=lambda leg: leg.account_id)}
    for account_id in accounts:
        yield account_id, *_walk(account_id, None, _steps(by_account.get(account_id, []), around))


def followed_since(account_id: int, since: datetime) -> tuple[Contents | None, list[Contents], list[Link]]:
    """The last contents kept of before a moment, and what the legs after them make of them. Nothing is written."""
    base = Contents.objects.filter(account_id=account_id, happened_at__lt=since).order_by("happened_at", "slot").last()
    legs = list(_standing([account_id], after=base))
    start = None if base is None else Contents.objects.get(pk=base.pk)
    return base, *_walk(account_id, start, _steps(legs))


def _standing(accounts: Sequence[int], *, after: Contents | None = None) -> QuerySet[Leg]:
    """Legs that stand, account by account, in their true order, those beyond some contents where they are given."""
    standing = (
        Leg.objects.standing()
        .filter(account_id__in=accounts)
        .select_related("movement")
        .annotate(true_at=TRUE_AT, true_position=TRUE_POSITION)
        .order_by("account_id", "true_at", "true_position", "id")
    )
    if after is None:
        return standing
    # Nothing is carried earlier than it truly happened, so the books' own moment narrows what is read.
    at, slot = after.happened_at, after.slot
    return standing.filter(Q(true_at__gt=at) | Q(true_at=at, movement__slot__gt=slot), happened_at__gte=at)


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
        mix.give(step.record, net)
    elif net < 0:
        yield from ((giver, pure) for giver, pure in mix.take(-net).items() if giver != step.record)


@dataclass(frozen=True, slots=True)
class _Around:
    """What else the movements of some legs did: the places they touched, which worked contents, their records."""

    places: dict[int, set[int]]
    working: set[int]
    records: dict[str, int]


def _around(legs: Sequence[Leg]) -> _Around:
    carriers = {leg.movement_id: leg.movement for leg in legs if leg.movement.kind == MovementKind.OPERATION}
    places: dict[int, set[int]] = {pk: set() for pk in carriers}
    touched = Leg.objects.filter(movement_id__in=carriers, account__kind__in=PLACES).exclude(entry=Entry.GAUGING)
    for movement_id, account_id in touched.values_list("movement_id", "account_id"):
        places[movement_id].add(account_id)
    kinds = {sheet.kind for sheet in all_sheets() if sheet.works_contents}
    working = {pk for pk, movement in carriers.items() if movement.record_kind in kinds}
    numbers = {leg.movement.record_number for leg in legs}
    return _Around(places, working, dict(Record.objects.filter(number__in=numbers).values_list("number", "pk")))


def _steps(legs: Sequence[Leg], around: _Around | None = None) -> list[_Step]:
    """Legs of one account in order, gathered by the movement they belong to."""
    around = around or _around(legs)
    steps = []
    for key, group in groupby(legs, key=lambda leg: (leg.movement.took_place_at, leg.movement.slot)):
        own = tuple(group)
        movements = {leg.movement_id for leg in own} & around.places.keys()
        others = set().union(*(around.places[pk] for pk in movements)) - {own[0].account_id} if movements else set()
        steps.append(
            _Step(
                key=key,
                record=around.records.get(own[0].movement.record_number, UNKNOWN),
                legs=own,
                moves=bool(others),
                passes_through=bool(movements & around.working),
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
