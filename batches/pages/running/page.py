"""The page a run is worked from: its state, its curve, the next reading and the events that can come next."""

from __future__ import annotations

from datetime import timedelta
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from batches.pages.common import hands_of, record_or_404, signed_on
from batches.pages.records.readings import readings_of, readings_table
from batches.pages.records.shown import RecordAsWritten, record_address
from batches.pages.results import as_it_stands, as_tables, results_of
from batches.pages.running import shown
from batches.pages.running.course import course_of_run
from batches.pages.running.curves import curve_of
from batches.pages.running.event_form import EVENT, EventForm, event_fields
from batches.pages.writing import drafted
from batches.pages.writing import questions as asking
from batches.pages.writing.entry_page import problems_of, saved_already
from batches.pages.writing.pressed import at_the_press
from batches.pages.writing.reading_form import AT, ReadingForm
from batches.records import recording
from batches.records import submit_once as sendings
from batches.records.readings import add_readings
from batches.records.recording import AlreadySaved, Asked, Busy, MovedOn, NotSigned
from batches.running.act_now import receivers_near_full
from batches.running.before import Usual
from batches.running.due import reading_due
from batches.running.filling import charged_of, fillings
from batches.running.runs import Run, is_running, runs_of
from batches.running.runs_on import with_run
from batches.sheets.declared import Event
from batches.sheets.sheet import STANDING_CAUTION, Problem
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import Unfit
from distillery import figures
from distillery.charts import LARGE
from distillery.clock.reading import books_now, books_today
from distillery.drafts.showing import Drafting
from distillery.pen.trying.again import TYPE_AGAIN
from distillery.people.models import Person
from distillery.people.roles import WRITERS, may_write, needs
from ledger.posting.drafts import Refused

FROM = "from"
SAYS_ELSE = "This was saved already and says something else now; press Save again to save that besides."


def record_running(request: HttpRequest, kind: str, number: str) -> HttpResponseBase:
    """The page of a record that is on; it is read by everybody and written on by who may write."""
    written = record_or_404(kind, number)
    if not is_running(written.record):
        messages.info(request, f"{written.record.number} is not on any more.")
        return redirect(record_address(written.record))
    run, _ = with_run(written.record)
    if request.method == "POST":
        return _written(request, run)
    asked = run.running.event(request.GET.get(EVENT, ""))
    if asked is not None and asked.moment and asked in run.may_come():
        # What posts is written on the sheet itself, where its gauges are rows.
        address = record_address(run.record, "record_add")
        return redirect(f"{address}?{urlencode({drafted.MOMENT: asked.moment})}")
    return running_page(request, run)


@needs(WRITERS)
def _written(request: HttpRequest, run: Run) -> HttpResponse:
    name = request.POST.get(EVENT, "")
    if not name:
        return _write_reading(request, run)
    event = run.running.event(name)
    if event is None or event.moment:
        raise Http404(f"A {run.sheet.title.lower()} has no event {name}.")
    return _write_event(request, run, event)


def _write_reading(request: HttpRequest, run: Run) -> HttpResponse:
    posted, sure = asking.answers_in(at_the_press(request.POST, (AT,)))
    form = reading_form(run, data=posted)
    draft = _draft(request, run, form)
    question: asking.Put | None = None
    try:
        if not form.rows:
            raise Unfit([Problem("", None, "No reading is written; fill in at least one box.")])
        sent = form.sent(form.typed(), draft.which)
        add_readings(run.record, form.rows, signed_on(request), sent=sent, sure=sure, hands=hands_of(request))
    except (Unfit, Busy) as error:
        form.mark(error)
    except AlreadySaved as error:
        if error.same:
            return saved_already(request, error.record, "record_running")
        form.add_error(None, SAYS_ELSE)
        form.renew_token()
    except Asked as asked:
        question = asking.put(asked, sure)
    else:
        messages.success(request, f"Saved {figures.clock(timezone.now())}.{form.taken_as}")
        return redirect(_back(request, run))
    return running_page(request, run, form=form, put=question)


def _write_event(request: HttpRequest, run: Run, event: Event) -> HttpResponse:
    posted, sure = asking.answers_in(at_the_press(request.POST, event_fields(run, event)))
    form = EventForm(run, event, data=posted)
    draft = _draft(request, run, form)
    question: asking.Put | None = None
    unsigned: NotSigned | None = None
    person = signed_on(request)
    try:
        sent = form.sent({EVENT: event.name, **form.written}, draft.which)
        sendings.refuse_again(sent)
        if event not in run.may_come():
            return _came_before(request, run, event, form)
        hands = hands_of(request)
        if event.again:
            row = (form.at, event.again, event.says)
            add_readings(run.record, [row], person, sent=sent, sure=sure, hands=hands)
        else:
            recording.save(
                run.record.kind,
                run.record.number,
                form.written,
                person=person,
                seen=run.serial,
                sent=sent,
                day=books_today(),
                sure=sure,
                hands=hands,
            )
    except (Unfit, Refused, Busy) as error:
        form.mark(error, problems_of(error))
    except AlreadySaved as error:
        return saved_already(request, error.record, "record_running")
    except Asked as asked:
        question = asking.put(asked, sure)
    except NotSigned as error:
        unsigned = error
        form.add_error(None, TYPE_AGAIN)
    except MovedOn:
        return _came_before(request, run, event, form)
    else:
        said = ", ".join((event.label, *form.written.values()))
        messages.success(request, f"{event.said}. {said}.")
        return redirect(record_address(run.record, "record_running"))
    signing = asking.to_sign(posted, sure, unsigned)
    return running_page(request, run, event_form=form, put=question, signing=signing)


