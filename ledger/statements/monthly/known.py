"""How the closing figures of a month are known, place by place: gauged in it, counted, seen, or by their book alone.

By what each account is known says `ledger.statements.basis`, for the month as for the list of a day. Whole microlitres
of pure alcohol at 20 °C.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import QuerySet, Sum

from distillery.plant.models import Kind, Stage
from ledger.models import AccountMonth
from ledger.statements.balances import Holding
from ledger.statements.basis import COUNTED, SEEN, Basis, gauged_in, span_of
from ledger.statements.month import StageLine
from ledger.statements.monthly.places import PLACE_OF, Place


@dataclass(frozen=True, slots=True)
class KnownLine:
    """What one place holds at the end, by how that is known. `gauged` counts the vessels or casks that were gauged in
    the month, `seen` the casks that were seen and not weighed; `gauged_at` is the oldest gauge of a vessel that holds
    anything, where it is not in the month.
    """

    place: str
    gauged: int
    gauged_ul: int
    counted_ul: int
    seen: int
    seen_ul: int
    book_ul: int
    gauged_at: datetime | None = None

    @property
    def closing_ul(self) -> int:
        return self.gauged_ul + self.counted_ul + self.seen_ul + self.book_ul


@dataclass(slots=True)
class _Known:
    accounts: int = 0
    pure_ul: int = 0


@dataclass(slots=True)
class _AtPlace:
    by: dict[Basis, _Known] = field(default_factory=lambda: {one: _Known() for one in Basis})
    older: list[datetime] = field(default_factory=list)


def known_lines(period: str, places: Iterable[StageLine], vessels: Iterable[Holding]) -> list[KnownLine]:
    """A line for each place. A few queries, which grow with what was gauged, filled or counted in the month alone."""
    span = span_of(period)
    found: dict[str, _AtPlace] = {place: _AtPlace() for place in Place}
    gauged = set(gauged_in(period, span))
    counted = {account for tell in COUNTED for account in tell(span, None)} - gauged
    upto = AccountMonth.objects.filter(period__lte=period)
    _add_up(found, Basis.GAUGED, upto.filter(account__in=gauged))
    _add_up(found, Basis.COUNTED, upto.filter(account__in=counted))
    for seen in SEEN:
        of_seen = upto.filter(account__vessel__in=seen(span, None).values("vessel_id"))
        _add_up(found, Basis.SEEN, of_seen.exclude(account__in=gauged))
    for holding in vessels:
        vessel, gauge = holding.account.vessel, holding.last_gauge
        assert vessel is not None
        if gauge is not None and holding.pure_ul and holding.account.pk not in gauged:
            found[PLACE_OF[vessel.kind]].older.append(gauge.happened_at)
    return [_line(line, found[line.stage]) for line in places]


def known_in_all(lines: Iterable[KnownLine]) -> KnownLine:
    """All places together."""
    every = list(lines)
    return KnownLine(
        "Site",
        sum(line.gauged for line in every),
        sum(line.gauged_ul for line in every),
        sum(line.counted_ul for line in every),
        sum(line.seen for line in every),
        sum(line.seen_ul for line in every),
        sum(line.book_ul for line in every),
        min((line.gauged_at for line in every if line.gauged_at), default=None),
    )


def _line(line: StageLine, at_place: _AtPlace) -> KnownLine:
    gauged, counted, seen = (at_place.by[basis] for basis in (Basis.GAUGED, Basis.COUNTED, Basis.SEEN))
    return KnownLine(
        place=line.stage,
        gauged=gauged.accounts,
        gauged_ul=gauged.pure_ul,
        counted_ul=counted.pure_ul,
        seen=seen.accounts,
        seen_ul=seen.pure_ul,
        book_ul=line.closing_ul - gauged.pure_ul - counted.pure_ul - seen.pure_ul,
        gauged_at=min(at_place.older, default=None),
    )


def _add_up(found: dict[str, _AtPlace], basis: Basis, months: QuerySet[AccountMonth]) -> None:
    """What accounts held at the end, at the place of each: bottled stock by its stage, all else by its vessel."""
    nets = (
        months.order_by().values_list("account_id", "account__vessel__kind", "account__stage").annotate(Sum("pure_ul"))
    )
    for _, kind, stage, net in nets:
        place = Place.BOTTLED if stage == Stage.BOTTLED or kind is None else PLACE_OF[Kind(kind)]
        one = found[place].by[basis]
        one.accounts += 1
        one.pure_ul += net
