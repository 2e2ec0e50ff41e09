"""How vessels and casks come onto the site, and what is noted of them: their tables, what they are kept for, a fill."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db.models import Max

from distillery.plant.models import CalibrationPoint, Cask, Kind, Purpose, Stage, Vessel
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


@signed("plant")
def add_casks(casks: Iterable[Cask]) -> int:
    """Casks new on the site, each with its vessel, neither saved yet; gives how many."""
    fresh = list(casks)
    Vessel.objects.bulk_create(cask.vessel for cask in fresh)
    for cask in fresh:
        # The vessel has its key only now.
        cask.vessel = cask.vessel
    return len(Cask.objects.bulk_create(fresh))


# Part of a record, which is signed in its own name.
@signed("")
def note_fill(
    cask: Cask, *, tare_g: int, filled_at: datetime, fill_number: int | None = None, warehouse: str | None = None
) -> None:
    """The cask's own entry when it is filled: tare in grams, since when it is full, and what else was written."""
    cask.tare_g, cask.filled_at = tare_g, filled_at
    if fill_number is not None:
        cask.fill_number = fill_number
    if warehouse is not None:
        cask.warehouse = warehouse
    cask.save(update_fields=["tare_g", "filled_at", "fill_number", "warehouse"])


# Part of a record, which is signed in its own name.
@signed("")
def note_place(cask: Cask, warehouse: str) -> None:
    """Where a cask lies."""
    cask.warehouse = warehouse
    cask.save(update_fields=["warehouse"])
