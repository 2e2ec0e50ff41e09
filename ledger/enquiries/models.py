"""The tables of enquiries: what each was opened about, and everything that was done about it since.

Both are facts: triggers refuse to change or remove a row. How an enquiry stands is read from its events, so it
cannot say otherwise than what was written. Microlitres of pure alcohol; missing is positive, extra is negative.
"""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q

from ledger.models import Movement


class Enquiry(models.Model):
    """One fault that has to be answered. `key` is the finding's own, so that one fault has one enquiry.

    `opened_by` is empty where the program opened it. The figures are those of the finding on that day.
    """

    number = models.CharField(max_length=20, unique=True)
    key = models.CharField(max_length=200, unique=True)
    kind = models.CharField(max_length=20)
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    record_kind = models.CharField(max_length=40)
    record_number = models.CharField(max_length=40)
    operation = models.CharField(max_length=120)
    happened_at = models.DateTimeField()
    period = models.CharField(max_length=7)
    difference_ul = models.BigIntegerField(default=0)
    uncertainty_ul = models.BigIntegerField(default=0)
    threshold_ul = models.BigIntegerField(default=0)
    in_ul = models.BigIntegerField(default=0)
    basis = models.TextField(blank=True)
    said = models.TextField()

    # Columns of differences, missing positive: the trail says which way they go.
    DIFFERENCES: ClassVar = ("difference_ul",)

    class Meta:
        app_label = "ledger"
        ordering = ["pk"]
        indexes = [
            models.Index(fields=["period"], name="enquiry_by_period"),
            models.Index(fields=["record_kind", "record_number"], name="enquiry_by_record"),
        ]

    def __str__(self) -> str:
        return self.number


class What(models.TextChoices):
    """What was done about an enquiry. The first five and the last leave it as it stands; the others decide that."""

    NOTE = "note", "Note"
    CHECKED = "checked", "Checked"
    ASKED = "asked", "Reading asked for"
    CAUSE = "cause", "Thought to be the cause"
    TIED = "tied", "Tied with another enquiry"
    PROPOSED = "proposed", "Ending proposed"
    AGREED = "agreed", "Agreed to by a second person"
    SENT_BACK = "sent back", "Sent back"
    REOPENED = "reopened", "Opened again"
    TAKEN_BACK = "taken back", "Explanation taken back"
    FOUND_AGAIN = "found again", "Found again"
    PUT_RIGHT = "put right", "Put right by a correction"
    GONE = "gone", "No longer there"
    COVERS = "covers", "Runs it covers"


class Ending(models.TextChoices):
    """How an enquiry can end. Only a known loss is posted; the rest leaves the difference in the account."""

    LOSS = "loss", "A known loss"
    MEASURING = "measuring", "Measuring: a reading was wrong and cannot be taken again"
    RIGHT = "right", "The figures are right, and nothing is missing"
    SET_OFF = "set off", "Set off against the enquiry it is tied with"
    NOT_FOUND = "not found", "Cause not found"
    CORRECTED = "corrected", "A reading was wrong and has been put right by a correction"


class EnquiryEvent(models.Model):
    """One thing done about an enquiry, by a person or (empty) by the program.

    A proposal carries all that an ending needs: cause, what was checked, reason, and for a known loss when it was lost
    and of which liquid; `pure_ul` bears the sign of the difference. What posted is named by `movement`.
    """

    enquiry = models.ForeignKey(Enquiry, on_delete=models.PROTECT, related_name="events")
    serial = models.PositiveIntegerField()
    what = models.CharField(max_length=20, choices=What.choices)
    at = models.DateTimeField()
    person = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    text = models.TextField(blank=True)
    checked = models.TextField(blank=True)
    ending = models.CharField(max_length=20, choices=Ending.choices, blank=True)
    cause = models.CharField(max_length=60, blank=True)
    happened_at = models.DateTimeField(null=True)
    product = models.CharField(max_length=120, blank=True)
    pure_ul = models.BigIntegerField(default=0)
    percent_millionths = models.BigIntegerField(null=True)
    movement = models.ForeignKey(Movement, null=True, on_delete=models.PROTECT, related_name="+")
    other = models.ForeignKey(Enquiry, null=True, on_delete=models.PROTECT, related_name="+")
    record = models.CharField(max_length=40, blank=True)
    # What the difference was when a second person agreed; a later change of it asks for a second person again.
    left_ul = models.BigIntegerField(null=True)

    DIFFERENCES: ClassVar = ("pure_ul", "left_ul")

    class Meta:
        app_label = "ledger"
        ordering = ["enquiry", "serial"]
        constraints = [
            models.UniqueConstraint(fields=["enquiry", "serial"], name="enquiry_event_once"),
            models.CheckConstraint(condition=Q(serial__gte=1), name="enquiry_events_from_one"),
        ]

    def __str__(self) -> str:
        return f"{self.enquiry_id}/{self.serial} {self.what}"


class ComparisonOutcome(models.Model):
    """Whether the figures of a period could be compared: written when a comparison failed, and when one has succeeded
    again since.

    `error` names what was raised and is blank where the figures were compared again; `after` is what had been written
    or asked for. The newest row of a period is how it stands; a period without rows was always compared.
    """

    period = models.CharField(max_length=7)
    at = models.DateTimeField()
    after = models.TextField(blank=True)
    error = models.CharField(max_length=100, blank=True)

    class Meta:
        app_label = "ledger"
        ordering = ["pk"]
        indexes = [models.Index(fields=["period"], name="comparison_by_period")]

    def __str__(self) -> str:
        return f"{self.period}: {self.error or 'compared'}"


class EnquiryRun(models.Model):
    """One run that an enquiry about what lasts covers; `serial` is that of the event that wrote its runs down.

    `charge_ul` is what its share goes by: the alcohol that went in, or the same for each where gauges are counted.
    """

    enquiry = models.ForeignKey(Enquiry, on_delete=models.PROTECT, related_name="runs")
    serial = models.PositiveIntegerField()
    record_kind = models.CharField(max_length=40)
    record_number = models.CharField(max_length=40)
    happened_at = models.DateTimeField()
    period = models.CharField(max_length=7)
    charge_ul = models.BigIntegerField()

    class Meta:
        app_label = "ledger"
        ordering = ["enquiry", "serial", "happened_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["enquiry", "serial", "record_kind", "record_number"], name="enquiry_run_once"
            ),
            models.CheckConstraint(condition=Q(charge_ul__gte=0), name="enquiry_run_share"),
        ]

    def __str__(self) -> str:
        return f"{self.enquiry_id}/{self.serial} {self.record_number}"
