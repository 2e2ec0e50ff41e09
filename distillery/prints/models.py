"""The register of prints: which digest went out on paper, on what document, when and by whom. Times are real time.

A copy is counted where somebody pressed for it; a document that was only looked at on a screen is entered as copy 0,
so that its digest is known too.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models

SERIAL_PREFIX = "BS"


class Print(models.Model):
    """A fact: this document was made for paper, with this digest at its foot."""

    document = models.CharField(max_length=200)
    number = models.CharField(max_length=200, blank=True)
    version = models.PositiveIntegerField()
    digest = models.CharField(max_length=64, db_index=True)
    # The digest of each named part of the document, as a JSON object; '{}' where it has no named parts.
    parts = models.TextField()
    # Where the same document is made again, with its question: '/months/2027-03/account.pdf'.
    address = models.TextField()
    # Nobody where a command printed it.
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True)
    at = models.DateTimeField()
    # Which copy of its version it is, from 1; 0 was looked at on a screen.
    copy = models.PositiveIntegerField(default=0)

    class Meta:
        indexes = [models.Index(fields=["document", "number"], name="print_by_document")]

    def __str__(self) -> str:
        return self.title

    @property
    def title(self) -> str:
        """Document and number, as they stand at the head of the page."""
        return f"{self.document} {self.number}".strip()


class PrintedFigures(models.Model):
    """A fact: what stood on a counted copy, once for each digest, which it is held against whenever it is read."""

    digest = models.CharField(max_length=64, unique=True)
    # The text that the digest was taken over, packed (zlib, RFC 1950, as base64).
    packed = models.TextField()

    def __str__(self) -> str:
        return self.digest[:16]


class IssuedSheet(models.Model):
    """A fact: this blank sheet was printed with a serial of its own and handed out. Serials run without gaps."""

    serial = models.PositiveBigIntegerField(unique=True)
    # The kind of record it is for, and its title at the head; `lines` is a sheet of rows.
    kind = models.CharField(max_length=40)
    title = models.CharField(max_length=200)
    lines = models.BooleanField(default=False)
    # Which of how many that were printed together.
    place = models.PositiveIntegerField()
    of = models.PositiveIntegerField()
    # Who has it, in words.
    issued_to = models.CharField(max_length=150)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    def __str__(self) -> str:
        return serial_text(self.serial)


class SheetReturned(models.Model):
    """A fact: an issued sheet came back, or is known not to come back."""

    class What(models.TextChoices):
        USED = "used", "Used"
        BLANK = "blank", "Still blank"
        SPOILT = "spoilt", "Spoilt"
        LOST = "lost", "Lost"

    sheet = models.OneToOneField(IssuedSheet, on_delete=models.PROTECT, related_name="returned")
    what = models.CharField(max_length=10, choices=What.choices)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.sheet_id}: {self.what}"


def serial_text(serial: int) -> str:
    """A serial as it stands on the sheet: 'BS0012'."""
    return f"{SERIAL_PREFIX}{serial:04d}"
