"""What a vessel is gauged with on a day: the instruments in use there, their certificates, and how sure each is.

A certificate's corrections come first (27 CFR 30.23); its standard uncertainty is added by squares to that of one
reading and lasts from reading to reading, so that gauges with one instrument have it in common (JCGM 100:2008, F.1.2).
Where no certificate states one, all of an instrument's uncertainty is chance. Where the site has entered no instrument
of a kind, a reading counts as taken with plain glass of 20 °C and the uncertainties that a gauge comes with.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from math import hypot
from typing import Final

from distillery import figures
from distillery.alcoholometry.errors import UnstatedBasis, WrongScale
from distillery.alcoholometry.gauging.chain import (
    Corrections,
    InstrumentNames,
    InstrumentUncertainty,
    LastingShares,
)
from distillery.alcoholometry.gauging.readings import UNNAMED
from distillery.alcoholometry.obscuration import Obscuration
from distillery.alcoholometry.reading import (
    TWENTY_DEGREE_GLASS,
    UNCORRECTED,
    Alcoholometer,
    DensityMeter,
    Scale,
    StrengthInstrument,
)
from distillery.alcoholometry.reading import Certificate as Corrected
from distillery.alcoholometry.volume import STEEL_PER_CELSIUS, Shell
from distillery.plant.metrology import Certificate, InstrumentUse, ObscurationFound, VesselCalibration
from distillery.plant.models import MICRO, DensityBasis, Instrument, Vessel, WorksBy

MILLI: Final = 1000
BILLION: Final = 1_000_000_000

DIP: Final = "dip"
TEMPERATURE: Final = "temperature"
STRENGTH: Final = "strength"
GRAVITY: Final = "gravity"
WEIGHT: Final = "cask weight"

# What each instrument of the plant measures: the reading whose uncertainty it stands for, and its name in a chain.
MEASURES: Final[Mapping[str, tuple[str, str]]] = {
    DIP: ("dip_mm", "dip"),
    TEMPERATURE: ("celsius", "thermometer"),
    STRENGTH: ("percent", "alcoholometer"),
    GRAVITY: ("gravity", "saccharometer"),
    WEIGHT: ("kilograms", "scale"),
}
# What a scale for strength may be in, as the plant's table writes it; a density must say its basis besides.
SCALES: Final[Mapping[str, Scale]] = {
    "": "percent_vol",
    "percent_vol": "percent_vol",
    "percent_mass": "percent_mass",
    "us_proof": "us_proof",
    "relative_density": "relative_density",
}
DENSITY: Final = "kg/m3"
BASES: Final[Mapping[str, Scale]] = {DensityBasis.VACUUM: "density_vacuum", DensityBasis.AIR: "density_air"}


@dataclass(frozen=True)
class Outfit:
    """The instruments of one day and place, by what they measure, and what is known of the vessel."""

    instruments: Mapping[str, Instrument]
    certificates: Mapping[str, Certificate]
    vessel: Vessel | None = None
    calibration: VesselCalibration | None = None
    hidden: ObscurationFound | None = None
    # Plain glass read in place of an instrument of the site's own.
    plain: Alcoholometer | None = None
    # An obscuration typed for one sum, in place of the one on record.
    typed: Obscuration | None = None

    @cached_property
    def uncertainty(self) -> InstrumentUncertainty:
        """Standard uncertainty of one reading of each, that of its certificate included, and which part lasts."""
        whole: dict[str, float] = {}
        lasting: dict[str, float] = {}
        for measures, (reading, _name) in MEASURES.items():
            instrument = self.instruments.get(measures)
            if instrument is None:
                continue
            certified = self.certificates[measures].standard_uncertainty if measures in self.certificates else 0.0
            whole[reading] = hypot(instrument.standard_uncertainty, certified)
            lasting[reading] = (certified / whole[reading]) ** 2 if certified else 0.0
        share = self.calibration.share_millionths / MICRO if self.calibration else 0.0
        return InstrumentUncertainty(**whole, calibration_share=share, lasting=LastingShares(**lasting))

    @cached_property
    def names(self) -> InstrumentNames:
        """By which code each is known, and whose calibration the vessel's table is."""
        known = {
            name: self.instruments[measures].code
            for measures, (_reading, name) in MEASURES.items()
            if measures in self.instruments
        }
        vessel = f"calibration of {self.vessel.code}" if self.vessel else UNNAMED.vessel
        return InstrumentNames(**known, vessel=vessel)

    @cached_property
    def alcoholometer(self) -> StrengthInstrument:
        """What strengths are read with. Raises NoReferenceTemperature, UnstatedBasis or WrongScale."""
        instrument = self.instruments.get(STRENGTH)
        if self.plain is not None:
            return self.plain
        if instrument is None:
            return TWENTY_DEGREE_GLASS
        return strength_instrument(instrument, self.certificates.get(STRENGTH))

    @cached_property
    def corrections(self) -> Corrections:
        """Certificates of thermometer, saccharometer and scale, the vessel's shell, and what solids hide in it."""
        return Corrections(
            thermometer=corrected_by(self.certificates.get(TEMPERATURE)),
            saccharometer=corrected_by(self.certificates.get(GRAVITY)),
            scale=corrected_by(self.certificates.get(WEIGHT)),
            shell=self._shell,
            obscuration=self.obscuration,
        )

    @cached_property
    def obscuration(self) -> Obscuration | None:
        """What solids hide in the vessel; None where nothing is on record."""
        if self.typed is not None:
            return self.typed if self.typed.percent or self.typed.standard_uncertainty else None
        return None if self.hidden is None or self.vessel is None else _obscuration(self.hidden, self.vessel)

    @cached_property
    def rod(self) -> Corrected:
        """The certificate of the dip rod, in millimetres; the table of the vessel is read after it."""
        return corrected_by(self.certificates.get(DIP))

    @property
    def _shell(self) -> Shell | None:
        """The growth of the vessel; off unless the temperature of its calibration is on record."""
        if self.calibration is None or self.calibration.calibration_millicelsius is None:
            return None
        expansion = self.calibration.shell_expansion_per_celsius_billionths
        return Shell(
            calibration_celsius=self.calibration.calibration_millicelsius / MILLI,
            expansion_per_celsius=STEEL_PER_CELSIUS if expansion is None else expansion / BILLION,
        )


