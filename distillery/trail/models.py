"""One entry for each time a row that is kept was written, changed or removed.

Written by triggers on both engines, so that it makes no difference whose hand it was: page, command or SQL. Nothing
here is changed or removed. What a row says now must be what its newest entry says; `verify_ledger` looks.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models


class Act(models.TextChoices):
    """What was done to the row."""

    WRITTEN = "written", "Written"
    REMOVED = "removed", "Removed"
    # Not by a trigger: what a migration wrote while they were down, noted as it stood after it.
    TAKEN_IN = "taken in", "Taken in"


class Entry(models.Model):
    """What a row said after one writing, as JSON text in the engine's own form; blank for a row removed."""

    table = models.CharField(max_length=60)
    row = models.CharField(max_length=40)
    act = models.CharField(max_length=10, choices=Act.choices)
    at = models.DateTimeField()
    content = models.TextField(blank=True)

    class Meta:
        indexes = [models.Index(fields=["table", "row", "id"], name="trail_of_row")]

    def __str__(self) -> str:
        return f"{self.table} {self.row} {self.act}"


class Claim(models.Model):
    """Entries that the program wrote in one piece, from `first` to `last`, and in whose name.

    Where nobody was signed on, `way` says by what command or part of the program it was done. Every entry has one,
    but those about claims themselves: an entry without was written past the program.
    """

    first = models.BigIntegerField(unique=True)
    last = models.BigIntegerField(unique=True)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    way = models.CharField(max_length=40, blank=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(last__gte=models.F("first")), name="claim_of_some")]

    def __str__(self) -> str:
        return f"entries {self.first} to {self.last}"
