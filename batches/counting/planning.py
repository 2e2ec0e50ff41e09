"""Planning a stock take: on which day, which vessels, which warehouses or rows of them, which products, what sample."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Final

from django.db.models import Max, QuerySet
from django.utils import timezone

from batches.counting.models import StockTake
from batches.counting.walking import casks_lying
from batches.handover.noting import refuse_reader
from batches.sheets.fields import DIPPED_OR_WASHBACK
from batches.sheets.sheet import Problem
from batches.sheets.typed.read_sheet import Unfit
from distillery.clock.reading import books_now, books_today
from distillery.database.retrying import retried
from distillery.people.models import Person
from distillery.plant.lookup import values_of_casks
from distillery.plant.models import Vessel
from distillery.plant.places import in_walking_order
from distillery.seals.writing import signed
from ledger.models import Account, AccountKind

LONGEST_NOTE: Final = 300
# A share of casks smaller than this is no sample.
MOST_WEIGH_ONE_IN: Final = 10_000


@dataclass(frozen=True, slots=True)
class Planned:
    """What is to be counted: codes of vessels, rows by warehouse (none: all of them), codes of accounts of bottled
    stock, and one of how many casks is weighed (nought: none).
    """

    day: date
    vessels: Sequence[str] = ()
    warehouses: Mapping[str, Sequence[str]] = field(default_factory=dict)
    stocks: Sequence[str] = ()
    weigh_one_in: int = 0
    note: str = ""


def vessels_to_count() -> list[Vessel]:
    """Every vessel that can be dipped, in walking order."""
    return list(Vessel.objects.filter(kind__in=DIPPED_OR_WASHBACK).order_by("order", "code"))


def warehouses_to_count() -> list[str]:
    """Every warehouse in which casks lie, in order."""
    return sorted((name for name, _ in values_of_casks("warehouse")), key=in_walking_order)


def stocks_to_count() -> QuerySet[Account]:
    """Every bottled stock that has bottles by its book, by name."""
    return Account.objects.filter(kind=AccountKind.STOCK, balance__balance_ul__gt=0).order_by("name")


@retried
@signed("stock take")
def plan(planned: Planned, *, person: Person) -> StockTake:
    """Writes the plan of a stock take. Raises Unfit with all that is wrong, Busy."""
    refuse_reader(person)
    vessels = _chosen("vessels", planned.vessels, [one.code for one in vessels_to_count()], "vessel")
    stocks = _chosen("stocks", planned.stocks, [one.code for one in stocks_to_count()], "bottled stock")
    known = warehouses_to_count()
    warehouses = _chosen("warehouses", list(planned.warehouses), known, "warehouse")
    problems = []
    if not (vessels or stocks or warehouses):
        problems.append(Problem("vessels", None, "Nothing is to be counted; choose a vessel, a warehouse or a stock."))
    if planned.day > books_today():
        problems.append(Problem("day", None, "That day is still to come; plan the stock take on its day, or before."))
    if not 0 <= planned.weigh_one_in <= MOST_WEIGH_ONE_IN:
        said = (
            f"One cask in {planned.weigh_one_in} is no sample; write 0 to weigh none, or at most {MOST_WEIGH_ONE_IN}."
        )
        problems.append(Problem("weigh_one_in", None, said))
    if len(planned.note.strip()) > LONGEST_NOTE:
        problems.append(Problem("note", None, f"The note has at most {LONGEST_NOTE} characters; shorten it."))
    if problems:
        raise Unfit(problems)
    lying = [
        {"warehouse": one, "rows": (rows := _rows(planned.warehouses[one])), "casks": casks_lying(one, rows).count()}
        for one in warehouses
    ]
    last = StockTake.objects.aggregate(last=Max("serial"))["last"] or 0
    return StockTake.objects.create(
        serial=last + 1,
        day=planned.day,
        plan=json.dumps({"vessels": vessels, "warehouses": lying, "stocks": stocks}, ensure_ascii=True),
        weigh_one_in=planned.weigh_one_in,
        note=planned.note.strip(),
        said_at=books_now(),
        written_at=timezone.now(),
        person=person,
    )


def _chosen(name: str, chosen: Collection[str], known: Sequence[str], what: str) -> list[str]:
    """What was chosen in the order in which it is walked. Raises Unfit for what there is not."""
    if unknown := [one for one in chosen if one not in known]:
        raise Unfit([Problem(name, None, f"There is no {what} {unknown[0]}; choose from those shown.")])
    return [one for one in known if one in set(chosen)]


def _rows(rows: Sequence[str]) -> list[str]:
    return sorted({one.strip() for one in rows if one.strip()}, key=in_walking_order)


def stock_takes() -> QuerySet[StockTake]:
    """All stock takes with how they ended, the newest first."""
    return StockTake.objects.select_related("person", "ending__person", "ending__second").order_by("-day", "-pk")
