"""What was measured: how much a vessel held, and how much flowed. One table, asked by two names.

`Gauge` and `MeasuredFlow` are the measurements of vessels and of flows. Each asks for its own rows by itself, so that
no caller can mix the two by leaving a condition out, and each promises the columns that its rows always have. A flow
has a giver and a gauge has none, so every row is one of the two, and the database refuses a row with columns of both.

Columns that both have are those of a computed quantity: microlitres of pure alcohol and of liquid at 20 °C, grams,
millionths of one % vol at 20 °C, the standard uncertainty in microlitres of pure alcohol.
"""

from __future__ import annotations

from datetime import datetime
from typing import Self, TypeVar

from django.db import models
from django.db.models import Q
from django.db.models.expressions import Combinable

from ledger.models.accounts import Account
from ledger.models.movements import Movement, StandingQuerySet

OF_VESSELS = Q(giver__isnull=True)
OF_FLOWS = Q(giver__isnull=False)
# The columns of the other kind are empty: no seal covers them.
EITHER = (
    Q(account__isnull=False, happened_at__isnull=False, position__isnull=False, book_ul__isnull=False)
    & Q(giver__isnull=True, taker__isnull=True, line__isnull=True)
) | (
    Q(giver__isnull=False, taker__isnull=False, line__isnull=False, role="")
    & Q(account__isnull=True, happened_at__isnull=True, position__isnull=True, book_ul__isnull=True)
)

_Measured = TypeVar("_Measured", bound="Measurement")


class Measurements(StandingQuerySet[_Measured]):
    """Measurements of vessels and of flows."""

    def of_vessels(self) -> Self:
        return self.filter(OF_VESSELS)

    def of_flows(self) -> Self:
        return self.filter(OF_FLOWS)


class Measurement(models.Model):
    """One measurement, as read and as computed. Ask `Gauge` or `MeasuredFlow` for it."""

    movement = models.ForeignKey(Movement, on_delete=models.PROTECT, related_name="measurements")
    name = models.CharField(max_length=60)
    method = models.CharField(max_length=20)
    pure_ul = models.BigIntegerField()
    mass_g = models.BigIntegerField()
    litres20_ul = models.BigIntegerField()
    percent20_millionths = models.BigIntegerField()
    uncertainty_ul = models.BigIntegerField()
    rule = models.CharField(max_length=60)
    raw = models.TextField()
    # Each reading with its instrument, uncertainty and weight in the result, as `gauging.as_text` writes them.
    chain = models.TextField(blank=True)
    # Of a vessel: when and where in order, before or after what was done, and the book it met, microlitres.
    account = models.ForeignKey(Account, null=True, on_delete=models.PROTECT, related_name="+", db_index=False)
    role = models.CharField(max_length=10, blank=True)
    happened_at = models.DateTimeField(null=True)
    position = models.BigIntegerField(null=True)
    book_ul = models.BigIntegerField(null=True)
    # Of a flow: the line of the movement, and its two ends.
    line = models.PositiveIntegerField(null=True)
    giver = models.ForeignKey(Account, null=True, on_delete=models.PROTECT, related_name="+", db_index=False)
    taker = models.ForeignKey(Account, null=True, on_delete=models.PROTECT, related_name="+", db_index=False)

    # Named so that whoever asks for both kinds says so.
    everything = Measurements["Measurement"].as_manager()

    class Meta:
        indexes = [
            models.Index(fields=["account", "happened_at", "position"], name="gauge_by_account", condition=OF_VESSELS),
            models.Index(fields=["happened_at", "position", "account"], name="gauge_in_time", condition=OF_VESSELS),
            models.Index(fields=["taker"], name="flow_by_taker", condition=OF_FLOWS),
            models.Index(fields=["giver"], name="flow_by_giver", condition=OF_FLOWS),
        ]
        constraints = [
            models.CheckConstraint(condition=EITHER, name="of_a_vessel_or_of_a_flow"),
            models.CheckConstraint(condition=OF_FLOWS | Q(pure_ul__gte=0, mass_g__gte=0), name="gauge_not_negative"),
            models.UniqueConstraint(fields=["movement", "line"], name="flow_line_once", condition=OF_FLOWS),
        ]

    def __str__(self) -> str:
        return f"measurement {self.name} of movement {self.movement_id}"


class _OfVessels(models.Manager["Gauge"]):
    def get_queryset(self) -> Measurements[Gauge]:
        return Measurements[Gauge](self.model, using=self._db).of_vessels()

    def standing(self) -> Measurements[Gauge]:
        return self.get_queryset().standing()


class Gauge(Measurement):
    """One measurement of what a vessel held, and the book it met."""

    account: models.ForeignKey[Account | Combinable | None, Account]
    happened_at: models.DateTimeField[str | datetime | Combinable | None, datetime]
    position: models.BigIntegerField[float | int | str | Combinable | None, int]
    book_ul: models.BigIntegerField[float | int | str | Combinable | None, int]

    objects = _OfVessels()

    class Meta:
        proxy = True

    def __str__(self) -> str:
        return f"gauge {self.name} of movement {self.movement_id}"


class _OfFlows(models.Manager["MeasuredFlow"]):
    def get_queryset(self) -> Measurements[MeasuredFlow]:
        return Measurements[MeasuredFlow](self.model, using=self._db).of_flows()

    def standing(self) -> Measurements[MeasuredFlow]:
        return self.get_queryset().standing()


class MeasuredFlow(Measurement):
    """How the amount of a flow was measured: a residue by volume and strength, bottles by count, a cask by weight."""

    line: models.PositiveIntegerField[float | int | str | Combinable | None, int]
    giver: models.ForeignKey[Account | Combinable | None, Account]
    taker: models.ForeignKey[Account | Combinable | None, Account]

    objects = _OfFlows()

    class Meta:
        proxy = True

    def __str__(self) -> str:
        return f"measured flow {self.name} of movement {self.movement_id}"