@dataclass(frozen=True)
class Register:
    """All instruments, periods of use, certificates, calibrations and obscurations, each in order of its day."""

    instruments: Sequence[Instrument]
    uses: Sequence[InstrumentUse]
    certificates: Sequence[Certificate]
    calibrations: Sequence[VesselCalibration]
    obscurations: Sequence[ObscurationFound]

    @classmethod
    def read(cls) -> Register:
        """What the site has entered, in one query for each table."""
        return cls(
            instruments=list(Instrument.objects.order_by("id")),
            uses=list(InstrumentUse.objects.order_by("from_day", "id")),
            certificates=list(Certificate.objects.order_by("from_day", "id").prefetch_related("points")),
            calibrations=list(VesselCalibration.objects.order_by("from_day", "id")),
            obscurations=list(ObscurationFound.objects.order_by("from_at", "id")),
        )

    def outfit(
        self,
        day: date,
        *,
        vessel: Vessel | None = None,
        hidden: ObscurationFound | None = None,
        chosen: Instrument | None = None,
        plain: Alcoholometer | None = None,
    ) -> Outfit:
        """What is gauged with on a day at a vessel.

        A `chosen` instrument goes before the one in use there, and `plain` glass before any for strength.
        """
        instruments = self.in_use(day, vessel)
        if chosen is not None:
            instruments[chosen.measures] = chosen
        if plain is not None:
            instruments.pop(STRENGTH, None)
        certificates = {
            measures: certificate
            for measures, instrument in instruments.items()
            if (certificate := self.certificate(instrument, day)) is not None
        }
        return Outfit(
            instruments,
            certificates,
            vessel,
            self.calibration(vessel, day) if vessel else None,
            hidden,
            plain,
        )

    def in_use(self, day: date, vessel: Vessel | None = None) -> dict[str, Instrument]:
        """The instrument of each kind in use on a day: the vessel's own before the site's.

        Before any period of use has begun it is the first instrument entered that has none, else the first entered.
        """
        by_pk = {one.pk: one for one in self.instruments}
        started = {use.instrument_id for use in self.uses}
        found: dict[str, Instrument] = {}
        for instrument in (
            *(one for one in self.instruments if one.pk not in started),
            *(one for one in self.instruments if one.pk in started),
        ):
            found.setdefault(instrument.measures, instrument)
        begun = [use for use in self.uses if use.from_day <= day]
        for use in (
            *(one for one in begun if one.vessel_id is None),
            *(one for one in begun if vessel is not None and one.vessel_id == vessel.pk),
        ):
            instrument = by_pk[use.instrument_id]
            found[instrument.measures] = instrument
        return found

    def instrument(self, code: str) -> Instrument | None:
        """An instrument by its code."""
        return next((one for one in self.instruments if one.code == code), None)

    def certificate(self, instrument: Instrument, day: date) -> Certificate | None:
        """The certificate of an instrument in force on a day."""
        in_force = [one for one in self.certificates if one.instrument_id == instrument.pk and one.from_day <= day]
        return in_force[-1] if in_force else None

    def calibration(self, vessel: Vessel, day: date) -> VesselCalibration | None:
        """How sure a vessel's table is, as known on a day."""
        in_force = [one for one in self.calibrations if one.vessel_id == vessel.pk and one.from_day <= day]
        return in_force[-1] if in_force else None

    def obscuration(self, vessel: Vessel, at: datetime) -> ObscurationFound | None:
        """What solids hide in a vessel at a moment; None where nothing is hidden, or no longer."""
        begun = [one for one in self.obscurations if one.vessel_id == vessel.pk and one.from_at <= at]
        if not begun or not (begun[-1].percent_millionths or begun[-1].standard_uncertainty_millionths):
            return None
        return begun[-1]


