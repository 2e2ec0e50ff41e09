"""Sheets that come back with a draft: which draft is theirs, and the form as it would be sent with it.

A draft is put on top of the version its page was opened with. Where the record has moved on since, the page shows both
as it does for two people (`beside.py`); nothing that was saved meanwhile is written over.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from urllib.parse import urlencode

from django.http import HttpRequest, QueryDict
from django.urls import reverse

from batches.models import Record, Version
from batches.pages.records.shown import RecordAsWritten, left_to_write, moments_to_correct, record_address
from batches.pages.writing.forms import LINE_COUNT, LINE_PREFIX, MOST_LINES, TOKEN, EntryForm, SentOnce
from batches.records import submit_once as sendings
from batches.records.versions import typed_of
from batches.sheets.sheet import Moment, Sheet
from batches.sheets.site import Site
from distillery.drafts import keeping, showing
from distillery.drafts.keeping import Kept, Which
from distillery.drafts.pc import this_pc
from distillery.drafts.showing import Drafting, drafting

NEW, COMPLETE, CORRECT, READING, EVENT = "new", "complete", "correct", "reading", "event"
PAGES = {COMPLETE: "record_add", CORRECT: "record_correct"}
# The box in which a form says which draft it has.
DRAFT = "draft"
# Says in an address which new sheet is meant: the token of its draft, or that a blank one is wanted.
SHEET = "sheet"
# Says in an address which moment of a record is written by itself.
MOMENT = "moment"
BLANK = "blank"


def of_new(request: HttpRequest, sheet: Sheet) -> tuple[Drafting, str]:
    """The draft of a sheet without a record yet, and the one-time token of its form.

    The address may name the draft. Else it is the one of this kind that was kept last at this PC; a page that asks for
    a blank sheet has none.
    """
    start = f"{NEW}/{sheet.kind}/"
    title = f"New {sheet.title.lower()}"
    if request.method == "POST":
        token = request.POST.get(TOKEN, "") or sendings.new_token()
        return drafting(request, f"{start}{token}", title, _named(sheet, token)), token
    pc, named = this_pc(request), request.GET.get(SHEET, "")
    found: Kept | None = None
    if pc and named and named != BLANK:
        found = keeping.kept(Which(pc, f"{start}{named}"))
    elif pc and not named:
        found = keeping.newest(pc, start)
    token = found.form.token if found is not None and found.form.token else sendings.new_token()
    return Drafting(f"{start}{token}", title, _named(sheet, token), found, pc, blank=_named(sheet, BLANK)), token


def under(draft: Drafting, sheet: Sheet, token: str) -> Drafting:
    """The draft of a sheet without a record, under another token."""
    return replace(draft, key=f"{NEW}/{sheet.kind}/{token}", address=_named(sheet, token))


def _named(sheet: Sheet, token: str) -> str:
    return f"{reverse('record_new', args=[sheet.kind])}?{urlencode({SHEET: token})}"


def of_record(
    request: HttpRequest, written: RecordAsWritten, what: str, words: str, *, look: bool = True, moment: str = ""
) -> Drafting:
    """The draft of what is being written on a record; a `moment` that is written by itself has one of its own.

    A form that is sent says itself which draft it has: what was begun as completing may have become a correction.
    """
    record = written.record
    begun, of = request.POST.get(DRAFT, ""), f"{record.kind}/{record.number}{f'/{moment}' if moment else ''}"
    what = next((one for one in PAGES if begun == f"{one}/{of}"), what)
    title, address = f"{record.number}, {words}", record_address(record, PAGES[what])
    if moment:
        address = f"{address}?{urlencode({MOMENT: moment})}"
    return drafting(request, f"{what}/{of}", title, address, look=look)


def of_line(
    request: HttpRequest, written: RecordAsWritten, form: SentOnce, *, page: str = "record_reading", event: str = ""
) -> Drafting:
    """The draft of a line of readings, or of an event, put into its boxes. Each line has its own, known by its one-time
    token, since another may be written while one still waits to be sent; the one that was kept last is shown.
    """
    record = written.record
    start = f"{EVENT}/{record.kind}/{record.number}/{event}/" if event else f"{READING}/{record.kind}/{record.number}/"
    pc, found = this_pc(request), None
    if pc and not form.is_bound:
        found = keeping.newest(pc, start)
    if found is not None:
        showing.fill(form, found)
        form.initial[TOKEN] = found.form.token
    address = record_address(record, page)
    if event:
        address = f"{address}?{urlencode({EVENT: event})}"
    title = f"{record.number}, {event.replace('_', ' ') or 'reading'}"
    key = f"{start}{form[TOKEN].value()}"
    return Drafting(key, title, address, found, pc, whole=form.is_bound, again=not event)


def of_lines(request: HttpRequest, forms: Mapping[Record, SentOnce]) -> dict[int, Drafting]:
    """The same for the next reading of several records on one page, by their keys: the drafts of the PC are asked for
    once. A draft with more in it than stands on such a line is left to the page it was typed on.
    """
    pc = this_pc(request)
    there = keeping.drafts_of(pc) if pc and forms else []
    found = {}
    for record, form in forms.items():
        start = f"{READING}/{record.kind}/{record.number}/"
        kept = next((one for one in there if one.form.key.startswith(start)), None)
        if kept is not None and not {name for name, text in kept.values.items() if text} <= form.fields.keys():
            kept = None
        if kept is not None:
            showing.fill(form, kept)
            form.initial[TOKEN] = kept.form.token
        address = record_address(record, "record_running")
        key = f"{start}{form[TOKEN].value()}"
        found[record.pk] = Drafting(key, f"{record.number}, reading", address, kept, pc, again=True)
    return found


def token_of(draft: Drafting) -> str:
    """The token that a sheet with a draft is shown with: what was sent from it is known again."""
    return draft.kept.form.token if draft.kept is not None else ""


def opened_with(written: RecordAsWritten, kept: Kept) -> Version:
    """The version that the page of a draft was opened with; what stands now where it is not known."""
    return next((one for one in written.versions if one.serial == kept.form.serial), written.latest)


def with_draft(entry: EntryForm, kept: Kept, moments: Sequence[Moment]) -> EntryForm:
    """A sheet as it stood on the page that its draft was kept from."""
    sent = _sent_with(entry, kept)
    return EntryForm(entry.sheet, Site(), moments=moments, posted=sent, suggested=entry.suggested, kept=kept)


def _sent_with(entry: EntryForm, kept: Kept) -> QueryDict:
    """A form as its page would send it: what stands in its boxes, on top of that what was kept of each, and on top of
    all what the address carries, which was meant for the sheet that was being written."""
    boxes = entry.standing
    lines = [int(name.split("-")[1]) for name in kept.boxes if _is_of_a_line(name)]
    count = max([int(boxes.get(LINE_COUNT, "0")), *(number + 1 for number in lines)])
    sent = QueryDict(mutable=True)
    for name, text in (boxes | kept.values | entry.suggested).items():
        sent[name] = text
    if entry.has_lines:
        sent[LINE_COUNT] = str(min(count, MOST_LINES))
    return sent


def left_on(sheet: Sheet, version: Version) -> list[Moment]:
    """The moments that were left on a version."""
    return left_to_write(sheet, typed_of(version)[0])


def to_correct_on(sheet: Sheet, version: Version) -> list[Moment]:
    """The moments of a version that a correction shows."""
    return moments_to_correct(sheet, typed_of(version)[0])


def left_of(moments: Sequence[Moment]) -> str:
    """What is written on a record, for the list of drafts: 'finish'."""
    return moments[0].label.lower() if moments else "completing"


def _is_of_a_line(name: str) -> bool:
    parts = name.split("-")
    return len(parts) > 2 and parts[0] == LINE_PREFIX and parts[1].isascii() and parts[1].isdigit()
