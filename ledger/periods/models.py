"""The tables of periods: stock periods the site was allowed, requests to close, closings and what they froze.

All are facts: added and never changed. Pure alcohol in microlitres at 20 °C, mass in grams, whole and signed as legs
are.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models


class StockPeriod(models.Model):
    """A period of account the site was allowed instead of the calendar month; both days belong to it."""

    code = models.CharField(max_length=7, unique=True)
    first_day = models.DateField(unique=True)
    last_day = models.DateField(unique=True)
    source = models.TextField()
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField()
    previous_digest = models.CharField(max_length=64)
    digest = models.CharField(max_length=64, unique=True)

    def __str__(self) -> str:
        return self.code


class CloseRequest(models.Model):
    """One person asks that a period be closed. The newest request of a period is the one another may agree to."""

    period = models.CharField(max_length=7)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()
    # The newest movement when it was asked: what is written into the period after it, nobody has looked at.
    last_number = models.BigIntegerField()
    remark = models.TextField(blank=True)

    class Meta:
        indexes = [models.Index(fields=["period", "id"], name="close_request_by_period")]

    def __str__(self) -> str:
        return f"request to close {self.period}"


class Closing(models.Model):
    """A period that takes no posting any more, with everything before it. Numbers run from 1 without gaps."""

    number = models.PositiveIntegerField(primary_key=True)
    period = models.CharField(max_length=7, unique=True)
    begins = models.DateTimeField()
    ends = models.DateTimeField(unique=True)
    request = models.OneToOneField(CloseRequest, on_delete=models.PROTECT, related_name="closing")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    agreed_at = models.DateTimeField()
    last_number = models.BigIntegerField()
    last_seal = models.CharField(max_length=64)
    # The last seal of the books before this closing was written; blank where there was none.
    books_seal = models.CharField(max_length=64, blank=True)
    previous_digest = models.CharField(max_length=64)
    digest = models.CharField(max_length=64, unique=True)

    def __str__(self) -> str:
        return f"closing {self.number} of {self.period}"


class ClosingBalance(models.Model):
    """What an account came to at a closing; an account without a row came to nothing."""

    closing = models.ForeignKey(Closing, on_delete=models.PROTECT, related_name="balances")
    account = models.ForeignKey("ledger.Account", on_delete=models.PROTECT, related_name="+")
    pure_ul = models.BigIntegerField()
    mass_g = models.BigIntegerField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["closing", "account"], name="closing_balance_once")]

    def __str__(self) -> str:
        return f"{self.account_id} at closing {self.closing_id}"
