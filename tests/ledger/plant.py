"""Short builders of invented vessels, gauges and drafts for the ledger's tests."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from distillery.alcoholometry.quantity import Quantity
from distillery.plant.models import Kind, Stage, Vessel
from distillery.seals.writing import signed
from ledger.posting.accounts import AccountRef, difference, gauging, loss, source, vessel_account
from ledger.posting.drafts import Draft, Emptied, GaugeTaken, Line, MeasureTaken, Moved, Taken

START = datetime(2027, 3, 12, 12, tzinfo=UTC)


def at(hours: float) -> datetime:
    return START + timedelta(hours=hours)


@signed("tests")
def vessel(code: str, *, kind: str = Kind.RECEIVER, stage: str = Stage.NEW_SPIRIT) -> Vessel:
    return Vessel.objects.get_or_create(code=code, defaults={"name": code, "kind": kind, "stage": stage})[0]


def quantity(lpa: float, kilograms: float | None = None) -> Quantity:
    """So many litres of pure alcohol, at 50 % of mass unless said otherwise."""
    mass = round((lpa * 1.6 if kilograms is None else kilograms) * 1000)
    return Quantity(pure_ul=round(lpa * 1e6), mass_g=mass, litres20=lpa * 2, percent20=50.0, uncertainty_ul=500_000)


def gauge(of: Vessel, lpa: float, *, name: str = "", role: str = "before") -> GaugeTaken:
    return GaugeTaken(
        name=name or role,
        vessel_account=vessel_account(of),
        quantity=quantity(lpa),
        raw={"dip_mm": str(lpa)},
        method="dip",
        role=role,
    )


def weighed(name: str) -> MeasureTaken:
    return MeasureTaken(
        name=name, raw={"gross_kg": "250", "tare_kg": "50"}, method="weight", rule="OIML R 22", chain=""
    )


def found(of: Vessel, lpa: float) -> Taken:
    return Taken(gauge(of, lpa), gauging(of))


def left(of: Vessel, lpa: float, against: AccountRef) -> Taken:
    return Taken(gauge(of, lpa, role="after"), against)


def draft(operation: str, number: str, hours: float, *lines: Line, moment: str = "finish") -> Draft:
    return Draft(
        kind=operation,
        operation=operation,
        happened_at=at(hours),
        record_kind=operation,
        record_number=number,
        moment=moment,
        lines=lines,
    )


def opening(of: Vessel, lpa: float, hours: float = -100) -> Draft:
    return draft("opening stock", f"O-{of.code}", hours, Taken(gauge(of, lpa), source("opening stock")))


__all__ = [
    "Emptied",
    "Moved",
    "at",
    "difference",
    "draft",
    "found",
    "gauge",
    "gauging",
    "left",
    "loss",
    "opening",
    "quantity",
    "source",
    "vessel",
    "vessel_account",
]
