"""The seals of the books, and what two people recorded where the books lack seals that paper holds. All are facts."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q


class BooksSeal(models.Model):
    """The books as they stood after one piece of writing: the heads of their chains, and the seal before.

    `movement` and `movement_seal` are the end of the ledger's chain, `entry` and `entry_digest` that of the trail.
    Numbers run from 1 without gaps.
    """

    number = models.PositiveBigIntegerField(primary_key=True)
    made_at = models.DateTimeField()
    movement = models.BigIntegerField()
    movement_seal = models.CharField(max_length=64)
    entry = models.BigIntegerField()
    entry_digest = models.CharField(max_length=64)
    previous_seal = models.CharField(max_length=64)
    seal = models.CharField(max_length=64, unique=True)

    def __str__(self) -> str:
        return f"seal {self.number} of the books"


class PutBack(models.Model):
    """A copy that was put back into an empty place: its name, and the last seal that it had (0 where it had none)."""

    at = models.DateTimeField()
    copy = models.CharField(max_length=200)
    number = models.PositiveBigIntegerField()

    def __str__(self) -> str:
        return f"copy put back at seal {self.number}"


class SealGap(models.Model):
    """Seals that paper or a file holds and these books lack, since an older copy was put back in earnest.

    Lost are the seals after `after`, up to the noted one; these books have others of the same numbers.
    """

    noted_number = models.PositiveBigIntegerField(unique=True)
    noted_seal = models.CharField(max_length=64)
    noted_on = models.DateField()
    after = models.PositiveBigIntegerField()
    reason = models.TextField()
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    second = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(person=F("second")), name="seal_gap_by_two"),
            models.CheckConstraint(condition=Q(after__lt=F("noted_number")), name="seal_gap_of_some"),
        ]

    def __str__(self) -> str:
        return f"gap up to seal {self.noted_number}"
