"""The register of prints: which digest went out on paper, on what document, when and by whom. Times are real time.

A copy is counted where somebody pressed for it; a document that was only looked at on a screen is entered as copy 0,
so that its digest is known too.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models


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
