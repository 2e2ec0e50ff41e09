"""How vessels come onto the site, and what is noted of them: their tables, what they are kept for."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import Max

from distillery.plant.models import CalibrationPoint, Kind, Purpose, Stage, Vessel
from distillery.seals.writing import signed


@signed("plant")
def add_vessels(vessels: Iterable[Vessel]) -> int:
    """Vessels new on the site, none of whose codes is there yet; gives how many."""
    return len(Vessel.objects.bulk_create(vessels))


@signed("plant")
def add_still(*, code: str, name: str, stage: Stage) -> Vessel:
    """A still new on the site, listed behind all other vessels."""
    last = Vessel.objects.aggregate(last=Max("order"))["last"] or 0
    return Vessel.objects.create(code=code, name=name, kind=Kind.STILL, stage=stage, order=last + 1)


@signed("plant")
def add_tables(points: Iterable[CalibrationPoint]) -> int:
    """Lines of vessels' tables, micrometres of dip to microlitres; gives how many."""
    return len(CalibrationPoint.objects.bulk_create(points))


@signed("plant")
def keep_for(vessel: Vessel, purpose: Purpose) -> None:
    """Notes what a vessel is kept for, so that a record finds it without being told."""
    vessel.purpose = purpose
    vessel.save(update_fields=["purpose"])
