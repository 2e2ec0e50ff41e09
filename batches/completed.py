"""What was written on one record, read and ready to be posted: values by field, gauges as quantities.

This is all a step sees. It works out no alcohol itself: readings go through alcoholometry with the vessel's
own table, the site's instruments and the gravity factors of the day, once for each gauge.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from functools import cached_property

from batches.models import Record
from batches.sheet import By, Gauge, Sheet
from batches.site import Site
from distillery.alcoholometry.errors import AlcoholometryError
from distillery.alcoholometry.gauge import gauge_by_dip, gauge_by_volume, gauge_by_weight, gauge_wash_by_dip
from distillery.alcoholometry.quantity import NOTHING, Quantity
from distillery.alcoholometry.reading import Alcoholometer
from distillery.plant.calibration import DipOutsideTable, Dipped, NoCalibration
from distillery.plant.models import Vessel
from distillery.rules.reading import NoRuleInForce
from ledger.accounts import AccountRef, vessel_account
from ledger.drafts import GaugeTaken, Moved, Taken

Value = Decimal | int | datetime | str | Vessel | Record

REFERENCE_CELSIUS = 20.0
# Residues are written down by volume and strength: a tank or meter is right to about half a per cent, a
# strength near nothing to about 0.02 % vol (common practice, no source).
RESIDUE_SHARE = 0.005
RESIDUE_PERCENT = 0.02
GRAVITY_RULE = "gravity factors"


class Ungaugeable(ValueError):
    """Readings that give no quantity: the field they hang on, and a sentence."""

    def __init__(self, field: str, sentence: str) -> None:
        super().__init__(sentence)
        self.field = field
        self.sentence = sentence


class Written:
    """Values and gauges of one block of fields: the sheet itself or one of its repeating lines."""

    def __init__(
        self,
        sheet: Sheet,
        site: Site,
        values: Mapping[str, Value],
        typed: Mapping[str, str],
        above: Written | None = None,
    ) -> None:
        self.sheet = sheet
        self.site = site
        self.values = values
        self.typed = typed
        self._above = above
        self._quantities: dict[str, Quantity] = {}

    def has(self, name: str) -> bool:
        """True where something was written in the field."""
        return name in self.values or (self._above is not None and self._above.has(name))

    def _value(self, name: str) -> Value:
        if name in self.values:
            return self.values[name]
        if self._above is not None:
            return self._above._value(name)
        raise Ungaugeable(name, f"{self.sheet.field(name).label} is not written.")

    def decimal(self, name: str) -> Decimal:
        """A measured figure as written."""
        value = self._value(name)
        if isinstance(value, Decimal):
            return value
        raise TypeError(f"{name} is not a figure")

    def real(self, name: str) -> float:
        """A measured figure for alcoholometry."""
        return float(self.decimal(name))

    def whole(self, name: str) -> int:
        """A whole number."""
        value = self._value(name)
        if isinstance(value, int):
            return value
        raise TypeError(f"{name} is not a whole number")

    def text(self, name: str, default: str = "") -> str:
        """A text or choice; the default where nothing was written."""
        if not self.has(name):
            return default
        value = self._value(name)
        if isinstance(value, str):
            return value
        raise TypeError(f"{name} is not a text")

    def moment(self, name: str) -> datetime:
        """A time with its zone."""
        value = self._value(name)
        if isinstance(value, datetime):
            return value
        raise TypeError(f"{name} is not a time")

    def vessel(self, name: str) -> Vessel:
        """A vessel of the site."""
        value = self._value(name)
        if isinstance(value, Vessel):
            return value
        raise TypeError(f"{name} is not a vessel")

    def record(self, name: str) -> Record:
        """Another record."""
        value = self._value(name)
        if isinstance(value, Record):
            return value
        raise TypeError(f"{name} is not a record")

    def account(self, name: str) -> AccountRef:
        """The account of the vessel written in a field."""
        return vessel_account(self.vessel(name))

    # -- gauges

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
        if prefix not in self._quantities:
            gauge = self.sheet.gauge(prefix)
            try:
                self._quantities[prefix] = self._measure(gauge, at)
            except (AlcoholometryError, NoRuleInForce) as error:
                raise Ungaugeable(_hangs_on(gauge), f"{gauge.label}: {error}") from error
        return self._quantities[prefix]

    def _measure(self, gauge: Gauge, at: datetime | None) -> Quantity:
        if gauge.by in (By.WEIGHT, By.WEIGHT_AT_STRENGTH):
            known = gauge.by == By.WEIGHT_AT_STRENGTH
            return gauge_by_weight(
                gross_kg=self.real(gauge.name("gross_kg")),
                tare_kg=self.real(gauge.name("tare_kg")),
                celsius=REFERENCE_CELSIUS if known else self.real(gauge.celsius),
                hydrometer_percent=self.real(gauge.name("percent" if known else "hydrometer_percent")),
                u=self.site.uncertainty,
                # A strength known at 20 °C is what an instrument made for 20 °C shows there.
                alcoholometer=Alcoholometer() if known else self.site.alcoholometer,
            )
        dipped = self.dipped(gauge)
        if dipped.litres == 0:
            return NOTHING
        if not self.has(gauge.celsius):
            raise Ungaugeable(gauge.celsius, _missing(self, gauge, gauge.celsius, dipped))
        corrections = self.site.corrections(self.vessel(gauge.vessel))
        if gauge.by == By.WASH_DIP:
            original, present = self._gravities(gauge)
            return gauge_wash_by_dip(
                litres_at_temperature=dipped.litres,
                litres_per_mm=dipped.litres_per_mm,
                celsius=self.real(gauge.celsius),
                original_gravity=original,
                present_gravity=present,
                table=self.site.gravities(at or self.moment(self.sheet.moments[0].when)),
                u=self.site.uncertainty,
                corrections=corrections,
            )
        strength = gauge.name("hydrometer_percent")
        if not self.has(strength):
            raise Ungaugeable(strength, _missing(self, gauge, strength, dipped))
        return gauge_by_dip(
            litres_at_temperature=dipped.litres,
            litres_per_mm=dipped.litres_per_mm,
            celsius=self.real(gauge.celsius),
            hydrometer_percent=self.real(strength),
            alcoholometer=self.site.alcoholometer,
            u=self.site.uncertainty,
            corrections=corrections,
        )

    def _gravities(self, gauge: Gauge) -> tuple[float, float]:
        typed = self._gravities_typed(gauge)
        return float(typed["original_gravity"]), float(typed["final_gravity"])

    def _gravities_typed(self, gauge: Gauge) -> dict[str, str]:
        names = ("original_gravity", "final_gravity")
        if not gauge.gravities_of:
            return {name: str(self.decimal(name)) for name in names}
        record = self.record(gauge.gravities_of)
        typed = self.site.typed_of(record)
        found = {name: typed.get(name, "").strip().replace(",", ".") for name in names}
        if not all(found.values()):
            raise Ungaugeable(
                gauge.gravities_of,
                f"{record.number} has no final gravity yet; declare the fermentation before charging from it.",
            )
        return found

    def _raw(self, gauge: Gauge) -> dict[str, str]:
        names = [one.name for one in gauge.fields]
        if gauge.celsius_from:
            names.append(gauge.celsius_from)
        raw = {name: str(self._value(name)) for name in names if self.has(name)}
        if gauge.by == By.WASH_DIP and self.quantity(gauge.prefix).pure_ul:
            raw |= self._gravities_typed(gauge)
        return raw

    def gauge_taken(self, prefix: str, *, at: datetime | None = None, name: str = "") -> GaugeTaken:
        """A gauge as the ledger takes it, with the readings behind it under their columns' names."""
        gauge = self.sheet.gauge(prefix)
        quantity = self.quantity(prefix, at=at)
        return GaugeTaken(
            name=name or prefix or gauge.role.value,
            vessel_account=self.account(gauge.vessel),
            quantity=quantity,
            raw=self._raw(gauge),
            method=gauge.by.value,
            role=gauge.role.value,
            rule=self._rule(gauge, at),
        )

    def _rule(self, gauge: Gauge, at: datetime | None) -> str:
        if gauge.by != By.WASH_DIP:
            return "OIML R 22"
        table = self.site.gravities(at or self.moment(self.sheet.moments[0].when))
        return f"{GRAVITY_RULE} from {table.from_date.isoformat()}"

    def taken(
        self, prefix: str, against: AccountRef, *, stage: str = "", at: datetime | None = None, name: str = ""
    ) -> Taken:
        """The line that brings the gauged vessel's book to the gauge."""
        return Taken(self.gauge_taken(prefix, at=at, name=name), against, stage)

    def residue(self, litres: str, percent: str, *, giver: AccountRef, taker: AccountRef) -> Moved:
        """The line for a residue written down by volume and strength."""
        volume = self.real(litres)
        try:
            quantity = gauge_by_volume(
                litres=volume,
                percent20=self.real(percent),
                u_litres=volume * RESIDUE_SHARE,
                u_percent=RESIDUE_PERCENT,
            )
        except AlcoholometryError as error:
            raise Ungaugeable(percent, str(error)) from error
        return Moved(giver, taker, quantity, field=litres)


