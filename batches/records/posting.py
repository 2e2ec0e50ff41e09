"""From the moments of a record to the ledger: drafts, first postings, and postings made anew."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from batches.models import Posted, Record, Version
from batches.sheets.sheet import Moment, Problem, Sheet
from batches.sheets.typed.read_sheet import Filled, Unfit
from batches.sheets.typed.values import Ungaugeable
from distillery.alcoholometry.errors import AlcoholometryError
from distillery.database.fixed_sql import add
from distillery.people.models import Person
from distillery.rules.in_force import NoRuleInForce
from ledger.models import Movement
from ledger.periods.calendar import is_closed
from ledger.posting.drafts import Draft, Moved, Refused
from ledger.posting.post import correct, post


@dataclass(frozen=True, slots=True)
class Standing:
    """The entry of one moment that has not been corrected away."""

    moment: str
    movement: Movement


def standing_of(record: Record) -> dict[str, Standing]:
    """The entries of a record that stand, by moment."""
    rows = Posted.objects.standing().filter(record=record).select_related("movement").order_by("movement_id")
    return {row.moment: Standing(row.moment, row.movement) for row in rows}


def draft_of(filled: Filled, moment: Moment) -> Draft | None:
    """What one moment hands to the ledger. Raises Unfit where its figures give no quantity."""
    if moment.post is None:
        return None
    sheet, completed = filled.completed.sheet, filled.completed
    try:
        posting = moment.post(completed)
    except Ungaugeable as error:
        raise Unfit([Problem(error.field, None, error.sentence)]) from error
    except (AlcoholometryError, NoRuleInForce) as error:
        raise Unfit([Problem(moment.when, None, str(error))]) from error
    if not (posting.told or posting.duty or posting.figures):
        # Washbacks that all ferment: what was read is kept on the record, and nothing goes to the books.
        return None
    return Draft(
        kind=sheet.kind,
        operation=sheet.operation,
        happened_at=completed.moment(moment.when),
        record_kind=sheet.kind,
        record_number=completed.number,
        moment=moment.name,
        lines=posting.told,
        duty=posting.duty,
        figures=posting.figures,
        judged=posting.judged,
    )


def drafts_of(filled: Filled) -> dict[str, Draft]:
    """What all moments that are said to have happened hand to the ledger, by moment."""
    drafts = {moment.name: draft_of(filled, moment) for moment in filled.claimed}
    return {name: draft for name, draft in drafts.items() if draft is not None}


def post_moments(
    sheet: Sheet,
    record: Record,
    version: Version,
    filled: Filled,
    there: Mapping[str, Standing],
    *,
    person: Person,
    second: Person | None,
    written_at: datetime,
) -> None:
    """Posts each moment that is complete and not yet in the books, `there` being what is."""
    for moment in filled.claimed:
        if moment.name in there:
            continue
        draft = draft_of(filled, moment)
        if draft is None:
            continue
        try:
            movement = post(draft, person=person, second=second, record_digest=version.digest, written_at=written_at)
        except Refused as refused:
            raise Unfit([_problem(sheet, moment, draft, refused)]) from refused
        add([Posted(record=record, version=version, moment=moment.name, movement=movement)])


def repost(
    sheet: Sheet,
    record: Record,
    version: Version,
    posted: Mapping[str, Standing],
    was: Mapping[str, Draft],
    becomes: Mapping[str, Draft],
    *,
    person: Person,
    second: Person | None,
    reason: str,
    written_at: datetime,
) -> None:
    """Corrects the entries whose draft has changed, and those of later moments, which start from what they left.

    An entry that becomes nothing is only taken back. Moments not yet posted are left to `post_moments`, but for those
    that come before one that is: what is posted after them starts from what they leave.
    """
    names = [moment.name for moment in sheet.moments]
    names = names[: max((names.index(name) + 1 for name in posted), default=0)]

    def is_other(name: str) -> bool:
        if name in posted:
            return differs(posted[name], was.get(name), becomes.get(name))
        return name in becomes

    changed = next((name for name in names if is_other(name)), None)
    if changed is None:
        return
    later = names[names.index(changed) :]
    again = [name for name in later if name in posted]
    drafts = [becomes[name] for name in later if name in becomes]
    try:
        movements = correct(
            [posted[name].movement for name in again],
            drafts,
            person=person,
            second=second,
            reason=reason,
            record_digest=version.digest,
            written_at=written_at,
        )
    except Refused as refused:
        moment = sheet.moment(changed)
        raise Unfit([_problem(sheet, moment, drafts[0] if drafts else None, refused)]) from refused
    for movement in movements:
        add([Posted(record=record, version=version, moment=movement.moment, movement=movement)])


def differs(standing: Standing, was: Draft | None, becomes: Draft | None) -> bool:
    """True where an entry has to be made anew.

    A figure that is only there to be compared with its kind is not worth an entry in a month that is closed.
    """
    if was == becomes:
        return False
    if was is None or becomes is None or replace(was, figures=()) != replace(becomes, figures=()):
        return True
    return not is_closed(standing.movement.period)


def _problem(sheet: Sheet, moment: Moment, draft: Draft | None, refused: Refused) -> Problem:
    """The ledger's refusal at the field it hangs on."""
    if refused.field and sheet.has_field(refused.field):
        return Problem(refused.field, None, refused.sentence)
    if refused.field == "reason":
        return Problem("reason", None, refused.sentence)
    if refused.field == "quantity" and draft is not None:
        moved = next((line.field for line in draft.lines if isinstance(line, Moved) and line.field), "")
        if moved:
            return Problem(moved, None, refused.sentence)
    return Problem(moment.when, None, refused.sentence)