def strength_instrument(instrument: Instrument, certificate: Certificate | None) -> StrengthInstrument:
    """The instrument that strengths are read with, as alcoholometry needs it.

    Raises NoReferenceTemperature, UnstatedBasis (a density that does not say in air or in vacuum) or WrongScale.
    """
    celsius = None if instrument.reference_millicelsius is None else instrument.reference_millicelsius / MILLI
    corrections = corrected_by(certificate)
    if instrument.works_by == WorksBy.OSCILLATION:
        if instrument.unit != DENSITY:
            raise WrongScale(f"{instrument.code} oscillates, so it shows a density: enter its unit as {DENSITY}.")
        _require_basis(instrument)
        return DensityMeter("air" if instrument.density_basis == DensityBasis.AIR else "vacuum", corrections, celsius)
    if instrument.unit == DENSITY:
        _require_basis(instrument)
        scale = BASES[instrument.density_basis]
    elif instrument.unit in SCALES:
        scale = SCALES[instrument.unit]
    else:
        raise WrongScale(
            f"The scale of {instrument.code} is in {instrument.unit!r}, which is none of "
            f"{', '.join(one for one in SCALES if one)} and {DENSITY}: enter what stands on the instrument."
        )
    return Alcoholometer(celsius, scale, instrument.glass_expansion_per_celsius_billionths / BILLION, corrections)


def corrected_by(certificate: Certificate | None) -> Corrected:
    """A certificate as alcoholometry needs it: its points, and how the chain names it."""
    if certificate is None:
        return UNCORRECTED
    points = tuple(
        (point.reading_millionths / MICRO, point.correction_millionths / MICRO)
        for point in sorted(certificate.points.all(), key=lambda one: one.reading_millionths)
    )
    issued = figures.day(certificate.issued_on, year=True)
    return Corrected(points, f"certificate {certificate.number}, {certificate.issuer}, {issued}")


def _require_basis(instrument: Instrument) -> None:
    if instrument.density_basis not in BASES:
        raise UnstatedBasis(
            f"{instrument.code} shows a density and it is not on record whether in air or in vacuum: its manual or its "
            "certificate tells; enter it with the instrument before using a reading."
        )


def _obscuration(found: ObscurationFound, vessel: Vessel) -> Obscuration:
    return Obscuration(
        percent=found.percent_millionths / MICRO,
        determined_on=found.determined_on,
        source=found.source,
        standard_uncertainty=found.standard_uncertainty_millionths / MICRO,
        of=vessel.code,
    )
