"""How a site enters a vessel that stands where it is, and the table that turns a dip in it into litres."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from itertools import pairwise
from typing import Final

from django.db.models import Max

from distillery.people.models import Person
from distillery.plant.keeping.measuring import Unkeepable
from distillery.plant.models import MICRO, CalibrationPoint, Kind, Purpose, Stage, Vessel
from distillery.seals.writing import signed

Line = tuple[Decimal, Decimal]
UM_PER_MM: Final = 1000
LEAST_LINES: Final = 2
MOST_MILLIMETRES: Final = 20_000
MOST_LITRES: Final = 1_000_000
LONGEST_CODE, LONGEST_NAME = 40, 80
# What a vessel of a kind can hold; a still holds what is charged into it.
STAGES: Final = {
    Kind.WASHBACK: (Stage.WASH,),
    Kind.STILL: (Stage.WASH, Stage.LOW_WINES, Stage.NEW_SPIRIT, Stage.RECTIFIED),
    Kind.RECEIVER: (Stage.LOW_WINES, Stage.NEW_SPIRIT, Stage.RECTIFIED),
}


@signed("plant")
def add_vessel(
    *,
    code: str,
    name: str,
    kind: Kind,
    stage: Stage,
    purpose: Purpose | None = None,
    capacity_litres: Decimal | None = None,
    lines: Sequence[Line] = (),
    person: Person,
) -> Vessel:
    """A vessel new on the site but no cask, with its table of millimetres and litres where it has one.

    Listed behind all others. Raises Unkeepable.
    """
    code, name = _said("code", code, LONGEST_CODE), _said("name", name, LONGEST_NAME)
    if Vessel.objects.filter(code__iexact=code).exists():
        raise Unkeepable("code", f"There is a vessel {code} already: give this one another code.")
    fitting = STAGES.get(kind)
    if fitting is not None and stage not in fitting:
        raise Unkeepable("stage", f"A {kind.label.lower()} holds {' or '.join(one.label.lower() for one in fitting)}.")
    if purpose is not None and kind != Kind.RECEIVER:
        raise Unkeepable("purpose", f"Only a receiver is kept for {purpose.label.lower()}: leave it open.")
    if capacity_litres is not None and not 0 < capacity_litres <= MOST_LITRES:
        raise Unkeepable("capacity_litres", f"A vessel holds more than 0 and at most {MOST_LITRES:,} L.")
    last = Vessel.objects.aggregate(last=Max("order"))["last"] or 0
    vessel = Vessel(
        code=code,
        name=name,
        kind=kind,
        stage=stage,
        purpose=purpose or "",
        capacity_ul=None if capacity_litres is None else int(capacity_litres * MICRO),
        order=last + 1,
    )
    points = _points(vessel, lines) if lines else []
    vessel.save(force_insert=True)
    CalibrationPoint.objects.bulk_create(points)
    return vessel


@signed("plant")
def add_table(vessel: Vessel, lines: Sequence[Line], *, person: Person) -> int:
    """The table of a vessel that has none yet; gives how many lines it has. Raises Unkeepable."""
    if vessel.kind == Kind.CASK:
        raise Unkeepable("vessel", "A cask is gauged by weight and has no table.")
    if CalibrationPoint.objects.filter(vessel=vessel).exists():
        raise Unkeepable("vessel", f"{vessel.code} has a table already, and gauges stand on it.")
    return len(CalibrationPoint.objects.bulk_create(_points(vessel, lines)))


def _points(vessel: Vessel, lines: Sequence[Line]) -> list[CalibrationPoint]:
    """The lines as they are kept: dips rising, litres never falling, none beyond what the vessel holds."""
    if len(lines) < LEAST_LINES:
        raise Unkeepable("lines", "A table has at least two lines: the dip of the empty vessel, and one when full.")
    for (dip, litres), (next_dip, next_litres) in pairwise(lines):
        if next_dip <= dip:
            raise Unkeepable("lines", f"{next_dip} mm stands after {dip} mm: each line has a greater dip.")
        if next_litres < litres:
            raise Unkeepable("lines", f"{next_litres} L at {next_dip} mm is less than {litres} L below it.")
    dip, litres = lines[-1]
    if lines[0][0] < 0 or lines[0][1] < 0 or dip > MOST_MILLIMETRES or litres > MOST_LITRES:
        raise Unkeepable("lines", f"Dips are 0 to {MOST_MILLIMETRES:,} mm, litres 0 to {MOST_LITRES:,}.")
    if vessel.capacity_ul is not None and litres * MICRO > vessel.capacity_ul:
        held = vessel.capacity_ul / MICRO
        raise Unkeepable("lines", f"{litres} L at {dip} mm is more than {vessel.code} holds, {held:,.0f} L.")
    return [
        CalibrationPoint(vessel=vessel, dip_um=int(one * UM_PER_MM), volume_ul=int(litres * MICRO))
        for one, litres in lines
    ]


def _said(field: str, text: str, longest: int) -> str:
    said = " ".join(text.split())
    if not said or not said.isprintable():
        raise Unkeepable(field, "This is blank: fill it in.")
    if len(said) > longest:
        raise Unkeepable(field, f"'{said[:20]}…' is longer than {longest} characters.")
    return said
