"""Rows of the ledger as the comparing sees them: gauges, measured flows and figures with their readings.

A column may stand once for each line of a record, so that record and column do not yet name a reading; then its vessel
is named with it. What a row comes to hangs on the row and on which of its columns are such ones, and is remembered so.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Any

from msgspec import json

from distillery.plant.models import MICRO
from ledger.comparing.observations.observed import (
    Doing,
    Measured,
    ObservedFigure,
    ObservedFlow,
    ObservedGauge,
    ObservedReading,
)
from ledger.comparing.remembered import Remembered
from ledger.models import Figure, Gauge, MeasuredFlow, Movement
from ledger.posting.accounts import VESSEL_ACCOUNT
from ledger.posting.gauging import Method
from ledger.posting.legs import PLACES
from ledger.statements.unaccounted_legs import gauge_key

# Record and column.
Place = tuple[str, str]
# How a cask is measured, filled or emptied, or as it stands.
OF_CASKS = (Method.WEIGHT, Method.WEIGHT_AT_STRENGTH, Method.VOLUME)


def columns_of_several(
    gauges: Iterable[Gauge], measures: Iterable[MeasuredFlow], known: Remembered
) -> frozenset[Place]:
    """Record and column pairs that occur for more than one vessel."""
    vessels: dict[Place, set[str]] = defaultdict(set)
    for gauge in gauges:
        for column in _columns(gauge, known):
            vessels[gauge.movement.record_number, column].add(gauge.account.code)
    for measure in measures:
        for column in _columns(measure, known):
            vessels[measure.movement.record_number, column].add(weighed_in(measure))
    return frozenset(place for place, codes in vessels.items() if len(codes) > 1)


def _columns(row: Gauge | MeasuredFlow, known: Remembered) -> tuple[str, ...]:
    return known.part(("columns", row.movement.seal, row.pk), lambda: tuple(json.decode(row.raw)))


def weighed_in(measure: MeasuredFlow) -> str:
    """The code of the account whose vessel a flow of a cask is a measurement of: a cask filled, or else one emptied."""
    taker: str = measure.taker.code
    return taker if taker.startswith(VESSEL_ACCOUNT) else measure.giver.code


def vessel_of(code: str) -> str:
    return code.removeprefix(VESSEL_ACCOUNT)


def _doing(movement: Movement) -> Doing:
    return Doing(movement.record_number, movement.record_kind, movement.operation, movement.period)


def observed_gauge(gauge: Gauge, several: frozenset[Place], found_ul: int | None, known: Remembered) -> ObservedGauge:
    """A gauge with what the ledger says it found (microlitres), None where that was not asked."""
    if not known.remembers:
        return _gauge(gauge, several, found_ul)
    seal = gauge.movement.seal
    own = several & known.part(("places", seal, gauge.pk), lambda: _places(gauge))
    return known.part((ObservedGauge, seal, gauge.pk, own, found_ul), lambda: _gauge(gauge, own, found_ul))


def _gauge(gauge: Gauge, several: frozenset[Place], found_ul: int | None) -> ObservedGauge:
    vessel = vessel_of(gauge.account.code)
    return ObservedGauge(
        doing=_doing(gauge.movement),
        at=gauge.happened_at,
        position=gauge.position,
        vessel=vessel,
        name=gauge.name,
        role=gauge.role,
        measured=_measured(gauge, vessel, gauge_key(gauge), several),
        found=None if found_ul is None else found_ul / MICRO,
        movement=gauge.movement_id,
    )


def observed_flow(measure: MeasuredFlow, several: frozenset[Place], known: Remembered) -> ObservedFlow:
    """A measured flow; one into or out of a cask is a measurement of it."""
    if not known.remembers:
        return _flow(measure, several)
    seal = measure.movement.seal
    own = several & known.part(("places", seal, measure.pk), lambda: _places(measure))
    return known.part((ObservedFlow, seal, measure.pk, own), lambda: _flow(measure, own))


def _flow(measure: MeasuredFlow, several: frozenset[Place]) -> ObservedFlow:
    giver, taker = vessel_of(measure.giver.code), vessel_of(measure.taker.code)
    vessel = vessel_of(weighed_in(measure)) if measure.method in OF_CASKS else giver
    return ObservedFlow(
        doing=_doing(measure.movement),
        at=measure.movement.took_place_at,
        position=measure.movement.slot * PLACES + measure.line,
        giver=giver,
        taker=taker,
        measured=_measured(measure, vessel, f"{measure.movement.record_number}/{vessel}/{measure.name}", several),
        movement=measure.movement_id,
    )


def _places(row: Gauge | MeasuredFlow) -> frozenset[Place]:
    """Where the readings of a row stand."""
    readings = json.decode(row.chain)["readings"] if row.chain else ()
    return frozenset((one["of"] or row.movement.record_number, one["column"]) for one in readings)


def _measured(row: Gauge | MeasuredFlow, vessel: str, key: str, several: frozenset[Place]) -> Measured:
    typed: Mapping[str, str] = json.decode(row.raw)
    chain = json.decode(row.chain) if row.chain else {"readings": []}
    return Measured(
        key=key,
        method=row.method,
        vessel=vessel,
        lpa=row.pure_ul / MICRO,
        percent=row.percent20_millionths / MICRO,
        litres20=row.litres20_ul / MICRO,
        readings=tuple(
            _reading(one, key, row.movement.record_number, vessel, typed, several) for one in chain["readings"]
        )
        if row.chain
        else (_as_a_whole(row, key),),
        chain=row.chain,
    )


def _as_a_whole(row: Gauge | MeasuredFlow, key: str) -> ObservedReading:
    """An amount whose readings were not kept is one reading of itself, as sure as it was then worked out to be."""
    lpa = row.pure_ul / MICRO
    return ObservedReading(
        key=f"{key}:as a whole",
        part="",
        record=row.movement.record_number,
        column="",
        instrument="",
        value=lpa,
        unit="LPA",
        uncertainty=row.uncertainty_ul / MICRO,
        lpa=1.0,
        percent=0.0,
        typed="",
    )


def _reading(
    row: Mapping[str, Any], quantity: str, record: str, vessel: str, typed: Mapping[str, str], several: frozenset[Place]
) -> ObservedReading:
    column, of = row["column"], row["of"] or record
    key = f"{of}:{column}" if column else f"{quantity}:{row['part'] or row['instrument']}"
    if (of, column) in several:
        key = f"{key}:{vessel}"
    if not row["part"]:
        # Nobody read it. The error of the vessel's own table, a share of the volume, is one error in every gauge of
        # that vessel. All else of this kind (what solids hide, a step of the factor table, a distance to nothing) is an
        # error of this gauge alone, but for the part of it that lasts.
        key = f"table:{vessel}" if row["unit"] == "L" else f"{quantity}:{row['instrument']}"
    return ObservedReading(
        key=key,
        part=row["part"],
        record=of,
        column=column,
        instrument=row["instrument"],
        value=float(row["value"]),
        unit=row["unit"],
        uncertainty=float(row["u"]),
        lpa=float(row["lpa"]),
        percent=float(row["percent"]),
        typed=typed.get(column, ""),
        lasting=float(row.get("lasting", 0.0)),
    )


def observed_figure(figure: Figure, several: frozenset[Place], known: Remembered) -> ObservedFigure:
    """A figure with the readings it hangs on, by their keys."""
    if not known.remembers:
        return _figure(figure, several)
    seal, line = figure.movement.seal, figure.line
    own = several & known.part(("places of a figure", seal, line), lambda: _places_of(figure))
    return known.part((ObservedFigure, seal, line, own), lambda: _figure(figure, own))


def _places_of(figure: Figure) -> frozenset[Place]:
    record = figure.movement.record_number
    return frozenset((record, named.partition("@")[0]) for named in json.decode(figure.parts))


def _figure(figure: Figure, several: frozenset[Place]) -> ObservedFigure:
    movement, record = figure.movement, figure.movement.record_number
    parts: dict[str, float] = {}
    for named, weight in json.decode(figure.parts).items():
        column, _, vessel = named.partition("@")
        if (record, column) in several:
            # A column that stands once for each line is told by its vessel.
            if vessel:
                parts[f"{record}:{column}:{vessel}"] = weight
        else:
            parts[f"{record}:{column}"] = weight
    return ObservedFigure(
        doing=_doing(movement),
        at=movement.took_place_at,
        position=movement.slot * PLACES + figure.line,
        name=figure.name,
        like=figure.like,
        beside=figure.beside,
        column=figure.field,
        unit=figure.unit,
        value=figure.value_millionths / MICRO,
        expected=None if figure.expected_millionths is None else figure.expected_millionths / MICRO,
        spread=None if figure.spread_millionths is None else figure.spread_millionths / MICRO,
        parts=parts,
    )
