"""A reading tried with another value: its gauges computed anew, by the one way a gauge is computed.

Slopes and table factors change over a large error, so a wrong dip of a hundred millimetres is not taken out by one
straight step: the gauge is measured again with the right value, and its new sensitivities count from then on.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Final

from msgspec import structs

from distillery.alcoholometry.errors import AlcoholometryError
from distillery.alcoholometry.gauging.chain import GaugeChain
from distillery.plant.calibration import DipOutsideTable, NoCalibration
from distillery.plant.lookup import Plant
from distillery.plant.models import MICRO
from distillery.rules.in_force import NoRuleInForce
from ledger.comparing.model.balance_model import BalanceModel
from ledger.comparing.observations.observed import Measured
from ledger.comparing.remembered import Remembered
from ledger.comparing.statistics.algebra.problem import FaultKind, Problem
from ledger.comparing.statistics.faults.faults import Accepted, ImpossibleReading, Rebuild
from ledger.posting.gauging import PARTS, ReadingMissing, kept, measure

# Measurements that one search keeps at hand.
MOST_MEASURED: Final = 5_000

Remeasure = Callable[[Measured, Mapping[str, float]], Measured]
AsProblem = Callable[[BalanceModel], Problem]


def remeasure_at(plant: Plant, known: Remembered | None = None) -> Remeasure:
    """Measures a quantity of this plant again with some parts (dip_mm, celsius ...) changed.

    A search often asks for the same again, beside other faults; it is measured once. It may be `known` from an earlier
    search with the same plant.
    """
    measured_before = known if known is not None and known.remembers else Remembered(MOST_MEASURED)

    def again(measured: Measured, parts: Mapping[str, float]) -> Measured:
        def made() -> GaugeChain:
            readings = kept(measured.chain, method=measured.method, vessel=plant.vessel(measured.vessel))
            for part, value in parts.items():
                readings = readings.with_value(part, value)
            try:
                return measure(readings, plant)
            except (AlcoholometryError, DipOutsideTable, NoCalibration, NoRuleInForce, ReadingMissing) as error:
                raise ImpossibleReading(str(error)) from error

        asked = measured.chain, measured.method, measured.vessel, tuple(sorted(parts.items()))
        return as_measured(measured, measured_before.part((GaugeChain, measured_before.plant, *asked), made), parts)

    return again


def as_measured(measured: Measured, chain: GaugeChain, parts: Mapping[str, float]) -> Measured:
    """The quantity with the figures and sensitivities of a new measurement."""
    weights = {}
    for row in chain.contributions:
        part = PARTS.get(row.reading, "")
        weights[part or row.instrument] = row
        if part == "hydrometer_percent":
            weights.setdefault("percent", row)
    readings = []
    for one in measured.readings:
        weight = weights.get(one.part or one.instrument)
        readings.append(
            structs.replace(
                one,
                value=parts.get(one.part, one.value),
                lpa=weight.sensitivity_lpa if weight else 0.0,
                percent=weight.sensitivity_percent if weight else 0.0,
            )
        )
    quantity = chain.quantity
    return structs.replace(
        measured,
        lpa=quantity.pure_ul / MICRO,
        percent=quantity.percent20,
        litres20=quantity.litres20,
        readings=tuple(readings),
    )


def corrected(model: BalanceModel, right: Mapping[str, float], remeasure: Remeasure) -> BalanceModel:
    """The model with these readings (by key) at their right values. Raises ImpossibleReading."""
    parts: dict[str, dict[str, float]] = {}
    shifts: dict[str, float] = {}
    for key, value in right.items():
        known = model.known[key]
        shifts[key] = known.seen.value - value
        for quantity in known.quantities:
            parts.setdefault(quantity, {})[known.seen.part] = value
    # Corrections made before stay: a quantity with two of them is measured with both.
    for key, shift in model.shifted.items():
        known = model.known[key]
        for quantity in known.quantities:
            if quantity in parts:
                parts[quantity].setdefault(known.seen.part, known.seen.value - shift)
    changed = {key: remeasure(model.values[key], values) for key, values in parts.items()}
    return model.with_values(changed, shifts)


def rebuild_with(model: BalanceModel, as_problem: AsProblem, remeasure: Remeasure) -> Rebuild:
    """What the search for faults calls to put accepted readings at their right values; each set of them once."""
    made: dict[tuple[tuple[str, float], ...], Problem] = {}

    def rebuild(problem: Problem, accepted: Sequence[Accepted], /) -> Problem:
        right = {
            one.hypothesis.key: one.right_value
            for one in accepted
            if one.hypothesis.kind is FaultKind.READING and one.right_value is not None
        }
        if not right:
            return problem
        again = made.get(key := tuple(sorted(right.items())))
        if again is None:
            again = made[key] = as_problem(corrected(model, right, remeasure))
        if right.keys() - {one.key for one in again.readings}:
            raise ImpossibleReading("With that value the vessel would have held nothing.")
        return again

    return rebuild
