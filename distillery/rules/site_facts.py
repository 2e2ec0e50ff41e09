"""What a site says of itself, dated like every rule: its name and approval, how long things last, what it has stated;
and who entered a dated figure, when and why.

None of it is ever changed. A later row holds from its own day on.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models


class SiteDetails(models.Model):
    """Name, address and approval of the site from a day on, as every page and print bears them."""

    name = models.CharField(max_length=120)
    address = models.CharField(max_length=300)
    approval_number = models.CharField(max_length=60, blank=True)
    warehouse_approval = models.CharField(max_length=60, blank=True)
    from_day = models.DateField()
    source = models.TextField()

    class Meta:
        ordering = ["from_day", "id"]

    def __str__(self) -> str:
        return f"{self.name} from {self.from_day}"


class Interval(models.Model):
    """How many months something lasts from a day on: from one certificate to the next, how long records are kept."""

    what = models.CharField(max_length=60)
    months = models.PositiveIntegerField()
    from_day = models.DateField()
    source = models.TextField()

    class Meta:
        ordering = ["what", "from_day", "id"]

    def __str__(self) -> str:
        return f"{self.what}: {self.months} months from {self.from_day}"


class Entered(models.Model):
    """Who entered a dated figure, when, and why; `table` is that of its row. What came with the program has none."""

    table = models.CharField(max_length=60)
    row = models.BigIntegerField()
    person = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField()
    reason = models.TextField(blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["table", "row"], name="figure_entered_once")]

    def __str__(self) -> str:
        return f"{self.table} {self.row}"


class FigureAsked(models.Model):
    """A dated figure that one person asked for and that waits for a second; until then the one before it holds.

    `kind` is that of its form, `boxes` what was typed in it as JSON. A time of real time.
    """

    kind = models.CharField(max_length=40)
    boxes = models.TextField()
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.kind} {self.pk}"


class FigureAnswered(models.Model):
    """What became of a figure that was asked for: agreed to, as which row of which table, or refused; by whom, why."""

    asked = models.OneToOneField(FigureAsked, on_delete=models.PROTECT, related_name="answered")
    agreed = models.BooleanField()
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    answered_at = models.DateTimeField()
    reason = models.TextField(blank=True)
    table = models.CharField(max_length=60, blank=True)
    row = models.BigIntegerField(null=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.asked_id}: {'agreed' if self.agreed else 'refused'}"


class Statement(models.Model):
    """What a person has said of the site that no figure says: that its figures were looked through and stand."""

    class What(models.TextChoices):
        FIGURES = "figures", "The figures of the site were looked through, and stand"
        MONTHS = "months", "The site accounts by calendar months"
        NOTHING_HELD = "nothing held", "No spirit is held as the books begin"
        MADE_AS_SCOTCH = (
            "made as Scotch",
            "Whisky is mashed, converted, fermented and distilled at this one distillery in Scotland, by enzymes of "
            "the grain and yeast alone",
        )

    what = models.CharField(max_length=20, choices=What.choices)
    said = models.TextField(blank=True)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return self.get_what_display()
