"""Stock takes, their counts, and how they ended. Facts: rows are added and never changed.

`at` of a count and `said_at` go by the clock of the books, `written_at` and the `at` of signatures by real time. Pure
alcohol in microlitres at 20 °C.
"""

from __future__ import annotations

import json
import re
from datetime import datetime
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q

from distillery.plant.models import Vessel
from ledger.models import Account


class StockTake(models.Model):
    """What is to be counted: on which day, where, and of casks which are weighed.

    `plan` is JSON: `vessels` codes in walking order; `warehouses` a list of `warehouse`, `rows` (none: all of them) and
    `casks` (how many were to be seen as it was planned); `stocks` codes of accounts of bottled stock.
    `weigh_one_in` says which share of the casks is weighed too; nought weighs none.
    """

    serial = models.PositiveIntegerField(unique=True)
    day = models.DateField()
    plan = models.TextField()
    weigh_one_in = models.PositiveIntegerField(default=0)
    note = models.TextField(blank=True)
    said_at = models.DateTimeField()
    written_at = models.DateTimeField()
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        indexes = [models.Index(fields=["-day", "-id"], name="stock_take_by_day")]

    def __str__(self) -> str:
        return self.number

    @property
    def number(self) -> str:
        """TK0004."""
        return f"TK{self.serial:04d}"

    @property
    def planned(self) -> dict[str, Any]:
        """The plan as plain data."""
        found: dict[str, Any] = json.loads(self.plan)
        return found


def serial_of(text: str) -> int | None:
    """The serial of a stock take's number as typed, noughts and capitals left out or not; None for anything else."""
    match = re.fullmatch(r"tk[ -]?([0-9]{1,9})", text.strip().casefold())
    return int(match[1]) if match is not None else None


class Count(models.Model):
    """What one person found of one vessel, cask or lot of bottles, beside the book it met. A recount replaces the count
    before it, which remains to be read.

    `place` is the warehouse of a cask, the stock of a lot, blank for vessels. `typed` is JSON: the readings as typed.
    A vessel that ferments, and a cask that was seen and not weighed, have no `pure_ul`: nothing was measured. `apart`
    says that what was found is further from the book than the site lets pass.
    """

    class What(models.TextChoices):
        VESSEL = "vessel", "Vessel"
        CASK = "cask", "Cask"
        BOTTLES = "bottles", "Bottles"

    class How(models.TextChoices):
        GAUGED = "gauged", "Gauged"
        WEIGHED = "weighed", "Weighed"
        COUNTED = "counted", "Counted"
        SEEN = "seen", "Seen"
        NOTED = "noted", "Noted"
        NOT_FOUND = "not found", "Not found"

    take = models.ForeignKey(StockTake, on_delete=models.PROTECT, related_name="counts")
    what = models.CharField(max_length=10, choices=What.choices)
    how = models.CharField(max_length=10, choices=How.choices)
    vessel = models.ForeignKey(Vessel, null=True, on_delete=models.PROTECT, related_name="+")
    stock = models.ForeignKey(Account, null=True, on_delete=models.PROTECT, related_name="+")
    lot = models.CharField(max_length=120, blank=True)
    place = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField()
    typed = models.TextField(default="{}")
    bottles = models.PositiveBigIntegerField(null=True)
    book_bottles = models.BigIntegerField(null=True)
    pure_ul = models.BigIntegerField(null=True)
    # Of a cask: usual evaporation since it was last measured, which is no difference.
    evaporated_ul = models.BigIntegerField(default=0)
    book_ul = models.BigIntegerField()
    apart = models.BooleanField(default=False)
    remark = models.TextField(blank=True)
    # 1 of the first count of a thing, 2 of the next.
    serial = models.PositiveIntegerField(default=1)
    replaces = models.OneToOneField("self", null=True, on_delete=models.PROTECT, related_name="replaced_by")
    written_at = models.DateTimeField()
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    # Whose hands it went through (batches/hands.py); blank where nobody else's.
    read_by = models.CharField(max_length=150, blank=True)
    typed_by = models.CharField(max_length=400, blank=True)
    pc = models.CharField(max_length=60, blank=True)
    late_reason = models.TextField(blank=True)

    class Meta:
        indexes = [
            models.Index(fields=["take", "what", "serial", "place"], name="count_by_place"),
            models.Index(fields=["what", "at"], name="count_in_time"),
        ]
        constraints = [
            models.UniqueConstraint(fields=["take", "vessel", "serial"], name="vessel_counted_once_at_a_time"),
            models.UniqueConstraint(fields=["take", "stock", "lot", "serial"], name="lot_counted_once_at_a_time"),
            models.CheckConstraint(
                condition=Q(vessel__isnull=False, stock__isnull=True) | Q(vessel__isnull=True, stock__isnull=False),
                name="count_of_one_thing",
            ),
        ]

    def __str__(self) -> str:
        return f"count {self.pk} of {self.take_id}"

    @property
    def missing_ul(self) -> int | None:
        """What was found less than the book, usual evaporation left out; None where nothing was measured."""
        return None if self.pure_ul is None else self.book_ul - self.evaporated_ul - self.pure_ul

    @property
    def measured_first(self) -> Count | None:
        """The first count by which the same thing was measured, where that is another one; None where there is none."""
        found, one = None, self.replaces
        while one is not None:
            found, one = (one if one.pure_ul is not None else found), one.replaces
        return found

    @property
    def readings(self) -> dict[str, str]:
        """The readings as typed, by the names of the sheet's boxes."""
        found: dict[str, str] = json.loads(self.typed)
        return found


class Reason(models.Model):
    """Why what was found stays apart from the book after it was counted again."""

    count = models.OneToOneField(Count, on_delete=models.PROTECT, related_name="reason")
    text = models.TextField()
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"reason of count {self.count_id}"


class Ready(models.Model):
    """Somebody says that all is counted; `digest` is what the stock take came to then."""

    take = models.ForeignKey(StockTake, on_delete=models.PROTECT, related_name="said_ready")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    digest = models.CharField(max_length=64)

    class Meta:
        verbose_name = "stock take said to be ready"
        verbose_name_plural = "stock takes said to be ready"

    def __str__(self) -> str:
        return f"stock take {self.take_id} ready"


class Ending(models.Model):
    """How a stock take ended: posted in two names, or given up with the reason.

    `records` is JSON: the numbers of the records that were posted by it.
    """

    class How(models.TextChoices):
        POSTED = "posted", "Posted"
        GIVEN_UP = "given up", "Given up"

    take = models.OneToOneField(StockTake, on_delete=models.PROTECT, related_name="ending")
    how = models.CharField(max_length=10, choices=How.choices)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    second = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    at: models.DateTimeField[datetime | str, datetime] = models.DateTimeField()
    digest = models.CharField(max_length=64, blank=True)
    records = models.TextField(default="[]")
    reason = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(how="posted", second__isnull=False) | (Q(how="given up") & ~Q(reason="")),
                name="ended_in_two_names_or_with_a_reason",
            )
        ]

    def __str__(self) -> str:
        return f"stock take {self.take_id} {self.how}"

    @property
    def numbers(self) -> list[tuple[str, str]]:
        """Kind and number of each record that was posted."""
        return [(str(kind), str(number)) for kind, number in json.loads(self.records)]
