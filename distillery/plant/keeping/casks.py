"""How casks come onto the site, and what is noted of each: what it is, a fill, and where the records of it leave it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from datetime import date, datetime

from distillery.plant.keeping.measuring import Unkeepable
from distillery.plant.models import Cask, Vessel
from distillery.seals.writing import signed
from distillery.years import is_of_a_site

LISTED = ("warehouse", "row", "tier", "owner")


@dataclass(frozen=True, slots=True)
class CaskStands:
    """Where a cask lies, whose it is, and since when it is known to leak, as its records leave it.

    None where no record says anything of it: what the plant's list has stands.
    """

    warehouse: str | None = None
    row: str | None = None
    tier: str | None = None
    owner: str | None = None
    seen_leaking_at: datetime | None = None


@signed("plant")
def add_casks(casks: Iterable[Cask]) -> int:
    """Casks new on the site, each with its vessel, neither saved yet; gives how many."""
    fresh = list(casks)
    Vessel.objects.bulk_create(cask.vessel for cask in fresh)
    for cask in fresh:
        # The vessel has its key only now.
        cask.vessel = cask.vessel
        for name in LISTED:
            setattr(cask, f"listed_{name}", getattr(cask, name))
    return len(Cask.objects.bulk_create(fresh))


# Part of a record, which is signed in its own name.
@signed("")
def note_fill(
    cask: Cask,
    *,
    tare_g: int | None,
    filled_at: datetime,
    fill_number: int | None = None,
    warehouse: str | None = None,
) -> None:
    """The cask's own entry when it is filled: tare in grams, since when it is full, and what else was written.

    The day of first warehousing of what it held before goes: what was filled here was warehoused as it was filled.
    """
    cask.tare_g, cask.filled_at, cask.first_warehoused_on = tare_g, filled_at, None
    if fill_number is not None:
        cask.fill_number = fill_number
    if warehouse is not None:
        cask.warehouse = warehouse
    cask.save(update_fields=["tare_g", "filled_at", "first_warehoused_on", "fill_number", "warehouse"])


# Part of a record, which is signed in its own name.
@signed("")
def note_standing(stands: Mapping[str, CaskStands]) -> None:
    """Brings casks, by number, to where their records leave them; rows that say so already are not touched."""
    for cask in Cask.objects.filter(vessel__code__in=stands).select_related("vessel"):
        said = stands[cask.vessel.code]
        changed = []
        for one in fields(CaskStands):
            now = getattr(said, one.name)
            if now is None and one.name in LISTED:
                now = getattr(cask, f"listed_{one.name}")
            if getattr(cask, one.name) != now:
                setattr(cask, one.name, now)
                changed.append(one.name)
        if changed:
            cask.save(update_fields=changed)


@signed("plant")
def note_cask(
    cask: Cask,
    *,
    wood: str,
    owner: str,
    head_number: str,
    head_year: int | None,
    head_distillery: str,
    first_warehoused_on: date | None,
    today: date,
) -> None:
    """What the plant's list says of a cask; the trail keeps what it said before. Raises Unkeepable.

    `owner` is whose it is where no record of a change of owner says otherwise.
    """
    if head_year is not None and not (is_of_a_site(head_year) and head_year <= today.year):
        raise Unkeepable("head_year", f"{head_year} cannot be a year in which this cask was filled.")
    if first_warehoused_on is not None and first_warehoused_on > today:
        raise Unkeepable("first_warehoused_on", "That day is later than today by the books' clock.")
    if cask.owner == cask.listed_owner:
        cask.owner = owner
    cask.wood, cask.listed_owner = wood, owner
    cask.head_number, cask.head_year, cask.head_distillery = head_number, head_year, head_distillery
    cask.first_warehoused_on = first_warehoused_on
    cask.save(
        update_fields=[
            *("wood", "owner", "listed_owner", "head_number", "head_year", "head_distillery", "first_warehoused_on"),
        ]
    )
