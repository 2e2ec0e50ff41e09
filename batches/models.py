"""Batch records as they are kept: what was typed, version after version, and what each posted.

Facts (Version, Reading, Posted, Signature) are added and never changed; triggers on both engines see to it. A record's
row only says where it stands now. Mentions, contents and links are worked out from the facts and can be made
again from them at any time. Pure alcohol in microlitres at 20 °C, mass in grams, whole numbers.
"""

from __future__ import annotations

import json

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from ledger.models import Account, Movement, StandingQuerySet


class State(models.TextChoices):
    """Where a record stands."""

    OPEN = "open", "Open"
    WAITING = "awaiting a second person", "Awaiting a second person"
    COMPLETE = "complete", "Complete"
    VOID = "void", "Void"


class Record(models.Model):
    """One piece of work with its number. Numbers of a kind run without gaps; a void one remains."""

    kind = models.CharField(max_length=40)
    number = models.CharField(max_length=40, unique=True)
    # What tells it from others of its kind where the log gives no number: 'LWR, 2027-03-01T06:00'.
    identity = models.CharField(max_length=200, blank=True)
    state = models.CharField(max_length=40, choices=State.choices, default=State.OPEN)
    happened_from = models.DateTimeField()
    happened_to = models.DateTimeField(null=True)
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    opened_at = models.DateTimeField()
    # Who countersigned what stands now; empty again as soon as something else stands.
    second = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        indexes = [
            models.Index(fields=["kind", "-happened_from", "-id"], name="record_by_kind"),
            models.Index(fields=["-happened_from", "-id"], name="record_by_time"),
            models.Index(fields=["state"], name="record_by_state", condition=~Q(state="complete")),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["kind", "identity"], condition=~Q(identity=""), name="record_identity_once"
            ),
        ]

    def __str__(self) -> str:
        return self.number


class Series(models.Model):
    """The last number given in each series; the row is locked by whoever takes the next."""

    prefix = models.CharField(max_length=10, primary_key=True)
    last = models.PositiveBigIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.prefix} up to {self.last}"


class Version(models.Model):
    """What stood on a record after one saving, as typed. The newest stands; the older ones remain to be read."""

    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="versions")
    serial = models.PositiveIntegerField()
    values = models.TextField()
    rows = models.TextField(default="[]")
    notes = models.TextField(default="[]")
    digest = models.CharField(max_length=64)
    written_at = models.DateTimeField()
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    reason = models.TextField(blank=True)
    # Whose hands it went through (batches/hands.py); blank where nobody else's.
    read_by = models.CharField(max_length=150, blank=True)
    typed_by = models.CharField(max_length=400, blank=True)
    pc = models.CharField(max_length=60, blank=True)
    # Why it was written long after it happened.
    late_reason = models.TextField(blank=True)
    # The serial of the issued blank sheet it was first written on.
    blank_sheet = models.CharField(max_length=20, blank=True)

    class Meta:
        indexes = [models.Index(fields=["blank_sheet"], name="version_from_paper", condition=~Q(blank_sheet=""))]
        constraints = [models.UniqueConstraint(fields=["record", "serial"], name="version_serial_once")]

    def __str__(self) -> str:
        return f"version {self.serial} of record {self.record_id}"


class Reading(models.Model):
    """One reading during a record, as typed. A later row that strikes it puts another value, or none, in its place."""

    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="readings")
    at = models.DateTimeField()
    quantity = models.CharField(max_length=40)
    value = models.CharField(max_length=40, blank=True)
    written_at = models.DateTimeField()
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    strikes = models.OneToOneField("self", null=True, on_delete=models.PROTECT, related_name="struck_by")
    reason = models.TextField(blank=True)
    # Whose hands it went through (batches/hands.py); blank where nobody else's.
    read_by = models.CharField(max_length=150, blank=True)
    typed_by = models.CharField(max_length=400, blank=True)
    pc = models.CharField(max_length=60, blank=True)
    # Why it was written long after it happened.
    late_reason = models.TextField(blank=True)
    # The serial of the issued blank sheet it was first written on.
    blank_sheet = models.CharField(max_length=20, blank=True)

    class Meta:
        indexes = [
            models.Index(fields=["record", "at", "quantity"], name="reading_in_order"),
            models.Index(fields=["blank_sheet"], name="reading_from_paper", condition=~Q(blank_sheet="")),
            # Hardly any reading strikes another. Counted together with all those that strike nothing, SQLite takes the
            # column for one value everywhere, and goes through every reading there is for each of a record.
            models.Index(fields=["strikes"], name="reading_struck", condition=Q(strikes__isnull=False)),
        ]
        constraints = [
            # A struck reading needs its reason; only the row that strikes another may hold no value.
            models.CheckConstraint(
                condition=(Q(strikes__isnull=True) & ~Q(value="")) | (Q(strikes__isnull=False) & ~Q(reason="")),
                name="reading_says_something",
            )
        ]

    def __str__(self) -> str:
        return f"{self.quantity} {self.value} of record {self.record_id}"