def _came_before(request: HttpRequest, run: Run, event: Event, form: EventForm) -> HttpResponse:
    """Somebody else wrote meanwhile, or this event stands already: it is shown, and nothing is written over."""
    run = runs_of([run.record])[0]
    made = next((one for one in run.happened if one.event is event), None)
    if made is not None and not event.again:
        when = f"{figures.clock(made.at)} {shown.figures_said(made)}".strip()
        form.add_error(None, f"{event.label} stands already: {when}. To put it right, follow its link above.")
    else:
        form.add_error(None, "Somebody else wrote on this meanwhile; look at what stands, and save again.")
        form.renew_token()
    return running_page(request, run, event_form=form)


def _draft(request: HttpRequest, run: Run, form: ReadingForm | EventForm) -> Drafting:
    written = RecordAsWritten(run.record, run.sheet)
    event = form.event.name if isinstance(form, EventForm) else ""
    return drafted.of_line(request, written, form, page="record_running", event=event)


def _back(request: HttpRequest, run: Run) -> str:
    return reverse("shift") if request.POST.get(FROM) == "shift" else record_address(run.record, "record_running")


def reading_form(run: Run, *, data: object = None, auto_id: str = "id_%s") -> ReadingForm:
    """The boxes of the next reading: when, and a figure for each quantity, that above all first."""
    return ReadingForm(run.sheet, data=data, quantities=shown.figure_fields(run), auto_id=auto_id)


def running_page(
    request: HttpRequest,
    run: Run,
    *,
    form: ReadingForm | None = None,
    event_form: EventForm | None = None,
    put: asking.Put | None = None,
    signing: asking.ToSign | None = None,
) -> HttpResponse:
    """All that is to be seen of a run, with the boxes of a reading or of an event."""
    now, record, sheet = books_now(), run.record, run.sheet
    writes = may_write(signed_on(request))
    asked = run.running.event(request.GET.get(EVENT, ""))
    if event_form is None and form is None and writes and asked is not None and asked in run.may_come():
        event_form = EventForm(run, asked)
    if form is None:
        form = reading_form(run)
        first = next((one.name for one in shown.figure_fields(run)), "")
        if event_form is None and first:
            form.fields[first].widget.attrs["autofocus"] = True
    draft = _draft(request, run, event_form or form) if writes else None
    run, on = with_run(record)
    usual = on.usual.get(record.pk, Usual())
    filled = fillings(run, usual, on.gauges, on.capacities, now)
    written = RecordAsWritten(record, sheet)
    people = Person.objects.in_bulk({one.person_id for one in run.readings})
    to_strike = reverse("reading_strike", args=[record.kind, record.number, 0]) if writes else ""
    due = reading_due(run, now, usual)
    course = course_of_run(run, name="curve")
    return render(
        request,
        "batches/running.html",
        {
            "area": "shift",
            "density": "wet-hands",
            "run": run,
            "record": record,
            "sheet": sheet,
            "writes": writes,
            "form": form,
            "event_form": event_form,
            "put": put,
            "signing": signing,
            "drafting": draft,
            "standing": shown.state_of_run(run, now),
            "on_for": figures.span(max(now - run.begun, timedelta(0))),
            "begun": shown.clock_or_day(run.begun, now),
            "stages": shown.stages_of(run, usual, now),
            "events": run.may_come(),
            "finish": sheet.moments[-1].label,
            "due": due,
            "reading_head": shown.reading_head(due, now),
            "missing": shown.missing_said(due, now),
            "last_reading": shown.last_reading(run, now),
            "chart": course.svg() if course else curve_of(run, usual, now, size=LARGE, name="curve"),
            "by_hours": course is not None,
            "chart_table": readings_table(written, readings_of(written)),
            "runs_before": len(usual.runs) if usual.enough else 0,
            "readings": shown.readings_shown(run, people, now, to_strike=to_strike),
            "balance": shown.balance_of(run, charged_of([run]).get(record.number) if sheet.occupies else None, filled),
            "results": as_tables(results_of(as_it_stands(written, Site()), now)),
            "act_now": receivers_near_full(on, [run], now),
            "cautions": sheet.cautions,
            "standing_caution": STANDING_CAUTION,
        },
    )
