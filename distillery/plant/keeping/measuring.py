"""How a site enters what it knows of its measuring: each a new dated row with source and person, none ever changed.

A figure is taken as it stands on the certificate. Limits of error become standard uncertainties as rectangular ones,
expanded uncertainties by their coverage factor (JCGM 100:2008, 4.3.3 and 4.3.7).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal

from django.utils import timezone

from distillery.alcoholometry.errors import AlcoholometryError
from distillery.alcoholometry.obscuration import Obscuration
from distillery.people.models import Person
from distillery.plant.metrology import (
    Certificate,
    CertificatePoint,
    InstrumentUse,
    ObscurationFound,
    VesselCalibration,
)
from distillery.plant.models import MICRO, DensityBasis, Instrument, Vessel, WorksBy
from distillery.plant.outfit import BILLION, DENSITY, MEASURES, MILLI, SCALES, STRENGTH, corrected_by
from distillery.seals.writing import signed

Point = tuple[Decimal, Decimal]
LARGEST = Decimal(1_000_000)
MOST_SHARE_PERCENT = Decimal(10)


class Unkeepable(ValueError):
    """A figure cannot be entered as given; the sentence says why, `field` which one."""

    def __init__(self, field: str, sentence: str) -> None:
        super().__init__(sentence)
        self.field = field
        self.sentence = sentence


@signed("plant")
def add_instrument(
    *,
    code: str,
    measures: str,
    unit: str,
    resolution: Decimal,
    standard_uncertainty: Decimal,
    reference_celsius: Decimal | None = None,
    glass_per_celsius: Decimal | None = None,
    works_by: str = WorksBy.FLOATING,
    density_basis: str = "",
) -> Instrument:
    """An instrument new on the site, ready to be taken into use. Raises Unkeepable.

    Figures in the instrument's own unit; `standard_uncertainty` is of one reading, resolution included.
    """
    if measures not in MEASURES:
        raise Unkeepable("measures", f"Say what it measures: one of {', '.join(MEASURES)}.")
    if Instrument.objects.filter(code__iexact=code.strip()).exists():
        raise Unkeepable("code", f"There is an instrument {code.strip()} already: give this one a code of its own.")
    if standard_uncertainty <= 0:
        raise Unkeepable("standard_uncertainty", "No reading is exact: give the standard uncertainty of one reading.")
    if measures == STRENGTH:
        _check_scale(unit.strip(), works_by, density_basis)
        if reference_celsius is None:
            raise Unkeepable(
                "reference_celsius",
                "Its scale is right at one temperature only: read it off the instrument (20 °C, 15 °C, 60 °F).",
            )
    if reference_celsius is not None and not -20 <= reference_celsius <= 40:
        raise Unkeepable("reference_celsius", f"A scale made for {reference_celsius} °C is not credible: −20 to 40 °C.")
    instrument = Instrument(
        code=_said("code", code),
        measures=measures,
        unit=_said("unit", unit),
        resolution_millionths=_parts("resolution", resolution, low=Decimal(0)),
        standard_uncertainty_millionths=_parts("standard_uncertainty", standard_uncertainty),
        reference_millicelsius=None if reference_celsius is None else round(reference_celsius * MILLI),
        works_by=works_by,
        density_basis=density_basis,
    )
    if glass_per_celsius is not None:
        if not 0 <= glass_per_celsius <= Decimal("0.001"):
            raise Unkeepable("glass_per_celsius", "Glass swells by about 0.000025 of its volume for each °C.")
        instrument.glass_expansion_per_celsius_billionths = round(glass_per_celsius * BILLION)
    instrument.save()
    return instrument


@signed("plant")
def add_certificate(
    *,
    instrument: Instrument,
    number: str,
    issuer: str,
    issued_on: date,
    from_day: date,
    points: Sequence[Point] = (),
    standard_uncertainty: Decimal | None = None,
    person: Person | None,
) -> Certificate:
    """A certificate with its corrections at rising readings, in force from a day on. Raises Unkeepable."""
    if from_day < issued_on:
        raise Unkeepable("from_day", "A certificate cannot be in force before the day it was issued.")
    if not points and standard_uncertainty is None:
        raise Unkeepable("points", "A certificate gives corrections or an uncertainty, or both: enter what it says.")
    if standard_uncertainty is not None and standard_uncertainty < 0:
        raise Unkeepable("standard_uncertainty", "An uncertainty is nothing or more: check the sign.")
    if len(points) == 1:
        raise Unkeepable("points", "One point says nothing about other readings: enter the ends of its range too.")
    for known in Certificate.objects.filter(instrument=instrument, number=number.strip(), from_day=from_day):
        there = [(one.reading_millionths, one.correction_millionths) for one in known.points.all()]
        same = there == [(round(reading * MICRO), round(correction * MICRO)) for reading, correction in points]
        if same and known.standard_uncertainty == float(standard_uncertainty or 0):
            raise Unkeepable("number", f"Certificate {known.number} is entered already, with the same figures.")
    certificate = Certificate.objects.create(
        instrument=instrument,
        number=_said("number", number),
        issuer=_said("issuer", issuer),
        issued_on=issued_on,
        from_day=from_day,
        standard_uncertainty_millionths=(
            None if standard_uncertainty is None else _parts("standard_uncertainty", standard_uncertainty)
        ),
        person=person,
        entered_at=timezone.now(),
    )
    last: Decimal | None = None
    for reading, _correction in points:
        if last is not None and reading <= last:
            raise Unkeepable("points", f"The readings must rise from line to line; {reading} comes after {last}.")
        last = reading
    CertificatePoint.objects.bulk_create(
        CertificatePoint(
            certificate=certificate,
            reading_millionths=_parts("points", reading),
            correction_millionths=_parts("points", correction),
        )
        for reading, correction in points
    )
    try:
        corrected_by(certificate)
    except AlcoholometryError as error:
        raise Unkeepable("points", str(error)) from error
    return certificate


@signed("plant")
def take_into_use(
    *, instrument: Instrument, from_day: date, vessel: Vessel | None = None, person: Person | None
) -> InstrumentUse:
    """From a day on, what this instrument measures is read with it: on the whole site, or at one vessel."""
    if instrument.measures not in MEASURES:
        raise Unkeepable("instrument", f"No reading of a gauge is taken with {instrument.code}.")
    return InstrumentUse.objects.create(
        instrument=instrument, from_day=from_day, vessel=vessel, person=person, entered_at=timezone.now()
    )


@signed("plant")
def add_calibration(
    *,
    vessel: Vessel,
    from_day: date,
    standard_percent: Decimal,
    source: str,
    calibration_celsius: Decimal | None = None,
    expansion_per_celsius: Decimal | None = None,
    person: Person | None,
) -> VesselCalibration:
    """How sure a vessel's table is, as a standard uncertainty in percent of the volume. Raises Unkeepable.

    With `calibration_celsius` the shell's growth is taken into account, by `expansion_per_celsius` or that of steel.
    """
    if not 0 <= standard_percent <= MOST_SHARE_PERCENT:
        raise Unkeepable("standard_percent", f"{standard_percent} % of the volume is not credible: 0 to 10 %.")
    if expansion_per_celsius is not None and calibration_celsius is None:
        raise Unkeepable("calibration_celsius", "Give the temperature of the calibration, from which the shell grows.")
    if calibration_celsius is not None and not -20 <= calibration_celsius <= 40:
        raise Unkeepable("calibration_celsius", f"A calibration at {calibration_celsius} °C is not credible.")
    if expansion_per_celsius is not None and not 0 <= expansion_per_celsius <= Decimal("0.001"):
        raise Unkeepable("expansion_per_celsius", "Steel grows by about 0.00005 of its volume for each °C.")
    return VesselCalibration.objects.create(
        vessel=vessel,
        from_day=from_day,
        share_millionths=round(standard_percent / 100 * MICRO),
        calibration_millicelsius=None if calibration_celsius is None else round(calibration_celsius * MILLI),
        shell_expansion_per_celsius_billionths=(
            None if expansion_per_celsius is None else round(expansion_per_celsius * BILLION)
        ),
        source=_said("source", source),
        person=person,
        entered_at=timezone.now(),
    )


@signed("plant")
def add_obscuration(
    *,
    vessel: Vessel,
    from_at: datetime,
    percent: Decimal,
    standard_uncertainty: Decimal,
    determined_on: date,
    source: str,
    person: Person | None,
) -> ObscurationFound:
    """What solids hide in a vessel, % vol at 20 °C with its sign, from a moment on; 0 ends it. Raises Unkeepable."""
    if standard_uncertainty < 0:
        raise Unkeepable("standard_uncertainty", "An uncertainty is nothing or more: check the sign.")
    try:
        Obscuration(float(percent), determined_on, source, float(standard_uncertainty))
    except AlcoholometryError as error:
        raise Unkeepable("percent", str(error)) from error
    last = ObscurationFound.objects.filter(vessel=vessel, from_at=from_at).last()
    if last is not None and last.percent_millionths == _parts("percent", percent):
        raise Unkeepable("percent", f"This obscuration of {vessel.code} is entered already, from the same moment.")
    return ObscurationFound.objects.create(
        vessel=vessel,
        from_at=from_at,
        percent_millionths=_parts("percent", percent),
        standard_uncertainty_millionths=_parts("standard_uncertainty", standard_uncertainty),
        determined_on=determined_on,
        source=_said("source", source),
        person=person,
        entered_at=timezone.now(),
    )


def _check_scale(unit: str, works_by: str, density_basis: str) -> None:
    if works_by == WorksBy.OSCILLATION and unit != DENSITY:
        raise Unkeepable("unit", f"An oscillating tube shows a density: its unit is {DENSITY}.")
    if unit == DENSITY and density_basis not in DensityBasis.values:
        raise Unkeepable(
            "density_basis", "Say whether it shows density in air or in vacuum: its manual or certificate tells."
        )
    if unit != DENSITY and unit not in SCALES:
        raise Unkeepable("unit", f"A scale for strength is in one of {', '.join(s for s in SCALES if s)}, {DENSITY}.")
    if unit != DENSITY and density_basis:
        raise Unkeepable("density_basis", "Only a density is in air or in vacuum: leave this blank.")


def _said(field: str, text: str) -> str:
    if not text.strip():
        raise Unkeepable(field, f"Fill in the {field}: a figure without it cannot be explained later.")
    return text.strip()


def _parts(field: str, figure: Decimal, low: Decimal | None = None) -> int:
    if abs(figure) > LARGEST or (low is not None and figure < low):
        raise Unkeepable(field, f"The figure {figure} cannot be: check the decimal point.")
    return round(figure * MICRO)
