"""Figures that law or the site sets, each with the day it starts and the source it comes from.

Nothing here is a constant in code: a new rate or threshold is a new dated row, and what was decided
on an earlier day is judged by the row in force then. Percentages are held in millionths of the whole
(1 % = 10 000), money in hundredths of a penny so that a rate of 33.99 pounds is exact.
"""

from __future__ import annotations

from django.db import models

from distillery.rules.cask_loss import YearlyBand

ONE = 1_000_000


class DutyRate(models.Model):
    """Duty for each litre of pure alcohol, by strength band, from a day on.

    `to_day` is the last day for which the rate is known. After it, unless a later rate begins, the duty is not known.
    """

    from_day = models.DateField()
    to_day = models.DateField(null=True, blank=True)
    strength_from_millionths = models.BigIntegerField()
    strength_to_millionths = models.BigIntegerField()
    pence_hundredths_per_lpa = models.BigIntegerField()
    tax_type = models.CharField(max_length=10, blank=True)
    source = models.TextField()

    class Meta:
        ordering = ["from_day", "strength_from_millionths"]

    def __str__(self) -> str:
        return f"{self.from_day}: {self.pence_hundredths_per_lpa}"


class RoundingRule(models.Model):
    """How an official figure is rounded from a day on, beside the roundings that alcoholometry knows by name."""

    name = models.CharField(max_length=60)
    from_day = models.DateField()
    step_millionths = models.BigIntegerField()
    way = models.CharField(max_length=10)
    source = models.TextField()

    class Meta:
        ordering = ["name", "from_day"]

    def __str__(self) -> str:
        return f"{self.name} from {self.from_day}"


class ReviewThreshold(models.Model):
    """From which size on the difference of an operation is looked into: percent of the alcohol in, with a floor.

    It is the site's own review threshold and never an allowance. `usual` is the loss the operation
    normally shows; the threshold is reckoned from nothing lost on either side, gains like losses.
    """

    operation = models.CharField(max_length=40)
    vessel = models.CharField(max_length=40, blank=True)
    from_day = models.DateField()
    usual_millionths = models.BigIntegerField(default=0)
    usual_half_width_millionths = models.BigIntegerField(default=0)
    spread_millionths = models.BigIntegerField(default=0)
    threshold_millionths = models.BigIntegerField()
    floor_ul = models.BigIntegerField()
    source = models.TextField()

    class Meta:
        ordering = ["operation", "vessel", "from_day"]

    def __str__(self) -> str:
        return f"{self.operation} from {self.from_day}"


class GravityFactor(models.Model):
    """One band of the factor table that turns a drop in gravity into strength of wash."""

    table = models.CharField(max_length=60)
    from_day = models.DateField()
    drop_from_thousandths = models.BigIntegerField()
    drop_to_thousandths = models.BigIntegerField()
    factor_millionths = models.BigIntegerField()
    source = models.TextField()

    class Meta:
        ordering = ["table", "from_day", "drop_from_thousandths"]

    def __str__(self) -> str:
        return f"{self.table} from {self.drop_from_thousandths}"


class CaskBand(models.Model):
    """What a cask is expected to lose a year, lowest to highest, by warehouse and kind (blank: any)."""

    from_day = models.DateField()
    warehouse = models.CharField(max_length=40, blank=True)
    cask_kind = models.CharField(max_length=40, blank=True)
    low_millionths_a_year = models.BigIntegerField()
    high_millionths_a_year = models.BigIntegerField()
    source = models.TextField()

    class Meta:
        ordering = ["from_day", "warehouse", "cask_kind"]

    def __str__(self) -> str:
        return f"{self.warehouse or 'any'} {self.cask_kind or 'any'} from {self.from_day}"

    @property
    def yearly(self) -> YearlyBand:
        """The band as shares a year."""
        return YearlyBand(self.low_millionths_a_year / ONE, self.high_millionths_a_year / ONE)


class LossCause(models.Model):
    """A cause of loss that can be measured or named; the site may add its own."""

    name = models.CharField(max_length=60, unique=True)
    from_day = models.DateField()
    source = models.TextField(blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class UsualFigure(models.Model):
    """What a figure of an operation usually is, until the site's own history says it, and how far it usually strays.

    `name` is what the step calls the figure. Blank `expected`: another reading of the operation or the site's history
    says what to expect, and only the spread (one standard deviation) is given. Both in millionths of `unit`.
    """

    name = models.CharField(max_length=60)
    from_day = models.DateField()
    unit = models.CharField(max_length=20, blank=True)
    expected_millionths = models.BigIntegerField(null=True, blank=True)
    spread_millionths = models.BigIntegerField()
    source = models.TextField()

    class Meta:
        ordering = ["name", "from_day"]

    def __str__(self) -> str:
        return f"{self.name} from {self.from_day}"

    @property
    def expected(self) -> float | None:
        """What is expected, in its own unit; None where only the spread is given."""
        return None if self.expected_millionths is None else self.expected_millionths / ONE


class NameRequirement(models.Model):
    """One thing the law asks of a spirit that bears a name, from a day on; a later row of its code takes its place.

    `measure` is what is held to it, `way` how: at least, at most, or is. A figure in millionths of `unit`, or `words`
    (several parted by |) that have to stand there.
    """

    name = models.CharField(max_length=60)
    code = models.CharField(max_length=10)
    said = models.CharField(max_length=120)
    measure = models.CharField(max_length=40)
    way = models.CharField(max_length=10)
    limit_millionths = models.BigIntegerField(null=True, blank=True)
    words = models.CharField(max_length=200, blank=True)
    unit = models.CharField(max_length=20, blank=True)
    from_day = models.DateField()
    source = models.TextField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.name}: {self.said} from {self.from_day}"


class ReportingDuty(models.Model):
    """What has to be reported of an operation, by whom and until when, from a day on.

    `occasion` is when it is due: always, or in the case that is named. `until` says it in words, `within_days` in days
    or business days where it is so many.
    """

    operation = models.CharField(max_length=40)
    occasion = models.CharField(max_length=60)
    said = models.TextField()
    by_whom = models.CharField(max_length=80)
    until = models.CharField(max_length=120)
    within_days = models.PositiveIntegerField(null=True, blank=True)
    business_days = models.BooleanField(default=False)
    from_day = models.DateField()
    source = models.TextField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.operation}, {self.occasion}: {self.said}"


class PackageError(models.Model):
    """Tolerable negative error of packages from one nominal quantity to another, from a day on.

    In millionths of the nominal quantity or in microlitres; a blank `nominal_to_ul` is without end.
    """

    from_day = models.DateField()
    nominal_from_ul = models.BigIntegerField()
    nominal_to_ul = models.BigIntegerField(null=True, blank=True)
    share_millionths = models.BigIntegerField(null=True, blank=True)
    error_ul = models.BigIntegerField(null=True, blank=True)
    source = models.TextField()

    class Meta:
        ordering = ["from_day", "nominal_from_ul"]

    def __str__(self) -> str:
        return f"tolerable negative error from {self.nominal_from_ul} from {self.from_day}"


class NominalQuantity(models.Model):
    """What holds of bottle sizes of spirits from one size to another, from a day on: a size that is permitted, a range
    of listed sizes only, or of any size.
    """

    from_day = models.DateField()
    from_ul = models.BigIntegerField()
    to_ul = models.BigIntegerField(null=True, blank=True)
    rule = models.CharField(max_length=20)
    source = models.TextField()

    class Meta:
        ordering = ["from_day", "id"]

    def __str__(self) -> str:
        return f"{self.rule} from {self.from_ul} from {self.from_day}"
