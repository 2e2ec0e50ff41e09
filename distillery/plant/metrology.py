"""What is known of the measuring: which instrument is in use, its certificates, how sure a vessel's table is, and
what solids hide in a vessel.

All of it is dated, with its source and the person who entered it, and none of it is ever changed: a newer row takes
the place of an older one from its own day on, so that a gauge of last year can be worked out again as it was.
Corrections, gravities and percentages in millionths of the instrument's own unit.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from distillery.plant.models import MICRO, Instrument, Vessel


class Kept(models.Model):
    """Who entered a row, and when. Rows that come with a table of the plant have no person."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField()

    class Meta:
        abstract = True


class InstrumentUse(Kept):
    """From this day on readings of its kind are taken with this instrument, on the whole site or at one vessel."""

    instrument = models.ForeignKey(Instrument, on_delete=models.PROTECT, related_name="uses")
    vessel = models.ForeignKey(Vessel, null=True, on_delete=models.PROTECT, related_name="instrument_uses")
    from_day = models.DateField()

    class Meta:
        ordering = ["from_day", "id"]

    def __str__(self) -> str:
        return f"{self.instrument_id} from {self.from_day}"


class Certificate(Kept):
    """A certificate of an instrument: its corrections, and the standard uncertainty that they leave.

    That uncertainty is in every reading of the instrument alike, so it lasts; None where the certificate says none.
    One that was entered wrongly is entered again: of those that begin on one day the last entered counts.
    """

    instrument = models.ForeignKey(Instrument, on_delete=models.PROTECT, related_name="certificates")
    number = models.CharField(max_length=60)
    issuer = models.TextField()
    issued_on = models.DateField()
    from_day = models.DateField()
    standard_uncertainty_millionths = models.BigIntegerField(null=True)

    class Meta:
        ordering = ["from_day", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(standard_uncertainty_millionths__isnull=True) | Q(standard_uncertainty_millionths__gte=0),
                name="certificate_uncertainty_not_negative",
            ),
            models.CheckConstraint(condition=Q(from_day__gte=F("issued_on")), name="certificate_after_its_issue"),
        ]

    def __str__(self) -> str:
        return f"certificate {self.number} of {self.instrument_id}"

    @property
    def standard_uncertainty(self) -> float:
        """In the instrument's own unit; 0 where the certificate says none."""
        return (self.standard_uncertainty_millionths or 0) / MICRO


class CertificatePoint(models.Model):
    """At this reading add this correction; linear to the next point."""

    certificate = models.ForeignKey(Certificate, on_delete=models.PROTECT, related_name="points")
    reading_millionths = models.BigIntegerField()
    correction_millionths = models.BigIntegerField()

    class Meta:
        ordering = ["certificate", "reading_millionths"]
        constraints = [
            models.UniqueConstraint(fields=["certificate", "reading_millionths"], name="one_correction_a_reading"),
        ]

    def __str__(self) -> str:
        return f"{self.reading_millionths}: {self.correction_millionths:+d}"


class VesselCalibration(Kept):
    """How sure the table of a vessel is: a standard uncertainty as a share of the volume, in millionths.

    With the temperature of the calibration and the growth of the shell the volume follows the shell's temperature.
    """

    vessel = models.ForeignKey(Vessel, on_delete=models.PROTECT, related_name="calibrations")
    from_day = models.DateField()
    share_millionths = models.BigIntegerField()
    calibration_millicelsius = models.IntegerField(null=True)
    shell_expansion_per_celsius_billionths = models.IntegerField(null=True)
    source = models.TextField()

    class Meta:
        ordering = ["from_day", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(share_millionths__gte=0, share_millionths__lt=MICRO), name="calibration_share_is_a_share"
            ),
        ]

    def __str__(self) -> str:
        return f"calibration of {self.vessel_id} from {self.from_day}"


class ObscurationFound(Kept):
    """What dissolved solids hide in a vessel, % vol at 20 °C, from a moment on until the next row of the vessel.

    Nothing hidden any more is a row of 0. The person who enters it signs it.
    """

    vessel = models.ForeignKey(Vessel, on_delete=models.PROTECT, related_name="obscurations")
    from_at = models.DateTimeField()
    percent_millionths = models.BigIntegerField()
    standard_uncertainty_millionths = models.BigIntegerField()
    determined_on = models.DateField()
    source = models.TextField()

    class Meta:
        ordering = ["from_at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(standard_uncertainty_millionths__gte=0), name="obscuration_uncertainty_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return f"obscuration of {self.vessel_id} from {self.from_at}"
