"""Notes of a shift, handover sheets, and who took one over. Facts: rows are added and never changed."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q


class Note(models.Model):
    """Something the shift should know, in a person's words. A later row that strikes it says why, and may say more.

    `said_at` goes by the clock of the books, `written_at` by real time.
    """

    said_at = models.DateTimeField()
    written_at = models.DateTimeField()
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    text = models.TextField(blank=True)
    strikes = models.OneToOneField("self", null=True, on_delete=models.PROTECT, related_name="struck_by")
    reason = models.TextField(blank=True)

    class Meta:
        indexes = [models.Index(fields=["-said_at", "-id"], name="note_by_time")]
        constraints = [
            # A struck note needs its reason; only the row that strikes another may say nothing itself.
            models.CheckConstraint(
                condition=(Q(strikes__isnull=True) & ~Q(text="")) | (Q(strikes__isnull=False) & ~Q(reason="")),
                name="note_says_something",
            )
        ]

    def __str__(self) -> str:
        return f"note {self.pk}"


class Handover(models.Model):
    """What one person hands over to the next: what stood by the program then, and what they say themselves.

    `stands` is a JSON list of [heading, text]; `digest` stands for all of it, and is what both put their names to.
    """

    said_at = models.DateTimeField()
    written_at = models.DateTimeField()
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    stands = models.TextField(default="[]")
    text = models.TextField()
    digest = models.CharField(max_length=64)

    class Meta:
        indexes = [models.Index(fields=["-said_at", "-id"], name="handover_by_time")]

    def __str__(self) -> str:
        return f"handover {self.pk}"


class Taken(models.Model):
    """Somebody else's name under a handover, with what they asked or saw, if anything; `digest` is what it covers."""

    handover = models.OneToOneField(Handover, on_delete=models.PROTECT, related_name="taken")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    digest = models.CharField(max_length=64)
    text = models.TextField(blank=True)

    class Meta:
        verbose_name = "handover taken"
        verbose_name_plural = "handovers taken"

    def __str__(self) -> str:
        return f"handover {self.handover_id} taken"
