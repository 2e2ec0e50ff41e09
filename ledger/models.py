"""The tables of the ledger: accounts, movements with their legs, gauges, and what is kept added up.

Facts (Account, Movement, Leg, Gauge, Duty) are added and never changed; triggers on both engines see to
it. Sums (Balance, RunningBalance, AccountMonth, StageMonth) are kept by triggers as legs arrive, so that
no page adds history up again, and `verify_ledger` proves them from the legs.

Pure alcohol in microlitres of ethanol at 20 °C, mass in grams, both whole and signed: positive into an
account. The legs of a movement sum to nothing in both.
"""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar, Self, TypeVar

from django.conf import settings
from django.db import models
from django.db.models import Q

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


_Row = TypeVar("_Row", bound=models.Model)


class StandingQuerySet(models.QuerySet[_Row]):
    """Movements, or rows that hang on them, and those of them that stand."""

    # The way to the movement, and whether what takes a movement back has rows of this kind too.
    movement: ClassVar[str] = "movement"
    opposites: ClassVar[bool] = False

    def standing(self) -> Self:
        """Without movements taken back, and without what took them back: the entries that say what is so.

        Asked as 'does none exist', which no engine joins the long way.
        """
        taken_back = Movement.objects.filter(corrects=models.OuterRef(self.movement))
        standing = self.filter(~models.Exists(taken_back))
        if not self.opposites:
            return standing
        way = "" if self.movement == "pk" else f"{self.movement}__"
        return standing.filter(**{f"{way}corrects__isnull": True})


class StandingLegs(StandingQuerySet["Leg"]):
    """Legs; an opposite has them too."""

    opposites = True


class StandingDuties(StandingQuerySet["Duty"]):
    """Duties; an opposite has them too."""

    opposites = True


class StandingMovements(StandingQuerySet["Movement"]):
    """Movements themselves."""

    movement = "pk"
    opposites = True

    def operations(self) -> Self:
        """Those that stand and say what was done: no restated gauging and no explanation."""
        return self.standing().filter(kind=MovementKind.OPERATION)


class StandingGauges(StandingQuerySet["Gauge"]):
    """Gauges."""


class StandingMeasures(StandingQuerySet["Measure"]):
    """Measured flows."""


class StandingFigures(StandingQuerySet["Figure"]):
    """Figures of operations."""


class MovementKind(models.TextChoices):
    """Why a movement was written."""

    OPERATION = "operation", "Operation"
    CORRECTION = "correction", "Correction"
    RESTATEMENT = "restatement", "Restated gauging"
    EXPLANATION = "explanation", "Explanation"


class Movement(models.Model):
    """One balanced entry. Its number is its place in the chain of seals; numbers have no gaps."""

    id = models.BigIntegerField(primary_key=True)
    kind = models.CharField(max_length=20, choices=MovementKind.choices)
    operation = models.CharField(max_length=40)
    happened_at = models.DateTimeField()
    # When it truly happened, where that lay in a closed period: the books carry it at the first open moment.
    true_at = models.DateTimeField(null=True)
    written_at = models.DateTimeField()
    period = models.CharField(max_length=7)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    second = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    record_kind = models.CharField(max_length=40)
    record_number = models.CharField(max_length=40)
    moment = models.CharField(max_length=40, blank=True)
    reason = models.TextField(blank=True)
    corrects = models.ForeignKey("self", null=True, on_delete=models.PROTECT, related_name="corrections")
    restates = models.ForeignKey("Gauge", null=True, on_delete=models.PROTECT, related_name="restatements")
    # Where it stands among entries of the same moment; a re-recorded entry keeps the place of the one it replaces.
    slot = models.BigIntegerField()
    record_digest = models.CharField(max_length=64, blank=True)
    # What its difference is judged against: in words, how much pure alcohol, and the record's gauges that add up to it.
    judged_against = models.CharField(max_length=60, blank=True)
    judged_ul = models.BigIntegerField(null=True)
    judged_parts = models.TextField(blank=True)
    previous_seal = models.CharField(max_length=64)
    seal = models.CharField(max_length=64, unique=True)

    objects = StandingMovements.as_manager()

    class Meta:
        indexes = [
            models.Index(fields=["record_kind", "record_number"], name="movement_by_record"),
            models.Index(fields=["period", "happened_at"], name="movement_by_period"),
            models.Index(fields=["happened_at", "id"], name="movement_in_time"),
            models.Index(fields=["operation", "id"], name="movement_by_operation"),
            models.Index(fields=["kind", "id"], name="movement_unusual", condition=~Q(kind="operation")),
            models.Index(fields=["true_at"], name="movement_carried", condition=Q(true_at__isnull=False)),
            models.Index(fields=["period"], name="movement_corrections", condition=Q(corrects__isnull=False)),
        ]
        constraints = [
            # A thing is put right once; a second correction corrects what replaced it.
            models.UniqueConstraint(fields=["corrects"], condition=Q(corrects__isnull=False), name="corrected_once"),
        ]

    def __str__(self) -> str:
        return f"movement {self.id}"

    @property
    def took_place_at(self) -> datetime:
        """When it truly happened, wherever the books carry it."""
        return self.true_at or self.happened_at


class Entry(models.TextChoices):
    """What a leg says of its account."""

    FLOW = "flow", "Moved"
    GAUGING = "gauging", "Found at the gauge"
    LOSS = "loss", "Known loss"
    DIFFERENCE = "difference", "Difference"


