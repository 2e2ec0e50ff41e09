"""The month's account by place: tun room, still house, vats, warehouse, bottled stock. Whole microlitres at 20 °C.

A place is what vessels of a kind stand in. What passes within a place is neither in nor out of it, and what passes
between places cancels in the line of the site. In and out are those of each movement, as in the lines by stage.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final

from django.db.models import Sum

from distillery.plant.models import Kind, Stage, Vessel
from ledger.models import AccountKind, AccountMonth, Entry, Leg, MovementKind
from ledger.posting.accounts import GAUGING
from ledger.statements.balances import Holding
from ledger.statements.month import StageLine


class Place(StrEnum):
    """Where on the site alcohol stands, in the order in which it comes there."""

    TUN_ROOM = "Tun room"
    STILL_HOUSE = "Still house"
    VATS = "Vats"
    WAREHOUSE = "Warehouse"
    BOTTLED = "Bottled stock"


PLACE_OF: Final[Mapping[str, Place]] = {
    Kind.WASHBACK: Place.TUN_ROOM,
    Kind.STILL: Place.STILL_HOUSE,
    Kind.RECEIVER: Place.STILL_HOUSE,
    Kind.VAT: Place.VATS,
    Kind.TANK: Place.VATS,
    Kind.CASK: Place.WAREHOUSE,
}
# Where an explanation stands whose record left its difference at no vessel.
BY_STAGE: Final[Mapping[str, Place]] = {
    Stage.WASH: Place.STILL_HOUSE,
    Stage.LOW_WINES: Place.STILL_HOUSE,
    Stage.MATURING: Place.WAREHOUSE,
    Stage.BOTTLED: Place.BOTTLED,
}


@dataclass(slots=True)
class _Sums:
    came_ul: int = 0
    left_ul: int = 0
    loss_ul: int = 0
    difference_ul: int = 0

    @property
    def net_ul(self) -> int:
        return self.came_ul - self.left_ul - self.loss_ul - self.difference_ul


def place_lines(
    period: str, site: StageLine, stages: Iterable[StageLine], vessels: Iterable[Holding]
) -> list[StageLine]:
    """A line for each place that held or passed anything, in their order; `stage` of a line is the name of its place.

    What casks hold is what the site holds beyond its other vessels and its bottles, so that no cask is asked for.
    `vessels` are those but the casks. Three queries, and up to two more where differences were explained; they grow
    with what was posted in the period and with the months of the few vessels, and with no number of casks.
    """
    sums = _passed(period)
    _explained(period, sums)
    closing = _closing(period, site, stages, vessels)
    found = []
    for place in Place:
        one, closing_ul = sums.get(place, _Sums()), closing[place]
        line = StageLine(
            stage=place.value,
            opening_ul=closing_ul - one.net_ul,
            in_ul=one.came_ul,
            out_ul=one.left_ul,
            loss_ul=one.loss_ul,
            difference_ul=one.difference_ul,
            closing_ul=closing_ul,
        )
        if any((line.opening_ul, line.in_ul, line.out_ul, line.loss_ul, line.difference_ul, line.closing_ul)):
            found.append(line)
    return found


def _closing(period: str, site: StageLine, stages: Iterable[StageLine], vessels: Iterable[Holding]) -> dict[Place, int]:
    held: dict[Place, int] = defaultdict(int)
    accounts = [holding.account for holding in vessels]
    # By the accounts of the few vessels, each along its own months.
    nets = AccountMonth.objects.filter(account__in=[one.pk for one in accounts], period__lte=period)
    books = dict(nets.values_list("account_id").annotate(Sum("pure_ul")).order_by())
    bottled = next((line.closing_ul for line in stages if line.stage == Stage.BOTTLED), 0)
    for account in accounts:
        assert account.vessel is not None
        held[PLACE_OF[account.vessel.kind]] += books.get(account.pk, 0)
        if account.stage == Stage.BOTTLED:
            bottled -= books.get(account.pk, 0)
    held[Place.BOTTLED] = bottled
    held[Place.WAREHOUSE] += site.closing_ul - sum(held.values())
    return held


@dataclass(slots=True)
class _Passed:
    """What one movement did at each place, and the differences it left at no vessel."""

    takes_back: bool
    through: dict[Place, int] = field(default_factory=lambda: defaultdict(int))
    stages: dict[str, set[Place]] = field(default_factory=lambda: defaultdict(set))
    apart: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    at_vessels: int = 0

    def stands_at(self, stage: str) -> Place:
        """Where a difference of a stage stands: of the places of that stage, the one that took the alcohol in."""
        places = self.stages.get(stage) or self.through.keys() or {Place.VATS}
        return max(places, key=lambda place: (self.through[place], list(Place).index(place)))


def _passed(period: str) -> dict[Place, _Sums]:
    """In, out, known losses and differences of each place, movement by movement; one query."""
    rows = (
        Leg.objects.filter(movement__period=period)
        .exclude(movement__kind=MovementKind.EXPLANATION)
        .filter(account__kind__in=(AccountKind.VESSEL, AccountKind.STOCK, AccountKind.DIFFERENCE))
        .values_list("movement_id", "movement__corrects_id", "account__kind", "account__vessel__kind", "entry", "stage")
        .annotate(Sum("pure_ul"))
        .order_by()
    )
    sums: dict[Place, _Sums] = defaultdict(_Sums)
    movements: dict[int, _Passed] = {}
    for movement, corrects, account, kind, entry, stage, pure_ul in rows:
        one = movements.setdefault(movement, _Passed(corrects is not None))
        if account == AccountKind.DIFFERENCE:
            one.apart[stage] += pure_ul
            continue
        place = PLACE_OF[kind] if kind else Place.BOTTLED
        if entry == Entry.LOSS:
            sums[place].loss_ul -= pure_ul
        elif entry in (Entry.GAUGING, Entry.DIFFERENCE):
            sums[place].difference_ul -= pure_ul
            one.at_vessels += pure_ul
        else:
            one.through[place] += pure_ul
            one.stages[stage].add(place)
    for one in movements.values():
        _add(one, sums)
    return sums


def _add(one: _Passed, sums: dict[Place, _Sums]) -> None:
    if left := sum(one.apart.values()) + one.at_vessels:
        # One vessel gave and another took: what is between them stands where the account by stage has it.
        most = max(one.apart, key=lambda stage: abs(one.apart[stage]))
        place = one.stands_at(most)
        sums[place].difference_ul += left
        one.through[place] += left
    for place, pure_ul in one.through.items():
        # What takes an entry back takes its in and its out back, and is no way of its own.
        if (pure_ul > 0) != one.takes_back:
            sums[place].came_ul += pure_ul
        else:
            sums[place].left_ul -= pure_ul


def _explained(period: str, sums: dict[Place, _Sums]) -> None:
    """Adds what explanations took out of differences and gave to known losses: it passes no vessel."""
    rows = list(
        Leg.objects.filter(movement__period=period, movement__kind=MovementKind.EXPLANATION)
        .filter(account__kind__in=(AccountKind.LOSS, AccountKind.DIFFERENCE))
        .values_list("movement__record_number", "account__kind", "account__code", "stage")
        .annotate(Sum("pure_ul"))
        .order_by()
    )
    if not rows:
        return
    gauged = {code.removeprefix(GAUGING) for _, _, code, _, _ in rows if code.startswith(GAUGING)}
    kinds = dict(Vessel.objects.filter(code__in=gauged).order_by().values_list("code", "kind"))
    left_at = _left_at({record for record, *_ in rows})
    of_record: dict[str, Place] = {}
    for record, kind, code, stage, _ in rows:
        if kind == AccountKind.DIFFERENCE:
            vessel = kinds.get(code.removeprefix(GAUGING), "") if code.startswith(GAUGING) else ""
            of_record[record] = PLACE_OF.get(vessel) or left_at.get(record) or BY_STAGE.get(stage, Place.VATS)
    for record, kind, _, stage, pure_ul in rows:
        place = of_record.get(record) or BY_STAGE.get(stage, Place.VATS)
        if kind == AccountKind.LOSS:
            sums[place].loss_ul += pure_ul
        else:
            sums[place].difference_ul += pure_ul


def _left_at(records: set[str]) -> dict[str, Place]:
    """The place at which each of these records left its difference; one query."""
    legs = Leg.objects.filter(
        movement__record_number__in=records, entry=Entry.DIFFERENCE, account__kind=AccountKind.VESSEL
    )
    rows = legs.order_by("pk").values_list("movement__record_number", "account__vessel__kind")
    return {record: PLACE_OF[kind] for record, kind in rows if kind}
