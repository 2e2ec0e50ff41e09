"""What follows from a new version of a record: state, mentions, postings, plant, links, what hangs on it, enquiries.

What a second person has signed waits for another signature, and the books keep what was signed meanwhile.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from batches.casks.standing import bring_up_to_date, named_casks
from batches.models import Record, State, Version
from batches.records import dependents, signatures, versions
from batches.records.posting import Standing, drafts_of, post_moments, repost, standing_of
from batches.records.refusals import named_by_none, said_by_no_other
from batches.sheets.materials.said import said_by
from batches.sheets.sheet import Problem, Sheet
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import Filled, Unfit, read_sheet
from batches.standing import version_in_books
from batches.stores.kinds import StockLine
from batches.stores.writing import Short, keep_stock
from batches.tracing import links
from batches.tracing.materials import link_materials
from distillery.people.models import Person
from ledger.enquiries.following import to_be_compared, undecided_before
from ledger.enquiries.models import Enquiry
from ledger.enquiries.raising import Undecided
from ledger.periods import period_of
from ledger.posting.drafts import Draft


def settle(
    sheet: Sheet,
    record: Record,
    filled: Filled,
    version: Version,
    *,
    person: Person,
    second: Person | None,
    written_at: datetime,
    site: Site,
    affected: list[dependents.Affected] | None = None,
    since: int | None = None,
    fresh: bool = False,
    agreed: bool = False,
    undecided: Undecided | None = None,
) -> None:
    """Everything that follows from a new version: state, mentions, postings, plant, links, dependents.

    `agreed` says that it has been decided already that the version counts.
    """
    there = {} if fresh else standing_of(record)
    if not fresh:
        said_by_no_other(sheet, record, filled)
    waits = not agreed and waits_for_another(sheet, record, filled, there, second=second, fresh=fresh)
    if waits and (there or (not fresh and signatures.newest(record) is not None)):
        # What was signed stays in the books, and the record stands there as it was, until somebody agrees.
        record.state, record.second = State.WAITING, None
        record.save(update_fields=["state", "second"])
        return
    first = since if since is not None else links.last_movement()
    casks = set() if fresh else named_casks(sheet, record)
    if affected is None:
        affected = dependents.of_late_entry(sheet, filled, record, site=site)
    versions.mention(record, filled, fresh=fresh)
    if not waits:
        post_moments(sheet, record, version, filled, there, person=person, second=second, written_at=written_at)
        if filled.claimed and sheet.keep is not None:
            sheet.keep(filled.completed)
    if not fresh:
        stand(sheet, record, filled, second=_signed_by(record, version, second), waits=waits)
        record.save()
    if second is not None:
        signatures.sign(record, version, signatures.AGREED, person=second, at=written_at)
    if not waits:
        bring_up_to_date(casks | named_casks(sheet, record))
    _keep_stock(sheet, record, version, () if waits else said_by(filled.completed), fresh=fresh)
    link_materials(record, filled.typed)
    if affected:
        dependents.post_anew(affected, because=record, person=person, reason=version.reason, written_at=written_at)
    links.follow(first)
    to_be_compared(first, corrected=record.number if version.reason else "", undecided=undecided)


def waits_for_another(
    sheet: Sheet,
    record: Record,
    filled: Filled,
    posted: Mapping[str, Standing],
    *,
    second: Person | None,
    fresh: bool = False,
) -> bool:
    """True where what is typed counts only once a second person has agreed to it."""
    if second is not None:
        return False
    return (sheet.asks_second(filled.typed) and not posted) or (
        not fresh and signatures.differs_from_signed(record, filled)
    )


def _signed_by(record: Record, version: Version, second: Person | None) -> Person | None:
    """Who has signed what stands now: the second person of this version, or of the one it goes back to."""
    if second is not None or signatures.changed_since(record, version) is not None:
        return second
    signature = signatures.newest(record)
    return signature.person if signature is not None else None


def stand(sheet: Sheet, record: Record, filled: Filled, *, second: Person | None, waits: bool) -> None:
    """Where the record stands now: its state, its times, and what tells it from others."""
    done = sheet.is_done(filled.claimed, filled.typed)
    record.state = State.WAITING if waits else State.COMPLETE if done else State.OPEN
    record.second = None if waits else second
    record.happened_from = filled.completed.moment(sheet.moments[0].when)
    record.happened_to = filled.completed.moment(filled.claimed[-1].when) if done else None
    record.identity = versions.identity_of(sheet, filled.completed.values)


def _keep_stock(
    sheet: Sheet, record: Record, version: Version, lines: Sequence[StockLine], *, fresh: bool = False
) -> None:
    """Brings the stores to what a version says of them. Raises Unfit where a lot is short."""
    if not sheet.keeps_stock:
        return
    try:
        keep_stock(record, version, lines, fresh=fresh)
    except Short as short:
        raise Unfit([Problem(short.field, short.row, short.sentence)]) from short


@dataclass(frozen=True, slots=True)
class TakenDown:
    """A record that is to be posted in place of what it posted, with all that hangs on it, as it was before."""

    sheet: Sheet
    record: Record
    filled: Filled
    posted: Mapping[str, Standing]
    was: Mapping[str, Draft]
    affected: list[dependents.Affected]
    since: int
    site: Site
    undecided: Undecided | None

    @classmethod
    def of(
        cls,
        sheet: Sheet,
        record: Record,
        base: tuple[dict[str, str], list[dict[str, str]]],
        filled: Filled,
        posted: Mapping[str, Standing],
        *,
        site: Site,
        undecided: Undecided | None = None,
    ) -> TakenDown:
        """`base` is what the books hold of the record, as typed; `filled` what is to stand there."""
        affected = dependents.of_correction(sheet, record, base, filled, site=site)
        since = links.last_movement()
        was = drafts_of(read_sheet(sheet, *base, site=site, number=record.number))
        return cls(sheet, record, filled, posted, was, affected, since, site, undecided)

    def post_again(self, version: Version, *, person: Person, second: Person | None, written_at: datetime) -> None:
        """Posts what the version says, and everything that follows from it."""
        repost(
            self.sheet,
            self.record,
            version,
            self.posted,
            self.was,
            drafts_of(self.filled),
            person=person,
            second=second,
            reason=version.reason,
            written_at=written_at,
        )
        settle(
            self.sheet,
            self.record,
            self.filled,
            version,
            person=person,
            second=second,
            written_at=written_at,
            site=self.site,
            affected=self.affected,
            since=self.since,
            agreed=True,
            undecided=self.undecided,
        )


def take_out(
    sheet: Sheet,
    record: Record,
    version: Version,
    *,
    person: Person,
    second: Person | None,
    written_at: datetime,
    site: Site,
) -> Record:
    """Takes back all that a record has posted, as its newest version asks."""
    named_by_none(record)
    typed, lines = versions.typed_of(version_in_books(record))
    filled = read_sheet(sheet, typed, lines, site=site, number=record.number)
    affected = dependents.of_correction(sheet, record, (typed, lines), filled, site=site)
    since = links.last_movement()
    undecided = undecided_before(periods_of(record), by=person) if second is None else None
    repost(
        sheet,
        record,
        version,
        standing_of(record),
        drafts_of(filled),
        {},
        person=person,
        second=second,
        reason=version.reason,
        written_at=written_at,
    )
    record.state, record.identity, record.second = State.VOID, "", second
    record.save(update_fields=["state", "identity", "second"])
    if second is not None:
        signatures.sign(record, version, signatures.AGREED, person=second, at=written_at)
    bring_up_to_date(named_casks(sheet, record))
    _keep_stock(sheet, record, version, ())
    link_materials(record, typed)
    dependents.post_anew(affected, because=record, person=person, reason=version.reason, written_at=written_at)
    links.follow(since)
    to_be_compared(since, corrected=record.number, undecided=undecided)
    return record


def periods_of(record: Record, filled: Filled | None = None) -> set[str]:
    """The months in which a record happened, and in which it is said to have happened now."""
    times = [record.happened_from, record.happened_to]
    if filled is not None:
        times += [filled.completed.moment(moment.when) for moment in filled.claimed]
    about = Enquiry.objects.filter(record_kind=record.kind, record_number=record.number)
    return {period_of(at) for at in times if at is not None} | set(about.values_list("period", flat=True))
