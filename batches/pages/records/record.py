"""The page of one record, and what is added to it: a reading, a countersignature."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from batches.models import State
from batches.pages.common import hands_of, record_or_404, signed_on
from batches.pages.papers.batch import has_batch
from batches.pages.recalling.said import recalls_on_record
from batches.pages.records.balance import line_of
from batches.pages.records.likeness import kinds_table, stands_out
from batches.pages.records.links import links_of
from batches.pages.records.measured import gauges_table, lines_table, shown_there
from batches.pages.records.posted import books_of
from batches.pages.records.readings import changes_table, readings_chart, readings_of, readings_table
from batches.pages.records.shown import (
    RecordAsWritten,
    as_text,
    moments_left,
    moments_written,
    record_address,
    state_of,
)
from batches.pages.results import as_it_stands, as_tables, pictures_of, results_of, to_look_at
from batches.pages.stores.of_record import lots_of
from batches.pages.tracing.names import trace_address
from batches.pages.writing import drafted
from batches.pages.writing import questions as asking
from batches.pages.writing.entry_page import problems_of, saved_already
from batches.pages.writing.pressed import at_the_press
from batches.pages.writing.reading_form import AT, ReadingForm
from batches.pages.writing.signing import moved_on, signing_of
from batches.records import recording, signatures
from batches.records.readings import add_readings
from batches.records.recording import AlreadySaved, Asked, Busy, MovedOn
from batches.running.runs import is_running
from batches.sheets.sheet import Problem, Sheet
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import Unfit
from distillery import figures, pages
from distillery.clock.reading import books_now
from distillery.pen.trying.again import NotShown, second_of
from distillery.people.roles import WRITERS, may_write, needs
from distillery.signed import SEEN
from ledger.posting.drafts import Refused
from ledger.proof.clock_back import places
from ledger.views.enquiries.verdicts import USUAL, verdicts
from ledger.views.left_facts import JUDGED

# A longer one, such as how a review threshold is worked out, is one key away.
SHORT_NOTE = 40
TO = " to "
SAYS_ELSE = "This was saved already and says something else now; press Save again to save that besides."


@dataclass(frozen=True, slots=True)
class Part:
    """What was written under one heading."""

    heading: str
    facts: list[pages.Fact]


def record_page(request: HttpRequest, kind: str, number: str) -> HttpResponse:
    """What was written, what it came to, what it posted, where it came from and went, what was put right."""
    written = record_or_404(kind, number)
    record, sheet = written.record, written.sheet
    readings = readings_of(written) if sheet.readings else []
    came_from, went_to = links_of(record)
    drawn, brought = lots_of(record)
    writes = may_write(signed_on(request))
    signing = signing_of(written)
    # What the plant holds is looked up once for all that the page works out.
    site = Site()
    standing = as_it_stands(written, site)
    results = results_of(standing, books_now())
    books = books_of(record, sheet, site)
    said = verdicts(record.kind, record.number, books.happened)
    waiting = record.state == State.WAITING or signing.changed is not None
    elsewhere = shown_there(written, books.measured) | _times_in_the_head(written)
    table, chart = readings_table(written, readings), readings_chart(written, readings)
    own, found = line_of(books.differences, books.balance)
    kinds = kinds_table(record.kind, record.number, books.uncertainties) if said.compared else None
    return render(
        request,
        "batches/record.html",
        {
            "area": "records",
            "density": "paper",
            "written": written,
            "record": record,
            "sheet": sheet,
            "state": state_of(record),
            "happened": _from_to(written),
            "written_by": _written_by(written),
            "parts": [
                Part(section.heading, facts)
                for section in sheet.sections
                if (facts := written.facts_of(section, but=elsewhere))
            ],
            "pictures": pictures_of(standing, books_now()),
            "results": as_tables(results),
            "looked": to_look_at(results),
            "rows_table": lines_table(written, books.measured),
            "gauges_table": gauges_table(written, books.measured),
            "books": books,
            "differences": own,
            "found": found,
            "judged": JUDGED,
            "bases": [one for one in books.differences if len(one.note) > SHORT_NOTE],
            "findings": said.lines,
            "not_compared": said.not_compared,
            "being_compared": said.being_compared,
            "usual": USUAL,
            "may_enquire": writes and record.state not in (State.VOID, State.WAITING),
            "kinds_table": kinds,
            "kinds_stand_out": stands_out(kinds),
            "readings_table": table,
            "readings_chart": chart,
            # While a record goes on its readings stand open; afterwards they are one key away under their curve.
            "folded_readings": table if chart and record.state != State.OPEN else None,
            "recalled": recalls_on_record(record.pk),
            "trace": trace_address(record.number),
            "batch": record_address(record, "batch") if has_batch(record, sheet) else "",
            "came_from": came_from + drawn,
            "went_to": went_to + brought,
            "changes_table": changes_table(written, readings),
            "may_void": writes and record.state != State.VOID,
            "may_correct": writes and record.state != State.VOID and bool(moments_written(written)),
            "may_add": writes and record.state == State.OPEN and bool(moments_left(written)),
            "goes_on_at": "record_running" if is_running(record) else "record_add",
            "may_read": writes and bool(sheet.readings) and record.state != State.VOID,
            "may_countersign": writes and waiting and request.user != written.latest.person,
            "needs_another": waiting and request.user == written.latest.person,
            "signing": signing,
            "may_send_back": writes and record.state == State.WAITING and signing.changed is not None,
        },
    )


def _written_by(written: RecordAsWritten) -> list[str]:
    """Who wrote what stands and when, who countersigned it, where the clock ran back in between: a sentence each."""
    record, latest, signature = written.record, written.latest, written.signature
    hands = [f"{said and ', '}{said}" for _, said in written.hands]
    said = [f"Written {figures.moment(record.opened_at)} by {record.opened_by.shown_name}{hands[0]}."]
    if latest.serial > 1:
        said.append(
            f"Last written {figures.moment(latest.written_at)} by {latest.person.shown_name}{hands[-1]}, "
            f"version {latest.serial}."
        )
    if signature is not None:
        said.append(
            f"Countersigned {figures.moment(signature.at)}, version {signature.version.serial}, "
            f"by {signature.person.shown_name}."
        )
    written_in_turn = [(f"version {one.serial}", one.written_at) for one in written.versions]
    return [*said, *(f"{one[:1].upper()}{one[1:]}." for one in places(written_in_turn))]


def _times_in_the_head(written: RecordAsWritten) -> frozenset[str]:
    """The fields of the first and last time, which the head of the page says, where neither was put right."""
    moments = written.sheet.moments
    return frozenset(
        field.name
        for field in {written.sheet.field(one.when) for one in (moments[0], moments[-1])}
        if written.change_of(field.name) is None
        and as_text(field, written.typed.get(field.name, "")) in _from_to(written).split(TO)
    )


def _from_to(written: RecordAsWritten) -> str:
    start, end = written.record.happened_from, written.record.happened_to
    if end is None or end == start:
        return figures.moment(start)
    return f"{figures.moment(start)}{TO}{figures.moment(end)}"


@needs(WRITERS)
def record_reading(request: HttpRequest, kind: str, number: str) -> HttpResponse:
    """One reading along the way of a record."""
    written = record_or_404(kind, number)
    sheet: Sheet = written.sheet
    if not sheet.readings:
        messages.info(request, f"Nothing is read along the way of a {sheet.title.lower()}.")
        return redirect(record_address(written.record))
    posted, sure = asking.answers_in(at_the_press(request.POST if request.method == "POST" else None, (AT,)))
    question: asking.Put | None = None
    form = ReadingForm(sheet, data=posted)
    if posted is None:
        # The next figure is typed at once; its time is now.
        form.fields[sheet.readings[0].name].widget.attrs["autofocus"] = True
    draft = drafted.of_line(request, written, form)
    if request.method == "POST":
        try:
            if not form.rows:
                raise Unfit([Problem("", None, "No reading is written; fill in at least one box.")])
            sent = form.sent(form.typed(), draft.which)
            add_readings(written.record, form.rows, signed_on(request), sent=sent, sure=sure, hands=hands_of(request))
        except (Unfit, Busy) as error:
            form.mark(error)
        except AlreadySaved as error:
            if error.same:
                return saved_already(request, error.record, "record_reading")
            form.add_error(None, SAYS_ELSE)
            form.renew_token()
            draft = drafted.of_line(request, written, form)
        except Asked as asked:
            question = asking.put(asked, sure)
        else:
            messages.success(request, f"Saved {figures.clock(timezone.now())}.{form.taken_as}")
            return redirect(record_address(written.record, "record_reading"))
    return render(
        request,
        "batches/reading.html",
        {
            "area": "shift",
            "density": "wet-hands",
            "written": written,
            "record": written.record,
            "sheet": sheet,
            "form": form,
            "put": question,
            "drafting": draft,
            "readings_table": readings_table(written, readings_of(written), to_strike=True),
            "cancel": record_address(written.record),
        },
    )


@needs(WRITERS)
@require_POST
def record_countersign(request: HttpRequest, kind: str, number: str) -> HttpResponse:
    """A second person puts a name to what the first wrote; only then does it go into the books."""
    written = record_or_404(kind, number)
    person = signed_on(request)
    seen = request.POST.get(SEEN, "")
    try:
        person = second_of(request) or person
        recording.countersign(written.record, person, seen=seen)
    except NotShown as refused:
        messages.error(request, refused.sentence)
    except MovedOn:
        return moved_on(request, record_or_404(kind, number), seen)
    except (Unfit, Refused, Busy) as error:
        signature = signatures.newest(written.record)
        written.record.refresh_from_db()
        if written.record.state in (State.COMPLETE, State.VOID) and signature and signature.person == person:
            messages.info(request, f"{written.record.number} carries your name already.")
        else:
            for problem in problems_of(error):
                messages.error(request, problem.sentence)
    else:
        messages.success(request, f"Countersigned {figures.clock(timezone.now())}: {written.record.number}.")
    return redirect(record_address(written.record))
