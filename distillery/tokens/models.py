"""A token for each consumer of the books, its end, and the days on which it was used. Times are real time.

A token is 256 random bits, so its SHA-256 is enough to know it by and tells nobody what it is: there is nothing to try.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models


class ConsumerToken(models.Model):
    """A fact: somebody gave a program leave to read."""

    name = models.CharField(max_length=60)
    digest = models.CharField(max_length=64, unique=True)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()

    def __str__(self) -> str:
        return self.name


class TokenEnded(models.Model):
    """A fact: that leave was ended."""

    token = models.OneToOneField(ConsumerToken, on_delete=models.PROTECT, related_name="ended")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    reason = models.CharField(max_length=200)

    def __str__(self) -> str:
        return f"end of token {self.token_id}"


class TokenUsed(models.Model):
    """A fact: on this day of the site's clock the token was used, and when first."""

    token = models.ForeignKey(ConsumerToken, on_delete=models.PROTECT, related_name="used")
    day = models.DateField()
    at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["token", "day"], name="token_used_once_a_day")]

    def __str__(self) -> str:
        return f"token {self.token_id} on {self.day}"
