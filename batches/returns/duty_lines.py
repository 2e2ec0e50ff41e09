"""The duty of what left: one line for each line of a removal, and of these the lines of a return by tax type and rate.

A line of the return is the pure alcohol of its removals together times the rate, part-pence dropped (HMRC, description
of the figures that the Alcohol Duty return carries, 2025-26), so that it may be some pence more than its removals added
up. Microlitres at 20 °C, pence, rates in hundredths of a penny a litre of pure alcohol. Stock keeps what was measured.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from batches.returns.months import Span, month_of
from distillery.alcoholometry.errors import OutsideTable
from distillery.alcoholometry.rounding import DUTY_MONEY, RETURN_LITRES, RETURN_LPA, RoundingRule, rule_in_force
from distillery.clock.reading import site_day
from distillery.plant.models import MICRO
from distillery.rules.in_force import NoDutyRate, duty_rate, rounding_rules
from distillery.rules.models import DutyRate
from distillery.rules.units import MILLIONTHS_A_PERCENT
from distillery.trail.models import Entry
from ledger.models import Duty
from ledger.periods.models import Closing
from ledger.posting.duties import duty_now

PENCE_HUNDREDTHS_A_POUND = 10_000
PENCE_A_POUND = 100
NOT_KNOWN_THEN = "Not known when the month was closed; what is owed goes on the return of {}."


@dataclass(frozen=True, slots=True)
class DutyLine:
    """Duty on one line of a removal. `rate` and `pence` are None where it is not known, and `why` says what to enter.

    `of` is the month in which it reached its duty point, `carried` true where a later month bears it. What takes a line
    back is below nothing. `since` says that the rate was entered after the removal.
    """

    movement: int
    record_kind: str
    record: str
    at: datetime
    removal: str
    of: str
    carried: bool
    tax_type: str
    litres20_ul: int
    percent: Decimal
    pure_ul: int
    rate: int | None
    pence: int | None
    why: str
    reason: str
    since: bool = False


@dataclass(frozen=True, slots=True)
class ReturnLine:
    """One line of a return: all of one tax type at one rate, of one month it is about.

    `movements` lie behind it, each with its pure alcohol. `of_removals_pence` is what the same removals come to one by
    one.
    """

    of: str
    tax_type: str
    rate: int | None
    litres20_ul: int
    pure_ul: int
    pence: int | None
    of_removals_pence: int | None
    why: tuple[str, ...]
    reason: str
    records: tuple[tuple[str, str], ...]
    movements: Mapping[int, int]

    @property
    def key(self) -> str:
        """What tells it from the others of its part of the return."""
        rate = "not-known" if self.rate is None else f"{Decimal(self.rate) / PENCE_HUNDREDTHS_A_POUND:f}"
        return f"{self.tax_type or 'no-tax-type'} at {rate}"


def duty_lines(span: Span) -> list[DutyLine]:
    """What left in a month and bears duty, what of earlier months it carries, and what was not known when those were
    closed and is owed with it now. Movements taken back within it are left out with what took them back.
    """
    bears = Duty.objects.select_related("movement").order_by("movement_id", "pk")
    rows = list(bears.filter(span.holds()))
    known = _Known.read()
    lines = [known.line(row, span) for row in rows]
    late = [
        known.owed_late(row)
        for row in bears.filter(pence__isnull=True, movement__happened_at__lt=span.starts)
        if known.bearing(row) == span.code
    ]
    return _without_taken_back(lines) + [one for one in late if one is not None]


def return_lines(lines: Iterable[DutyLine], *, by_record: bool = False) -> list[ReturnLine]:
    """Lines added up by the month they are of, tax type and rate (and record); what comes to nothing is left out."""
    together: dict[tuple[str, str, int, str], list[DutyLine]] = defaultdict(list)
    for one in lines:
        rate = -1 if one.rate is None else one.rate
        together[one.of, one.tax_type, rate, one.record if by_record else ""].append(one)
    found = [_added_up(group) for _, group in sorted(together.items())]
    return [one for one in found if one.pure_ul or one.pence]


def _added_up(group: Sequence[DutyLine]) -> ReturnLine:
    first, pure_ul = group[0], sum(one.pure_ul for one in group)
    whole = [one.pence for one in group if one.pence is not None]
    known = first.rate is not None and len(whole) == len(group)
    return ReturnLine(
        of=first.of,
        tax_type=first.tax_type,
        rate=first.rate,
        litres20_ul=_cut(RETURN_LITRES, sum(one.litres20_ul for one in group)),
        pure_ul=pure_ul,
        pence=duty_at(pure_ul, first.rate, first.at) if known and first.rate is not None else None,
        of_removals_pence=sum(whole) if known else None,
        why=tuple(dict.fromkeys(one.why for one in group if one.why)),
        reason="; ".join(dict.fromkeys(one.reason for one in group if one.reason)),
        records=tuple(dict.fromkeys((one.record_kind, one.record) for one in group)),
        movements=_by_movement(group),
    )


def _by_movement(group: Sequence[DutyLine]) -> dict[int, int]:
    found: dict[int, int] = defaultdict(int)
    for one in group:
        found[one.movement] += one.pure_ul
    return dict(found)


def duty_at(pure_ul: int, rate: int, at: datetime) -> int:
    """Pence on so much pure alcohol at a rate, part-pence dropped as the rounding of that day says; keeps the sign."""
    try:
        rule = rule_in_force(DUTY_MONEY.name, site_day(at), rounding_rules())
    except OutsideTable:
        rule = DUTY_MONEY
    pounds = Decimal(pure_ul) / MICRO * rate / PENCE_HUNDREDTHS_A_POUND
    return int(rule.apply(pounds) * PENCE_A_POUND)


def _cut(rule: RoundingRule, amount_ul: int) -> int:
    return int(rule.apply(Decimal(amount_ul) / MICRO) * MICRO)


def _without_taken_back(lines: Sequence[DutyLine]) -> list[DutyLine]:
    """Without lines of one record that cancel to nothing: what was taken back within the month."""
    sums: dict[tuple[str, str, int | None, bool], int] = defaultdict(int)
    for one in lines:
        sums[one.record, one.tax_type, one.rate, one.carried] += one.pure_ul
    return [one for one in lines if sums[one.record, one.tax_type, one.rate, one.carried]]


class _Known:
    """What was known when: rates with the entry of the trail that wrote them, and closings with theirs."""

    def __init__(self, bands: list[DutyRate], rates: dict[int, int], closings: list[tuple[int, datetime]]) -> None:
        self._bands, self._rates, self._closings = bands, rates, closings

    @classmethod
    def read(cls) -> _Known:
        """Six queries, and two where nothing is closed."""
        bands = list(DutyRate.objects.order_by("from_day", "pk"))
        closings = list(Closing.objects.order_by("number").values_list("number", "ends"))
        if not closings:
            return cls(bands, {}, [])
        numbers = [str(number) for number, _ in closings]
        wrote = dict(Entry.objects.filter(table=Closing._meta.db_table, row__in=numbers).values_list("row", "pk"))
        # Rows of rates are never changed, so the only entry about each is that of its entering.
        entries = Entry.objects.filter(table=DutyRate._meta.db_table, row__in=[str(band.pk) for band in bands])
        rates = {int(row): number for row, number in entries.values_list("row", "pk")}
        return cls(bands, rates, [(wrote[str(number)], ends) for number, ends in closings if str(number) in wrote])

    def line(self, row: Duty, span: Span) -> DutyLine:
        """The line of a duty as its own month has it: not known, where it was not when the month was closed."""
        movement = row.movement
        of = month_of(movement.took_place_at)
        bearing = self.bearing(row)
        now = duty_now(row, movement)
        owed_late = bearing not in ("", span.code)
        percent, rate = now.percent, None if owed_late else now.rate_pence_hundredths
        tax_type = now.tax_type or self._tax_type(row, percent)
        unknown = owed_late or now.pence is None
        return DutyLine(
            movement=movement.pk,
            record_kind=movement.record_kind,
            record=movement.record_number,
            at=movement.took_place_at,
            removal=row.removal,
            of=of,
            carried=movement.true_at is not None and of != span.code,
            tax_type=tax_type,
            litres20_ul=row.litres20_ul,
            percent=percent,
            pure_ul=_cut(RETURN_LPA, now.pure_ul),
            rate=rate,
            pence=None if owed_late else now.pence,
            why=NOT_KNOWN_THEN.format(bearing) if owed_late else (now.source if unknown else ""),
            reason=movement.reason,
            since=now.since,
        )

    def owed_late(self, row: Duty) -> DutyLine | None:
        """The line of a duty that was not known when its month was closed, as the month that bears it has it."""
        movement, now = row.movement, duty_now(row, row.movement)
        if now.pence is None:
            return None
        return DutyLine(
            movement=movement.pk,
            record_kind=movement.record_kind,
            record=movement.record_number,
            at=movement.took_place_at,
            removal=row.removal,
            of=month_of(movement.happened_at),
            carried=True,
            tax_type=now.tax_type,
            litres20_ul=row.litres20_ul,
            percent=now.percent,
            pure_ul=now.pure_ul,
            rate=now.rate_pence_hundredths,
            pence=now.pence,
            why="",
            reason="its rate was not known when the month was closed",
            since=True,
        )

    def bearing(self, row: Duty) -> str:
        """The month whose return bears a duty that became known after its own was closed; '' where it did not."""
        if row.pence is not None or not self._closings:
            return ""
        movement = row.movement
        closed = next((wrote for wrote, ends in self._closings if ends > movement.happened_at), None)
        if closed is None:
            return ""
        try:
            rate = duty_rate(site_day(movement.took_place_at), Decimal(row.percent_millionths) / MICRO)
        except NoDutyRate:
            return ""
        known = self._rates.get(rate.pk, 0)
        if known < closed:
            return ""
        opens = max(ends for wrote, ends in self._closings if wrote < known)
        return month_of(opens)

    def _tax_type(self, row: Duty, percent: Decimal) -> str:
        """The tax type of a strength as the last known rate had it: it names the band, whatever the rate becomes."""
        millionths, day = int(percent * MILLIONTHS_A_PERCENT), site_day(row.movement.took_place_at)
        fitting = [
            one.tax_type
            for one in self._bands
            if one.from_day <= day and one.strength_from_millionths <= millionths <= one.strength_to_millionths
        ]
        return fitting[-1] if fitting else ""
