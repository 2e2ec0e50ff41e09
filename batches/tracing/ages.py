"""How old what a vessel holds is, or what a record took: worked out from links, in this one place.

A link says which record gave, by way of which vessel, and when it was taken; so much time it stood there. Followed back
to what was distilled, whose age is nothing, or to a record with nothing before it, of which no more is known. One step
back for all records together is one question.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from batches.models import Link, Record, State
from batches.sheets.register import sheet_of
from batches.tracing.links import UNKNOWN, contents_at, contents_before
from distillery.plant.models import MICRO, Cask, Vessel
from distillery.plant.models import Kind as VesselKind
from distillery.process.ageing import NO_TIME, Age, after_stay, youngest
from ledger.models import Account

# Vessels between a still and a bottle; what is further back is taken for as young as can be.
MOST_STEPS = 12
_OF_A_RECORD = ("kind", "number", "happened_from", "happened_to")
_OF_A_CASK = ("account__vessel__kind", "account__vessel__cask__nominal_ul", "account__vessel__cask__wood")


def youngest_in_vessel(vessel: Vessel, at: datetime, *, most_litres: float) -> Age | None:
    """The age of what a vessel held just before a moment; None where it held nothing, or nobody knows what.

    `most_litres` is the largest cask in which time counts.
    """
    givers = _givers(vessel, at)
    if not givers or UNKNOWN in givers:
        return None
    return youngest(_Ages(givers, most_litres).after(_taken_from(vessel, giver, at)) for giver in givers)


def youngest_in_vessels(vessels: Iterable[Vessel], at: datetime, *, most_litres: float) -> dict[int, Age]:
    """The same of several vessels by their keys, those left out of which it is None. The way back is read once."""
    by_key = {one.pk: one for one in vessels}
    givers = {key: _givers(one, at) for key, one in by_key.items()}
    known = {key: each for key, each in givers.items() if each and UNKNOWN not in each}
    ages = _Ages({giver for each in known.values() for giver in each}, most_litres)
    found = {
        key: youngest(ages.after(_taken_from(by_key[key], giver, at)) for giver in each) for key, each in known.items()
    }
    return {key: age for key, age in found.items() if age is not None}


def youngest_in_casks(
    casks: Iterable[Cask], at: datetime, *, most_litres: float, accounts: Mapping[int, int] | None = None
) -> dict[int, Age]:
    """The same of many casks, with their vessels, by their keys; those of which nothing is known are left out. As many
    questions as for one; one less where their accounts are given, each with its vessel, by their keys.
    """
    vessels = {one.pk: one.vessel for one in casks}
    if accounts is None:
        accounts = dict(Account.objects.filter(vessel__in=vessels).values_list("pk", "vessel_id"))
    held = {accounts[pk]: one.by_giver() for pk, one in contents_before(list(accounts), at).items()}
    givers = {key: [giver for giver, pure_ul in each.items() if pure_ul > 0] for key, each in held.items()}
    known = {key: each for key, each in givers.items() if each and UNKNOWN not in each and key is not None}
    ages = _Ages({giver for each in known.values() for giver in each}, most_litres)
    found = {
        key: youngest(ages.after(_taken_from(vessels[key], giver, at)) for giver in each) for key, each in known.items()
    }
    return {key: age for key, age in found.items() if age is not None}


def holds_anything(vessel: Vessel, at: datetime) -> bool:
    """True where a vessel held something just before a moment."""
    return bool(_givers(vessel, at))


def _givers(vessel: Vessel, at: datetime) -> list[int]:
    account = Account.objects.filter(vessel=vessel).first()
    held = contents_at(account.pk, at) if account is not None else {}
    return [giver for giver, pure_ul in held.items() if pure_ul > 0]


def _taken_from(vessel: Vessel, giver: int, at: datetime) -> _Taken:
    is_cask = vessel.kind == VesselKind.CASK
    return _Taken(giver, at, *_of_cask(vessel.kind, *((vessel.cask.nominal_ul, vessel.cask.wood) if is_cask else ())))


def youngest_of_record(number: str, *, most_litres: float) -> Age | None:
    """The age of what a record took, as it took it; None for one that took nothing or is void."""
    record = Record.objects.filter(number=number).exclude(state=State.VOID).first()
    if record is None:
        return None
    ages = _Ages([record.pk], most_litres)
    return ages.taken_by(record.pk)


@dataclass(frozen=True, slots=True)
class _Taken:
    """What one record took of another: when, and the size and wood of the cask it stood in until then."""

    giver: int
    at: datetime
    litres: float | None
    wood: str


@dataclass(slots=True)
class _Known:
    """A record on the way back: its number, when it gave, and whether it is distilled there."""

    number: str
    ended: datetime
    distilled: bool


@dataclass(slots=True)
class _Back:
    """All records on the way back, and what each took."""

    known: dict[int, _Known] = field(default_factory=dict)
    taken: dict[int, list[_Taken]] = field(default_factory=lambda: defaultdict(list))

    def know(self, pk: int, kind: str, number: str, began: datetime, ended: datetime | None) -> None:
        """Adds a record by its key."""
        self.known[pk] = _Known(number, ended or began, sheet_of(kind).distils is not None)


class _Ages:
    """Reads the way back of some records once, one step for all at a time."""

    def __init__(self, records: Iterable[int], most_litres: float) -> None:
        self._most_litres = most_litres
        self._back = _read(records)
        self._found: dict[int, Age | None] = {}

    def after(self, taken: _Taken) -> Age:
        """The age of what a record gave, by the time it was taken."""
        giver = self._back.known[taken.giver]
        return after_stay(
            self.of(taken.giver),
            giver.ended,
            taken.at,
            litres=taken.litres,
            most_litres=self._most_litres,
            by=giver.number,
            wood=taken.wood,
        )

    def of(self, record: int) -> Age:
        """The age of what a record gives, as it gives it."""
        known = self._back.known[record]
        if known.distilled:
            return Age(NO_TIME, known.number)
        return self.taken_by(record) or Age(NO_TIME, known.number, or_more=True)

    def taken_by(self, record: int) -> Age | None:
        """The age of what a record took."""
        if record in self._found:
            return self._found[record]
        # Spirit that goes round meets itself: there it says nothing more.
        self._found[record] = None
        found = youngest(self.after(one) for one in self._back.taken.get(record, ()))
        self._found[record] = found
        return found


def _read(records: Iterable[int]) -> _Back:
    back = _Back()
    for pk, *of_it in Record.objects.filter(pk__in=list(records)).values_list("pk", *_OF_A_RECORD):
        back.know(pk, *of_it)
    asked = {pk for pk, one in back.known.items() if not one.distilled}
    for _ in range(MOST_STEPS):
        if not asked:
            break
        links = Link.objects.filter(taker__in=asked, account__isnull=False, pure_ul__gt=0).values_list(
            "taker_id", "giver_id", "happened_at", *(f"giver__{field}" for field in _OF_A_RECORD), *_OF_A_CASK
        )
        fresh = set()
        for taker, giver, at, kind, number, began, ended, *cask in links:
            back.taken[taker].append(_Taken(giver, at, *_of_cask(*cask)))
            if giver not in back.known:
                back.know(giver, kind, number, began, ended)
                fresh.add(giver)
        asked = {pk for pk in fresh if not back.known[pk].distilled}
    for pk in asked:
        # Too far back to be looked at: as young as it can be.
        back.known[pk].distilled = True
    return back


def _of_cask(kind: str | None, nominal_ul: int | None = None, wood: str | None = None) -> tuple[float | None, str]:
    """Litres of a cask and its wood; None and blank for what is none."""
    if kind != VesselKind.CASK or nominal_ul is None:
        return None, ""
    return nominal_ul / MICRO, wood or ""
