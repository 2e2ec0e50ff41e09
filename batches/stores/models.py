"""Lots of materials and the entries of their books. Whole grams or whole pieces.

An entry is a fact: it names the version of the record that says it, and is taken back by its exact opposite. A lot's
row only says what its entries come to, and can be made again from them at any time.
"""

from __future__ import annotations

from django.db import models
from django.db.models import Q, QuerySet

from batches.models import Version
from batches.stores.kinds import MaterialKind

LONGEST_CODE = 60


class Lot(models.Model):
    """One lot of one material. One that was named and never received here has uses and no book.

    `key` is its code in small letters: a lot is the same however its letters were typed. `held` is its book, `received`
    how much came in by the entries that stand, `silo` where it was put; `first_at` and `last_at` are when they begin
    and end.
    """

    kind = models.CharField(max_length=20)
    code = models.CharField(max_length=LONGEST_CODE)
    key = models.CharField(max_length=LONGEST_CODE)
    name = models.CharField(max_length=LONGEST_CODE, blank=True)
    silo = models.CharField(max_length=LONGEST_CODE, blank=True)
    held = models.BigIntegerField(default=0)
    received = models.BigIntegerField(default=0)
    receipts = models.PositiveIntegerField(default=0)
    first_at = models.DateTimeField(null=True)
    last_at = models.DateTimeField(null=True)

    class Meta:
        indexes = [
            models.Index(fields=["-first_at", "-id"], name="lot_by_time"),
            models.Index(fields=["silo", "first_at"], name="lot_by_silo", condition=~Q(silo="")),
        ]
        constraints = [models.UniqueConstraint(fields=["kind", "key"], name="lot_once")]

    def __str__(self) -> str:
        return self.code

    @property
    def material(self) -> MaterialKind:
        """The kind of material it is."""
        return MaterialKind(self.kind)

    @property
    def is_here(self) -> bool:
        """True where it was received in these stores, so that it has a book."""
        return self.receipts > 0


class Entries(QuerySet["StockEntry"]):
    """Entries of the stores."""

    def standing(self) -> Entries:
        """Those that are not taken back and take nothing back."""
        return self.filter(takes_back__isnull=True, taken_back__isnull=True)


class StockEntry(models.Model):
    """One entry of a lot's book: `amount` is what it adds (or, below nothing, takes), `said` the amount on the sheet.

    Of a count `said` is what was found, and `amount` brings the book to it. `field` and `row` say where on the sheet it
    stands; `silo` where it was put, or what it was drawn from where the sheet names no lot. `takes_back` is the entry
    it is the opposite of; both remain, and neither stands.
    """

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="entries")
    version = models.ForeignKey(Version, on_delete=models.PROTECT, related_name="+")
    act = models.CharField(max_length=20)
    happened_at = models.DateTimeField()
    amount = models.BigIntegerField()
    said = models.BigIntegerField()
    field = models.CharField(max_length=60)
    row = models.PositiveIntegerField(null=True)
    name = models.CharField(max_length=LONGEST_CODE, blank=True)
    silo = models.CharField(max_length=LONGEST_CODE, blank=True)
    takes_back = models.OneToOneField("self", null=True, on_delete=models.PROTECT, related_name="taken_back")

    objects = Entries.as_manager()

    class Meta:
        verbose_name_plural = "stock entries"
        indexes = [models.Index(fields=["lot", "happened_at", "id"], name="stock_entry_in_order")]
        constraints = [models.CheckConstraint(condition=Q(said__gte=0), name="stock_said_not_below_nothing")]

    def __str__(self) -> str:
        return f"{self.act} {self.amount} of lot {self.lot_id}"
