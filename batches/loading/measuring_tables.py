"""What a month's folder may say of the measuring: instruments in use, certificates, how sure each vessel's table is,
and what solids hide.

All four tables may be left out. A row that says what the site says is passed over; other figures are a bad row. What
is entered through the plant's own rooms is checked there, so that a table can say nothing a page could not.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal

from batches.loading.tables import BadRow, Line
from batches.sheets import fields
from batches.sheets.sheet import Field
from distillery.people.models import Person
from distillery.plant import keeping
from distillery.plant.keeping import Unkeepable
from distillery.plant.lookup import Plant
from distillery.plant.metrology import Certificate, InstrumentUse, ObscurationFound, VesselCalibration
from distillery.plant.models import MICRO, Instrument, Vessel

Values = Mapping[str, Decimal | int | datetime | str]
Rows = Sequence[tuple[Line, Values]]

INSTRUMENTS_IN_USE = (
    fields.text("instrument", "Instrument"),
    fields.text("from_day", "In use from", longest=10),
    fields.text("vessel", "Only at vessel", required=False),
)
CERTIFICATES = (
    fields.text("instrument", "Instrument"),
    fields.text("certificate", "Number of the certificate", longest=60),
    fields.text("issuer", "Issued by"),
    fields.text("issued_on", "Issued on", longest=10),
    fields.text("from_day", "In force from", longest=10, required=False),
    fields.number("standard_uncertainty", "Standard uncertainty", "", high="1000000", required=False),
    fields.number("reading", "Reading", "", low="-1000000", high="1000000", required=False),
    fields.number("correction", "Correction", "", low="-1000000", high="1000000", required=False),
)
CALIBRATION_UNCERTAINTY = (
    fields.text("vessel", "Vessel"),
    fields.text("from_day", "From", longest=10),
    fields.number("standard_percent", "Standard uncertainty of the table", "%", high="10"),
    fields.text("source", "Source"),
    fields.celsius("calibration_celsius", "Temperature of the calibration", required=False),
    fields.number("expansion_per_celsius", "Growth of the shell for each °C", "", high="0.001", required=False),
)
OBSCURATION = (
    fields.text("vessel", "Vessel"),
    fields.when("from_at", "From"),
    fields.number("percent", "Obscuration", "% vol", low="-20", high="20"),
    fields.number("standard_uncertainty", "Standard uncertainty", "% vol", high="20"),
    fields.text("determined_on", "Found on", longest=10),
    fields.text("source", "How it was found"),
)
MEASURING: Mapping[str, tuple[Field, ...]] = {
    "instruments_in_use": INSTRUMENTS_IN_USE,
    "certificates": CERTIFICATES,
    "calibration_uncertainty": CALIBRATION_UNCERTAINTY,
    "obscuration": OBSCURATION,
}


class _Bad(ValueError):
    def __init__(self, column: str, sentence: str) -> None:
        super().__init__(sentence)
        self.column = column


@dataclass(slots=True)
class MeasuringLoad:
    """Writes the tables of the measuring; `rows` gives those of a table that could be read."""

    rows: Callable[[str], Rows]
    bad: list[BadRow]
    hand: Callable[[], Person | None]
    # Told which rows of a table the site has already.
    note_there: Callable[[str, int], None]
    added: dict[str, int] = field(default_factory=dict)
    passed_over: int = 0

    def write(self) -> None:
        """Puts what is new on the site."""
        instruments = {one.code.casefold(): one for one in Instrument.objects.all()}
        vessels = Plant()
        tables = ("instruments_in_use", "calibration_uncertainty", "obscuration")
        vessels.look_up(str(row["vessel"]) for name in tables for _, row in self.rows(name) if "vessel" in row)
        self._each("instruments_in_use", lambda values: self._use(values, instruments, vessels))
        self._certificates(instruments)
        self._each("calibration_uncertainty", lambda values: self._calibration(values, vessels))
        self._each("obscuration", lambda values: self._obscuration(values, vessels))

    def _each(self, name: str, write: Callable[[Values], bool]) -> None:
        added = 0
        for line, values in self.rows(name):
            try:
                if write(values):
                    added += 1
                else:
                    self.note_there(f"plant/{name}.csv", line.row)
                    self.passed_over += 1
            except _Bad as bad:
                self.bad.append(BadRow(f"plant/{name}.csv", line.row, bad.column, str(bad)))
            except Unkeepable as error:
                self.bad.append(BadRow(f"plant/{name}.csv", line.row, error.field, error.sentence))
        self.added[name.replace("_", " ")] = added

    def _use(self, values: Values, instruments: dict[str, Instrument], vessels: Plant) -> bool:
        instrument, from_day = _instrument(values, instruments), _day(values, "from_day")
        vessel = _vessel(values, vessels) if "vessel" in values else None
        if InstrumentUse.objects.filter(instrument=instrument, vessel=vessel, from_day=from_day).exists():
            return False
        keeping.take_into_use(instrument=instrument, from_day=from_day, vessel=vessel, person=self.hand())
        return True

    def _certificates(self, instruments: dict[str, Instrument]) -> None:
        added = 0
        for rows in _by_certificate(self.rows("certificates")):
            line, first = rows[0]
            try:
                if self._certificate(_instrument(first, instruments), first, rows):
                    added += 1
                else:
                    for each, _ in rows:
                        self.note_there("plant/certificates.csv", each.row)
                    self.passed_over += len(rows)
            except _Bad as bad:
                self.bad.append(BadRow("plant/certificates.csv", line.row, bad.column, str(bad)))
            except Unkeepable as error:
                column = {"points": "reading", "number": "certificate"}.get(error.field, error.field)
                self.bad.append(BadRow("plant/certificates.csv", line.row, column, error.sentence))
        self.added["certificates"] = added

    def _certificate(self, instrument: Instrument, first: Values, rows: Rows) -> bool:
        points = [
            (_decimal(values, "reading"), _decimal(values, "correction"))
            for _line, values in rows
            if "reading" in values or "correction" in values
        ]
        issued_on = _day(first, "issued_on")
        uncertainty = _decimal(first, "standard_uncertainty") if "standard_uncertainty" in first else None
        known = Certificate.objects.filter(instrument=instrument, number=str(first["certificate"])).last()
        if known is not None:
            there = [(one.reading_millionths, one.correction_millionths) for one in known.points.all()]
            same = there == [(round(reading * MICRO), round(correction * MICRO)) for reading, correction in points]
            if not same or known.issued_on != issued_on or known.standard_uncertainty != float(uncertainty or 0):
                raise _Bad(
                    "certificate",
                    f"Certificate {first['certificate']} of {instrument.code} is on this site with other figures; "
                    "enter it anew on the page Instruments.",
                )
            return False
        keeping.add_certificate(
            instrument=instrument,
            number=str(first["certificate"]),
            issuer=str(first["issuer"]),
            issued_on=issued_on,
            from_day=_day(first, "from_day") if "from_day" in first else issued_on,
            points=points,
            standard_uncertainty=uncertainty,
            person=self.hand(),
        )
        return True

    def _calibration(self, values: Values, vessels: Plant) -> bool:
        vessel, from_day = _vessel(values, vessels), _day(values, "from_day")
        share = _decimal(values, "standard_percent")
        known = VesselCalibration.objects.filter(vessel=vessel, from_day=from_day).last()
        if known is not None:
            if known.share_millionths != round(share / 100 * MICRO):
                raise _Bad("standard_percent", _other(f"The table of {vessel.code} from that day", "Instruments"))
            return False
        keeping.add_calibration(
            vessel=vessel,
            from_day=from_day,
            standard_percent=share,
            source=str(values["source"]),
            calibration_celsius=_maybe(values, "calibration_celsius"),
            expansion_per_celsius=_maybe(values, "expansion_per_celsius"),
            person=self.hand(),
        )
        return True

    def _obscuration(self, values: Values, vessels: Plant) -> bool:
        vessel, from_at = _vessel(values, vessels), values["from_at"]
        assert isinstance(from_at, datetime)
        percent, uncertainty = _decimal(values, "percent"), _decimal(values, "standard_uncertainty")
        known = ObscurationFound.objects.filter(vessel=vessel, from_at=from_at).last()
        if known is not None:
            if known.percent_millionths != round(percent * MICRO):
                raise _Bad("percent", _other(f"The obscuration of {vessel.code} from that moment", "Instruments"))
            return False
        keeping.add_obscuration(
            vessel=vessel,
            from_at=from_at,
            percent=percent,
            standard_uncertainty=uncertainty,
            determined_on=_day(values, "determined_on"),
            source=str(values["source"]),
            person=self.hand(),
        )
        return True


def _by_certificate(rows: Rows) -> Iterator[list[tuple[Line, Values]]]:
    found: dict[tuple[str, str], list[tuple[Line, Values]]] = {}
    for line, values in rows:
        found.setdefault((str(values["instrument"]).casefold(), str(values["certificate"])), []).append((line, values))
    yield from found.values()


def _instrument(values: Values, there: Mapping[str, Instrument]) -> Instrument:
    instrument = there.get(str(values["instrument"]).casefold())
    if instrument is None:
        raise _Bad("instrument", f"There is no instrument {values['instrument']} on this site.")
    return instrument


def _vessel(values: Values, there: Plant) -> Vessel:
    vessel = there.vessel(str(values["vessel"]))
    if vessel is None:
        raise _Bad("vessel", f"There is no vessel {values['vessel']} on this site.")
    return vessel


def _day(values: Values, name: str) -> date:
    try:
        return date.fromisoformat(str(values[name]))
    except ValueError as error:
        raise _Bad(name, f"'{values[name]}' is not a day; write it as 2027-03-04.") from error


def _decimal(values: Values, name: str) -> Decimal:
    value = values.get(name)
    if not isinstance(value, Decimal):
        raise _Bad(name, "A figure is missing here.")
    return value


def _maybe(values: Values, name: str) -> Decimal | None:
    value = values.get(name)
    return value if isinstance(value, Decimal) else None


def _other(what: str, page: str) -> str:
    return f"{what} is on this site with another figure; enter a new one on the page {page}."
