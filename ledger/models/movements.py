"""Movements with their legs, the end of their chain, and what is asked of all that hangs on them.

The legs of a movement sum to nothing in pure alcohol and in mass.
"""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar, Self, TypeVar

from django.conf import settings
from django.db import models
from django.db.models import Q

from distillery.plant.models import Stage
from ledger.models.accounts import Account

_Row = TypeVar("_Row", bound=models.Model)


class StandingQuerySet(models.QuerySet[_Row]):
    """Movements, or rows that hang on them, and those of them that stand."""

    # The way to the movement, and whether what takes a movement back has rows of this kind too.
    movement: ClassVar[str] = "movement"
    opposites: ClassVar[bool] = False

    def standing(self) -> Self:
        """Without movements taken back, and without what took them back: the entries that say what is so.

        Asked as 'does none exist', which no engine joins the long way.
        """
        taken_back = Movement.objects.filter(corrects=models.OuterRef(self.movement))
        standing = self.filter(~models.Exists(taken_back))
        if not self.opposites:
            return standing
        way = "" if self.movement == "pk" else f"{self.movement}__"
        return standing.filter(**{f"{way}corrects__isnull": True})


class StandingLegs(StandingQuerySet["Leg"]):
    """Legs; an opposite has them too."""

    opposites = True


class StandingMovements(StandingQuerySet["Movement"]):
    """Movements themselves."""

    movement = "pk"
    opposites = True

    def operations(self) -> Self:
        """Those that stand and say what was done: no restated gauging and no explanation."""
        return self.standing().filter(kind=MovementKind.OPERATION)


class MovementKind(models.TextChoices):
    """Why a movement was written."""

    OPERATION = "operation", "Operation"
    CORRECTION = "correction", "Correction"
    RESTATEMENT = "restatement", "Restated gauging"
    EXPLANATION = "explanation", "Explanation"


class Movement(models.Model):
    """One balanced entry. Its number is its place in the chain of seals; numbers have no gaps."""

    id = models.BigIntegerField(primary_key=True)
    kind = models.CharField(max_length=20, choices=MovementKind.choices)
    operation = models.CharField(max_length=40)
    happened_at = models.DateTimeField()
    # When it truly happened, where that lay in a closed period: the books carry it at the first open moment.
    true_at = models.DateTimeField(null=True)
    written_at = models.DateTimeField()
    period = models.CharField(max_length=7)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    second = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    record_kind = models.CharField(max_length=40)
    record_number = models.CharField(max_length=40)
    moment = models.CharField(max_length=40, blank=True)
    reason = models.TextField(blank=True)
    # Found by `corrected_once`. In an index of all, an engine that counts takes the many that correct nothing for few.
    corrects = models.ForeignKey(
        "self", null=True, on_delete=models.PROTECT, related_name="corrections", db_index=False
    )
    restates = models.ForeignKey("Gauge", null=True, on_delete=models.PROTECT, related_name="restatements")
    # Where it stands among entries of the same moment; a re-recorded entry keeps the place of the one it replaces.
    slot = models.BigIntegerField()
    record_digest = models.CharField(max_length=64, blank=True)
    # What its difference is judged against: in words, how much pure alcohol, and the record's gauges that add up to it.
    judged_against = models.CharField(max_length=60, blank=True)
    judged_ul = models.BigIntegerField(null=True)
    judged_parts = models.TextField(blank=True)
    previous_seal = models.CharField(max_length=64)
    seal = models.CharField(max_length=64, unique=True)

    objects = StandingMovements.as_manager()

    class Meta:
        indexes = [
            models.Index(fields=["record_kind", "record_number"], name="movement_by_record"),
            models.Index(fields=["record_number"], name="movement_by_number"),
            models.Index(fields=["period", "happened_at"], name="movement_by_period"),
            models.Index(fields=["happened_at", "id"], name="movement_in_time"),
            models.Index(fields=["operation", "id"], name="movement_by_operation"),
            models.Index(fields=["kind", "id"], name="movement_unusual", condition=~Q(kind="operation")),
            # Beside the plain ones of the key, which the engines pass by since hardly any movement restates.
            models.Index(fields=["restates"], name="movement_restating", condition=Q(restates__isnull=False)),
            models.Index(fields=["true_at"], name="movement_carried", condition=Q(true_at__isnull=False)),
            models.Index(fields=["period"], name="movement_corrections", condition=Q(corrects__isnull=False)),
        ]
        constraints = [
            # A thing is put right once; a second correction corrects what replaced it.
            models.UniqueConstraint(fields=["corrects"], condition=Q(corrects__isnull=False), name="corrected_once"),
        ]

    def __str__(self) -> str:
        return f"movement {self.id}"

    @property
    def took_place_at(self) -> datetime:
        """When it truly happened, wherever the books carry it."""
        return self.true_at or self.happened_at


class Entry(models.TextChoices):
    """What a leg says of its account."""

    FLOW = "flow", "Moved"
    GAUGING = "gauging", "Found at the gauge"
    LOSS = "loss", "Known loss"
    DIFFERENCE = "difference", "Difference"


class Leg(models.Model):
    """One account's part of a movement."""

    movement = models.ForeignKey(Movement, on_delete=models.PROTECT, related_name="legs")
    line = models.PositiveIntegerField()
    position = models.BigIntegerField()
    account = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="legs")
    other = models.ForeignKey(Account, null=True, on_delete=models.PROTECT, related_name="+")
    stage = models.CharField(max_length=40, choices=Stage.choices, blank=True)
    entry = models.CharField(max_length=20, choices=Entry.choices)
    happened_at = models.DateTimeField()
    period = models.CharField(max_length=7)
    pure_ul = models.BigIntegerField()
    mass_g = models.BigIntegerField()

    objects = StandingLegs.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["movement", "line"], name="leg_line_once"),
            models.CheckConstraint(condition=~Q(pure_ul=0, mass_g=0), name="leg_moves_something"),
        ]

    def __str__(self) -> str:
        return f"{self.movement_id}/{self.line}"


class Head(models.Model):
    """The end of the chain: one row, locked by whoever writes, so that movements are sealed one after another."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1)
    last_number = models.BigIntegerField(default=0)
    last_seal = models.CharField(max_length=64)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(id=1), name="one_head")]

    def __str__(self) -> str:
        return f"head at {self.last_number}"
