"""How sure a sum or difference of gauges is, when they share readings, instruments or a vessel.

JCGM 100:2008, 5.2 (correlated inputs) and F.1.2: two gauges are correlated exactly as far as one error runs through
both. What is shared is known from what is kept with each gauge: a reading that stands in one place of one record is
the same reading wherever it was used, chance and all; what lasts in an instrument, in a vessel's calibration or in an
obscuration is common to all that was measured with it. Parts of one source add with their signs, parts of different
sources by their squares. Pure functions; sensitivities are those kept with the gauges, none are worked out here.
Left out: sources nobody kept, such as a gradient of temperature in a vessel.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from distillery.alcoholometry.uncertainty import Component, combined, correlation, covariance, weighted

MICROLITRES_PER_LITRE = 1_000_000


@dataclass(frozen=True, slots=True)
class KeptReading:
    """One reading as kept with a gauge.

    `source` names the reading itself: equal names are one reading. `instrument` is what it was taken with, `u` its
    standard uncertainty in its own unit, `lpa` the litres of pure alcohol that one unit more would make, and
    `lasting` the share (0 to 1) of its variance that is common to all readings of the instrument.
    """

    source: str
    instrument: str
    u: float
    lpa: float
    lasting: float = 0.0

    @property
    def components(self) -> tuple[Component, ...]:
        """Its signed effects in µL: chance under its own name, what lasts under the instrument's."""
        whole = Component(self.source, self.lpa * self.u * MICROLITRES_PER_LITRE)
        return whole.split(lasting_share=self.lasting, lasting=f"lasting: {self.instrument}")


@dataclass(frozen=True, slots=True)
class KeptGauge:
    """The readings behind one gauge or measured flow."""

    readings: tuple[KeptReading, ...]

    @property
    def components(self) -> tuple[Component, ...]:
        """All signed effects in µL."""
        return tuple(part for reading in self.readings for part in reading.components)

    @property
    def uncertainty_ul(self) -> float:
        """Standard uncertainty of its alcohol by itself, µL."""
        return combined(self.components)


Terms = Sequence[tuple[float, KeptGauge]]


def kept_gauge(chain: str, *, record: str, line: str = "") -> KeptGauge:
    """The readings of a gauge from the text kept with it.

    `record` is the number of the record it stands on. `line` tells apart the repeating lines of one record (the
    vessels of a stock take), whose columns have the same names; leave it blank for what stands once on the model, so
    that a temperature read once for two dips is one reading. A reading taken over from another record is known by
    that record's number. An empty text is a gauge without readings. Raises ValueError for a text that is no chain.
    """
    if not chain:
        return KeptGauge(())
    rows: list[dict[str, Any]] = json.loads(chain)["readings"]
    return KeptGauge(tuple(_reading(row, place, record, line) for place, row in enumerate(rows)))


def sum_uncertainty_ul(terms: Terms) -> float:
    """Standard uncertainty in µL of a signed sum of gauges: factor 1 for what came in, -1 for what went out."""
    return combined(sum_components(terms))


def sum_components(terms: Terms) -> tuple[Component, ...]:
    """The signed effect of every source on the sum, µL, one for each source, the largest first."""
    totals: dict[str, float] = {}
    for part in weighted((factor, gauge.components) for factor, gauge in terms):
        totals[part.source] = totals.get(part.source, 0.0) + part.signed
    return tuple(
        Component(source, signed) for source, signed in sorted(totals.items(), key=lambda one: (-abs(one[1]), one[0]))
    )


def covariance_ul2(first: KeptGauge, second: KeptGauge) -> float:
    """Covariance of two gauges in µL²: nothing where they share nothing."""
    return covariance(first.components, second.components)


def correlation_of(first: KeptGauge, second: KeptGauge) -> float:
    """Correlation of two gauges, -1 to 1."""
    return correlation(first.components, second.components)


def as_if_apart_ul(terms: Terms) -> float:
    """What the uncertainty of the sum would be if nothing were shared, µL: to show what sharing does."""
    return combined(
        Component(f"{place}: {part.source}", factor * part.signed)
        for place, (factor, gauge) in enumerate(terms)
        for part in _by_source(gauge.components)
    )


def _by_source(parts: Iterable[Component]) -> Iterable[Component]:
    totals: dict[str, float] = {}
    for part in parts:
        totals[part.source] = totals.get(part.source, 0.0) + part.signed
    return [Component(source, signed) for source, signed in totals.items()]


def _reading(row: dict[str, Any], place: int, record: str, line: str) -> KeptReading:
    column, of = str(row.get("column") or ""), str(row.get("of") or "")
    if of:
        # A figure of another record stands there once, whatever line it was taken over to.
        source = f"{of}: {column}"
    elif column:
        source = f"{record}{f'/{line}' if line else ''}: {column}"
    else:
        source = f"{record}{f'/{line}' if line else ''}: reading {place} with {row['instrument'] or row['part']}"
    return KeptReading(
        source=source,
        instrument=str(row["instrument"]),
        u=float(row["u"]),
        lpa=float(row["lpa"]),
        lasting=float(row.get("lasting", 0.0)),
    )
