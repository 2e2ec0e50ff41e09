"""One entry for each time a row that is kept was written, changed or removed.

Written by triggers on both engines, so that it makes no difference whose hand it was: page, command or SQL. Nothing
here is changed or removed. What a row says now must be what its newest entry says; `verify_ledger` looks.
"""

from __future__ import annotations

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
