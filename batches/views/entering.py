"""Writing a record: a new one, the next moment of an open one, a correction of what stands.

The page hands over what was typed and shows what comes back. Nothing is kept unless everything fits.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from batches import recording
from batches.filling import Unfit
from batches.forms import EntryForm, now_typed
from batches.models import Record, State
from batches.sheet import STANDING_CAUTION, Moment, Problem, Sheet
from batches.shown import RecordAsWritten, record_address
from batches.site import Site
from batches.views.common import record_or_404, sheet_or_404, signed_on
from distillery import figures
from distillery.people.roles import WRITERS, needs
from ledger.drafts import Refused

REASON = "reason"
REASON_MISSING = "Why is blank; say in a few words what was wrong, so that others can follow it."
SERIAL = "version"
MORE = "more"


@needs(WRITERS)
def record_new(request: HttpRequest, kind: str) -> HttpResponse:
    """A new record: all moments on one page, of which only the first must be written now."""
    sheet = sheet_or_404(kind)
    first = sheet.moments[0]
    entry = EntryForm(
        sheet,
        Site(),
        moments=sheet.moments,
        posted=request.POST if request.method == "POST" else None,
        initial={first.when: now_typed()},
        # The bench carries its result here in the address, each figure under the name of its box.
        suggested=carried(request.GET.dict(), sheet),
    )
    if request.method == "POST" and MORE not in request.POST:
        try:
            record = recording.save(kind, None, entry.values, entry.rows, person=signed_on(request))
        except (Unfit, Refused) as error:
            entry.mark(_problems(error))
        else:
            return _saved(request, record)
    return _page(request, sheet, entry, f"New {sheet.title.lower()}", cancel=reverse("shift"))


@needs(WRITERS)
def record_add(request: HttpRequest, kind: str, number: str) -> HttpResponse:
    """What is still to be written on an open record."""
    written = record_or_404(kind, number)
    left = moments_left(written)
    if not left or written.record.state != State.OPEN:
        messages.info(request, f"{written.record.number} is complete; a value is changed by Correct.")
        return redirect(record_address(written.record))
    entry = EntryForm(
        written.sheet,
        Site(),
        moments=left,
        posted=request.POST if request.method == "POST" else None,
        initial={left[0].when: now_typed()} | written.typed,
        rows=written.rows,
    )
    if request.method == "POST" and MORE not in request.POST and _is_still(request, written, entry):
        try:
            record = recording.save(kind, written.record.number, entry.values, entry.rows, person=signed_on(request))
        except (Unfit, Refused) as error:
            entry.mark(_problems(error))
        else:
            return _saved(request, record)
    return _page(request, written.sheet, entry, f"{written.sheet.title} {written.record.number}", written=written)


@needs(WRITERS)
def record_correct(request: HttpRequest, kind: str, number: str) -> HttpResponse:
    """All that stands on a record, to be put right with a reason; the old values stay readable."""
    written = record_or_404(kind, number)
    if written.record.state == State.VOID:
        messages.info(request, f"{written.record.number} is void and is not changed any more.")
        return redirect(record_address(written.record))
    claimed = moments_written(written)
    entry = EntryForm(
        written.sheet,
        Site(),
        moments=claimed,
        posted=request.POST if request.method == "POST" else None,
        initial=written.typed,
        rows=written.rows,
        suggested=suggestions(request.GET.getlist("suggest")),
        day=timezone.localtime(written.record.happened_from).date(),
    )
    reason = request.POST.get(REASON, "").strip()
    if request.method == "POST" and MORE not in request.POST:
        if not reason:
            entry.refuse(REASON_MISSING, "#id_reason")
        elif _is_still(request, written, entry):
            rows = entry.rows if entry.has_lines else None
            try:
                record = recording.correct(written.record, entry.values, rows, person=signed_on(request), reason=reason)
            except (Unfit, Refused) as error:
                entry.mark(_problems(error))
            else:
                return _saved(request, record, "Corrected")
    return _page(
        request,
        written.sheet,
        entry,
        f"Correct {written.record.number}",
        written=written,
        reason=reason,
        reason_error="" if reason or not entry.errors else REASON_MISSING,
        asks_reason=True,
    )


def moments_left(written: RecordAsWritten) -> list[Moment]:
    """The moments of a record that have not been written yet, in order."""
    return [one for one in written.sheet.moments if not written.typed.get(one.when)]


def moments_written(written: RecordAsWritten) -> list[Moment]:
    """The moments of a record that have been written."""
    return [one for one in written.sheet.moments if written.typed.get(one.when)]


def carried(asked: Mapping[str, str], sheet: Sheet) -> dict[str, str]:
    """Figures of an address that belong into boxes of this sheet or of its lines; the rest is let be."""
    return {
        name: value.strip()
        for name, value in asked.items()
        if value.strip() and sheet.has_field(name.split("-", 2)[-1] if name.startswith("line-") else name)
    }


def suggestions(asked: Sequence[str]) -> dict[str, str]:
    """`field:value` pairs of an address, by the name of the box (`line-2-gross_kg` for a repeating line)."""
    found = {}
    for one in asked:
        name, colon, value = one.partition(":")
        if colon and name and value.strip():
            found[name] = value.strip()
    return found


def _problems(error: Unfit | Refused) -> Sequence[Problem]:
    if isinstance(error, Unfit):
        return error.problems
    return [Problem(error.field, None, error.sentence)]


def _is_still(request: HttpRequest, written: RecordAsWritten, entry: EntryForm) -> bool:
    """False, and said so, where somebody else wrote on the record while this page was open."""
    seen = request.POST.get(SERIAL, "")
    if not seen or seen == str(written.latest.serial):
        return True
    latest = written.latest
    entry.refuse(
        f"{latest.person.shown_name} wrote on this record at {figures.moment(latest.written_at)}, after you opened "
        "the page. Nothing of yours was saved; look at what stands now, then save again."
    )
    return False


def _saved(request: HttpRequest, record: Record, word: str = "Saved") -> HttpResponse:
    written = record_or_404(record.kind, record.number)
    messages.success(request, f"{word} {figures.clock(timezone.now())}: {written.sheet.title.lower()} {record.number}.")
    for remark in written.remarks:
        messages.warning(request, f"Unlikely, kept. {remark.label}: {remark.sentence}")
    return redirect(record_address(record))


def _page(
    request: HttpRequest,
    sheet: Sheet,
    entry: EntryForm,
    heading: str,
    *,
    written: RecordAsWritten | None = None,
    cancel: str = "",
    **more: object,
) -> HttpResponse:
    context: dict[str, object] = {
        "area": "shift",
        "density": "wet-hands",
        "sheet": sheet,
        "entry": entry,
        "heading": heading,
        "written": written,
        "written_sections": _already(written, entry) if written and not more.get("asks_reason") else [],
        "cautions": sheet.cautions,
        "standing_caution": STANDING_CAUTION,
        "errors": entry.errors,
        "cancel": record_address(written.record) if written else cancel,
        **more,
    }
    return render(request, "batches/entry.html", context)


def _already(written: RecordAsWritten, entry: EntryForm) -> list[tuple[str, object]]:
    here = set(entry.form.fields)
    shown: list[tuple[str, object]] = []
    for section in written.sheet.sections:
        if not any(field.name in here for field in section.fields) and (facts := written.facts_of(section)):
            shown.append((section.heading, facts))
    return shown
