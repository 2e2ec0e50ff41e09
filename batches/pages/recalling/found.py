"""What something touched, as it is looked for in a recall: where it is now, what was bottled of it, what left."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from batches.models import Record
from batches.pages.places.stock_tables import bottles_in
from batches.pages.records.record_table import with_latest
from batches.recalls.touching import LEAST_TOUCHED
from batches.sheets.register import sheet_of
from batches.sheets.sheet import Sheet
from batches.tracing.references import CONSIGNEE
from batches.tracing.trace import Trace
from distillery.plant.models import Kind as VesselKind
from ledger.models import Account, AccountKind
from ledger.statements.balances import Holding, holdings

DOCUMENT = "document"


@dataclass(frozen=True, slots=True)
class InPlace:
    """A cask or vessel that holds some of it now. `share` (0 to 1) is how much of what it holds is of it."""

    account: Account
    code: str
    kind: str
    warehouse: str
    litres20: float | None
    holds_ul: int
    of_it_ul: int
    share: float


@dataclass(frozen=True, slots=True)
class InStock:
    """Bottles in bond that have some of it in them."""

    account: Account
    bottles: int
    of_it_ul: int
    share: float


@dataclass(frozen=True, slots=True)
class OnRecord:
    """A record that took some of it, with what was typed there; `share` is how much of what it took is of it."""

    record: Record
    sheet: Sheet
    typed: Mapping[str, str]
    of_it_ul: int
    share: float

    def says(self, name: str) -> str:
        """What stands in a field; blank where there is none."""
        return self.typed.get(name, "")

    @property
    def bottles(self) -> int:
        """Bottles that were filled or left by it."""
        name = self.sheet.bottles_leave.bottles if self.sheet.bottles_leave is not None else "bottles"
        said = self.says(name)
        return int(said) if said.isdecimal() else 0

    @property
    def document(self) -> str:
        """The number of its document."""
        return next((self.says(one.name) for one in self.sheet.fields if one.found_as == DOCUMENT), "")

    @property
    def consignee(self) -> str:
        """To whom it went."""
        return self.says(CONSIGNEE)


@dataclass(frozen=True, slots=True)
class Found:
    """All that something touched. What is less than one part in a million of what is in a thing is left out."""

    in_places: list[InPlace]
    in_stock: list[InStock]
    bottled: list[OnRecord]
    left: list[OnRecord]
    others: list[OnRecord]

    @property
    def bottles_left(self) -> int:
        """Bottles that are no longer here."""
        return sum(one.bottles for one in self.left)

    @property
    def bottles_here(self) -> int:
        """Bottles in bond."""
        return sum(one.bottles for one in self.in_stock)

    @property
    def consignees(self) -> list[str]:
        """To whom some of it went, each once."""
        return list(dict.fromkeys(one.consignee for one in self.left if one.consignee))


def found_by(trace: Trace) -> Found:
    """What the walk forward of a trace reached, as it is asked for in a recall."""
    amounts = dict(trace.ahead.amounts)
    for pk in trace.start.records:
        amounts[pk] = trace.behind.starts.get(pk, 0.0) * trace.behind_ul
    shares = {pk: part for pk in amounts if (part := trace.ahead.parts.get(pk, 0.0)) >= LEAST_TOUCHED}
    records = [_on_record(one, amounts[one.pk], shares[one.pk]) for one in _records(shares)]
    bottled = [one for one in records if one.sheet.fills_bottles]
    left = [one for one in records if one.sheet.bottles_leave is not None]
    named = {one.record.pk for one in (*bottled, *left)}
    places = {one.account.pk: one for one in _held(trace)}
    stock = [
        InStock(one.account, bottles_in(one.account), of_it, share)
        for one, of_it, share in _with_shares(trace, places, stock=True)
    ]
    in_places = [
        _in_place(one, of_it, share)
        for one, of_it, share in _with_shares(trace, places, stock=False)
        if one.pure_ul > 0
    ]
    return Found(in_places, stock, bottled, left, [one for one in records if one.record.pk not in named])


def _records(keys: Iterable[int]) -> list[Record]:
    found = with_latest(Record.objects.filter(pk__in=list(keys)).exclude(state="void"))
    return list(found.order_by("happened_from", "pk"))


def _on_record(record: Record, of_it: float, share: float) -> OnRecord:
    typed = json.loads(getattr(record, "standing", None) or "{}")
    return OnRecord(record, sheet_of(record.kind), typed, round(of_it), share)


def _held(trace: Trace) -> list[Holding]:
    keys = set(trace.held)
    if trace.start.account is not None:
        keys.add(trace.start.account.pk)
    return holdings(Account.objects.filter(pk__in=keys).select_related("vessel__cask", "balance").order_by("code"))


def _with_shares(trace: Trace, places: Mapping[int, Holding], *, stock: bool) -> Iterable[tuple[Holding, int, float]]:
    """Stocks, or vessels and casks, with how much of it each holds and which share that is of what it holds."""
    own = trace.start.account.pk if trace.start.account is not None else None
    parts = {one.account_id: one.of_itself for one in trace.forward if one.account_id is not None}
    for pk, one in places.items():
        if (one.account.kind == AccountKind.STOCK) is not stock:
            continue
        share = 1.0 if pk == own else parts.get(pk, 0.0)
        of_it = one.pure_ul if pk == own else round(sum(trace.held[pk].values()))
        if share >= LEAST_TOUCHED:
            yield one, of_it, share


def _in_place(one: Holding, of_it: int, share: float) -> InPlace:
    vessel = one.account.vessel
    assert vessel is not None
    is_cask = vessel.kind == VesselKind.CASK
    return InPlace(
        one.account,
        vessel.code,
        vessel.get_kind_display(),
        vessel.cask.warehouse if is_cask else "",
        one.litres20,
        one.pure_ul,
        of_it,
        share,
    )
