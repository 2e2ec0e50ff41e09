"""What is known of the measuring, as tables for a page and for paper: instruments, certificates, tables of vessels,
obscurations.
"""

from __future__ import annotations

from datetime import date

from distillery import figures
from distillery.alcoholometry.errors import AlcoholometryError
from distillery.pages import Cell, Column, Row, State, Table
from distillery.pages import Kind as StateKind
from distillery.people.models import Person
from distillery.plant.metrology import Certificate, InstrumentUse, ObscurationFound, VesselCalibration
from distillery.plant.models import MICRO, DensityBasis, Instrument, Kind, Vessel, WorksBy
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


def register_tables(on: date) -> list[tuple[str, Table]]:
    """Every table of the page, each with its key, as things stand on a day."""
    register = Register.read()
    return [
        ("instruments", instruments_table(register, on)),
        ("uses", uses_table(register)),
        ("certificates", certificates_table(register)),
        ("calibrations", calibrations_table(register, on)),
        ("obscurations", obscurations_table(register)),
    ]


def instruments_table(register: Register, on: date) -> Table:
    """Each instrument, what it is, and what is in force for it on a day."""
    in_use = {one.pk for one in register.in_use(on).values()}
    at_vessel: dict[int, list[str]] = {}
    for vessel in Vessel.objects.filter(instrument_uses__isnull=False).distinct():
        for one in register.in_use(on, vessel).values():
            if one.pk not in in_use:
                at_vessel.setdefault(one.pk, []).append(vessel.code)
    rows = []
    for one in register.instruments:
        certificate = register.certificate(one, on)
        where = "on the whole site" if one.pk in in_use else ", ".join(at_vessel.get(one.pk, ())) or "not in use"
        rows.append(
            Row(
                [
                    Cell(one.code, state=_wrong(one, certificate)),
                    Cell(one.measures.capitalize()),
                    Cell(_unit(one)),
                    Cell(_celsius(one)),
                    Cell(_plain(one.resolution_millionths)),
                    Cell(_plain(one.standard_uncertainty_millionths)),
                    Cell(_lasting(certificate)),
                    Cell(certificate.number if certificate else NONE_ON_RECORD),
                    Cell(where if one.measures in MEASURES else "for no gauge"),
                ]
            )
        )
    return Table(
        "Instruments",
        (
            Column("Instrument"),
            Column("Measures"),
            Column("Scale"),
            Column("Made for", numeric=True, unit="°C"),
            Column("Resolution", numeric=True),
            Column("One reading", numeric=True),
            Column("Certificate's part", numeric=True),
            Column("Certificate"),
            Column(f"In use on {figures.day(on, year=True)}"),
        ),
        rows,
        empty="No instruments yet: usual uncertainties and plain glass of 20 °C are taken. Add the first.",
        note="standard uncertainties, each in the instrument's own unit; the certificate's part lasts and is shared",
        wide=True,
    )


def uses_table(register: Register) -> Table:
    """From which day each instrument is read, newest first."""
    by_pk = {one.pk: one for one in register.instruments}
    vessels = _vessels()
    signed = _people(register.uses)
    rows = [
        Row(
            [
                Cell(by_pk[use.instrument_id].code),
                Cell(figures.day(use.from_day, year=True)),
                Cell(vessels[use.vessel_id].code if use.vessel_id else "the whole site"),
                *_signed(use, signed),
            ]
        )
        for use in reversed(register.uses)
    ]
    return Table(
        "Periods of use",
        (Column("Instrument"), Column("From"), Column("At"), Column("Entered by"), Column("Entered")),
        rows,
        empty="None: each kind of reading is taken with the first instrument entered for it.",
        note="the latest begun counts; a vessel's own goes before the site's",
    )