class Completed(Written):
    """One record as written: its number, its values, and its repeating lines."""

    def __init__(
        self,
        sheet: Sheet,
        site: Site,
        *,
        number: str,
        values: Mapping[str, Value],
        typed: Mapping[str, str],
        rows: Sequence[tuple[Mapping[str, Value], Mapping[str, str]]] = (),
    ) -> None:
        super().__init__(sheet, site, values, typed)
        self.number = number
        self._row_values = rows

    @cached_property
    def rows(self) -> tuple[Written, ...]:
        """The repeating lines; each sees the fields above it too."""
        return tuple(
            Written(self.sheet, self.site, values, typed, above=self) for values, typed in self._row_values
        )


def _hangs_on(gauge: Gauge) -> str:
    if gauge.by == By.WASH_DIP:
        return gauge.gravities_of or "final_gravity"
    if gauge.by == By.WEIGHT_AT_STRENGTH:
        return gauge.name("gross_kg")
    return gauge.name("gross_kg") if gauge.by == By.WEIGHT else gauge.name("hydrometer_percent")


def _missing(written: Written, gauge: Gauge, name: str, dipped: Dipped) -> str:
    dip = written.decimal(gauge.name("dip_mm"))
    return (
        f"{gauge.label}: a dip of {dip:f} mm in {written.vessel(gauge.vessel).code} is {dipped.litres:.1f} litres, "
        f"so the {'hydrometer' if name.endswith('percent') else 'temperature'} reading is needed too; "
        f"it may be left out only when the vessel is empty."
    )
