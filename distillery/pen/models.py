"""PCs that were enrolled, PINs, security keys, dated passes, and every try to take the pen.

What may be read by anybody has a trail; the hash of a PIN stands in a table of its own, which no trail, print or export
shows. Times are real time.
"""

from __future__ import annotations

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

FEWEST_IDLE_MINUTES, MOST_IDLE_MINUTES = 2, 30


class EnrolledPC(models.Model):
    """A PC of the site at which a PIN is enough, until the enrolment is ended. It is known by a cookie.

    The cookie holds a long random token; here stands its SHA-256 alone, from which the token cannot be had.
    """

    token_digest = models.CharField(max_length=64, unique=True)
    name = models.CharField(max_length=60)
    place = models.CharField(max_length=60)
    idle_minutes = models.PositiveSmallIntegerField(
        validators=[MinValueValidator(FEWEST_IDLE_MINUTES), MaxValueValidator(MOST_IDLE_MINUTES)]
    )
    enrolled_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    enrolled_at = models.DateTimeField()
    ended_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["name"], condition=Q(ended_at__isnull=True), name="pc_name_once"),
            models.CheckConstraint(
                condition=Q(idle_minutes__gte=FEWEST_IDLE_MINUTES) & Q(idle_minutes__lte=MOST_IDLE_MINUTES),
                name="pc_locks_in_time",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class PinHash(models.Model):
    """What a person's PIN is compared with. Mutable, and on no page."""

    person = models.OneToOneField(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="pin")
    encoded = models.CharField(max_length=200)

    def __str__(self) -> str:
        return f"PIN of person {self.person_id}"


class PinChosen(models.Model):
    """A fact: a person chose a PIN, and who was there: a manager (the person's own self where one), or two others."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    present = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    also_present = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(also_present__isnull=True)
                | (
                    ~Q(person=models.F("present"))
                    & ~Q(also_present=models.F("person"))
                    & ~Q(also_present=models.F("present"))
                ),
                name="pin_before_others",
            )
        ]

    def __str__(self) -> str:
        return f"PIN chosen by person {self.person_id}"


class Try(models.Model):
    """A fact: somebody tried to take the pen. Written before anything is compared, so that no two tries at one moment
    get past a wait; one that was right is answered by a second row. A try without an answer was wrong.
    """

    class Way(models.TextChoices):
        PIN = "pin", "PIN"
        PASSWORD = "password", "password"
        KEY = "key", "security key"

    class What(models.TextChoices):
        TRIED = "tried", "tried"
        RIGHT = "right", "right"
        NOT_LOOKED_AT = "not looked at", "not looked at"

    at = models.DateTimeField()
    # The sign-on name of a person who is known here; blank for any other, for people type passwords into that box.
    name = models.CharField(max_length=150, blank=True)
    way = models.CharField(max_length=10, choices=Way.choices)
    what = models.CharField(max_length=20, choices=What.choices)
    answers = models.OneToOneField("self", null=True, on_delete=models.PROTECT, related_name="answer")
    # The name of the PC where it is enrolled, and the address it was asked from.
    pc = models.CharField(max_length=60, blank=True)
    address = models.CharField(max_length=60, blank=True)
    # What follows where it was wrong: seconds to wait, and whether the PIN stops.
    wait_s = models.PositiveIntegerField(default=0)
    stops = models.BooleanField(default=False)

    class Meta:
        indexes = [
            models.Index(fields=["name", "way", "at"], name="try_by_name"),
            models.Index(fields=["address", "pc", "at"], name="try_by_place"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=(Q(what="tried") & Q(answers__isnull=True)) | (~Q(what="tried") & Q(answers__isnull=False)),
                name="try_has_its_answer",
            )
        ]

    def __str__(self) -> str:
        return f"{self.what} by {self.way} {self.at}"


class SecurityKey(models.Model):
    """A key or card that a person takes the pen with (WebAuthn): its public part alone."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="security_keys")
    name = models.CharField(max_length=60)
    credential = models.CharField(max_length=1400, unique=True)
    public_key = models.TextField()
    uses = models.BigIntegerField(default=0)
    site = models.CharField(max_length=255)
    registered_at = models.DateTimeField()
    present = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    ended_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return self.name


class DatedPass(models.Model):
    """Leave for an officer to read until a moment; after it the person can no longer sign on."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="passes")
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    ends_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(ends_at__gt=models.F("made_at")), name="pass_lasts"),
        ]

    def __str__(self) -> str:
        return f"pass of person {self.person_id}"


class OnShift(models.Model):
    """Somebody is on shift from a moment until another, as a colleague or they themselves said; names on shift stand
    first where the pen changes hands. Being on shift lets nobody do anything more.
    """

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    since = models.DateTimeField()
    until = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    ended_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True)

    class Meta:
        indexes = [models.Index(fields=["until"], name="on_shift_until")]
        constraints = [
            models.CheckConstraint(condition=Q(until__gt=models.F("since")), name="on_shift_lasts"),
        ]

    def __str__(self) -> str:
        return f"person {self.person_id} on shift until {self.until}"
