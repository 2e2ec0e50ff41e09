"""What was written on one record, read and ready to be posted: values by field, gauges as lines of the ledger.

This is all a step sees. It works out no alcohol itself; what the readings come to, `gauged` says.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from functools import cached_property

from batches.sheets.gauges import By, Gauge
from batches.sheets.sheet import Sheet
from batches.sheets.site import Site
from batches.sheets.typed.gauged import Gauged
from batches.sheets.typed.values import Ungaugeable, Value
from distillery.alcoholometry.errors import AlcoholometryError
from distillery.clock.reading import site_day
from ledger.posting.accounts import AccountRef
from ledger.posting.drafts import GaugeTaken, MeasureTaken, Moved, Taken
from ledger.posting.gauging import Method, Readings, as_text, measure

GRAVITY_RULE = "gravity factors"


class Written(Gauged):
    """Values and gauges of one block of fields, as the ledger takes them."""

    def _raw(self, gauge: Gauge) -> dict[str, str]:
        names = [one.name for one in gauge.fields]
        if gauge.celsius_from:
            names.append(gauge.celsius_from)
        raw = {name: str(self.value(name)) for name in names if self.has(name)}
        if gauge.by == By.WASH_DIP and self.quantity(gauge.prefix).pure_ul:
            raw |= {one.column: one.typed for one in self._gravities(gauge).values()}
            readings = self.measured(gauge.prefix)[0]
            if "celsius" in readings.of:
                raw[readings.columns["celsius"]] = f"{readings.values['celsius']:g}"
        return raw

    def gauge_taken(self, prefix: str, *, at: datetime | None = None, name: str = "") -> GaugeTaken:
        """A gauge as the ledger takes it, with the readings behind it under their columns' names."""
        gauge = self.gauge(prefix)
        readings, chain = self.measured(prefix, at=at)
        return GaugeTaken(
            name=name or prefix or gauge.role.value,
            vessel_account=self.account(gauge.vessel),
            quantity=chain.quantity,
            raw=self._raw(gauge),
            method=gauge.by.value,
            role=gauge.role.value,
            rule=self._rule(gauge, at),
            chain=as_text(chain, readings),
        )

    def weighed(
        self, giver: AccountRef, taker: AccountRef, *, prefix: str = "", field: str = "", name: str = ""
    ) -> Moved:
        """The line for a flow that was itself gauged: a cask by weight, by a name of its own where one is given."""
        gauge = self.gauge(prefix)
        readings, chain = self.measured(prefix)
        return Moved(
            giver,
            taker,
            chain.quantity,
            field=field,
            measured=MeasureTaken(
                name=name or prefix or gauge.role.value,
                raw=self._raw(gauge),
                method=gauge.by.value,
                rule=self._rule(gauge, None),
                chain=as_text(chain, readings),
            ),
        )

    def _rule(self, gauge: Gauge, at: datetime | None) -> str:
        if gauge.by != By.WASH_DIP:
            return "OIML R 22"
        moment = at or self.moment(self.sheet.moments[0].when)
        table = self.site.gravities(site_day(moment))
        return f"{GRAVITY_RULE} from {table.from_date.isoformat()}"

    def taken_unless_shared(
        self, prefix: str, against: AccountRef, *, at: datetime | None = None
    ) -> tuple[Taken | None, ...]:
        """The line of a gauge that may be another one too; none where it is, since that one has its line already."""
        return () if self.shares(prefix) else (self.taken(prefix, against, at=at),)

    def taken(
        self, prefix: str, against: AccountRef, *, stage: str = "", at: datetime | None = None, name: str = ""
    ) -> Taken | None:
        """The line that brings the gauged vessel's book to the gauge; None where the gauge is marked missing."""
        if self.gauge_is_missing(prefix):
            return None
        return Taken(self.gauge_taken(prefix, at=at, name=name), against, stage)

    def residue(self, litres: str, percent: str, *, giver: AccountRef, taker: AccountRef) -> Moved | None:
        """The line for a residue written down by volume and strength; None where it is marked missing."""
        return self._by_volume(Method.VOLUME_AT_STRENGTH, litres, percent, self.sheet.moments[-1].when, giver, taker)

    def declared(self, litres: str, percent: str, *, giver: AccountRef, taker: AccountRef) -> Moved | None:
        """The line for what another site's document says was sent, by volume and strength at 20 °C; None where it is
        marked missing. It is as sure as such a document (`ledger.posting.gauging`)."""
        return self._by_volume(Method.DECLARED, litres, percent, self.sheet.moments[0].when, giver, taker)

    def _by_volume(
        self, method: Method, litres: str, percent: str, when: str, giver: AccountRef, taker: AccountRef
    ) -> Moved | None:
        columns = {"litres": litres, "percent": percent}
        if any(self.is_missing(column) for column in columns.values()):
            return None
        readings = Readings(
            method=method,
            values={part: self.real(column) for part, column in columns.items()},
            day=site_day(self.moment(when)),
            columns=columns,
        )
        return self._flow(readings, giver, taker, name=litres, field=litres, hangs_on=percent)

    def worked_out(
        self, litres: float, percent: float, *, at: datetime, giver: AccountRef, taker: AccountRef, field: str
    ) -> Moved:
        """The line for a little whose volume (litres at 20 °C) and strength (% vol) stand in no column as such, as that
        of a sample: as sure as a residue."""
        values = {"litres": litres, "percent": percent}
        readings = Readings(method=Method.VOLUME_AT_STRENGTH, values=values, day=site_day(at))
        return self._flow(readings, giver, taker, name=field, field=field, hangs_on=field)

    def counted(self, giver: AccountRef, taker: AccountRef, columns: Mapping[str, str]) -> Moved:
        """The line for bottles: `columns` of bottles, centilitres and percent."""
        readings = Readings(
            method=Method.COUNT,
            values={part: self.bare(column) for part, column in columns.items()},
            day=site_day(self.moment(self.sheet.moments[0].when)),
            columns=columns,
        )
        return self._flow(
            readings, giver, taker, name=columns["bottles"], field=columns["bottles"], hangs_on=columns["percent"]
        )

    def _flow(
        self, readings: Readings, giver: AccountRef, taker: AccountRef, *, name: str, field: str, hangs_on: str
    ) -> Moved:
        try:
            chain = measure(readings, self.site)
        except AlcoholometryError as error:
            raise Ungaugeable(hangs_on, str(error)) from error
        measured = MeasureTaken(
            name=name,
            raw={column: str(self.value(column)) for column in readings.columns.values()},
            method=readings.method,
            rule="label" if readings.method == Method.COUNT else "volume × strength",
            chain=as_text(chain, readings),
        )
        return Moved(giver, taker, chain.quantity, field=field, measured=measured)


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
        return tuple(Written(self.sheet, self.site, values, typed, above=self) for values, typed in self._row_values)
