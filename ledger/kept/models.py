"""Two tables that hold no facts: comparisons made, and the work of comparing that is still to be done."""

from __future__ import annotations

from typing import Final

from django.conf import settings
from django.db import models

# The kind of long work that compares what is uncompared.
CATCH_UP_CODE: Final = "catch up"


class KeptComparison(models.Model):
    """What the comparison of a period came to, and what it was made from.

    Made from everything up to a movement (its number and seal) and an entry of the trail (its number and time), for a
    period between two moments, by a method (a digest of the program's own comparing). `mark` shows that the program
    wrote `content`: what does not bear it is not read.
    """

    period = models.CharField(max_length=7, primary_key=True)
    made_at = models.DateTimeField()
    movement = models.BigIntegerField()
    seal = models.CharField(max_length=64)
    entry = models.BigIntegerField()
    entry_at = models.CharField(max_length=40)
    starts = models.DateTimeField()
    ends = models.DateTimeField()
    method = models.CharField(max_length=64)
    content = models.BinaryField()
    mark = models.CharField(max_length=64)

    class Meta:
        app_label = "ledger"

    def __str__(self) -> str:
        return f"{self.period} up to movement {self.movement}"


class Uncompared(models.Model):
    """Something written into a period whose figures have not been compared since; gone once they have been.

    `after` names the records, `at` is real time. `corrected` is the record that was put right, if one was; `by` is who
    put it right alone, and `undecided` the keys (a JSON list) of enquiries that a loss explained as well as the reading
    put right.
    """

    period = models.CharField(max_length=7)
    after = models.TextField()
    corrected = models.CharField(max_length=40, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    undecided = models.TextField(blank=True)
    at = models.DateTimeField()

    class Meta:
        app_label = "ledger"
        ordering = ["pk"]
        indexes = [models.Index(fields=["period"], name="uncompared_by_period")]

    def __str__(self) -> str:
        return f"{self.period} after {self.after}"