def certificates_table(register: Register) -> Table:
    """Each certificate with its points, newest first."""
    by_pk = {one.pk: one for one in register.instruments}
    signed = _people(register.certificates)
    rows = []
    for one in reversed(register.certificates):
        points = ", ".join(
            f"{_plain(point.reading_millionths)} {_signed_figure(point.correction_millionths)}"
            for point in sorted(one.points.all(), key=lambda point: point.reading_millionths)
        )
        instrument = by_pk[one.instrument_id]
        rows.append(
            Row(
                [
                    Cell(instrument.code),
                    Cell(one.number),
                    Cell(one.issuer),
                    Cell(figures.day(one.issued_on, year=True)),
                    Cell(figures.day(one.from_day, year=True)),
                    Cell(points or "no corrections"),
                    Cell(_lasting(one)),
                    Cell(_unit(instrument)),
                    *_signed(one, signed),
                ]
            )
        )
    return Table(
        "Certificates",
        (
            Column("Instrument"),
            Column("Number"),
            Column("Issued by"),
            Column("Issued"),
            Column("In force from"),
            Column("Reading and correction"),
            Column("Standard uncertainty", numeric=True),
            Column("Unit"),
            Column("Entered by"),
            Column("Entered"),
        ),
        rows,
        empty="No certificates: readings are taken as shown, and all of their uncertainty counts as chance.",
        wide=True,
    )


def calibrations_table(register: Register, on: date) -> Table:
    """How sure the table of each vessel is, and which have no figure on record."""
    with_table = Vessel.objects.exclude(kind=Kind.CASK).filter(calibration__isnull=False).distinct()
    signed = _people(register.calibrations)
    known, unknown = [], []
    for vessel in with_table:
        one = register.calibration(vessel, on)
        if one is None:
            unknown.append(vessel.code)
            continue
        known.append(
            Row(
                [
                    Cell(vessel.code),
                    Cell(figures.percent(one.share_millionths / PART_PER_MILLION_TO_PERCENT, 3)),
                    Cell(figures.day(one.from_day, year=True)),
                    Cell(_shell_celsius(one)),
                    Cell(_expansion(one)),
                    Cell(one.source),
                    *_signed(one, signed),
                ]
            )
        )
    return Table(
        "How sure the vessels' tables are",
        (
            Column("Vessel"),
            Column("Standard uncertainty", numeric=True, unit="% of volume"),
            Column("From"),
            Column("Calibrated at", numeric=True, unit="°C"),
            Column("Growth of shell for each °C", numeric=True),
            Column("Source"),
            Column("Entered by"),
            Column("Entered"),
        ),
        known,
        empty=f"None on record, so each table counts as exact: {', '.join(unknown)}."
        if unknown
        else "No vessel has a table yet. They come with the plant that is loaded.",
        note=f"none on record, so counted as exact: {', '.join(unknown)}" if unknown else "",
        wide=True,
    )


def obscurations_table(register: Register) -> Table:
    """What solids hide, newest first."""
    vessels = _vessels()
    signed = _people(register.obscurations)
    rows = [
        Row(
            [
                Cell(vessels[one.vessel_id].code),
                Cell(figures.moment(one.from_at, year=True)),
                Cell("ended" if not one.percent_millionths else _signed_figure(one.percent_millionths)),
                Cell(_plain(one.standard_uncertainty_millionths)),
                Cell(figures.day(one.determined_on, year=True)),
                Cell(one.source),
                *_signed(one, signed),
            ]
        )
        for one in reversed(register.obscurations)
    ]
    return Table(
        "Obscurations",
        (
            Column("Vessel"),
            Column("From"),
            Column("Obscuration", numeric=True, unit="% vol"),
            Column("Standard uncertainty", numeric=True, unit="% vol"),
            Column("Found on"),
            Column("How"),
            Column("Signed by"),
            Column("Entered"),
        ),
        rows,
        empty="None: every strength counts as what the instrument shows after its corrections.",
        note="added to the strength of every gauge of the vessel from then on; each holds until the next",
        wide=True,
    )


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


Signed = InstrumentUse | Certificate | VesselCalibration | ObscurationFound


def _signed(one: Signed, people: dict[int, str]) -> tuple[Cell, Cell]:
    who = people.get(one.person_id, "with the plant's tables") if one.person_id else "with the plant's tables"
    return Cell(who), Cell(figures.moment(one.entered_at, year=True))


def _people(rows: object) -> dict[int, str]:
    keys = {one.person_id for one in rows if one.person_id}  # type: ignore[attr-defined]
    return {one.pk: one.shown_name for one in Person.objects.filter(pk__in=keys)}


def _vessels() -> dict[int, Vessel]:
    return {one.pk: one for one in Vessel.objects.all()}
