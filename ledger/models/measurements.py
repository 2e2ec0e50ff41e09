"""What was measured: how much a vessel held, and how much flowed."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from ledger.models.accounts import Account
from ledger.models.movements import Movement, StandingQuerySet


class StandingGauges(StandingQuerySet["Gauge"]):
    """Gauges."""


class StandingMeasures(StandingQuerySet["Measure"]):
    """Measured flows."""


class Gauge(models.Model):
    """One measurement of what a vessel held, as read and as computed, and the book it met."""

    movement = models.ForeignKey(Movement, on_delete=models.PROTECT, related_name="gauges")
    account = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="gauges")
    name = models.CharField(max_length=60)
    role = models.CharField(max_length=10)
    method = models.CharField(max_length=20)
    happened_at = models.DateTimeField()
    position = models.BigIntegerField()
    pure_ul = models.BigIntegerField()
    mass_g = models.BigIntegerField()
    litres20_ul = models.BigIntegerField()
    percent20_millionths = models.BigIntegerField()
    uncertainty_ul = models.BigIntegerField()
    book_ul = models.BigIntegerField()
    rule = models.CharField(max_length=60)
    raw = models.TextField()
    # Each reading with its instrument, uncertainty and weight in the result, as `gauging.as_text` writes them.
    chain = models.TextField(blank=True)

    objects = StandingGauges.as_manager()

    class Meta:
        indexes = [models.Index(fields=["account", "happened_at", "position"], name="gauge_by_account")]
        constraints = [
            models.CheckConstraint(condition=Q(pure_ul__gte=0, mass_g__gte=0), name="gauge_not_negative"),
        ]

    def __str__(self) -> str:
        return f"gauge {self.name} of movement {self.movement_id}"


class Measure(models.Model):
    """How the amount of a flow was measured: a residue by volume and strength, bottles by count, a cask by weight."""

    movement = models.ForeignKey(Movement, on_delete=models.PROTECT, related_name="measures")
    line = models.PositiveIntegerField()
    giver = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    taker = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    name = models.CharField(max_length=60)
    method = models.CharField(max_length=20)
    pure_ul = models.BigIntegerField()
    mass_g = models.BigIntegerField()
    litres20_ul = models.BigIntegerField()
    percent20_millionths = models.BigIntegerField()
    uncertainty_ul = models.BigIntegerField()
    rule = models.CharField(max_length=60)
    raw = models.TextField()
    chain = models.TextField(blank=True)

    objects = StandingMeasures.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["movement", "line"], name="measure_line_once")]

    def __str__(self) -> str:
        return f"measure {self.name} of movement {self.movement_id}"
