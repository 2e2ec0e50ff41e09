"""The end of a stock take: one says that all is counted, another, who sees book and difference, agrees and posts it.

Every vessel becomes a line of a stock take's record of the minute in which it was dipped, so that its gauge stands
where it belongs however long counting took; a cask that was weighed becomes a regauge; bottles that are missing or over
become a count of bottled stock with its reason. All of it is posted in one piece of writing with both names, or none.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Final

from django.utils import timezone

from batches.counting.counting import refuse_ended
from batches.counting.measuring import as_sheet, sheet_counting
from batches.counting.models import Count, Ending, Ready, StockTake
from batches.counting.standing import Standing, last_counts, named, standing_of, what_is_left
from batches.handover.noting import filled, refuse_reader
from batches.hands import Hands
from batches.models import Record
from batches.records.recording import save
from batches.sheets.sheet import Counted, Problem, Sheet
from batches.sheets.typed.read_sheet import Unfit
from distillery import figures
from distillery.database.retrying import retried
from distillery.people.models import Person
from distillery.seals.writing import signed
from distillery.signed import Shown, digest_of, refuse_moved
from ledger.enquiries.following import followed
from ledger.posting.turns import turn

LONGEST_REASON: Final = 1_000
MOVED_ON: Final = "Something was counted since your page was opened, so nothing was signed. Read it again."


def shown_of(take: StockTake, stands: Standing | None = None) -> Shown:
    """What two people put their names to: what was counted in each place, and every difference from the book.

    `stands` is how the stock take stands now, where the caller has read it.
    """
    stands = stands or standing_of(take)
    sums = stands.sums
    shown = {
        "Stock take": f"{take.number} of {figures.day(take.day, year=True)}",
        "Planned by": take.person.shown_name,
        "Missing, LPA": figures.lpa(sums.missing_ul, 4),
        "Over, LPA": figures.lpa(sums.over_ul, 4),
        # Counts are only ever added, so the number of the last one says which of them are meant.
        "Counts up to": str(sums.last),
    }
    shown |= {f"{how.capitalize()}": figures.count(number) for how, number in sorted(sums.by_how.items())}
    shown |= {f"In {one.name}": f"{figures.count(one.counted)} of {figures.count(one.of)}" for one in stands.places}
    for one in stands.apart:
        apart = one.missing_ul
        said = "not found" if apart is None else figures.difference_said(apart, 4)
        why = one.reason.text if hasattr(one, "reason") else one.remark
        shown[named(one)] = f"{said}; {why}" if why else said
    return shown


@retried
@signed("stock take")
def say_ready(take: StockTake, *, person: Person) -> Ready:
    """Says that all is counted. Raises Unfit with what is left, Busy."""
    refuse_reader(person)
    refuse_ended(take)
    if left := what_is_left(take):
        raise Unfit([Problem("", None, sentence) for sentence in left])
    digest = digest_of(shown_of(take))
    there = ready_of(take)
    if there is not None and there.digest == digest:
        return there
    return Ready.objects.create(take=take, person=person, at=timezone.now(), digest=digest)


def ready_of(take: StockTake) -> Ready | None:
    """Who said last that all is counted; None where nobody did."""
    return Ready.objects.filter(take=take).select_related("person").order_by("-pk").first()


@followed
@retried
def agree(take: StockTake, *, second: Person, seen: str | None) -> Ending:
    """Puts a second name under a stock take and posts it, or nothing of it. Raises Unfit, signed.MovedOn, Busy."""
    refuse_reader(second)
    with turn(second, "stock take"):
        refuse_ended(take)
        now_shown = shown_of(take)
        refuse_moved(seen, now_shown, MOVED_ON)
        ready = ready_of(take)
        if ready is None or ready.digest != digest_of(now_shown):
            raise Unfit([Problem("", None, "Nobody has said of these counts that all is counted; say that first.")])
        if ready.person == second:
            said = f"{second.shown_name} said that all is counted; somebody else has to agree."
            raise Unfit([Problem("", None, said)])
        posted = [*_vessels(take, ready.person, second), *_casks(take, ready.person, second)]
        posted += _bottles(take, ready.person, second)
        return Ending.objects.create(
            take=take,
            how=Ending.How.POSTED,
            person=ready.person,
            second=second,
            at=timezone.now(),
            digest=ready.digest,
            records=json.dumps([[one.kind, one.number] for one in posted]),
        )


@retried
@signed("stock take")
def give_up(take: StockTake, reason: str, *, person: Person) -> Ending:
    """Ends a stock take without posting anything, with the reason. Raises Unfit, Busy."""
    refuse_reader(person)
    refuse_ended(take)
    why = filled("reason", reason, "Why", LONGEST_REASON)
    return Ending.objects.create(take=take, how=Ending.How.GIVEN_UP, person=person, at=timezone.now(), reason=why)


def _vessels(take: StockTake, person: Person, second: Person) -> Iterable[Record]:
    sheet = sheet_counting(Counted.VESSEL)
    by_minute: dict[str, list[Count]] = defaultdict(list)
    counts = last_counts(take).filter(what=Count.What.VESSEL).select_related("vessel", "person")
    for one in counts.order_by("at", "vessel__order", "vessel__code"):
        by_minute[_at(sheet, one.readings)].append(one)
    for same in by_minute.values():
        lines: list[dict[str, str]] = []
        values: Mapping[str, str] = {}
        for one in same:
            assert one.vessel is not None
            values, rows = as_sheet(sheet, one.vessel.code, one.readings)
            lines += rows
        yield _save(sheet, values, lines, same, person, second)


def _casks(take: StockTake, person: Person, second: Person) -> Iterable[Record]:
    sheet = sheet_counting(Counted.CASK)
    weighed = last_counts(take).filter(what=Count.What.CASK, how=Count.How.WEIGHED).select_related("vessel", "person")
    for one in weighed.order_by("at", "pk"):
        assert one.vessel is not None
        values, rows = as_sheet(sheet, one.vessel.code, one.readings)
        yield _save(sheet, values, rows, [one], person, second)


def _bottles(take: StockTake, person: Person, second: Person) -> Iterable[Record]:
    sheet = sheet_counting(Counted.BOTTLES)
    by = sheet.counted_by
    assert by is not None
    counts = last_counts(take).filter(what=Count.What.BOTTLES, apart=True).select_related("stock", "person", "reason")
    for one in counts.order_by("at", "pk"):
        assert one.stock is not None
        product, size, strength = one.stock.code.removeprefix("stock:").rsplit("/", 2)
        values = {
            by.when: one.readings["at"],
            "product": product,
            "bottle_centilitres": size,
            "label_percent": strength,
            "lot_code": one.lot,
            by.item: str(one.bottles),
            "reason": f"{take.number}: {one.reason.text}"[:200],
        }
        yield _save(sheet, values, (), [one], person, second)


def _save(
    sheet: Sheet,
    values: Mapping[str, str],
    rows: Iterable[Mapping[str, str]],
    counts: list[Count],
    person: Person,
    second: Person,
) -> Record:
    """One record in both names, read by whoever counted, where that was one and somebody else. Raises Unfit, which
    names the thing that cannot be posted.
    """
    counted_by = {one.person.username for one in counts} - {person.username}
    hands = Hands(read_by=next(iter(counted_by)) if len(counted_by) == 1 else "")
    try:
        return save(sheet.kind, None, values, list(rows), person=person, second=second, sure=True, hands=hands)
    except Unfit as unfit:
        which = ", ".join(named(one) for one in counts)
        raise Unfit([Problem("", None, f"{which}: {one.sentence}") for one in unfit.problems]) from unfit


def _at(sheet: Sheet, readings: Mapping[str, str]) -> str:
    by = sheet.counted_by
    assert by is not None
    return readings[by.when]
