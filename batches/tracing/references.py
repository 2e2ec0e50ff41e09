"""What a number, a code or a name refers to: where a trace begins."""

from __future__ import annotations

import json
from dataclasses import dataclass

from django.db.models import Q

from batches.models import Mention, Record, State
from batches.sheets.register import all_sheets, sheet_of
from batches.standing import version_in_books
from distillery.plant.lookup import Plant
from distillery.typed.spellings import spellings
from ledger.models import Account, AccountKind

STOCK_ACCOUNT = "stock:"
# A field of this name says to whom something went, in words.
CONSIGNEE = "consignee"
CALLED = {Mention.What.LOT: "lot", Mention.What.DOCUMENT: "document"}
# What records name, in words or by its number; anything else is a record itself, or a place.
NAMED = (*CALLED.values(), CONSIGNEE)


class NoSuchReference(LookupError):
    """Nothing on the site has that number."""


@dataclass(frozen=True, slots=True)
class Reference:
    """What a number refers to: records to start from, or the account of a vessel, cask or stock; `what` says which."""

    ref: str
    records: tuple[int, ...] = ()
    account: Account | None = None
    what: str = "record"

    @property
    def is_record(self) -> bool:
        """True where a record itself was meant, and nothing that records name."""
        return bool(self.records) and self.what not in NAMED


def refer(ref: str) -> Reference:
    """What a number of a record, lot, vessel, cask, bottling or document, a bottled stock or a consignee refers to.

    Raises NoSuchReference.
    """
    wanted = ref.strip()
    there = Record.objects.exclude(state=State.VOID)
    record = there.filter(number__iexact=wanted).first()
    if record is not None:
        return Reference(record.number, (record.pk,), what=sheet_of(record.kind).traced_as or _said(record.kind))
    vessel = Plant().vessel_meant(wanted)
    if vessel is not None:
        account = Account.objects.filter(vessel=vessel).first()
        return Reference(vessel.code, account=account, what=vessel.get_kind_display().lower())
    meant = there.filter(number__in=spellings(wanted))[:2]
    if len(meant) == 1:
        # Typed without its noughts.
        return refer(meant[0].number)
    for what, called in CALLED.items():
        named = _naming(what, wanted)
        if named:
            return Reference(wanted, named, what=called)
    stock = Account.objects.filter(
        Q(code__iexact=wanted) | Q(code__iexact=f"{STOCK_ACCOUNT}{wanted}") | Q(name__iexact=wanted),
        kind=AccountKind.STOCK,
    ).first()
    if stock is not None:
        return Reference(stock.code.removeprefix(STOCK_ACCOUNT), account=stock, what="bottled stock")
    sent = _sent_to(wanted)
    if sent:
        return Reference(wanted, sent, what=CONSIGNEE)
    raise NoSuchReference(f"There is no record, lot, vessel or cask {wanted} on this site.")


def _said(kind: str) -> str:
    title = sheet_of(kind).title
    return f"{title[:1].lower()}{title[1:]}"


def _naming(what: Mention.What, wanted: str) -> tuple[int, ...]:
    named = Mention.objects.filter(what=what, code__iexact=wanted).exclude(record__state=State.VOID)
    return tuple(named.order_by("record_id").values_list("record_id", flat=True).distinct())


def _sent_to(wanted: str) -> tuple[int, ...]:
    """Records that say in words that something went to a consignee of this name, or whose name and address begin so."""
    if not wanted:
        return ()
    kinds = [sheet.kind for sheet in all_sheets() if sheet.has_field(CONSIGNEE)]
    # Texts are kept as JSON, every sign beyond ASCII written out.
    written = json.dumps(wanted, ensure_ascii=True)[1:-1]
    saying = Record.objects.filter(kind__in=kinds, versions__values__icontains=written).exclude(state=State.VOID)
    found = []
    for record in saying.order_by("pk").distinct():
        typed = json.loads(version_in_books(record).values).get(CONSIGNEE, "")
        if typed.casefold().startswith(wanted.casefold()):
            found.append(record.pk)
    return tuple(found)


def traced_kind(kind: str) -> str:
    """What a trace calls a kind of record."""
    return sheet_of(kind).traced_as or kind
