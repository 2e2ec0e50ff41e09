"""The notes of officers' visits. Facts: rows are added and never changed."""

from __future__ import annotations

from django.conf import settings
from django.db import models


class VisitNote(models.Model):
    """What an officer noted at a visit. A wrong note is put right by another, which names it; both stay to be read.

    `number` runs from 1 without gaps. `visited_on` is the day of the visit, `said_at` goes by the clock of the books,
    `written_at` by real time. `digest` covers all that the note says, and stands where the note is printed.
    """

    number = models.PositiveIntegerField("visit note", unique=True)
    visited_on = models.DateField("day of the visit")
    said_at = models.DateTimeField()
    written_at = models.DateTimeField()
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    text = models.TextField()
    corrects = models.OneToOneField("self", null=True, on_delete=models.PROTECT, related_name="put_right_by")
    digest = models.CharField(max_length=64, unique=True)

    class Meta:
        indexes = [models.Index(fields=["visited_on", "number"], name="visit_note_by_day")]
        constraints = [models.CheckConstraint(condition=~models.Q(text=""), name="visit_note_says_something")]

    def __str__(self) -> str:
        return f"VN{self.number:04d}"
