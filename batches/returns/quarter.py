"""The quarter's figures: spirits made, of which kinds, and cereals used.

Total spirits, of them Scotch and Irish, the kinds made (malt, grain and so on), and what was used: malted barley, other
malted grain by name, and so on (HMRC, description of the figures that the Alcohol Duty return carries, 2025-26). What
is made is the spirits account of each run: its receiver after collection less the remnant (HMRC manual SPIR4130).
Spirit that is distilled again or compounded is not made a second time. Pure alcohol in microlitres, cereals in grams.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Final

from django.db.models import Sum

from batches.models import Record
from batches.returns.months import Span
from batches.returns.of_which import OfWhich, of_which_irish, of_which_scotch
from batches.sheets.register import all_sheets
from batches.sheets.site import Site
from batches.stores.kinds import Act, MaterialKind
from batches.stores.models import StockEntry
from distillery.plant.models import Kind, Stage
from ledger.models import AccountKind, Entry, Leg

MALT: Final = "malt spirit"
MALTED_BARLEY: Final = "malted barley"
BARLEY: Final = "barley"
# The kinds of the return by the class of spirits of a run; another class is named as it is.
KINDS: Final = {MALT: "malt"}


@dataclass(frozen=True, slots=True)
class Used:
    """What one record used of one lot, grams."""

    at: datetime
    record_kind: str
    record: str
    lot: str
    amount_g: int


@dataclass(frozen=True, slots=True)
class Amount:
    """One line of the quarter with what lies behind it: `movements` of spirits, `used` of cereals."""

    name: str
    amount: int
    movements: Mapping[int, int] = field(default_factory=dict)
    used: tuple[Used, ...] = ()


@dataclass(frozen=True, slots=True)
class Quarter:
    """Spirits made by kind, cereals used by name, and of the spirits those made as each whisky asks."""

    kinds: tuple[Amount, ...]
    cereals: tuple[Amount, ...]
    of_which: tuple[OfWhich, ...] = ()

    @property
    def spirits_ul(self) -> int:
        """All spirits made."""
        return sum(one.amount for one in self.kinds)

    @property
    def cereals_g(self) -> int:
        """All cereals used."""
        return sum(one.amount for one in self.cereals)

    @property
    def is_nil(self) -> bool:
        """True where nothing was made and nothing used."""
        return not self.kinds and not self.cereals


def quarter_figures(span: Span) -> Quarter:
    """The figures of a quarter, or of any span."""
    kinds = _spirits(span)
    moved = {movement: pure_ul for one in kinds for movement, pure_ul in one.movements.items()}
    return Quarter(kinds, _cereals(span), (*of_which_scotch(span, moved), *of_which_irish(moved)))


def _spirits(span: Span) -> tuple[Amount, ...]:
    """What runs of stills brought into receivers of new spirit, gauges of what was there before left out."""
    makes = {one.kind: one.distils.spirits for one in all_sheets() if one.distils and one.distils.spirit}
    legs = (
        Leg.objects.filter(
            span.holds(),
            movement__record_kind__in=makes,
            account__kind=AccountKind.VESSEL,
            account__vessel__stage=Stage.NEW_SPIRIT,
        )
        .exclude(account__vessel__kind=Kind.STILL)
        .exclude(entry=Entry.GAUGING)
        .values_list("movement__record_kind", "movement_id", "movement__corrects_id")
        .annotate(Sum("pure_ul"))
    )
    made: dict[str, int] = defaultdict(int)
    moved: dict[str, dict[int, int]] = defaultdict(dict)
    for record_kind, movement, corrects, pure_ul in legs.order_by("movement_id"):
        if (pure_ul < 0) == (corrects is None):
            # New spirit that is distilled again leaves its receiver: it was made before.
            continue
        name = KINDS.get(makes[record_kind], makes[record_kind])
        made[name] += pure_ul
        moved[name][movement] = pure_ul
    return tuple(Amount(name, made[name], moved[name]) for name in sorted(made) if made[name])


def _cereals(span: Span) -> tuple[Amount, ...]:
    """What was issued of lots of malt, by the cereal of each lot; barley where its intake says none."""
    entries = list(
        StockEntry.objects.standing()
        .filter(lot__kind=MaterialKind.MALT, act=Act.ISSUED)
        .filter(happened_at__gte=span.starts, happened_at__lt=span.ends)
        .select_related("lot", "version__record")
        .order_by("happened_at", "pk")
    )
    used: dict[str, list[Used]] = defaultdict(list)
    named = _cereals_of({entry.lot.code for entry in entries})
    for entry in entries:
        record = entry.version.record
        used[named[entry.lot.code]].append(
            Used(entry.happened_at, record.kind, record.number, entry.lot.code, -entry.amount)
        )
    return tuple(
        Amount(name, sum(one.amount_g for one in lines), used=tuple(lines)) for name, lines in sorted(used.items())
    )


def _cereals_of(lots: Collection[str]) -> dict[str, str]:
    """What lots of malt were made of, as their receipts say it. Two queries."""
    kinds = [one.kind for one in all_sheets() if any(two.kind is MaterialKind.MALT for two in one.receives)]
    records = list(Record.objects.filter(kind__in=kinds, number__in=lots))
    site = Site()
    site.read_typed(records)
    found = dict.fromkeys(lots, MALTED_BARLEY)
    for record in records:
        cereal = site.typed_of(record).get("cereal", "").strip().casefold()
        if cereal not in ("", BARLEY):
            found[record.number] = f"malted {cereal}"
    return found
