"""Records whose figures were worked out from another one, and that are posted anew when it changes.

A wash run takes the strength of its charge from its fermentation's gravities. A regauge parts what a cask has lost by
the book it met, a count of bottles finds what that book lacks. A fermentation is compared with its mash and its last
logged gravity. What each of them handed to the ledger is noted before the change and compared with what it comes to
afterwards.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import reduce
from operator import or_

from django.db.models import Q

from batches.models import Mention, Record, State
from batches.records import versions
from batches.records.posting import differs, drafts_of, repost, standing_of
from batches.sheets.sheet import Counted, Sheet
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import Filled, read_sheet
from batches.standing import version_in_books
from batches.steps import STEPS, sheet_of
from distillery.people.models import Person
from distillery.plant.models import Kind as VesselKind
from distillery.plant.models import Vessel
from ledger.posting.drafts import Draft

Typed = dict[str, str]


@dataclass(frozen=True, slots=True)
class Affected:
    """A record that may have to be posted anew, and what it handed to the ledger before the change."""

    record: Record
    was: Mapping[str, Draft]


def of_correction(
    sheet: Sheet, record: Record, old: tuple[Typed, list[Typed]], new: Filled, *, site: Site
) -> list[Affected]:
    """Records that name this one for their figures, and later ones that read the book of a cask it touches."""
    named = Record.objects.none()
    for other in STEPS:
        for one in other.fields:
            if one.figures_from and one.record_kind == sheet.kind:
                named = named | Record.objects.filter(
                    kind=other.kind,
                    mentions__field=one.name,
                    mentions__what=Mention.What.RECORD,
                    mentions__code=record.number,
                )
    casks = _casks(new) | {
        vessel.code
        for typed in (old[0], *old[1])
        for text in typed.values()
        if (vessel := site.vessel(text)) is not None and vessel.kind == VesselKind.CASK
    }
    earliest = min(record.happened_from, new.completed.moment(sheet.moments[0].when))
    washes = _gauging_wash(sheet, record, (old[0], new.typed), earliest, site=site)
    counts = _counting_bottles(sheet, record, (old[0], new.typed), earliest)
    return _taken_down([*named.distinct(), *_reading_books(casks, earliest, record), *washes, *counts], site=site)


def of_late_entry(sheet: Sheet, filled: Filled, record: Record, *, site: Site) -> list[Affected]:
    """Later records that read the book of a cask which this new entry touches, or gauged the wash it declares."""
    casks, earliest = _casks(filled), filled.completed.moment(sheet.moments[0].when)
    found = _gauging_wash(sheet, record, (filled.typed,), earliest, site=site)
    found += _counting_bottles(sheet, record, (filled.typed,), earliest)
    if casks:
        found += _reading_books(casks, earliest, record)
    return _taken_down(found, site=site)


def of_reading(record: Record, *, site: Site) -> list[Affected]:
    """The record of a reading itself, where something of it is in the books: a figure may hang on the reading."""
    return _taken_down([record], site=site)


def post_anew(
    affected: Iterable[Affected], *, because: Record, person: Person, reason: str, written_at: datetime
) -> None:
    """Posts anew each record whose draft has changed, in order of time, with a version that says why."""
    why = f"Worked out from {because.number}" + (f", which was put right: {reason}" if reason else "")
    for one in sorted(affected, key=lambda one: (one.record.happened_from, one.record.pk)):
        sheet = sheet_of(one.record.kind)
        base = version_in_books(one.record)
        typed, rows = versions.typed_of(base)
        filled = read_sheet(sheet, typed, rows, site=Site(), number=one.record.number).require()
        becomes = drafts_of(filled)
        posted = standing_of(one.record)
        if not any(differs(standing, one.was.get(name), becomes.get(name)) for name, standing in posted.items()):
            continue
        # A correction that waits for a second person stays the newest version; the books go on from theirs.
        waits = one.record.state == State.WAITING
        version = (
            base if waits else versions.write(one.record, filled, person=person, written_at=written_at, reason=why)
        )
        # Nobody has seen these figures beside the writer, so no second person is named under them.
        repost(
            sheet,
            one.record,
            version,
            posted,
            one.was,
            becomes,
            person=person,
            second=None,
            reason=why,
            written_at=written_at,
        )
        if one.record.second_id is not None:
            one.record.second = None
            one.record.save(update_fields=["second"])


def _casks(filled: Filled) -> set[str]:
    completed = filled.completed
    values = [*completed.values.values(), *(value for line in completed.rows for value in line.values.values())]
    return {value.code for value in values if isinstance(value, Vessel) and value.kind == VesselKind.CASK}


def _reading_books(casks: set[str], earliest: datetime, record: Record) -> list[Record]:
    reading = [Q(kind=other.kind, mentions__field=other.book_of) for other in STEPS if other.book_of]
    if not casks or not reading:
        return []
    # One question for all steps: it is asked as each cask of a whole warehouse is entered.
    if not Mention.objects.filter(what=Mention.What.VESSEL, code__in=casks).exists():
        return []
    return list(
        Record.objects.filter(
            reduce(or_, reading),
            happened_from__gte=earliest,
            mentions__what=Mention.What.VESSEL,
            mentions__code__in=casks,
        )
        .exclude(pk=record.pk)
        .distinct()
        .order_by("kind", "pk")
    )


def _counting_bottles(sheet: Sheet, record: Record, typed: Iterable[Typed], earliest: datetime) -> list[Record]:
    """Later counts of a product whose bottles this record moves: each reads the book of its lot."""
    named = [one.name for one in sheet.fields if one.found_as == Mention.What.PRODUCT]
    counting = [one.kind for one in STEPS if one.counted_by is not None and one.counted_by.what == Counted.BOTTLES]
    products = {text for one in typed for name in named if (text := one.get(name, "").strip())}
    there = Q(pk__in=())
    for product in sorted(products):
        there |= Q(mentions__code__iexact=product)
    if not products:
        return []
    counts = Record.objects.filter(
        there, kind__in=counting, happened_from__gte=earliest, mentions__what=Mention.What.PRODUCT
    )
    return list(counts.exclude(pk=record.pk).distinct())


def _gauging_wash(
    sheet: Sheet, record: Record, typed: Iterable[Typed], earliest: datetime, *, site: Site
) -> list[Record]:
    """Later records with a gauge of a washback that takes the original gravity from what was set in it."""
    if sheet.works_in is None:
        return []
    washbacks = {one.get(sheet.works_in.vessel, "") for one in typed}
    codes = {vessel.code for code in washbacks if code and (vessel := site.vessel(code)) is not None}
    if not codes:
        return []
    found: list[Record] = []
    for other in STEPS:
        for gauge in (*other.gauges, *(other.rows.gauges if other.rows else ())):
            if gauge.present_gravity:
                found += (
                    Record.objects.filter(
                        kind=other.kind,
                        happened_from__gte=earliest,
                        mentions__what=Mention.What.VESSEL,
                        mentions__field=gauge.vessel,
                        mentions__code__in=codes,
                    )
                    .exclude(pk=record.pk)
                    .distinct()
                )
    return found


def _taken_down(records: Iterable[Record], *, site: Site) -> list[Affected]:
    affected = []
    for record in records:
        if record.state == State.VOID or not standing_of(record):
            continue
        typed, rows = versions.typed_of(version_in_books(record))
        filled = read_sheet(sheet_of(record.kind), typed, rows, site=site, number=record.number)
        affected.append(Affected(record, drafts_of(filled)))
    return affected
