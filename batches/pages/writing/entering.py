"""Writing a record: a new one, the next moment of an open one, a correction of what stands.

The page hands over what was typed and shows what comes back. Nothing is kept unless everything fits. A form sent twice
writes once; where somebody else wrote meanwhile, both are shown and the writer chooses.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.urls import reverse

from batches.models import Record, State
from batches.pages.common import hands_of, record_or_404, sheet_or_404, signed_on
from batches.pages.records.shown import RecordAsWritten, moments_left, record_address
from batches.pages.writing import beside, drafted
from batches.pages.writing import questions as asking
from batches.pages.writing.both_wrote import anew, both_wrote
from batches.pages.writing.entry_page import entry_page, problems_of, saved, saved_already
from batches.pages.writing.forms import TOKEN, EntryForm
from batches.pages.writing.pressed import at_the_press, fields_of
from batches.pages.writing.suggested import at_boxes, carried, suggestions
from batches.records import recording
from batches.records import submit_once as sendings
from batches.records.recording import AlreadySaved, Asked, Busy, MovedOn, NotSigned
from batches.records.submit_once import SentForm
from batches.records.versions import typed_of
from batches.sheets.sheet import Moment, Problem, Sheet
from batches.sheets.site import Site
from batches.sheets.typed.moments import NOW
from batches.sheets.typed.read_sheet import Unfit
from distillery import figures
from distillery.clock.reading import books_now, site_day
from distillery.drafts.showing import Drafting
from distillery.pen.hands import READER
from distillery.pen.trying.again import AGAIN, TYPE_AGAIN
from distillery.people.roles import WRITERS, needs
from ledger.posting.drafts import Refused

REASON = "reason"
ENQUIRY = re.compile(r"EQ[0-9]{4,9}")
REASON_MISSING = "Why is blank; say in a few words what was wrong, so that others can follow it."
MORE = "more"
WORK_OUT = "work_out"
# Buttons that bring the page again and write nothing.
WRITES_NOTHING = frozenset({MORE, WORK_OUT})
# Where boxes stand that belong to no sheet.
PLACES = {REASON: "#id_reason", READER: "#id_read_by", AGAIN: "#id_again"}
SIGN = [Problem(AGAIN, None, TYPE_AGAIN)]


@needs(WRITERS)
def record_new(request: HttpRequest, kind: str) -> HttpResponse:
    """A new record: all moments on one page, of which only the first must be written now."""
    sheet = sheet_or_404(kind)
    first = sheet.moments[0]
    posted, sure = asking.answers_in(at_the_press(_posted(request), fields_of(sheet)))
    question: asking.Put | None = None
    unsigned: NotSigned | None = None
    entry = EntryForm(
        sheet,
        Site(),
        moments=sheet.moments,
        posted=posted,
        initial={first.when: NOW},
        # The bench carries its result here in the address, each figure under the name of its box.
        suggested=carried(request.GET.dict(), sheet),
    )
    draft, token = drafted.of_new(request, sheet)
    if draft.kept is not None:
        entry = drafted.with_draft(entry, draft.kept, sheet.moments)
    ending = request.POST.get(asking.END_FIRST, "")
    if WORK_OUT in request.POST:
        entry.check(books_now())
    if request.method == "POST" and not request.POST.keys() & WRITES_NOTHING:
        sent = sendings.sent_form(request.POST.get(TOKEN, ""), entry.typed, entry.rows, draft=draft.which)
        try:
            record = recording.save(
                kind,
                None,
                entry.typed,
                entry.rows_in_place,
                person=signed_on(request),
                sent=sent,
                day=entry.day,
                sure=sure,
                ending=ending,
                hands=hands_of(request, signs=sheet.signs),
            )
        except (Unfit, Refused, Busy) as error:
            entry.mark(problems_of(error), at=PLACES)
            question = asking.way_out(entry.in_the_way, sure)
        except Asked as asked:
            question = asking.put(asked, sure, entry.boxes_of_lines, ending=ending)
        except NotSigned as error:
            unsigned = error
            entry.mark(SIGN, at=PLACES)
        except AlreadySaved as error:
            if error.same:
                return saved_already(request, error.record)
            entry.refuse(
                f"This sheet was saved already, as {error.record.number}, and says something else now. Correct "
                f"{error.record.number} on its page; or press Save again, and it is written as another record.",
                record_address(error.record),
            )
            token = sendings.new_token()
            draft = drafted.under(draft, sheet, token)
        else:
            return saved(request, record)
    heading = f"New {sheet.title.lower()}"
    return entry_page(
        request,
        sheet,
        entry,
        heading,
        token=token,
        cancel=reverse("shift"),
        put=question,
        signing=asking.to_sign(posted, sure, unsigned, ending=ending),
        drafting=draft,
    )


@needs(WRITERS)
def record_add(request: HttpRequest, kind: str, number: str) -> HttpResponse:
    """What is still to be written on an open record."""
    written = record_or_404(kind, number)
    posted, sure = asking.answers_in(at_the_press(_posted(request), fields_of(written.sheet)))
    left = moments_left(written)
    alone = next((one for one in left if one.name == request.GET.get(drafted.MOMENT, "")), None)
    words = drafted.left_of([alone] if alone else [one for one in left if not one.optional])
    draft = drafted.of_record(request, written, drafted.COMPLETE, words, moment=alone.name if alone else "")
    seen = beside.seen_by(posted, written)
    base = written.latest
    if draft.kept is not None:
        base = drafted.opened_with(written, draft.kept)
        left, seen = drafted.left_on(written.sheet, base), base.serial
    if (
        (draft.kept is None or not left)
        and (not left or written.record.state != State.OPEN)
        and (posted is None or seen is None)
    ):
        messages.info(request, f"{written.record.number} is complete; a value is changed by Correct.")
        return redirect(record_address(written.record))
    moments = _on_the_page(written.sheet, [alone] if alone in left else left, posted)
    typed, rows = typed_of(base)
    # What happened while it is on took the time of the press; what ends it happens as it is saved.
    at = {alone.when: figures.clock(books_now())} if alone else {_comes_next(moments).when: NOW}
    entry = EntryForm(
        written.sheet,
        Site(),
        moments=moments,
        posted=posted,
        initial=at | typed,
        # What the bench was given of a vessel, carried here with one press.
        suggested=carried(request.GET.dict(), written.sheet),
        rows=rows,
    )

    def write(sent: SentForm | None) -> Record:
        return recording.save(
            kind,
            written.record.number,
            entry.typed,
            entry.rows_in_place,
            person=signed_on(request),
            seen=seen,
            sent=sent,
            day=entry.day,
            sure=sure,
            hands=hands_of(request, signs=written.sheet.signs),
        )

    heading = f"{f'{alone.label} of' if alone else written.sheet.title} {written.record.number}"
    return _write_on(request, written, entry, moments, write, seen=seen, heading=heading, draft=draft)


def _comes_next(moments: Sequence[Moment]) -> Moment:
    """The first moment that must come."""
    return next((one for one in moments if not one.optional), moments[0])


@needs(WRITERS)
def record_correct(request: HttpRequest, kind: str, number: str) -> HttpResponse:
    """All that stands on a record, to be put right with a reason; the old values stay readable."""
    written = record_or_404(kind, number)
    posted, sure = asking.answers_in(at_the_press(_posted(request), fields_of(written.sheet)))
    if posted is None and written.record.state == State.VOID:
        messages.info(request, f"{written.record.number} is void and is not changed any more.")
        return redirect(record_address(written.record))
    asked = request.GET.getlist("suggest")
    # Suggestions are shown by themselves, not between the boxes of a draft.
    draft = drafted.of_record(request, written, drafted.CORRECT, "correction", look=not asked)
    base = written.latest
    seen = beside.seen_by(posted, written)
    if draft.kept is not None:
        base = drafted.opened_with(written, draft.kept)
        seen = base.serial
    moments = _on_the_page(written.sheet, drafted.to_correct_on(written.sheet, base), posted)
    typed, rows = typed_of(base)
    entry = EntryForm(
        written.sheet,
        Site(),
        moments=moments,
        posted=posted,
        initial=typed,
        rows=rows,
        suggested=at_boxes(suggestions(asked), written.sheet, written.rows),
        day=site_day(written.record.happened_from),
    )
    reason = request.POST.get(REASON, "").strip()
    if draft.kept is not None:
        reason = draft.kept.values.get(REASON, "")

    def write(sent: SentForm | None) -> Record:
        if not reason:
            raise Unfit([Problem(REASON, None, REASON_MISSING)])
        rows = entry.rows_in_place if entry.has_lines else None
        return recording.correct(
            written.record,
            entry.typed,
            rows,
            person=signed_on(request),
            reason=reason,
            seen=seen,
            sent=sent,
            day=entry.day,
            sure=sure,
            hands=hands_of(request, signs=written.sheet.signs),
        )

    heading = f"Correct {written.record.number}"
    # Whoever was led here by an enquiry comes back to it, and reads there what the correction has settled.
    asks = ENQUIRY.fullmatch(request.GET.get("enquiry", ""))
    back = reverse("enquiry", args=[asks[0]]) if asks else ""
    return _write_on(
        request,
        written,
        entry,
        moments,
        write,
        seen=seen,
        heading=heading,
        reason=reason,
        corrects=True,
        draft=draft,
        back=back,
    )


def _write_on(
    request: HttpRequest,
    written: RecordAsWritten,
    entry: EntryForm,
    moments: Sequence[Moment],
    write: Callable[[SentForm | None], Record],
    *,
    seen: int | None,
    heading: str,
    draft: Drafting,
    reason: str = "",
    corrects: bool = False,
    back: str = "",
) -> HttpResponse:
    """Writes on a record that is there and shows what comes back; or shows a draft that was kept of it. `back` is the
    page the writer came from, if it waits for this."""
    posted = _posted(request)
    if draft.kept is not None:
        entry = drafted.with_draft(entry, draft.kept, moments)
        if seen != written.latest.serial:
            return both_wrote(
                request, written, entry, moments, seen=seen or 0, reason=reason, corrects=corrects, draft=draft
            )
    shown = beside.still_beside(written, posted) if posted is not None else None
    question: asking.Put | None = None
    unsigned: NotSigned | None = None
    sure = asking.answers_in(posted)[1]
    if posted is not None and WORK_OUT in posted:
        entry.check(books_now(), written.record.number)
    if posted is not None and beside.TAKE in posted and shown is not None:
        values, rows = beside.with_taken(written, entry, shown, posted.get(beside.TAKE, ""))
        entry = anew(written, moments, values, rows)
    elif posted is not None and not posted.keys() & {*WRITES_NOTHING, beside.TAKE}:
        sent = sendings.sent_form(posted.get(TOKEN, ""), entry.typed, entry.rows, reason, draft.which)
        try:
            try:
                record = write(sent)
            except AlreadySaved as error:
                if error.same:
                    return saved_already(request, error.record)
                # The page was gone back to and written on anew: it is compared with what it wrote itself.
                record = write(None)
        except (Unfit, Refused, Busy) as error:
            entry.mark(problems_of(error), at=PLACES)
        except Asked as asked:
            question = asking.put(asked, sure, entry.boxes_of_lines)
        except NotSigned as error:
            unsigned = error
            entry.mark(SIGN, at=PLACES)
        except MovedOn:
            return both_wrote(
                request, written, entry, moments, seen=seen or 0, reason=reason, corrects=corrects, draft=draft
            )
        else:
            return saved(request, record, "Corrected" if corrects else "Saved", then=back)
    return entry_page(
        request,
        written.sheet,
        entry,
        heading,
        written=written,
        seen=seen,
        beside=shown,
        reason=reason,
        reason_error="" if reason or not (corrects and entry.errors) else REASON_MISSING,
        asks_reason=corrects,
        put=question,
        signing=asking.to_sign(posted, sure, unsigned),
        drafting=draft,
        token=drafted.token_of(draft),
        cancel=back,
    )


def _posted(request: HttpRequest) -> QueryDict | None:
    return request.POST if request.method == "POST" else None


def _on_the_page(sheet: Sheet, moments: Sequence[Moment], posted: QueryDict | None) -> list[Moment]:
    """The moments a page shows, with those that were on it when it was opened."""
    return [one for one in sheet.moments if one in moments or (posted is not None and one.when in posted)]
