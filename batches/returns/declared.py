"""Measured beside declared: the strength that was measured of what left, and the strength that duty takes.

Duty takes the label's strength, or where there is none the measured one cut down to one decimal; stock keeps what was
measured, and nothing of duty goes back into it (SI 2023/806 regulation 3(5)-(6); GOV.UK, Alcoholic products technical
guide, section 11). The two differ by design and are set side by side here, never merged. A label may differ from what
is measured by 0.3 % vol (assimilated Regulation (EU) 1169/2011, Annex XII, as the Trading Standards guide restates it).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db.models import Sum

from batches.models import Record
from batches.returns.duty_lines import DutyLine
from batches.sheets.register import all_sheets
from batches.tracing.of_lots import of_the_same_lot
from distillery.plant.models import MICRO
from distillery.rules.in_force import duty_strength
from ledger.models import AccountKind, Figure, Gauge, Leg


@dataclass(frozen=True, slots=True)
class Declared:
    """One line of duty with what was measured of it. `measured` is None where nothing was, `by` says how it was.

    `book_ul` is what the books let go with that movement; `label` whether it bore one.
    """

    line: DutyLine
    measured: Decimal | None
    by: str
    by_kind: str
    by_number: str
    book_ul: int
    label: bool

    @property
    def apart(self) -> Decimal | None:
        """Measured less declared, % vol."""
        return None if self.measured is None else self.measured - self.line.percent

    @property
    def measured_ul(self) -> int | None:
        """Pure alcohol at the measured strength of the declared litres."""
        if self.measured is None:
            return None
        return int(self.line.litres20_ul * self.measured / 100)


@dataclass(frozen=True, slots=True)
class _Checked:
    percent: Decimal
    kind: str
    number: str
    at: datetime


def declared(lines: Iterable[DutyLine]) -> list[Declared]:
    """Each line of duty beside what was measured. A few queries, however many there are."""
    there = list(lines)
    books, stocks = _books(there)
    checked, of_lot = _checks(there, set(stocks.values()))
    gauged = _gauged([one.movement for one in there if one.movement not in stocks])
    found = []
    for one in there:
        stock = stocks.get(one.movement)
        if stock is None:
            measured = next((two for two in gauged.get(one.movement, ()) if duty_strength(two) == one.percent), None)
            found.append(Declared(one, measured, "gauge" if measured else "", "", "", books[one.movement], False))
            continue
        check = _of(one, checked.get(stock, []), of_lot.get(one.record))
        by = "" if check is None else "checks of the bottling"
        kind, number = ("", "") if check is None else (check.kind, check.number)
        percent = None if check is None else check.percent
        found.append(Declared(one, percent, by, kind, number, books[one.movement], True))
    return found


def _books(lines: Iterable[DutyLine]) -> tuple[dict[int, int], dict[int, int]]:
    """What each movement took to removals, and the account of bottled stock that it left."""
    numbers = [one.movement for one in lines]
    books: dict[int, int] = defaultdict(int)
    stocks: dict[int, int] = {}
    legs = Leg.objects.filter(movement__in=numbers, account__kind__in=(AccountKind.REMOVAL, AccountKind.STOCK))
    for movement, kind, account, pure_ul in legs.values_list("movement_id", "account__kind", "account_id").annotate(
        Sum("pure_ul")
    ):
        if kind == AccountKind.REMOVAL:
            books[movement] += pure_ul
        else:
            stocks[movement] = account
    return books, stocks


def _checks(lines: Iterable[DutyLine], stocks: set[int]) -> tuple[dict[int, list[_Checked]], dict[str, set[str]]]:
    """What bottlings found of the strength of each stock, in order of time; and by removal the bottlings of its lot."""
    fields = {one.kind: one.checked_strength for one in all_sheets() if one.checked_strength}
    if not stocks or not fields:
        return {}, {}
    filled = (
        Leg.objects.standing()
        .filter(account__in=stocks, movement__record_kind__in=fields, pure_ul__gt=0)
        .values_list("movement_id", "account_id")
    )
    account_of = dict(filled)
    found: dict[int, list[_Checked]] = defaultdict(list)
    figures = Figure.objects.standing().filter(movement__in=account_of, field__in=set(fields.values()))
    for one in figures.select_related("movement").order_by("movement__happened_at", "pk"):
        movement = one.movement
        percent = (Decimal(one.value_millionths) / MICRO).quantize(Decimal("0.01"))
        found[account_of[movement.pk]].append(
            _Checked(percent, movement.record_kind, movement.record_number, movement.took_place_at)
        )
    return found, _lots(lines)


def _lots(lines: Iterable[DutyLine]) -> dict[str, set[str]]:
    records = {(one.record_kind, one.record) for one in lines}
    same = of_the_same_lot(records)
    if not same:
        return {}
    keys = {*same, *(key for keys in same.values() for key in keys)}
    numbers = dict(Record.objects.filter(pk__in=keys).values_list("pk", "number"))
    return {numbers[key]: {numbers[one] for one in others if one in numbers} for key, others in same.items()}


def _of(line: DutyLine, checks: list[_Checked], lot: set[str] | None) -> _Checked | None:
    """The newest check of the removal's lot; where it names none, of what was bottled last before it left."""
    if lot is not None:
        checks = [one for one in checks if one.number in lot]
    return next((one for one in reversed(checks) if one.at <= line.at), None)


def _gauged(movements: list[int]) -> dict[int, list[Decimal]]:
    """The strengths that were gauged of what left without a label, by movement in the order of its gauges."""
    rows = (
        Gauge.objects.filter(movement__in=movements, percent20_millionths__gt=0)
        .order_by("position")
        .values_list("movement_id", "percent20_millionths")
    )
    found: dict[int, list[Decimal]] = defaultdict(list)
    for movement, percent in rows:
        found[movement].append((Decimal(percent) / MICRO).quantize(Decimal("0.01")))
    return found
