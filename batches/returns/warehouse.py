"""The stock of the warehouse over a month in the categories of a stock return, by class of goods.

Opening; receipts by where they came from; gains in storage; increases in operations; removals by what for; losses in
storage; reductions and losses in operations; closing (the lines of the Excise Warehouse Return W1 of 08/2012 as far as
they were seen; EWR reg 20). What is lost and what is gained stand apart and are never set off: what one record
leaves at one account in the month, with what put it right, is one figure. Explaining a difference moves no goods, so it
stands here where it was found. What a month carries of a closed one is an adjustment with its reason, and no receipt or
removal of the month itself. Microlitres of pure alcohol at 20 °C.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Final

from django.db.models import Sum

from batches.returns.containers import Containers, containers
from batches.returns.months import Span
from distillery.plant.models import Stage
from ledger.models import AccountKind, AccountMonth, Leg, MovementKind
from ledger.models.accounts import HOLDING
from ledger.periods.calendar import Calendar, NoSuchPeriod
from ledger.posting.accounts import GAUGING, OPENING_STOCK
from ledger.posting.boundary import (
    CONSTRUCTIVE,
    DESTROYED,
    EXPORT,
    HOME_USE,
    RECEIVED_UNDER_BOND,
    RETURNED_DUTY_PAID,
    RETURNED_UNDER_BOND,
    UNDER_BOND,
)

# Finished spirit under bond, in the order it passes through them; wash, low wines and feints are in production.
CLASSES: Final = (Stage.NEW_SPIRIT, Stage.RECTIFIED, Stage.MATURING, Stage.REDUCED, Stage.BOTTLED)

STOCK_TAKEN_ON: Final = "stock taken on as the books began"
# What is put right of a closed month, by record: more in stock than its return said, or less.
ADJUSTED_UP: Final = "adjustment upward, of earlier months"
ADJUSTED_DOWN: Final = "adjustment downward, of earlier months"
FROM_PRODUCTION: Final = "from production on this site"
FROM_OTHERS: Final = "from other warehouses and sites"
RETURNED: Final = "returned inward"
OTHER_RECEIPTS: Final = "other receipts"
FROM_CLASSES: Final = "from other classes of this warehouse"
GAINS: Final = "gains in storage"
INCREASES: Final = "increases in operations"
TO_HOME_USE: Final = "to home use"
TO_EXPORT: Final = "to export and stores"
TO_OTHERS: Final = "to other UK warehouses"
WITHOUT_DUTY: Final = "other duty-free uses"
WITH_AUTHORITY: Final = "destroyed with authority"
BACK_TO_PRODUCTION: Final = "back to production"
TO_CLASSES: Final = "to other classes of this warehouse"
LOST_IN_STORAGE: Final = "losses in storage"
LOST_IN_OPERATIONS: Final = "reductions and losses in operations"

RECEIPTS: Final = (
    STOCK_TAKEN_ON,
    ADJUSTED_UP,
    FROM_PRODUCTION,
    FROM_OTHERS,
    RETURNED,
    OTHER_RECEIPTS,
    FROM_CLASSES,
    GAINS,
    INCREASES,
)
REMOVALS: Final = (
    ADJUSTED_DOWN,
    TO_HOME_USE,
    TO_EXPORT,
    TO_OTHERS,
    WITHOUT_DUTY,
    WITH_AUTHORITY,
    BACK_TO_PRODUCTION,
    TO_CLASSES,
)
LOSSES: Final = (LOST_IN_STORAGE, LOST_IN_OPERATIONS)
LINES: Final = (*RECEIPTS, *REMOVALS, *LOSSES)

_SOURCES: Final = {
    OPENING_STOCK: STOCK_TAKEN_ON,
    RECEIVED_UNDER_BOND: FROM_OTHERS,
    RETURNED_UNDER_BOND: RETURNED,
    RETURNED_DUTY_PAID: RETURNED,
}
_REMOVED: Final = {
    HOME_USE: TO_HOME_USE,
    CONSTRUCTIVE: TO_HOME_USE,
    EXPORT: TO_EXPORT,
    UNDER_BOND: TO_OTHERS,
    # Neither a use nor a loss: SI 2010/593 (the excise goods regulations), regulation 21(2)(d).
    DESTROYED: WITH_AUTHORITY,
}
# Work at which goods lie where they were: what it finds was lost or gained in storage.
_STORED: Final = frozenset({"regauge", "stock take", "standing"})
_IN_STORAGE: Final = "evaporation"


@dataclass(slots=True)
class ClassOfGoods:
    """One class of goods over a month, with the movements behind each line; `lie_in` where casks or bottles
    count. `reasons` are those of adjustments, by line."""

    stage: str
    opening_ul: int = 0
    lines: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    movements: dict[str, dict[int, int]] = field(default_factory=lambda: defaultdict(lambda: defaultdict(int)))
    closing_ul: int = 0
    lie_in: Containers | None = None
    reasons: dict[str, list[str]] = field(default_factory=dict)

    def add(self, line: str, movement: int, pure_ul: int) -> None:
        """Puts what one movement brings on a line."""
        self.lines[line] += pure_ul
        self.movements[line][movement] += pure_ul

    @property
    def in_ul(self) -> int:
        """All that came in, gains and increases with it."""
        return sum(self.lines.get(one, 0) for one in RECEIPTS)

    @property
    def out_ul(self) -> int:
        """All that went out and was not lost."""
        return sum(self.lines.get(one, 0) for one in REMOVALS)

    @property
    def losses_ul(self) -> int:
        """All that was lost or is missing, nothing set off."""
        return sum(self.lines.get(one, 0) for one in LOSSES)

    @property
    def foots(self) -> bool:
        """True where opening, what came in, went out and was lost come to the closing."""
        return self.opening_ul + self.in_ul - self.out_ul - self.losses_ul == self.closing_ul


@dataclass(frozen=True, slots=True)
class _Row:
    movement: int
    corrects: bool
    of_earlier: bool
    reason: str
    operation: str
    record: tuple[str, str]
    kind: str
    code: str
    name: str
    stage: str
    pure_ul: int


def warehouse(span: Span) -> list[ClassOfGoods]:
    """Every class of goods over the month, in the order of the process. Eight queries, or nine."""
    found = {str(stage): ClassOfGoods(str(stage)) for stage in CLASSES}
    for stage, pure_ul in _opening(span).items():
        if stage in found:
            found[stage].opening_ul = pure_ul
    for stage, counted in containers(span).items():
        found[stage].lie_in = counted
    rows = _rows(span)
    by_movement: dict[int, list[_Row]] = defaultdict(list)
    for row in rows:
        by_movement[row.movement].append(row)
    for movement in by_movement.values():
        if not movement[0].of_earlier:
            _passed_through(movement, found)
    _adjusted([row for row in rows if row.of_earlier], found)
    _apart(rows, found)
    for one in found.values():
        moved = sum(row.pure_ul for row in rows if row.stage == one.stage and row.kind in HOLDING)
        one.closing_ul = one.opening_ul + moved
    return list(found.values())


def _rows(span: Span) -> list[_Row]:
    legs = Leg.objects.filter(span.holds())
    sums = (
        legs.exclude(stage="")
        .exclude(movement__kind=MovementKind.EXPLANATION)
        .values_list(
            "movement_id",
            "movement__corrects_id",
            "movement__true_at",
            "movement__reason",
            "movement__operation",
            "movement__record_kind",
            "movement__record_number",
            "account__kind",
            "account__code",
            "account__name",
            "stage",
        )
        .annotate(Sum("pure_ul"))
        .order_by("movement_id", "account__code")
    )
    return [
        _Row(
            number,
            corrects is not None,
            true_at is not None and true_at < span.starts,
            reason,
            operation,
            (kind, record),
            *account,
        )
        for number, corrects, true_at, reason, operation, kind, record, *account in sums
    ]


def _opening(span: Span) -> Mapping[str, int]:
    """What each stage held as the month began."""
    held: dict[str, int] = defaultdict(int)
    months = AccountMonth.objects.filter(account__kind__in=HOLDING)
    if span.periods:
        return dict(months.filter(period__lt=span.periods[0]).values_list("stage").annotate(Sum("pure_ul")))
    calendar = Calendar.read()
    try:
        period = calendar.period_of(span.starts)
    except NoSuchPeriod:
        period = ""
    before = months.filter(period__lt=period) if period else months
    for stage, pure_ul in before.values_list("stage").annotate(Sum("pure_ul")):
        held[stage] += pure_ul
    if period and calendar.bounds(period)[0] < span.starts:
        begun = Leg.objects.filter(
            period=period, movement__happened_at__lt=span.starts, account__kind__in=HOLDING
        ).values_list("stage")
        for stage, pure_ul in begun.annotate(Sum("pure_ul")):
            held[stage] += pure_ul
    return held


def _passed_through(movement: list[_Row], found: Mapping[str, ClassOfGoods]) -> None:
    """What one movement brought into each class or took out of it, by where it came from or went."""
    through: dict[str, int] = defaultdict(int)
    for row in movement:
        if row.kind in (*HOLDING, AccountKind.LOSS, AccountKind.DIFFERENCE):
            through[row.stage] += row.pure_ul
    sources = {row.name for row in movement if row.kind == AccountKind.SOURCE}
    removed = {row.name for row in movement if row.kind == AccountKind.REMOVAL}
    # What takes back an entry lessens the line on which that entry stands.
    sign = -1 if movement[0].corrects else 1
    for stage, pure_ul in through.items():
        if not pure_ul or stage not in found:
            continue
        others = [one for one, amount in through.items() if one != stage and amount]
        inside = not others or any(one in found for one in others)
        came_in = pure_ul * sign > 0
        if came_in:
            between = FROM_CLASSES if inside else FROM_PRODUCTION
            line = next((_SOURCES.get(name, OTHER_RECEIPTS) for name in sorted(sources)), between)
        else:
            between = TO_CLASSES if inside else BACK_TO_PRODUCTION
            line = next((_REMOVED.get(name, WITHOUT_DUTY) for name in sorted(removed)), between)
        found[stage].add(line, movement[0].movement, pure_ul if came_in else -pure_ul)


def _adjusted(rows: Iterable[_Row], found: Mapping[str, ClassOfGoods]) -> None:
    """What each record moves of a closed month, with what it takes back, in one sum a class: the adjustment of it."""
    moved: dict[tuple[str, tuple[str, str]], list[_Row]] = defaultdict(list)
    for row in rows:
        if row.stage in found and row.kind in (*HOLDING, AccountKind.LOSS, AccountKind.DIFFERENCE):
            moved[row.stage, row.record].append(row)
    for (stage, _), those in moved.items():
        pure_ul = sum(row.pure_ul for row in those)
        if not pure_ul:
            continue
        line, one = (ADJUSTED_UP if pure_ul > 0 else ADJUSTED_DOWN), found[stage]
        for row in those:
            one.add(line, row.movement, row.pure_ul if pure_ul > 0 else -row.pure_ul)
            if row.reason and row.reason not in one.reasons.setdefault(line, []):
                one.reasons[line].append(row.reason)


def _apart(rows: Iterable[_Row], found: Mapping[str, ClassOfGoods]) -> None:
    """Losses and gains: what one record leaves at one account in the month, in storage or in operations."""
    sums: dict[tuple[str, tuple[str, str], str], int] = defaultdict(int)
    moved: dict[tuple[str, tuple[str, str], str], list[_Row]] = defaultdict(list)
    for row in rows:
        if row.kind in (AccountKind.LOSS, AccountKind.DIFFERENCE) and row.stage in found:
            sums[row.stage, row.record, row.code] += row.pure_ul
            moved[row.stage, row.record, row.code].append(row)
    for place, pure_ul in sums.items():
        if not pure_ul:
            continue
        stored, one = _in_storage(moved[place][0]), found[place[0]]
        lost, gained = (LOST_IN_STORAGE, GAINS) if stored else (LOST_IN_OPERATIONS, INCREASES)
        line = lost if pure_ul > 0 else gained
        for row in moved[place]:
            one.add(line, row.movement, row.pure_ul if pure_ul > 0 else -row.pure_ul)


def _in_storage(row: _Row) -> bool:
    return row.code.startswith(GAUGING) or row.name.startswith(_IN_STORAGE) or row.operation in _STORED
