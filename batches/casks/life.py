"""The life story of a cask: every record that names it, in order of time, with what it says of the cask.

What a record did to its alcohol is read from the legs that stand; what else it says, from the record. Pure alcohol in
microlitres at 20 °C.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime

from batches.casks.said import Said, said_of
from batches.models import Mention, Record
from batches.sheets.register import sheet_of
from distillery import figures
from distillery.plant.models import Vessel
from ledger.models import Account, Entry, Gauge, Leg


@dataclass(frozen=True, slots=True)
class Happened:
    """One thing of a cask's life: what record says it, in words, and the pure alcohol that came (or went, below
    nothing) and was gauged; None where it did neither.
    """

    at: datetime
    record: Record
    what: str
    said: str
    came_ul: int | None
    lost_ul: int | None
    gauged_ul: int | None


def life_of(vessel: Vessel) -> list[Happened]:
    """All of it, oldest first; records made void are told as such."""
    named = Mention.objects.filter(what=Mention.What.VESSEL, code=vessel.code).values("record")
    records = list(Record.objects.filter(pk__in=named).order_by("happened_from", "pk"))
    said = {one.record.pk: one for one in said_of([vessel.code])[vessel.code]}
    account = Account.objects.filter(vessel=vessel).first()
    came, lost, gauged = _by_record(account)
    return [
        Happened(
            at=record.happened_from,
            record=record,
            what=sheet_of(record.kind).title,
            said=_words(said.get(record.pk)),
            came_ul=came.get(record.number),
            lost_ul=lost.get(record.number),
            gauged_ul=gauged.get(record.number),
        )
        for record in records
    ]


def _by_record(account: Account | None) -> tuple[dict[str, int], dict[str, int], dict[str, int]]:
    """By number of record: what flowed into the cask or out of it, what was put down as lost or found, what was
    gauged.
    """
    came: dict[str, int] = defaultdict(int)
    lost: dict[str, int] = defaultdict(int)
    if account is None:
        return came, lost, {}
    legs = Leg.objects.standing().filter(account=account)
    for number, entry, pure_ul in legs.values_list("movement__record_number", "entry", "pure_ul"):
        if entry == Entry.FLOW:
            came[number] += pure_ul
        else:
            lost[number] -= pure_ul
    gauges = Gauge.objects.standing().filter(account=account).order_by("happened_at", "position")
    return came, lost, dict(gauges.values_list("movement__record_number", "pure_ul"))


def _words(said: Said | None) -> str:
    """What a record says of the cask besides its alcohol."""
    if said is None:
        return ""
    parts = [said.of.words] if said.of.words else []
    if said.place_said:
        parts.append(f"to {said.place_said}")
    if said.owner:
        parts.append(f"now {said.owner}'s")
    if said.seen:
        parts.append(f"seen {said.seen}")
    sheet = sheet_of(said.record.kind)
    for name in said.of.told:
        if text := said.text(name):
            one = sheet.field(name)
            unit = f" {one.unit}" if one.unit else ""
            parts.append(f"{one.label[:1].lower()}{one.label[1:]}: {text}{unit}")
    return "; ".join(parts)


def alcohol_said(one: Happened) -> str:
    """What a record did to the alcohol of a cask, in words; blank where it did nothing."""
    parts = []
    if one.came_ul:
        parts.append(f"{figures.lpa(abs(one.came_ul))} LPA {'in' if one.came_ul > 0 else 'out'}")
    if one.lost_ul:
        parts.append(f"{figures.lpa(abs(one.lost_ul))} LPA {'lost' if one.lost_ul > 0 else 'found'}")
    if one.gauged_ul is not None:
        parts.append(f"gauged {figures.lpa(one.gauged_ul)} LPA")
    return ", ".join(parts)
