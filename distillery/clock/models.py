"""The one row that says how far the clock of these books stands from real time. A site's own books have none."""

from __future__ import annotations

from django.db import models

MOST_DAYS = 73_000


class BooksClock(models.Model):
    """Days from real time to the time of the books, positive where the books lie ahead; written once, never changed."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1)
    offset_days = models.IntegerField()
    # Real time.
    set_at = models.DateTimeField()
    why = models.CharField(max_length=200)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(id=1), name="one_clock"),
            models.CheckConstraint(
                condition=models.Q(offset_days__gte=-MOST_DAYS, offset_days__lte=MOST_DAYS) & ~models.Q(offset_days=0),
                name="clock_away_by_whole_days",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.offset_days} days from real time"
