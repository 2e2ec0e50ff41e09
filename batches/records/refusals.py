"""What is refused before anything of a record is written: who writes, what stands, what names it."""

from __future__ import annotations

from collections.abc import Mapping

from batches.models import Mention, Record, State, Version
from batches.records import versions
from batches.records.posting import Standing
from batches.sheets.read_sheet import Filled, Unfit
from batches.sheets.register import sheet_of
from batches.sheets.sheet import Problem, Sheet
from distillery.people.models import Person
from distillery.people.roles import may_write


class MovedOn(Exception):
    """Somebody wrote on the record after the version a page was opened with; nothing was written."""

    def __init__(self, record: Record, latest: Version) -> None:
        super().__init__(f"{record.number} stands at version {latest.serial} by now.")
        self.record = record
        self.latest = latest


def existing(sheet: Sheet, number: str | None) -> Record | None:
    """The record of a number, or None where there is none yet. Raises Unfit where it is another kind's, or void."""
    if not number:
        return None
    record = Record.objects.select_for_update().filter(number=number).first()
    if record is not None and record.kind != sheet.kind:
        kind = sheet_of(record.kind).title.lower()
        raise Unfit([Problem(sheet.number_column, None, f"{number} is the number of a {kind}; take another.")])
    if record is not None:
        not_void(record)
    return record


def as_seen(record: Record, latest: Version, seen: int | None) -> None:
    """Raises MovedOn where the version a page was opened with is no longer the newest."""
    if seen is not None and seen != latest.serial:
        raise MovedOn(record, latest)


def leave_posted_alone(
    sheet: Sheet,
    record: Record,
    posted: Mapping[str, Standing],
    old: tuple[dict[str, str], list[dict[str, str]]],
    new: tuple[dict[str, str], list[dict[str, str]]],
) -> None:
    """What is in the books is changed by a correction with its reason, not by saving over it."""
    problems = []
    for one in sheet.fields:
        was, now = old[0].get(one.name, ""), new[0].get(one.name, "")
        if was and was != now and sheet.moment_of(one.name).name in posted:
            problems.append(
                Problem(
                    one.name,
                    None,
                    f"{one.label} of {record.number} is in the books as {was}; correct it on its page, with a reason.",
                )
            )
    for place, moment in enumerate(sheet.moments):
        later = next((one for one in sheet.moments[place + 1 :] if one.name in posted), None)
        if moment.optional and later is not None and new[0].get(moment.when) and not old[0].get(moment.when):
            problems.append(
                Problem(
                    moment.when,
                    None,
                    f"The {later.label.lower()} of {record.number} is in the books and starts from what came before; "
                    f"write the {moment.label.lower()} by correcting the record on its page, with a reason.",
                )
            )
    lines = [line for line in new[1] if line]
    if old[1] != lines and sheet.rows is not None and any(sheet.rows_belong_to(sheet.moment(name)) for name in posted):
        problems.append(
            Problem(sheet.rows.each, None, f"The lines of {record.number} are in the books; correct them on its page.")
        )
    if problems:
        raise Unfit(problems)


def keep_posted_moments(sheet: Sheet, record: Record, filled: Filled, posted: Mapping[str, Standing]) -> None:
    """What is in the books keeps its time. Raises Unfit."""
    claimed = {moment.name for moment in filled.claimed}
    gone = [sheet.moment(name) for name in posted if name not in claimed]
    if gone:
        raise Unfit(
            [
                Problem(
                    moment.when,
                    None,
                    f"The {moment.label.lower()} of {record.number} is in the books, so its time cannot be left blank; "
                    "void the record if it never happened.",
                )
                for moment in gone
            ]
        )


def who_may_write(person: Person) -> None:
    """Raises Unfit for somebody who only reads."""
    if not may_write(person):
        raise Unfit([Problem("person", None, f"{person.shown_name} may read but not write; ask someone on shift.")])


def another_person(second: Person, person: Person) -> None:
    """Raises Unfit where the second person is the first, or may not write."""
    if second.pk == person.pk:
        raise Unfit(
            [Problem("second", None, f"{second.shown_name} took the readings; someone else has to agree to them.")]
        )
    if not may_write(second):
        raise Unfit([Problem("second", None, f"{second.shown_name} may not write, so cannot agree to an entry.")])


def said_by_no_other(sheet: Sheet, record: Record | None, filled: Filled) -> None:
    """Raises Unfit where another record of the kind says the same, where the log gives no numbers."""
    identity = versions.identity_of(sheet, filled.completed.values)
    others = Record.objects.filter(kind=sheet.kind, identity=identity) if identity else Record.objects.none()
    other = others.first()
    if other is not None and other != record:
        sentence = f"{other.number} says this already; correct it on its page."
        raise Unfit([Problem(sheet.identity[0], None, sentence)])


def named_by_none(record: Record) -> None:
    """Raises Unfit where other records name this one."""
    naming = (
        Mention.objects.filter(what=Mention.What.RECORD, code=record.number)
        .exclude(record__state=State.VOID)
        .values_list("record__number", flat=True)
        .distinct()
    )
    if naming:
        raise Unfit([Problem("", None, f"{record.number} is named by {', '.join(naming)}; correct those first.")])


def need_reason(reason: str) -> None:
    """Raises Unfit without a reason."""
    if not reason.strip():
        raise Unfit([Problem("reason", None, "Reason is blank; say why, it is kept beside both figures.")])


def not_void(record: Record) -> None:
    """Raises Unfit where a record is void."""
    if record.state == State.VOID:
        raise Unfit([Problem("", None, f"{record.number} is void; open a new record instead.")])
