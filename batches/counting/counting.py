"""Writing down what was counted: vessels gauged, casks seen or weighed, bottles counted, and why something is apart.

A count stays as it was written. Counted again, the new count replaces it, and the first remains beside it; a reason is
taken only where a second count was apart too. A stock take that has ended takes no more.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any, Final

from django.utils import timezone

from batches.counting.measuring import measured, refuse_ahead, sheet_counting
from batches.counting.models import Count, Reason, StockTake
from batches.counting.walking import Counts, counts_of, counts_of_lots, lots_of, rows_of
from batches.handover.noting import filled, refuse_reader
from batches.hands import ALONE, OF_A_COUNT, Hands
from batches.sheets.sheet import Counted, Problem
from batches.sheets.site import Site
from batches.sheets.typed.moments import NOW, Unreadable, read_moment
from batches.sheets.typed.read_sheet import Unfit
from batches.tracing.bottled_lots import bottled_lots
from distillery import figures
from distillery.clock.reading import books_now, site_day
from distillery.database.retrying import retried
from distillery.labels.scanned import Unscannable, number_of
from distillery.people.models import Person
from distillery.plant.models import Cask, Vessel
from distillery.seals.writing import signed
from ledger.models import Account
from ledger.posting.accounts import vessel_account
from ledger.posting.post import book_before

LONGEST_REASON: Final = 1_000
MOST_BOTTLES: Final = 10_000_000
# Casks that are ticked together on one page.
MOST_AT_ONCE: Final = 500


@retried
@signed("stock take")
def count_vessel(
    take: StockTake,
    code: str,
    typed: Mapping[str, str],
    *,
    seen: int | None = None,
    person: Person,
    hands: Hands = ALONE,
) -> Count:
    """Keeps the gauge of a vessel. Raises Unfit by the names of the boxes, Busy."""
    refuse_reader(person)
    refuse_ended(take)
    if code not in take.planned["vessels"]:
        raise Unfit([Problem("", None, f"{take.number} does not count {code}.")])
    return _measured(take, Counted.VESSEL, code, "", typed, seen=seen, person=person, hands=hands)


@retried
@signed("stock take")
def weigh_cask(
    take: StockTake,
    code: str,
    typed: Mapping[str, str],
    *,
    place: str,
    seen: int | None = None,
    person: Person,
    hands: Hands = ALONE,
) -> Count:
    """Keeps the weight and strength of a cask. Raises Unfit by the names of the boxes, Busy."""
    refuse_reader(person)
    refuse_ended(take)
    cask = _cask(take, place, code)
    return _measured(take, Counted.CASK, cask.vessel.code, place, typed, seen=seen, person=person, hands=hands)


def _measured(
    take: StockTake,
    what: Counted,
    code: str,
    place: str,
    typed: Mapping[str, str],
    *,
    seen: int | None,
    person: Person,
    hands: Hands,
) -> Count:
    sheet = sheet_counting(what)
    vessel = Vessel.objects.get(code=code)
    came = measured(sheet, vessel, typed)
    kept = {name: text.strip() for name, text in typed.items() if text.strip()}
    by = sheet.counted_by
    assert by is not None
    kept[by.when] = _as_typed(came.at)
    how = Count.How.GAUGED if what == Counted.VESSEL else Count.How.WEIGHED
    return _keep(
        take,
        counts_of(take, [vessel.pk]).get(vessel.pk),
        seen,
        person=person,
        hands=hands,
        what=what.value,
        how=Count.How.NOTED if came.pure_ul is None else how,
        vessel=vessel,
        place=place,
        at=came.at,
        typed=json.dumps(kept, ensure_ascii=True, sort_keys=True),
        pure_ul=came.pure_ul,
        evaporated_ul=came.evaporated_ul,
        book_ul=came.book_ul,
        apart=came.apart,
        remark=came.remark,
    )


@retried
@signed("stock take")
def count_bottles(
    take: StockTake,
    stock: Account,
    lot: str,
    typed: Mapping[str, str],
    *,
    seen: int | None = None,
    person: Person,
    hands: Hands = ALONE,
) -> Count:
    """Keeps how many bottles of a lot were found: `bottles` and `at` as typed. Raises Unfit, Busy."""
    refuse_reader(person)
    refuse_ended(take)
    known = {(one.stock.pk, one.lot.casefold()): one for one in lots_of(take)}
    line = known.get((stock.pk, lot.casefold()))
    if line is None:
        raise Unfit([Problem("", None, f"{take.number} does not count {stock.name}, lot {lot or 'not known'}.")])
    at = _moment(typed.get("at", ""))
    found = _whole("bottles", typed.get("bottles", ""), "Bottles")
    one = stock.bottle_pure_ul or 0
    # The book as it stood then: what moved between the count and its writing is no difference.
    lots = bottled_lots([stock], until=at)
    book = sum(each.held for each in lots if each.lot.casefold() == line.lot.casefold())
    return _keep(
        take,
        counts_of_lots(take).get((stock.pk, line.lot.casefold())),
        seen,
        person=person,
        hands=hands,
        what=Count.What.BOTTLES,
        how=Count.How.COUNTED,
        stock=stock,
        lot=line.lot,
        place=stock.name[:200],
        at=at,
        typed=json.dumps({"at": _as_typed(at), "bottles": str(found)}, ensure_ascii=True, sort_keys=True),
        bottles=found,
        book_bottles=book,
        pure_ul=found * one,
        book_ul=book * one,
        apart=found != book,
    )


@retried
@signed("stock take")
def see_casks(
    take: StockTake, place: str, codes: Iterable[str], *, person: Person, at: str = NOW, hands: Hands = ALONE
) -> list[Count]:
    """Keeps that these casks were seen in a warehouse, by number, at a time as typed. Raises Unfit for one that is not
    here, Busy.
    """
    refuse_reader(person)
    refuse_ended(take)
    seen_at = _moment(at)
    casks = [_cask(take, place, code) for code in dict.fromkeys(codes)][:MOST_AT_ONCE]
    there = counts_of(take, [one.pk for one in casks])
    found = []
    for cask in casks:
        before = there.get(cask.pk)
        if before is not None and before.last.how in (Count.How.SEEN, Count.How.WEIGHED):
            found.append(before.last)
            continue
        remark = ""
        if cask.warehouse != place:
            remark = f"By the books it lies in {cask.place or 'no warehouse'}."
        found.append(
            _keep(
                take,
                before,
                person=person,
                hands=hands,
                what=Count.What.CASK,
                how=Count.How.SEEN,
                vessel=cask.vessel,
                place=place,
                at=seen_at,
                book_ul=book_before(vessel_account(cask.vessel), seen_at).pure_ul,
                remark=remark,
            )
        )
    return found


@retried
@signed("stock take")
def not_found(take: StockTake, place: str, code: str, reason: str, *, person: Person, hands: Hands = ALONE) -> Count:
    """Keeps that a cask is not where the books have it, and what was done to find it. Raises Unfit, Busy."""
    refuse_reader(person)
    refuse_ended(take)
    why = filled("reason", reason, "What was done to find it", LONGEST_REASON)
    cask, at = _cask(take, place, code), books_now()
    before = counts_of(take, [cask.pk]).get(cask.pk)
    return _keep(
        take,
        before,
        person=person,
        hands=hands,
        what=Count.What.CASK,
        how=Count.How.NOT_FOUND,
        vessel=cask.vessel,
        place=place,
        at=at,
        book_ul=book_before(vessel_account(cask.vessel), at).pure_ul,
        remark=why,
    )


@retried
@signed("stock take")
def give_reason(take: StockTake, count: Count, text: str, *, person: Person) -> Reason:
    """Keeps why a count is apart from the book. Raises Unfit where it has to be counted again first, Busy."""
    refuse_reader(person)
    refuse_ended(take)
    if count.take_id != take.pk or Count.objects.filter(replaces=count).exists() or not count.apart:
        raise Unfit([Problem("", None, "That count is no longer the last one, or agrees with the book.")])
    if count.measured_first is None:
        raise Unfit([Problem("", None, "It was counted once; count it again before a reason is given.")])
    if Reason.objects.filter(count=count).exists():
        raise Unfit([Problem("", None, "A reason is written already.")])
    said = filled("reason", text, "Reason", LONGEST_REASON)
    return Reason.objects.create(count=count, text=said, person=person, at=timezone.now())


def refuse_ended(take: StockTake) -> None:
    """Raises Unfit where a stock take has ended."""
    if StockTake.objects.filter(pk=take.pk, ending__isnull=False).exists():
        raise Unfit([Problem("", None, f"{take.number} has ended; nothing more is counted in it.")])


def _keep(
    take: StockTake, before: Counts | None, seen: int | None = None, *, person: Person, hands: Hands, **columns: Any
) -> Count:
    """Writes a count in place of the one before it. `seen` is how often the thing was counted when the page was opened:
    where it was counted since, the same sent twice is one count, and anything else is refused.
    """
    last = before.last if before is not None else None
    there = last.serial if last is not None else 0
    made = Count(
        take=take,
        replaces=last,
        serial=there + 1,
        written_at=timezone.now(),
        person=person,
        **columns,
        **hands.columns(OF_A_COUNT),
    )
    if seen is not None and seen != there and last is not None:
        same = ("how", "typed", "bottles", "remark", "person_id")
        if all(getattr(last, name) == getattr(made, name) for name in same):
            return last
        said = f"{last.person.shown_name} counted it at {figures.clock(last.written_at)}, after your page was opened."
        raise Unfit([Problem("", None, f"{said} Yours was not kept; look at that count first.")])
    made.save(force_insert=True)
    return made


def _cask(take: StockTake, place: str, typed: str) -> Cask:
    """The cask of a number as typed or scanned, at a place of the plan. Raises Unfit, with the box it hangs on."""
    try:
        rows_of(take, place)
    except LookupError as error:
        raise Unfit([Problem("", None, str(error))]) from error
    try:
        number = number_of(typed)
    except Unscannable as refused:
        raise Unfit([Problem("cask", None, str(refused))]) from refused
    if not number:
        raise Unfit([Problem("cask", None, "The number is blank; scan or type the number on the cask.")])
    vessel = Site().vessel_meant(number[:60])
    cask = Cask.objects.filter(vessel=vessel).select_related("vessel").first() if vessel is not None else None
    if cask is None:
        said = f"There is no cask {number[:60]}; look at its head again, and type its number."
        raise Unfit([Problem("cask", None, said)])
    if not book_before(vessel_account(cask.vessel), books_now()).pure_ul:
        said = (
            f"Cask {cask.vessel.code} is empty by the books, so it is not counted. If it holds spirit, tell a manager."
        )
        raise Unfit([Problem("cask", None, said)])
    return cask


def _moment(typed: str) -> datetime:
    field = sheet_counting(Counted.BOTTLES)
    by, now = field.counted_by, books_now()
    assert by is not None
    if not typed.strip():
        raise Unfit([Problem("at", None, "Counted at is blank; write when it was counted.")])
    try:
        at = read_moment(field.field(by.when), typed.strip(), day=site_day(now), now=now)[0]
    except Unreadable as error:
        raise Unfit([Problem("at", None, str(error))]) from error
    refuse_ahead("at", at, now)
    return at


def _as_typed(at: datetime) -> str:
    """A moment as every sheet takes it: 2027-03-31T16:00, on the site's clock."""
    return timezone.localtime(at).strftime("%Y-%m-%dT%H:%M%z")


def _whole(name: str, typed: str, label: str) -> int:
    text = typed.replace(",", "").replace(" ", "").strip()
    if not text:
        raise Unfit([Problem(name, None, f"{label} is blank; write how many were found, 0 for none.")])
    if not (text.isascii() and text.isdigit() and int(text[:9]) <= MOST_BOTTLES and len(text) <= 8):
        said = f"{label} is '{typed[:20]}'; write a whole number up to {figures.count(MOST_BOTTLES)}."
        raise Unfit([Problem(name, None, said)])
    return int(text)
