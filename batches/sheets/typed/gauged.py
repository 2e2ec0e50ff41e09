"""From readings to quantities: what the readings of a block of fields mean, each gauge worked out once.

Readings go through alcoholometry with the vessel's own table, the site's instruments and the gravity factors of the
day. A gauge that is left blank because it is another one takes that one's readings, known by where they stand.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime

from batches.models import Record
from batches.sheets.gauges import BY_WEIGHT, FINAL_GRAVITY, GRAVITIES, PARTS_BY, By, Gauge
from batches.sheets.register import sheet_of
from batches.sheets.sheet import Kind, Sheet
from batches.sheets.site import Site
from batches.sheets.typed.moments import Unreadable
from batches.sheets.typed.other_units import scale_said
from batches.sheets.typed.parsing import read
from batches.sheets.typed.values import Ungaugeable, Value, Values
from distillery.alcoholometry.errors import AlcoholometryError
from distillery.alcoholometry.gauging.chain import GaugeChain
from distillery.alcoholometry.gauging.readings import unit_of_scale
from distillery.alcoholometry.quantity import Quantity
from distillery.clock.reading import site_day
from distillery.plant.calibration import DipOutsideTable, Dipped, NoCalibration
from distillery.plant.models import Kind as VesselKind
from distillery.rules.in_force import NoRuleInForce
from distillery.typed.meaning import relative_density
from ledger.posting.gauging import ReadingMissing, Readings, measure, outfit_of


@dataclass(frozen=True, slots=True)
class _Gravity:
    """A gravity as typed, the column it stands in, and the record it stands on where that is another."""

    typed: str
    column: str
    of: str = ""


class Gauged(Values):
    """Values and gauges of one block of fields: the sheet itself or one of its repeating lines."""

    def __init__(
        self,
        sheet: Sheet,
        site: Site,
        values: Mapping[str, Value],
        typed: Mapping[str, str],
        above: Gauged | None = None,
    ) -> None:
        super().__init__(sheet, site, values, typed, above)
        self._measured: dict[str, tuple[Readings, GaugeChain]] = {}
        self._washes: dict[tuple[int, datetime], Record | None] = {}

    def gauge(self, prefix: str) -> Gauge:
        """A gauge by its prefix, made to fit what is written here: a vessel that took the place of another, a washback,
        which is gauged by dip and gravities, a cask by its litres."""
        gauge = self.sheet.gauge(prefix).following(self.has).measured_by(self.has)
        if gauge.same_as and not gauge.same_of and self.shares(prefix):
            return self.gauge(gauge.same_as)
        if not gauge.present_gravity or not self.has(gauge.vessel):
            return gauge
        return replace(gauge, by=By.WASH_DIP) if self.vessel(gauge.vessel).kind == VesselKind.WASHBACK else gauge

    def amount_of(self, prefix: str) -> str:
        """The column that says how much a cask holds: its gross weight, or its litres where those are written."""
        return _hangs_on(self.gauge(prefix))

    def shares(self, prefix: str) -> bool:
        """True where a gauge is left blank because it is another one, which is posted by itself."""
        gauge = self.sheet.gauge(prefix)
        return bool(gauge.same_as) and not any(self.has(one.name) or self.is_missing(one.name) for one in gauge.fields)

    def gauge_is_missing(self, prefix: str) -> bool:
        """True where it is written of any reading of a gauge that nobody took it."""
        return any(self.is_missing(one.name) for one in self.gauge(prefix).fields)

    def working(self, prefix: str) -> Record | None:
        """The work a dipped washback holds that is not declared yet: no alcohol of it is in the books.

        Raises Ungaugeable where the washback holds something and nothing on record went into it.
        """
        gauge = self.gauge(prefix)
        if gauge.by != By.WASH_DIP or not gauge.present_gravity or self.dipped(gauge).litres == 0:
            return None
        held = self._wash_in(gauge)
        ended = held.happened_to if sheet_of(held.kind).declares else None
        return None if ended is not None and ended <= self._gauged_at(gauge) else held

    def _wash_in(self, gauge: Gauge) -> Record:
        vessel, at = self.vessel(gauge.vessel), self._gauged_at(gauge)
        if (vessel.pk, at) not in self._washes:
            self._washes[vessel.pk, at] = self.site.last_into(vessel, at)
        held = self._washes[vessel.pk, at]
        if held is None:
            raise Ungaugeable(
                gauge.vessel,
                f"{vessel.code} is a washback and holds {self.dipped(gauge).litres:.1f} litres by dip, but nothing "
                "that went into it is on record at that time; write that first.",
            )
        return held

    def _gauged_at(self, gauge: Gauge) -> datetime:
        return self.moment(self.sheet.moment_of(gauge.fields[0].name).when)

    def day_of_factors(self, gauge: Gauge) -> datetime | None:
        """When wash was gauged, by whose day the gravity factors are; None for what needs none."""
        return self._gauged_at(gauge) if gauge.by == By.WASH_DIP else None

    def dipped(self, gauge: Gauge) -> Dipped:
        """What the dip means by the vessel's own table. Raises Ungaugeable with the table's range."""
        name = gauge.name("dip_mm")
        vessel = self.vessel(gauge.vessel)
        try:
            return self.site.table(vessel).litres(dip_mm=self.real(name))
        except (DipOutsideTable, NoCalibration) as error:
            raise Ungaugeable(name, f"{self.sheet.field(name).label}: {error}") from error

    def quantity(self, prefix: str, *, at: datetime | None = None) -> Quantity:
        """What a gauge says its vessel holds. `at` is the day of the gravity factors. Raises Ungaugeable."""
        return self.measured(prefix, at=at)[1].quantity

    def measured(self, prefix: str, *, at: datetime | None = None) -> tuple[Readings, GaugeChain]:
        """The readings of a gauge as numbers, and the way from them to the quantity. Raises Ungaugeable."""
        if prefix not in self._measured:
            if self.sheet.gauge(prefix).same_of and self.shares(prefix):
                self._measured[prefix] = self._measured_there(self.sheet.gauge(prefix))
                return self._measured[prefix]
            gauge = self.gauge(prefix)
            if self.gauge_is_missing(prefix):
                raise Ungaugeable(gauge.fields[0].name, f"{gauge.label} is marked missing.")
            readings = self._readings(gauge, at)
            try:
                self._check_scale(readings)
                self._measured[prefix] = readings, measure(readings, self.site)
            except ReadingMissing as missing:
                column = readings.columns.get(missing.part) or gauge.name(missing.part)
                raise Ungaugeable(column, self._missing(gauge, column, missing.litres)) from missing
            except (DipOutsideTable, NoCalibration) as error:
                column = gauge.name("dip_mm")
                raise Ungaugeable(column, f"{self.sheet.field(column).label}: {error}") from error
            except (AlcoholometryError, NoRuleInForce) as error:
                raise Ungaugeable(_hangs_on(gauge), f"{gauge.label}: {error}") from error
        return self._measured[prefix]

    def _measured_there(self, gauge: Gauge) -> tuple[Readings, GaugeChain]:
        """The gauge of another record that a gauge is where it is left blank, its readings known as that record's."""
        record, vessel = self.record(gauge.same_of), self.vessel(gauge.vessel)
        sheet, typed = sheet_of(record.kind), self.site.typed_of(record)
        there = Gauged(sheet, self.site, _standing(sheet, typed, self.site), typed)
        other = sheet.gauge(gauge.same_as)
        dip, when = other.fields[0].name, sheet.moment_of(other.fields[0].name).when
        apart = f"write the gauge of {vessel.code} {gauge.when_taken}"
        if not (there.has(dip) and there.has(when)):
            raise Ungaugeable(gauge.fields[0].name, f"{record.number} has no gauge {other.when_taken} yet; {apart}.")
        if there.vessel(other.vessel) != vessel:
            said = f"{record.number} was gauged in {there.vessel(other.vessel).code}, not in {vessel.code}; {apart}."
            raise Ungaugeable(gauge.fields[0].name, said)
        readings, chain = there.measured(gauge.same_as, at=there.moment(when))
        return replace(readings, of=dict.fromkeys(readings.values, record.number)), chain

    def _readings(self, gauge: Gauge, at: datetime | None) -> Readings:
        """What was read for a gauge, with the columns it stands in."""
        columns = {part: gauge.name(part) for part in PARTS_BY[gauge.by]}
        # The first reading says how much there is: without it nothing was gauged.
        self.value(gauge.fields[0].name)
        if "celsius" in columns:
            columns["celsius"] = gauge.celsius
        columns = {part: name for part, name in columns.items() if self.has(name)}
        values = {part: self.real(name) for part, name in columns.items()}
        of: dict[str, str] = {}
        if gauge.celsius_from and "celsius" not in columns and (warm := self._warm_there(gauge)) is not None:
            columns["celsius"], values["celsius"] = warm.columns["celsius"], warm.values["celsius"]
            if "celsius" in warm.of:
                of["celsius"] = warm.of["celsius"]
        if gauge.by == By.WASH_DIP and self.dipped(gauge).litres:
            gravities = self._gravities(gauge)
            values |= {part: float(one.typed) for part, one in gravities.items()}
            columns |= {part: one.column for part, one in gravities.items()}
            of |= {part: one.of for part, one in gravities.items() if one.of}
        day = site_day(at or self.moment(self.sheet.moments[0].when))
        # A weight says what it says whatever vessel is written beside it; a dip needs the vessel's table.
        dipped = gauge.by in (By.SPIRIT_DIP, By.WASH_DIP)
        vessel = self.vessel(gauge.vessel) if self.has(gauge.vessel) or dipped else None
        gauged = self.sheet.moment_of(gauge.fields[0].name).when
        return Readings(
            method=gauge.by,
            values=values,
            day=day,
            vessel=vessel,
            columns=columns,
            of=of,
            at=self.moment(gauged) if self.has(gauged) else None,
        )

    def _warm_there(self, gauge: Gauge) -> Readings | None:
        """The readings with the temperature of a gauge, where it was read for one that is another; None without."""
        first = next((one for one in self.sheet.gauges if one.name("celsius") == gauge.celsius_from), None)
        if first is None or not self.shares(first.prefix):
            return None
        readings = self.measured(first.prefix)[0]
        return readings if "celsius" in readings.values else None

    def _check_scale(self, readings: Readings) -> None:
        """Raises Ungaugeable where a reading says another scale than that of the hydrometer in use then. Without a word
        it is in % vol."""
        name = readings.columns.get("hydrometer_percent")
        if not name:
            return
        field = self.sheet.field(name)
        said = scale_said(field, self.typed.get(name, "")) or field.unit
        unit = unit_of_scale(outfit_of(readings, self.site).alcoholometer)
        if said != unit:
            raise Ungaugeable(
                name,
                f"{field.label} is in {said}, but what was in use then is graduated in {unit}; write what it showed "
                f"with its unit behind, or have the plant say from which day another instrument is in use.",
            )

    def _gravities(self, gauge: Gauge) -> dict[str, _Gravity]:
        """Original and present gravity by the part they are: from this sheet, or from the record of the wash."""
        if not (gauge.gravities_of or gauge.present_gravity):
            return {name: _Gravity(str(self.decimal(name)), name) for name in GRAVITIES}
        record = self.record(gauge.gravities_of) if gauge.gravities_of else self._wash_in(gauge)
        typed = self.site.typed_of(record)
        said = {name: relative_density(typed.get(name, "")) for name in GRAVITIES}
        found = {name: _Gravity(str(value or ""), name, record.number) for name, value in said.items()}
        if gauge.present_gravity and self.has(gauge.present_gravity):
            present = str(self.decimal(gauge.present_gravity))
            found[FINAL_GRAVITY] = _Gravity(present, gauge.present_gravity)
        if not all(one.typed for one in found.values()):
            raise Ungaugeable(
                gauge.gravities_of or gauge.vessel,
                f"{record.number} has no final gravity yet; declare it before its wash is gauged.",
            )
        return found

    def _missing(self, gauge: Gauge, name: str, litres: float | None) -> str:
        if litres is None:
            return f"{gauge.label}: {self.sheet.field(name).label.lower()} is blank."
        dip = self.decimal(gauge.name("dip_mm"))
        return (
            f"{gauge.label}: a dip of {dip:f} mm in {self.vessel(gauge.vessel).code} is {litres:.1f} litres, "
            f"so the {'hydrometer' if name.endswith('percent') else 'temperature'} reading is needed too; "
            f"it may be left out only when the vessel is empty."
        )


def _standing(sheet: Sheet, typed: Mapping[str, str], site: Site) -> dict[str, Value]:
    """The figures, times and vessels that stand on another record; what cannot be read is left out."""
    found: dict[str, Value] = {}
    for one in sheet.fields:
        text = typed.get(one.name, "")
        if not text:
            continue
        if one.kind == Kind.VESSEL:
            if (vessel := site.vessel_meant(text)) is not None:
                found[one.name] = vessel
        elif one.kind in (Kind.NUMBER, Kind.WHOLE, Kind.MOMENT):
            with suppress(Unreadable):
                found[one.name] = read(one, text).value
    return found


def _hangs_on(gauge: Gauge) -> str:
    if gauge.by == By.WASH_DIP:
        return gauge.gravities_of or gauge.present_gravity or FINAL_GRAVITY
    if gauge.by == By.VOLUME:
        return gauge.name("litres")
    return gauge.name("gross_kg") if gauge.by in BY_WEIGHT else gauge.name("hydrometer_percent")