class Sending(models.Model):
    """A form that has written on a record, so that the same form sent again is known and writes no second time."""

    token = models.CharField(max_length=64, unique=True)
    content = models.CharField(max_length=64)
    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="sendings")

    def __str__(self) -> str:
        return f"form of record {self.record_id}"


class PostedRows(StandingQuerySet["Posted"]):
    """What moments of records became, and what of it stands."""


class Posted(models.Model):
    """Which movement a moment of a record became, and from which version of it."""

    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="postings")
    version = models.ForeignKey(Version, on_delete=models.PROTECT, related_name="+")
    moment = models.CharField(max_length=40)
    movement = models.OneToOneField(Movement, on_delete=models.PROTECT, related_name="posted")

    objects = PostedRows.as_manager()

    def __str__(self) -> str:
        return f"{self.moment} of record {self.record_id}"


class Signature(models.Model):
    """What a second person did about one version of a record. A fact; it is about that version and about no other."""

    class What(models.TextChoices):
        AGREED = "agreed", "Agreed to"
        VOID_ASKED = "void asked", "Asked to be made void"
        SENT_BACK = "sent back", "Not agreed to"

    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="signatures")
    version = models.ForeignKey(Version, on_delete=models.PROTECT, related_name="signatures")
    what = models.CharField(max_length=20, choices=What.choices)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.what} by {self.person_id}: version {self.version_id} of record {self.record_id}"


class Mention(models.Model):
    """What a record names: another record, a vessel, a lot, a document, a product. Made again with each version."""

    class What(models.TextChoices):
        RECORD = "record"
        VESSEL = "vessel"
        LOT = "lot"
        DOCUMENT = "document"
        PRODUCT = "product"

    record = models.ForeignKey(Record, on_delete=models.CASCADE, related_name="mentions")
    field = models.CharField(max_length=60)
    what = models.CharField(max_length=10, choices=What.choices)
    code = models.CharField(max_length=120)

    class Meta:
        indexes = [
            models.Index(fields=["what", "code", "record"], name="mention_by_code"),
            models.Index(fields=["record"], name="mention_by_record"),
        ]

    def __str__(self) -> str:
        return f"{self.field}: {self.code}"


class Contents(models.Model):
    """From which records the alcohol in an account came, well mixed, as it stood after one movement.

    The newest row of an account is what it holds now; the last row of each earlier month is kept, so that a
    late or corrected movement is followed again from there and not from the beginning.
    """

    account = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="contents")
    happened_at = models.DateTimeField()
    slot = models.BigIntegerField()
    book_ul = models.BigIntegerField()
    shares = models.TextField()

    class Meta:
        indexes = [models.Index(fields=["account", "happened_at", "slot"], name="contents_in_order")]

    def __str__(self) -> str:
        return f"contents of account {self.account_id}"

    def by_giver(self) -> dict[int, int]:
        """Microlitres of pure alcohol by the id of the record that gave them."""
        return {int(giver): pure for giver, pure in json.loads(self.shares).items()}


class Link(models.Model):
    """Alcohol (or malt) that one record gave and another took, by way of a vessel."""

    giver = models.ForeignKey(Record, on_delete=models.CASCADE, related_name="given")
    taker = models.ForeignKey(Record, on_delete=models.CASCADE, related_name="taken")
    account = models.ForeignKey(Account, null=True, on_delete=models.PROTECT, related_name="links")
    happened_at = models.DateTimeField()
    slot = models.BigIntegerField(default=0)
    pure_ul = models.BigIntegerField()
    mass_g = models.BigIntegerField(default=0)

    class Meta:
        indexes = [
            models.Index(fields=["taker", "happened_at"], name="link_back"),
            models.Index(fields=["giver", "happened_at"], name="link_forward"),
            models.Index(fields=["account", "happened_at", "slot"], name="link_by_account"),
            models.Index(fields=["happened_at", "slot"], name="link_in_order"),
        ]
        constraints = [models.CheckConstraint(condition=~Q(giver=F("taker")), name="link_joins_two")]

    def __str__(self) -> str:
        return f"{self.giver_id} to {self.taker_id}"
