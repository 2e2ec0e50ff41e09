"""What is known of the measuring, as lists for a page, files and paper: instruments, certificates, tables of vessels,
obscurations.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet

from distillery import figures
from distillery.alcoholometry.errors import AlcoholometryError
from distillery.lists.columns import DayColumn, ListColumn, MomentColumn
from distillery.lists.tables import HouseTable
from distillery.pages import Kind as StateKind
from distillery.pages import State
from distillery.people.models import Person
from distillery.plant.lookup import FIXED
from distillery.plant.metrology import Certificate, InstrumentUse, VesselCalibration
from distillery.plant.models import MICRO, CalibrationPoint, DensityBasis, Instrument, Vessel, WorksBy
from distillery.plant.outfit import BILLION, DENSITY, MEASURES, MILLI, Register, strength_instrument

STRENGTH = "strength"
NONE_ON_RECORD = "none on record"
WORDS = {
    "percent_vol": "% vol",
    "percent_mass": "% mas",
    "us_proof": "US proof",
    "relative_density": "relative density",
    "celsius": "°C",
    DENSITY: "kg/m³",
}
PART_PER_MILLION_TO_PERCENT = 10_000


class TextFigureColumn(ListColumn):
    """A figure in the unit of its own line, with the decimals it has; it stands to the right."""

    numeric = True


class MeasuringTable(HouseTable):
    """A list of the measuring as it stands in a register, on a day."""

    def __init__(self, data: Any, *, register: Register, on: date, **more: Any) -> None:
        self.register, self.on = register, on
        self.instruments = {one.pk: one for one in register.instruments}
        super().__init__(data, **more)


class SignedTable(MeasuringTable):
    """Lines that somebody entered."""

    who = ListColumn("Entered by", lambda row: row.who)
    entered = MomentColumn("Entered", "entered_at")

    def prepare(self, rows: Sequence[Any]) -> None:
        people = Person.objects.filter(pk__in={one.person_id for one in rows if one.person_id})
        names = {one.pk: one.shown_name for one in people}
        for one in rows:
            one.who = names.get(one.person_id, "with the plant's tables")


class InstrumentTable(MeasuringTable):
    """Each instrument, what it is, and what is in force for it on a day."""

    code = ListColumn("Instrument", "code", order=("code",), state=lambda row: _wrong(row, row.certificate_now))
    measures = ListColumn("Measures", lambda row: row.measures.capitalize(), order=("measures", "code"))
    scale = ListColumn("Scale", lambda row: _unit(row))
    made_for = TextFigureColumn("Made for", lambda row: _celsius(row), unit="°C")
    resolution = TextFigureColumn("Resolution", lambda row: _plain(row.resolution_millionths))
    reading = TextFigureColumn("One reading", lambda row: _plain(row.standard_uncertainty_millionths))
    lasting = TextFigureColumn("Certificate's part", lambda row: _lasting(row.certificate_now))
    certificate = ListColumn(
        "Certificate", lambda row: row.certificate_now.number if row.certificate_now else NONE_ON_RECORD
    )
    where = ListColumn("In use now", lambda row: row.where)

    name, caption = "instruments", "Instruments"
    note = "standard uncertainties, each in the instrument's own unit; the certificate's part lasts and is shared"
    nothing = "No instruments yet: usual uncertainties and plain glass of 20 °C are taken. Add the first."

    def prepare(self, rows: Sequence[Any]) -> None:
        in_use = {one.pk for one in self.register.in_use(self.on).values()}
        at_vessel: dict[int, list[str]] = {}
        for vessel in Vessel.objects.filter(pk__in=InstrumentUse.objects.values("vessel")):
            for one in self.register.in_use(self.on, vessel).values():
                if one.pk not in in_use:
                    at_vessel.setdefault(one.pk, []).append(vessel.code)
        for one in rows:
            one.certificate_now = self.register.certificate(one, self.on)
            one.where = "for no gauge"
            if one.measures in MEASURES:
                vessels = ", ".join(at_vessel.get(one.pk, ())) or "not in use"
                one.where = "on the whole site" if one.pk in in_use else vessels


class UseTable(SignedTable):
    """From which day each instrument is read, newest first."""

    instrument = ListColumn("Instrument", lambda row: row.of.code)
    since = DayColumn("From", "from_day")
    vessel = ListColumn("At", lambda row: row.at_vessel, none="the whole site")

    name, caption = "uses", "Periods of use"
    note = "the latest begun counts; a vessel's own goes before the site's"
    nothing = "None: each kind of reading is taken with the first instrument entered for it."

    class Meta(HouseTable.Meta):
        sequence = ("instrument", "since", "vessel", "who", "entered")

    def prepare(self, rows: Sequence[Any]) -> None:
        super().prepare(rows)
        vessels = _vessels(row.vessel_id for row in rows)
        for row in rows:
            row.of = self.instruments[row.instrument_id]
            row.at_vessel = vessels[row.vessel_id].code if row.vessel_id else ""


class CertificateTable(SignedTable):
    """Each certificate with its points, newest first."""

    instrument = ListColumn("Instrument", lambda row: row.of.code)
    number = ListColumn("Number", "number")
    issuer = ListColumn("Issued by", "issuer")
    issued = DayColumn("Issued", "issued_on", order=("issued_on",))
    since = DayColumn("In force from", "from_day", order=("from_day",))
    points = ListColumn("Reading and correction", lambda row: _points(row), none="no corrections")
    lasting = TextFigureColumn("Standard uncertainty", lambda row: _lasting(row))
    scale = ListColumn("Unit", lambda row: _unit(row.of))

    name, caption = "certificates", "Certificates"
    nothing = "No certificates: readings are taken as shown, and all of their uncertainty counts as chance."

    class Meta(HouseTable.Meta):
        sequence = ("instrument", "number", "issuer", "issued", "since", "points", "lasting", "scale", "who", "entered")

    def prepare(self, rows: Sequence[Any]) -> None:
        super().prepare(rows)
        for row in rows:
            row.of = self.instruments[row.instrument_id]


class CalibrationTable(SignedTable):
    """How sure the table of each vessel is; the note says which have no figure on record."""

    vessel = ListColumn("Vessel", lambda row: row.of.code)
    share = TextFigureColumn(
        "Standard uncertainty",
        lambda row: figures.percent(row.share_millionths / PART_PER_MILLION_TO_PERCENT, 3),
        unit="% of volume",
    )
    since = DayColumn("From", "from_day")
    at = TextFigureColumn("Calibrated at", lambda row: _shell_celsius(row), unit="°C")
    grows = TextFigureColumn("Growth of shell for each °C", lambda row: _expansion(row))
    source = ListColumn("Source", "source")

    name, caption = "calibrations", "How sure the vessels' tables are"
    nothing = "No vessel has a table yet. Enter the first under Plant, or load the tables of the plant."

    class Meta(HouseTable.Meta):
        sequence = ("vessel", "share", "since", "at", "grows", "source", "who", "entered")

    def __init__(self, data: Any, **more: Any) -> None:
        super().__init__(data, **more)
        known = {row.vessel_id for row in self.all_rows()}
        tables = _with_tables()
        unknown = ", ".join(vessel.code for vessel in tables if vessel.pk not in known)
        if unknown:
            self.nothing = f"None on record, so each table counts as exact: {unknown}."
        if unknown and known:
            self.note = f"none on record, so counted as exact: {unknown}"

    def prepare(self, rows: Sequence[Any]) -> None:
        super().prepare(rows)
        vessels = _vessels(row.vessel_id for row in rows)
        for row in rows:
            row.of = vessels[row.vessel_id]


class ObscurationTable(SignedTable):
    """What solids hide, newest first."""

    vessel = ListColumn("Vessel", lambda row: row.of.code)
    since = MomentColumn("From", "from_at", order=("from_at",))
    obscuration = TextFigureColumn(
        "Obscuration",
        lambda row: "ended" if not row.percent_millionths else _signed_figure(row.percent_millionths),
        unit="% vol",
    )
    doubt = TextFigureColumn(
        "Standard uncertainty", lambda row: _plain(row.standard_uncertainty_millionths), unit="% vol"
    )
    found = DayColumn("Found on", "determined_on")
    how = ListColumn("How", "source")
    who = ListColumn("Signed by", lambda row: row.who)

    name, caption = "obscurations", "Obscurations"
    note = "added to the strength of every gauge of the vessel from then on; each holds until the next"
    nothing = "None: every strength counts as what the instrument shows after its corrections."

    class Meta(HouseTable.Meta):
        sequence = ("vessel", "since", "obscuration", "doubt", "found", "how", "who", "entered")

    def prepare(self, rows: Sequence[Any]) -> None:
        super().prepare(rows)
        vessels = _vessels(row.vessel_id for row in rows)
        for row in rows:
            row.of = vessels[row.vessel_id]


def register_lists(register: Register, on: date) -> list[tuple[type[MeasuringTable], list[Any]]]:
    """Every list of the page with its rows, as things stand on a day."""
    with_table = _with_tables()
    calibrations = [one for vessel in with_table if (one := register.calibration(vessel, on)) is not None]
    return [
        (InstrumentTable, list(register.instruments)),
        (UseTable, list(reversed(register.uses))),
        (CertificateTable, list(reversed(register.certificates))),
        (CalibrationTable, calibrations),
        (ObscurationTable, list(reversed(register.obscurations))),
    ]


def _points(row: Any) -> str:
    return ", ".join(
        f"{_plain(point.reading_millionths)} {_signed_figure(point.correction_millionths)}"
        for point in sorted(row.points.all(), key=lambda point: point.reading_millionths)
    )


def _with_tables() -> QuerySet[Vessel]:
    """The fixed vessels that have a calibration table, in the site's order."""
    return Vessel.objects.filter(Exists(CalibrationPoint.objects.filter(vessel=OuterRef("pk"))), kind__in=FIXED)


