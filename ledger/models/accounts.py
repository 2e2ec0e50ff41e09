"""Accounts: the places and reasons that alcohol is booked to."""

from __future__ import annotations

from django.db import models

from distillery.plant.models import Stage, Vessel


class AccountKind(models.TextChoices):
    """Where alcohol can be (vessel, bottled stock) and the ways in and out of the site's books."""

    VESSEL = "vessel", "Vessel"
    STOCK = "stock", "Bottled stock"
    SOURCE = "source", "Source"
    REMOVAL = "removal", "Removal"
    LOSS = "loss", "Known loss"
    DIFFERENCE = "difference", "Difference"
    WATER = "water", "Water"


HOLDING = (AccountKind.VESSEL, AccountKind.STOCK)


class Account(models.Model):
    """One place or reason that alcohol is booked to."""

    code = models.CharField(max_length=120, unique=True)
    kind = models.CharField(max_length=20, choices=AccountKind.choices)
    name = models.CharField(max_length=120)
    stage = models.CharField(max_length=40, choices=Stage.choices, blank=True)
    vessel = models.OneToOneField(Vessel, null=True, on_delete=models.PROTECT, related_name="account")
    # Casks and bottles are not gauged at each step, so nothing but their book can say what is there.
    floor_zero = models.BooleanField(default=False)
    bottle_pure_ul = models.BigIntegerField(null=True)

    class Meta:
        indexes = [models.Index(fields=["-kind", "code"], name="account_by_kind")]

    def __str__(self) -> str:
        return self.code
