"""What mashes came to, many of them together: their malt, the wash declared of it, and what the malt promised.

Pure alcohol in whole microlitres, malt in grams as it was issued. A few questions for all of them, so that the mashes
of years are read as one list; the wash is as its fermentation declared it, before any loss at the stills.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from batches.distilling.promised import predicted_yield
from batches.models import Record, State, Version
from batches.sheets.register import all_sheets
from batches.sheets.site import Site
from batches.stores.kinds import Act, MaterialKind
from batches.stores.models import StockEntry
from distillery.process.malt import Portion, blended
from ledger.models import Gauge

MASH: Final = "mash"
# Wort is pitched within a day of its mash; a log may say more, and nobody reads on for years.
PITCHED_WITHIN: Final = timedelta(days=31)


@dataclass(frozen=True, slots=True)
class MashYield:
    """One mash: when it began, its malt, the wash that was declared of it (None: not yet), what its malt promised."""

    kind: str
    number: str
    started_at: datetime
    malt_g: int
    declared_ul: int | None
    promised: float | None

    @property
    def reached(self) -> float | None:
        """Its wash, LPA a tonne of malt."""
        return self.declared_ul / self.malt_g if self.declared_ul is not None and self.malt_g else None

    @property
    def efficiency(self) -> float | None:
        """That as % of what its malt promised."""
        return 100.0 * self.reached / self.promised if self.reached is not None and self.promised else None


@dataclass(frozen=True, slots=True)
class MashesTogether:
    """Several mashes: how many are declared, their malt, their wash and what was promised, LPA a tonne by mass."""

    count: int
    malt_g: int
    reached: float | None
    promised: float | None


def mash_yields(since: datetime, until: datetime) -> list[MashYield]:
    """The mashes begun from one moment up to another, in order of time. Seven questions, however many there are."""
    ferments = [sheet for sheet in all_sheets() if MASH in sheet.tells]
    of_mash = {sheet.field(MASH).record_kind for sheet in ferments}
    mashes = list(
        Record.objects.filter(kind__in=of_mash, happened_from__gte=since, happened_from__lt=until)
        .exclude(state=State.VOID)
        .order_by("happened_from", "pk")
    )
    if not mashes:
        return []
    wash_of = _wash_of([sheet.kind for sheet in ferments], since, until)
    issued = malt_issued(mashes)
    promised = promised_by_lot({code for drawn in issued.values() for code in drawn})
    declared = _declared(list(wash_of.values()))
    found = []
    for mash in mashes:
        drawn = issued.get(mash.pk, {})
        malt = sum(drawn.values())
        ul = declared.get(wash_of.get(mash.number, ""))
        of_malt = by_mass_of(drawn, promised)
        found.append(MashYield(mash.kind, mash.number, mash.happened_from, malt, ul, of_malt))
    return found


def by_mass_of(drawn: Mapping[str, int], figure: Mapping[str, float | None]) -> float | None:
    """A figure of several lots, weighted by the grams drawn of each; None without any, or where it is not known of all.

    The sum is that of `distillery.process.malt.blended`.
    """
    told = [(grams, figure.get(code)) for code, grams in drawn.items()]
    portions = [Portion(float(grams), of_lot) for grams, of_lot in told if of_lot is not None]
    return blended(portions) if portions and len(portions) == len(told) else None


def together(mashes: Iterable[MashYield]) -> MashesTogether:
    """Those of these mashes whose wash is declared and whose malt is known, as one."""
    done = [one for one in mashes if one.reached is not None]
    malt = sum(one.malt_g for one in done)
    reached = sum(one.declared_ul or 0 for one in done) / malt if malt else None
    told = [one.promised * one.malt_g for one in done if one.promised is not None]
    return MashesTogether(len(done), malt, reached, sum(told) / malt if malt and len(told) == len(done) else None)


def _wash_of(kinds: Sequence[str], since: datetime, until: datetime) -> dict[str, str]:
    """The fermentation of each mash, by the number of the mash: what was begun since the first of them. Two queries."""
    records = dict(
        Record.objects.filter(kind__in=kinds, happened_from__gte=since, happened_from__lt=until + PITCHED_WITHIN)
        .exclude(state=State.VOID)
        .values_list("pk", "number")
    )
    newest = dict(Version.objects.filter(record__in=records).order_by("serial").values_list("record_id", "values"))
    return {json.loads(values).get(MASH, "").strip(): records[pk] for pk, values in newest.items()}


def malt_issued(mashes: Sequence[Record]) -> dict[int, dict[str, int]]:
    """Grams of malt drawn of each lot, by the key of the mash. One query."""
    entries = StockEntry.objects.standing().filter(
        version__record__in=mashes, act=Act.ISSUED, lot__kind=MaterialKind.MALT
    )
    found: dict[int, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for pk, code, grams in entries.values_list("version__record_id", "lot__code", "said"):
        found[pk][code] += grams
    return found


def promised_by_lot(codes: Iterable[str]) -> dict[str, float | None]:
    """What lots promise, LPA a tonne, by their codes. Two queries."""
    site = Site()
    lots = list(Record.objects.filter(number__in=set(codes)))
    site.read_typed(lots)
    return {lot.number: predicted_yield(site, lot) for lot in lots}


def _declared(numbers: Sequence[str]) -> dict[str, int]:
    """The wash that each of these fermentations declared, by number. One query."""
    gauges = Gauge.objects.standing().filter(movement__record_number__in=numbers)
    return dict(gauges.order_by("happened_at", "position").values_list("movement__record_number", "pure_ul"))