class Leg(models.Model):
    """One account's part of a movement."""

    movement = models.ForeignKey(Movement, on_delete=models.PROTECT, related_name="legs")
    line = models.PositiveIntegerField()
    position = models.BigIntegerField()
    account = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="legs")
    other = models.ForeignKey(Account, null=True, on_delete=models.PROTECT, related_name="+")
    stage = models.CharField(max_length=40, choices=Stage.choices, blank=True)
    entry = models.CharField(max_length=20, choices=Entry.choices)
    happened_at = models.DateTimeField()
    period = models.CharField(max_length=7)
    pure_ul = models.BigIntegerField()
    mass_g = models.BigIntegerField()

    objects = StandingLegs.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["movement", "line"], name="leg_line_once"),
            models.CheckConstraint(condition=~Q(pure_ul=0, mass_g=0), name="leg_moves_something"),
        ]

    def __str__(self) -> str:
        return f"{self.movement_id}/{self.line}"


class Gauge(models.Model):
    """One measurement of what a vessel held, as read and as computed, and the book it met."""

    movement = models.ForeignKey(Movement, on_delete=models.PROTECT, related_name="gauges")
    account = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="gauges")
    name = models.CharField(max_length=60)
    role = models.CharField(max_length=10)
    method = models.CharField(max_length=20)
    happened_at = models.DateTimeField()
    position = models.BigIntegerField()
    pure_ul = models.BigIntegerField()
    mass_g = models.BigIntegerField()
    litres20_ul = models.BigIntegerField()
    percent20_millionths = models.BigIntegerField()
    uncertainty_ul = models.BigIntegerField()
    book_ul = models.BigIntegerField()
    rule = models.CharField(max_length=60)
    raw = models.TextField()
    # Each reading with its instrument, uncertainty and weight in the result, as `gauging.as_text` writes them.
    chain = models.TextField(blank=True)

    objects = StandingGauges.as_manager()

    class Meta:
        indexes = [models.Index(fields=["account", "happened_at", "position"], name="gauge_by_account")]
        constraints = [
            models.CheckConstraint(condition=Q(pure_ul__gte=0, mass_g__gte=0), name="gauge_not_negative"),
        ]

    def __str__(self) -> str:
        return f"gauge {self.name} of movement {self.movement_id}"


class Measure(models.Model):
    """How the amount of a flow was measured: a residue by volume and strength, bottles by count, a cask by weight."""

    movement = models.ForeignKey(Movement, on_delete=models.PROTECT, related_name="measures")
    line = models.PositiveIntegerField()
    giver = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    taker = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    name = models.CharField(max_length=60)
    method = models.CharField(max_length=20)
    pure_ul = models.BigIntegerField()
    mass_g = models.BigIntegerField()
    litres20_ul = models.BigIntegerField()
    percent20_millionths = models.BigIntegerField()
    uncertainty_ul = models.BigIntegerField()
    rule = models.CharField(max_length=60)
    raw = models.TextField()
    chain = models.TextField(blank=True)

    objects = StandingMeasures.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["movement", "line"], name="measure_line_once")]

    def __str__(self) -> str:
        return f"measure {self.name} of movement {self.movement_id}"


class Figure(models.Model):
    """A figure of an operation to be compared with its kind; `expected` and `spread` where another figure says."""

    movement = models.ForeignKey(Movement, on_delete=models.PROTECT, related_name="figures")
    line = models.PositiveIntegerField()
    name = models.CharField(max_length=60)
    like = models.CharField(max_length=120)
    beside = models.CharField(max_length=40, blank=True)
    field = models.CharField(max_length=60)
    unit = models.CharField(max_length=20, blank=True)
    value_millionths = models.BigIntegerField()
    expected_millionths = models.BigIntegerField(null=True)
    spread_millionths = models.BigIntegerField(null=True)
    parts = models.TextField(default="{}")

    objects = StandingFigures.as_manager()

    class Meta:
        indexes = [models.Index(fields=["name", "like"], name="figure_by_kind")]
        constraints = [models.UniqueConstraint(fields=["movement", "line"], name="figure_line_once")]

    def __str__(self) -> str:
        return f"{self.name} of movement {self.movement_id}"


class Duty(models.Model):
    """Duty worked out for a removal, at the rate in force at the moment it left.

    Without rate and pence the duty was not known when it was posted; `source` then says why, and `duties` works
    it out as soon as what was missing is entered. Strength and alcohol are then as labelled, not rounded.
    """

    movement = models.ForeignKey(Movement, on_delete=models.PROTECT, related_name="duties")
    removal = models.CharField(max_length=40)
    tax_type = models.CharField(max_length=10, blank=True)
    litres20_ul = models.BigIntegerField()
    percent_millionths = models.BigIntegerField()
    pure_ul = models.BigIntegerField()
    rate_pence_hundredths = models.BigIntegerField(null=True)
    pence = models.BigIntegerField(null=True)
    source = models.TextField()

    objects = StandingDuties.as_manager()

    def __str__(self) -> str:
        return f"duty of movement {self.movement_id}"


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


class Head(models.Model):
    """The end of the chain: one row that a writer locks, so that movements are sealed one after another."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1)
    last_number = models.BigIntegerField(default=0)
    last_seal = models.CharField(max_length=64)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(id=1), name="one_head")]

    def __str__(self) -> str:
        return f"head at {self.last_number}"


class Hand(models.Model):
    """Rows here exist only while a trigger writes sums: on SQLite it is how the sums know whose hand it is."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1)

    def __str__(self) -> str:
        return "hand"
