"""Sums that triggers keep as legs arrive: balances, running balances, months.

Nothing but the triggers writes them; `verify_ledger` proves them from the legs.
"""

from __future__ import annotations

from django.db import models

from ledger.models.accounts import Account
from ledger.models.movements import Leg


class RunningBalance(models.Model):
    """What an account held just after a leg, in the order in which things happened."""

    leg = models.OneToOneField(Leg, on_delete=models.PROTECT, primary_key=True, related_name="running")
    account = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    happened_at = models.DateTimeField()
    position = models.BigIntegerField()
    balance_ul = models.BigIntegerField()
    mass_g = models.BigIntegerField()

    class Meta:
        indexes = [models.Index(fields=["account", "happened_at", "position", "leg"], name="running_in_order")]

    def __str__(self) -> str:
        return f"after leg {self.leg_id}"


class Balance(models.Model):
    """What an account holds now."""

    account = models.OneToOneField(Account, on_delete=models.PROTECT, primary_key=True, related_name="balance")
    balance_ul = models.BigIntegerField()
    mass_g = models.BigIntegerField()
    last_leg = models.BigIntegerField()

    def __str__(self) -> str:
        return f"balance of {self.account_id}"


class AccountMonth(models.Model):
    """The net of an account in a month, by the stage that bore it."""

    period = models.CharField(max_length=7)
    account = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    stage = models.CharField(max_length=40, blank=True)
    pure_ul = models.BigIntegerField()
    mass_g = models.BigIntegerField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["account", "period", "stage"], name="account_month_once")]
        indexes = [models.Index(fields=["period"], name="account_month_by_period")]

    def __str__(self) -> str:
        return f"{self.account_id} in {self.period}"


class StageMonth(models.Model):
    """A line of the month's account: what came into a stage, left it, was known lost, and differs."""

    period = models.CharField(max_length=7)
    stage = models.CharField(max_length=40)
    in_ul = models.BigIntegerField()
    out_ul = models.BigIntegerField()
    loss_ul = models.BigIntegerField()
    difference_ul = models.BigIntegerField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["stage", "period"], name="stage_month_once")]

    def __str__(self) -> str:
        return f"{self.stage} in {self.period}"


class Hand(models.Model):
    """Rows here exist only while a trigger writes sums: on SQLite it is how the sums know whose hand it is."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1)

    def __str__(self) -> str:
        return "hand"
