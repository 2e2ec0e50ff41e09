"""What a count comes to beside the book it met, worked out by the sheet that will post it. Nothing is written here.

A vessel is gauged, wash by its gravities; what still ferments is noted, since its alcohol is not in the books. A cask
that is weighed loses what its band makes expected, which is no difference. Bottles are counted lot by lot.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from batches.records.posting import draft_of
from batches.sheets.register import all_sheets
from batches.sheets.sheet import Counted, Problem, Sheet
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import Filled, Unfit, read_sheet
from distillery.clock.reading import books_now, is_ahead, site_day
from distillery.plant.models import Vessel
from distillery.rules.in_force import NoRuleInForce, review_threshold
from distillery.rules.models import ONE
from ledger.posting.accounts import vessel_account
from ledger.posting.drafts import Draft, Moved, Taken
from ledger.posting.post import book_before

# The operations whose review thresholds say how far a count may be from the book before it is counted again.
GAUGING: Final = "gauging"


@dataclass(frozen=True, slots=True)
class Measured:
    """What a count comes to: when, microlitres found (None: only noted), usual evaporation, the book, and whether it
    is further from the book than the site lets pass.
    """

    at: datetime
    pure_ul: int | None
    evaporated_ul: int
    book_ul: int
    apart: bool
    remark: str = ""


def sheet_counting(what: Counted) -> Sheet:
    """The sheet by which counts of this are posted."""
    return next(one for one in all_sheets() if one.counted_by is not None and one.counted_by.what == what)


def boxes_of(sheet: Sheet) -> list[str]:
    """The names of the boxes for the readings of one vessel or cask, in order."""
    by = sheet.counted_by
    assert by is not None
    fields = sheet.row_fields or sheet.fields
    return [one.name for one in fields if one.name not in (by.when, by.item)]


def as_sheet(sheet: Sheet, code: str, typed: Mapping[str, str]) -> tuple[dict[str, str], list[dict[str, str]]]:
    """Fields and lines of the sheet that a count of one vessel or cask fills."""
    by = sheet.counted_by
    assert by is not None
    readings = {name: text for name in boxes_of(sheet) if (text := typed.get(name, "").strip())}
    line = {by.item: code, **readings}
    at = typed.get(by.when, "").strip()
    return ({by.when: at}, [line]) if sheet.rows else ({by.when: at, **line}, [])


def measured(sheet: Sheet, vessel: Vessel, typed: Mapping[str, str], *, now: datetime | None = None) -> Measured:
    """What the readings of one vessel or cask come to. Raises Unfit with all that is wrong, by the name of its box."""
    filled = read_typed(sheet, vessel.code, typed, now=now)
    by = sheet.counted_by
    assert by is not None
    moment = sheet.moments[0]
    at = filled.completed.moment(by.when)
    book_ul = book_before(vessel_account(vessel), at).pure_ul
    draft = draft_of(filled, moment)
    if draft is None:
        remark = " ".join(one.sentence for one in filled.notes)
        return Measured(at, None, 0, book_ul, apart=False, remark=remark)
    found = next(line.gauge.quantity.pure_ul for line in draft.lines if isinstance(line, Taken))
    evaporated = sum(line.quantity.pure_ul for line in draft.lines if isinstance(line, Moved))
    missing = book_ul - evaporated - found
    apart = abs(missing) > lets_pass(draft, vessel.code, book_ul)
    return Measured(at, found, evaporated, book_ul, apart, " ".join(one.sentence for one in filled.notes))


def read_typed(sheet: Sheet, code: str, typed: Mapping[str, str], *, now: datetime | None = None) -> Filled:
    """The sheet as read. Raises Unfit; a time that is still to come is refused too."""
    by, now = sheet.counted_by, now or books_now()
    assert by is not None
    filled = read_sheet(sheet, *as_sheet(sheet, code, typed), site=Site(), day=site_day(now), now=now).require()
    refuse_ahead(by.when, filled.completed.moment(by.when), now)
    return filled


def refuse_ahead(field: str, at: datetime, now: datetime) -> None:
    """Raises Unfit for a time that is still to come."""
    if is_ahead(at, now):
        raise Unfit([Problem(field, None, "That time is still to come; write when it was counted.")])


def lets_pass(draft: Draft, vessel: str, book_ul: int) -> int:
    """How far a count may be from the book before it is made again, microlitres: the site's review threshold for
    gauging, or of the operation itself where it has one; nothing where the site has none.
    """
    on = site_day(draft.happened_at)
    for operation in (draft.operation, GAUGING):
        try:
            rule = review_threshold(operation, vessel, on)
        except NoRuleInForce:
            continue
        return max(rule.floor_ul, abs(book_ul) * rule.threshold_millionths // ONE)
    return 0
