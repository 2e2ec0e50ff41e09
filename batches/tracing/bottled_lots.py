"""Bottled stock by lot: how many bottles of each lot are still in bond.

The books keep stock by product, size and strength, and every entry of it belongs to a record. What comes in is of the
lot that its record names; what leaves is of the lot its record names, and where it names none, of the oldest lot that
still has bottles (first in, first out). So the lots of a stock always add up to its book. Whole bottles.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from batches.models import Mention, Record
from batches.sheets.register import all_sheets
from batches.sheets.site import Site
from ledger.models import Account, AccountKind, Leg
from ledger.periods.places import TRUE_AT, TRUE_POSITION

# Of what was in bond before the books began, or came back without a word of its lot.
NO_LOT = ""


@dataclass(slots=True)
class BottledLot:
    """One lot of one stock: what came of it, what is left of it, and the record that bottled it first (None of what no
    record of a bottling brought).
    """

    stock: Account
    lot: str
    since: datetime
    came: int = 0
    left: int = 0
    record_kind: str = ""
    record_number: str = ""
    bottles_a_case: int = 0

    @property
    def held(self) -> int:
        """Bottles still in bond."""
        return self.came - self.left

    @property
    def pure_ul(self) -> int:
        """What they hold by their label, microlitres of pure alcohol."""
        return self.held * (self.stock.bottle_pure_ul or 0)


@dataclass(frozen=True, slots=True)
class _Entry:
    account_id: int
    kind: str
    number: str
    at: datetime
    bottles: int


def bottled_lots(
    stocks: Iterable[Account] | None = None, *, until: datetime | None = None, without: str = ""
) -> list[BottledLot]:
    """Every lot that ever was in these stocks (without a word: in all), stock by stock, the oldest lot first.

    As of a moment where one is given, and with the entries of one record left out where its number is.
    """
    accounts = Account.objects.filter(kind=AccountKind.STOCK) if stocks is None else stocks
    by_key = {one.pk: one for one in accounts if one.bottle_pure_ul}
    entries = _entries(by_key, until, without)
    named, a_case = _named(entries)
    found: list[BottledLot] = []
    for key, account in sorted(by_key.items(), key=lambda one: one[1].name):
        found += _lots_of(account, entries.get(key, []), named, a_case)
    return found


def _entries(accounts: Mapping[int, Account], until: datetime | None, without: str) -> dict[int, list[_Entry]]:
    legs = (
        Leg.objects.standing()
        .filter(account__in=accounts.keys())
        .annotate(true_at=TRUE_AT, true_position=TRUE_POSITION)
        .order_by("true_at", "true_position", "pk")
        .values_list("account_id", "movement__record_kind", "movement__record_number", "true_at", "pure_ul")
    )
    found: dict[int, list[_Entry]] = defaultdict(list)
    for account_id, kind, number, at, pure_ul in legs:
        if (until is not None and at > until) or (without and number == without):
            continue
        one = accounts[account_id].bottle_pure_ul or 1
        found[account_id].append(_Entry(account_id, kind, number, at, round(pure_ul / one)))
    return found


def _named(entries: Mapping[int, Sequence[_Entry]]) -> tuple[dict[str, list[str]], dict[str, int]]:
    """The lots of bottled spirit that each record names, by its number, and how many of its bottles go in a case."""
    of_material = {
        (sheet.kind, name)
        for sheet in all_sheets()
        for one in (*sheet.materials, *sheet.receives)
        for name in one.fields
    }
    numbers = {one.number for each in entries.values() for one in each}
    named: dict[str, list[str]] = defaultdict(list)
    mentions = (
        Mention.objects.filter(what=Mention.What.LOT, record__number__in=numbers)
        .order_by("pk")
        .values_list("record__kind", "record__number", "field", "code")
    )
    for kind, number, field, code in mentions:
        if (kind, field) not in of_material:
            named[number].append(code)
    return named, _bottles_a_case(numbers)


def _bottles_a_case(numbers: Iterable[str]) -> dict[str, int]:
    site, found = Site(), {}
    filling = [sheet.kind for sheet in all_sheets() if sheet.fills_bottles and sheet.has_field("bottles_a_case")]
    records = list(Record.objects.filter(kind__in=filling, number__in=list(numbers)))
    site.read_typed(records)
    for record in records:
        text = site.typed_of(record).get("bottles_a_case", "").strip()
        if text.isdecimal():
            found[record.number] = int(text)
    return found


def _lots_of(
    account: Account, entries: Sequence[_Entry], named: Mapping[str, Sequence[str]], a_case: Mapping[str, int]
) -> list[BottledLot]:
    lots: dict[str, BottledLot] = {}
    for one in entries:
        codes = named.get(one.number, ())
        if one.bottles > 0:
            code = codes[0] if codes else NO_LOT
            lot = lots.setdefault(code.casefold(), BottledLot(account, code, one.at))
            lot.came += one.bottles
            if not lot.record_number:
                lot.record_kind, lot.record_number = one.kind, one.number
            lot.bottles_a_case = lot.bottles_a_case or a_case.get(one.number, 0)
        else:
            _draw(-one.bottles, [lots[code.casefold()] for code in codes if code.casefold() in lots], lots.values())
    return list(lots.values())


def _draw(bottles: int, first: Sequence[BottledLot], others: Iterable[BottledLot]) -> None:
    """Takes bottles of the lots that were named, then of the oldest ones."""
    for lot in (*first, *others):
        taken = min(bottles, lot.held)
        lot.left += taken
        bottles -= taken
