"""What was recalled, and how that was ended. Facts: rows are added and never changed.

`said_at` goes by the clock of the books, `written_at` and `at` by real time.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models


class Recall(models.Model):
    """A lot, record, vessel or cask that was called back: everything it touched says so until two people end it.

    `ref` is its number as `batches.tracing.references.refer` gives it, `what` the word for what it is.
    """

    ref = models.CharField(max_length=300)
    what = models.CharField(max_length=40)
    said_at = models.DateTimeField()
    written_at = models.DateTimeField()
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    reason = models.TextField()

    class Meta:
        indexes = [models.Index(fields=["-said_at", "-id"], name="recall_by_time")]

    def __str__(self) -> str:
        return f"recall of {self.ref}"


class EndAsked(models.Model):
    """Somebody says that a recall may end, and why."""

    recall = models.OneToOneField(Recall, on_delete=models.PROTECT, related_name="end_asked")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    reason = models.TextField()

    class Meta:
        verbose_name = "asking to end a recall"
        verbose_name_plural = "askings to end a recall"

    def __str__(self) -> str:
        return f"end asked of recall {self.recall_id}"


class Ended(models.Model):
    """Somebody else's name under the end of a recall; `digest` is what was on the page it covers."""

    recall = models.OneToOneField(Recall, on_delete=models.PROTECT, related_name="ended")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    digest = models.CharField(max_length=64)

    class Meta:
        verbose_name = "recall ended"
        verbose_name_plural = "recalls ended"

    def __str__(self) -> str:
        return f"recall {self.recall_id} ended"
