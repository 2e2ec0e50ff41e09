"""What several pages share: finding the sheet and record of an address, and whose hands a form went through."""

from __future__ import annotations

from django.http import Http404, HttpRequest

from batches.hands import Hands
from batches.models import Record
from batches.pages.records.shown import RecordAsWritten
from batches.sheets.sheet import Problem, Sheet
from batches.sheets.typed.read_sheet import Unfit
from batches.steps import NoSuchStep, sheet_of
from distillery.drafts.taken_up import typed_in
from distillery.pen import hands
from distillery.pen.trying.again import AGAIN, NotShown, asks_again, show_again
from distillery.people.models import Person
from distillery.prints.issuing import NoSuchSheet, sheet_called

LATE_REASON = "late_reason"
BLANK_SHEET = "blank_sheet"


def sheet_or_404(kind: str) -> Sheet:
    """The sheet of a kind of record."""
    try:
        return sheet_of(kind)
    except NoSuchStep as error:
        raise Http404(str(error)) from error


def record_or_404(kind: str, number: str) -> RecordAsWritten:
    """A record with its sheet; capital and small letters of its number alike."""
    sheet = sheet_or_404(kind)
    records = Record.objects.select_related("opened_by", "second")
    record = (
        records.filter(kind=kind, number=number).first() or records.filter(kind=kind, number__iexact=number).first()
    )
    if record is None:
        raise Http404(f"There is no {sheet.title.lower()} {number}.")
    return RecordAsWritten(record, sheet)


def hands_of(request: HttpRequest, *, signs: bool = False) -> Hands:
    """Whose hands a sent form went through: who read, who typed, at which PC. What `signs` takes the PIN again; what is
    saved may ask for it besides (`batches.records.asking.signed_for`), so one that was typed is always looked at.

    Raises Unfit for a reader not known and a PIN that is not right.
    """
    person = signed_on(request)
    shown = bool(request.POST.get(AGAIN))
    if signs or shown:
        try:
            show_again(request, person)
        except NotShown as refused:
            raise Unfit([Problem(refused.field, None, refused.sentence)]) from refused
    try:
        reader = hands.read_by(request, person)
    except hands.NobodyCalled as nobody:
        raise Unfit([Problem(hands.READER, None, nobody.sentence)]) from nobody
    return Hands(
        read_by=reader,
        typed_by=hands.typed_by(request, person, typed_in(request)),
        pc=hands.pc_name(request),
        late_reason=why_late(request),
        blank_sheet=_blank_sheet(request),
        asks_late=LATE_REASON in request.POST,
        unsigned=not shown and asks_again(request),
    )


def _blank_sheet(request: HttpRequest) -> str:
    typed = request.POST.get(BLANK_SHEET, "").strip()
    try:
        return str(sheet_called(typed)) if typed else ""
    except NoSuchSheet as unknown:
        raise Unfit([Problem(BLANK_SHEET, None, str(unknown))]) from unknown


def why_late(request: HttpRequest) -> str:
    """Why it is written late: the button that was pressed, or what stands in the box."""
    return next((text.strip() for text in request.POST.getlist(LATE_REASON) if text.strip()), "")


def signed_on(request: HttpRequest) -> Person:
    """The person at the page; every page but the sign-on asks for one."""
    person = request.user
    if not isinstance(person, Person):
        raise TypeError("A page of records was opened without signing on.")
    return person
