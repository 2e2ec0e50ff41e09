"""What else hangs on a movement: figures to be compared with their kind, and duty."""

from __future__ import annotations

from django.db import models

from ledger.models.movements import Movement, StandingQuerySet


class StandingFigures(StandingQuerySet["Figure"]):
    """Figures of operations."""


class StandingDuties(StandingQuerySet["Duty"]):
    """Duties; an opposite has them too."""

    opposites = True


class Figure(models.Model):
    """A figure of an operation to be compared with its kind; `expected` and `spread` where another figure says."""

    movement = models.ForeignKey(Movement, on_delete=models.PROTECT, related_name="figures")
    line = models.PositiveIntegerField()
    name = models.CharField(max_length=60)
    like = models.CharField(max_length=120)
    beside = models.CharField(max_length=40, blank=True)
    field = models.CharField(max_length=60)
    unit = models.CharField(max_length=20, blank=True)
    value_millionths = models.BigIntegerField()
    expected_millionths = models.BigIntegerField(null=True)
    spread_millionths = models.BigIntegerField(null=True)
    parts = models.TextField(default="{}")

    objects = StandingFigures.as_manager()

    class Meta:
        indexes = [models.Index(fields=["name", "like", "movement"], name="figure_by_kind")]
        constraints = [models.UniqueConstraint(fields=["movement", "line"], name="figure_line_once")]

    def __str__(self) -> str:
        return f"{self.name} of movement {self.movement_id}"


class Duty(models.Model):
    """Duty worked out for a removal, at the rate in force at the moment it left.

    Without rate and pence the duty was not known when it was posted; `source` then says why, and `duties` works
    it out as soon as what was missing is entered. Strength and alcohol are then as labelled, not rounded.
    """

    movement = models.ForeignKey(Movement, on_delete=models.PROTECT, related_name="duties")
    removal = models.CharField(max_length=40)
    tax_type = models.CharField(max_length=10, blank=True)
    litres20_ul = models.BigIntegerField()
    percent_millionths = models.BigIntegerField()
    pure_ul = models.BigIntegerField()
    rate_pence_hundredths = models.BigIntegerField(null=True)
    pence = models.BigIntegerField(null=True)
    source = models.TextField()

    objects = StandingDuties.as_manager()

    def __str__(self) -> str:
        return f"duty of movement {self.movement_id}"