def _vessels(keys: Iterable[int | None]) -> dict[int, Vessel]:
    return Vessel.objects.in_bulk({key for key in keys if key is not None})


def _wrong(one: Instrument, certificate: Certificate | None) -> State | None:
    if one.measures != STRENGTH:
        return None
    try:
        strength_instrument(one, certificate)
    except AlcoholometryError:
        return State(StateKind.MISSING, "Cannot be used: scale or reference temperature missing")
    return None


def _unit(one: Instrument) -> str:
    unit = WORDS.get(one.unit, one.unit)
    if one.density_basis:
        unit = f"{unit} {DensityBasis(one.density_basis).label.removeprefix('Density ')}"
    return f"{unit}, oscillating" if one.works_by == WorksBy.OSCILLATION else unit


def _celsius(one: Instrument) -> str:
    if one.reference_millicelsius is None:
        return "missing" if one.measures == STRENGTH else ""
    return f"{one.reference_millicelsius / MILLI:.4g}"


def _lasting(certificate: Certificate | None) -> str:
    if certificate is None or certificate.standard_uncertainty_millionths is None:
        return "none" if certificate is None else "none stated"
    return _plain(certificate.standard_uncertainty_millionths)


def _plain(millionths: int) -> str:
    return f"{millionths / MICRO:.6f}".rstrip("0").rstrip(".").replace("-", "\N{MINUS SIGN}")


def _signed_figure(millionths: int) -> str:
    return f"+{_plain(millionths)}" if millionths > 0 else _plain(millionths)


def _shell_celsius(one: VesselCalibration) -> str:
    return "shell left out" if one.calibration_millicelsius is None else f"{one.calibration_millicelsius / MILLI:.4g}"


def _expansion(one: VesselCalibration) -> str:
    if one.calibration_millicelsius is None:
        return ""
    if one.shell_expansion_per_celsius_billionths is None:
        return "that of steel"
    return f"{one.shell_expansion_per_celsius_billionths / BILLION:.6f}"
