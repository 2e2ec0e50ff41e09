"""From readings to a quantity: the one way a gauge is computed, for the records and for the comparing alike.

A gauge is kept with its readings: what each was, in which column of which record it stands, with which instrument
it was taken, how sure it is, and how far one unit of it moves the alcohol (LPA) and the strength (% vol). So a
difference can say which of its readings are shared, and a reading can be tried with another value.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from enum import StrEnum
from typing import Any, Final

from distillery.alcoholometry.gauging.chain import Contribution, GaugeChain
from distillery.alcoholometry.gauging.gauge import gauge_by_count, gauge_by_volume_chain
from distillery.alcoholometry.gauging.readings import empty_chain
from distillery.clock.reading import site_day
from distillery.plant.gauges import by_litres, by_weight, by_weight_at_strength, read_dip, spirit_by_dip, wash_by_dip
from distillery.plant.lookup import Plant
from distillery.plant.models import Vessel
from distillery.plant.outfit import Outfit

# Residues are written down by volume and strength, and a cask may be measured by its litres: a tank, a meter or a dip
# is right to about half a per cent, a strength near nothing to about 0.02 % vol (common practice, no source).
VOLUME_SHARE = 0.005
RESIDUE_PERCENT = 0.02
# What another site's document says: a metered or weighed pack over 100 L may exceed its label by 0.5 % (SI 2023/806,
# Schedule 1), and its strength is written to one decimal; both as rectangular limits (JCGM 100:2008, 4.3.7).
DECLARED_SHARE = 0.005 / 3**0.5
DECLARED_PERCENT = 0.1 / 3**0.5

# What alcoholometry calls a reading, and the part of the sheet it stands in.
PARTS = {
    "dip": "dip_mm",
    "temperature": "celsius",
    "hydrometer": "hydrometer_percent",
    "gross weight": "gross_kg",
    "tare weight": "tare_kg",
    "original gravity": "original_gravity",
    "present gravity": "final_gravity",
    "volume": "litres",
    "strength": "percent",
    "bottles": "bottles",
}


class Method(StrEnum):
    """How a gauge or a flow finds what there is."""

    SPIRIT_DIP = "dip"
    WASH_DIP = "wash dip"
    WEIGHT = "weight"
    WEIGHT_AT_STRENGTH = "weight, strength"
    VOLUME = "volume"
    VOLUME_AT_STRENGTH = "volume, strength"
    DECLARED = "declared"
    COUNT = "count"


# Without which nothing is gauged; what a dip needs besides hangs on whether it finds anything.
NEEDED: Final[Mapping[str, tuple[str, ...]]] = {
    Method.WEIGHT: ("gross_kg", "tare_kg", "celsius", "hydrometer_percent"),
    Method.WEIGHT_AT_STRENGTH: ("gross_kg", "tare_kg", "percent"),
    Method.VOLUME: ("litres", "celsius", "hydrometer_percent"),
    Method.VOLUME_AT_STRENGTH: ("litres", "percent"),
    Method.DECLARED: ("litres", "percent"),
}


class ReadingMissing(ValueError):
    """A gauge lacks a reading: which part, and what the dip makes the vessel hold, where it was dipped."""

    def __init__(self, part: str, litres: float | None = None) -> None:
        super().__init__(f"No reading of {part}" + ("." if litres is None else f", but {litres:.1f} litres by dip."))
        self.part = part
        self.litres = litres


@dataclass(frozen=True, slots=True)
class Readings:
    """What was read of one vessel or flow, as numbers, and where each figure stands.

    `values` are by part: dip_mm, celsius, hydrometer_percent, gross_kg, tare_kg, percent, original_gravity,
    final_gravity, litres, bottles (with centilitres). `columns` say in which column each part is written, `of` on
    which other record, where it is another. `day` is the day of the gravity factors, `at` the moment the vessel was
    gauged, by which instruments, certificates and obscuration are taken; without it they are those of the day.
    """

    method: str
    values: Mapping[str, float]
    day: date
    vessel: Vessel | None = None
    columns: Mapping[str, str] = field(default_factory=dict)
    of: Mapping[str, str] = field(default_factory=dict)
    at: datetime | None = None

    @property
    def gauged_on(self) -> date:
        """The day, on the site's clock, of the instruments and certificates."""
        return site_day(self.at) if self.at else self.day

    def with_value(self, part: str, value: float) -> Readings:
        """The same readings with one of them changed."""
        return replace(self, values={**self.values, part: value})


def measure(readings: Readings, plant: Plant) -> GaugeChain:
    """The content with the whole way from reading to result.

    Raises ReadingMissing, the refusals of alcoholometry, DipOutsideTable, NoCalibration, NoRuleInForce.
    """
    values = readings.values
    for part in NEEDED.get(readings.method, ()):
        if part not in values:
            raise ReadingMissing(part)
    if readings.method == Method.WEIGHT:
        return by_weight(
            outfit_of(readings, plant),
            gross_kg=values["gross_kg"],
            tare_kg=values["tare_kg"],
            celsius=values["celsius"],
            reading=values["hydrometer_percent"],
        )
    if readings.method == Method.WEIGHT_AT_STRENGTH:
        return by_weight_at_strength(
            outfit_of(readings, plant),
            gross_kg=values["gross_kg"],
            tare_kg=values["tare_kg"],
            percent20=values["percent"],
        )
    if readings.method == Method.VOLUME:
        return by_litres(
            outfit_of(readings, plant),
            litres=values["litres"],
            u_litres=values["litres"] * VOLUME_SHARE,
            celsius=values["celsius"],
            reading=values["hydrometer_percent"],
        )
    if readings.method in (Method.VOLUME_AT_STRENGTH, Method.DECLARED):
        declared = readings.method == Method.DECLARED
        return gauge_by_volume_chain(
            litres=values["litres"],
            percent20=values["percent"],
            u_litres=values["litres"] * (DECLARED_SHARE if declared else VOLUME_SHARE),
            u_percent=DECLARED_PERCENT if declared else RESIDUE_PERCENT,
        )
    if readings.method == Method.COUNT:
        return _counted(values)
    return _dipped(readings, plant)


def outfit_of(readings: Readings, plant: Plant) -> Outfit:
    """What was gauged with: the instruments in use at the vessel on the day, their certificates, what solids hide."""
    return plant.outfit(readings.gauged_on, vessel=readings.vessel, at=readings.at)


def _dipped(readings: Readings, plant: Plant) -> GaugeChain:
    values, vessel = readings.values, readings.vessel
    if vessel is None:
        raise ValueError("A dip needs its vessel.")
    outfit = outfit_of(readings, plant)
    dip = read_dip(plant.table(vessel), outfit, values["dip_mm"])
    if dip.litres == 0:
        return empty_chain(0.0)
    wash = readings.method == Method.WASH_DIP
    for part in ("celsius", *(() if wash else ("hydrometer_percent",))):
        if part not in values:
            raise ReadingMissing(part, dip.litres)
    if wash:
        return wash_by_dip(
            dip,
            outfit,
            celsius=values["celsius"],
            original_gravity=values["original_gravity"],
            present_gravity=values["final_gravity"],
            factors=plant.gravities(readings.day),
        )
    return spirit_by_dip(dip, outfit, celsius=values["celsius"], reading=values["hydrometer_percent"])


def _counted(values: Mapping[str, float]) -> GaugeChain:
    quantity = gauge_by_count(
        bottles=round(values["bottles"]), centilitres=values["centilitres"], label_percent=values["percent"]
    )
    one = values["centilitres"] / 100 * values["percent"] / 100
    # A count has no uncertainty: it is right, or it is wrong.
    row = Contribution("bottles", "", values["bottles"], "bottles", 0.0, one, 0.0, "count × contents × strength", "")
    return GaugeChain(quantity, steps=(), contributions=(row,))


def as_text(chain: GaugeChain, readings: Readings) -> str:
    """The readings of a gauge as they are kept with it: one line of JSON, to be read by `kept`."""
    rows = [_row(one, readings) for one in chain.contributions]
    shown = {row["part"] for row in rows}
    # A reading that changes nothing is kept too: the dip that says a vessel is empty may be the wrong one.
    rows += [
        {
            "part": part,
            "column": readings.columns[part],
            "of": readings.of.get(part, ""),
            "instrument": "",
            "value": _short(value),
            "unit": "",
            "u": 0.0,
            "lpa": 0.0,
            "percent": 0.0,
        }
        for part, value in readings.values.items()
        if part not in shown and readings.columns.get(part)
    ]
    data: dict[str, Any] = {"day": readings.day.isoformat(), "readings": rows}
    if readings.at is not None:
        data["at"] = readings.at.astimezone(UTC).isoformat()
    return json.dumps(data, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def kept(text: str, *, method: str, vessel: Vessel | None) -> Readings:
    """The readings kept with a gauge, ready to be measured again."""
    data: dict[str, Any] = json.loads(text)
    rows = [row for row in data["readings"] if row["part"]]
    return Readings(
        method=method,
        vessel=vessel,
        day=date.fromisoformat(data["day"]),
        values={row["part"]: row["value"] for row in rows},
        columns={row["part"]: row["column"] for row in rows if row["column"]},
        of={row["part"]: row["of"] for row in rows if row["of"]},
        at=datetime.fromisoformat(data["at"]) if "at" in data else None,
    )


def _row(one: Contribution, readings: Readings) -> dict[str, Any]:
    part = PARTS.get(one.reading, "")
    if part == "hydrometer_percent" and part not in readings.values:
        part = "percent"
    row = {
        "part": part,
        "column": readings.columns.get(part, ""),
        "of": readings.of.get(part, ""),
        "instrument": one.instrument,
        "value": _short(one.value),
        "unit": one.unit,
        "u": _short(one.standard_uncertainty),
        "lpa": _short(one.sensitivity_lpa),
        "percent": _short(one.sensitivity_percent),
    }
    # Which part of its variance is common to all readings of the instrument, where any is.
    return row | ({"lasting": _short(one.lasting_share)} if one.lasting_share else {})


def _short(value: float) -> float:
    """Nine figures are more than any instrument has, and the same text on every machine."""
    return float(f"{value:.9g}")
