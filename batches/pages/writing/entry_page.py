"""The page a record is written on: its boxes, what stands already, what is wrong; and the answer once it is saved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from batches.models import Record, State, Version
from batches.pages.common import record_or_404, signed_on
from batches.pages.records.shown import RecordAsWritten, record_address
from batches.pages.results import as_tables
from batches.pages.writing.beside import Beside
from batches.pages.writing.forms import TOKEN, EntryForm
from batches.pages.writing.grid.comes_to import comes_to
from batches.pages.writing.grid.heads import VesselHeads
from batches.pages.writing.grid.laid_out import Layout, first_empty
from batches.pages.writing.grid.parts import Block
from batches.pages.writing.ways_out import with_records
from batches.records import submit_once as sendings
from batches.records.recording import Busy
from batches.running.runs import is_running
from batches.sheets.how_read import how_measured
from batches.sheets.sheet import STANDING_CAUTION, Problem, Sheet
from batches.sheets.typed.read_sheet import Unfit
from distillery import figures
from distillery.clock.reading import books_now
from distillery.drafts.showing import Drafting
from distillery.people.models import Person
from ledger.periods.words import carried_in_words
from ledger.posting.drafts import Refused


def saved_already(request: HttpRequest, record: Record, name: str = "record") -> HttpResponse:
    """The form came a second time: what it wrote is shown, and nothing more was written."""
    messages.info(request, f"{record.number} was saved from this sheet already; nothing was written a second time.")
    return redirect(record_address(record, name))


def saved(request: HttpRequest, record: Record, word: str = "Saved", *, then: str = "") -> HttpResponse:
    """The record's page after what was typed is kept, with what is unlikely about it; of one that is on, the page it is
    worked from; `then` where the writer came from another page to which the answer belongs."""
    written = record_or_404(record.kind, record.number)
    messages.success(request, f"{word} {figures.clock(timezone.now())}: {written.sheet.title.lower()} {record.number}.")
    for remark in written.remarks:
        messages.warning(request, f"Unlikely, kept. {remark.label}: {remark.sentence}")
    return redirect(then or record_address(record, "record_running" if is_running(record) else "record"))


def entry_page(
    request: HttpRequest,
    sheet: Sheet,
    entry: EntryForm,
    heading: str,
    *,
    written: RecordAsWritten | None = None,
    token: str = "",
    beside: Beside | None = None,
    cancel: str = "",
    drafting: Drafting | None = None,
    **more: object,
) -> HttpResponse:
    """The page of a sheet to be written, with what is wrong at its boxes."""
    if drafting is not None and entry.suggested:
        # What was carried here is no more saved than what is typed.
        drafting = replace(drafting, whole=True)
    number = written.record.number if written else ""
    entry.work_out(books_now(), number)
    heads = VesselHeads(entry.site, entry.day)
    apart = entry.suggested_boxes if more.get("asks_reason") else frozenset()
    layout = Layout(entry, heads, apart)
    blocks, lines = layout.blocks(), layout.lines()
    later, perhaps = _folded(blocks, entry)
    put_right = entry.put_right() if apart else []
    alone = {"#id_reason", *(f"#{box.bound.id_for_label}" for _, _, box in put_right)}
    begun = request.method == "POST" or bool(apart)
    now = [one for one in blocks if one not in later and one not in perhaps]
    carried = next((name for name in entry.form.fields if name in entry.suggested), "")
    if not begun and carried:
        # What was carried here is looked at first, wherever on the sheet it stands.
        entry.form.fields[carried].widget.attrs["autofocus"] = True
    elif not begun and (empty := first_empty(now, lines)) is not None:
        empty.field.widget.attrs["autofocus"] = True
    context: dict[str, object] = {
        "area": "shift",
        "density": "wet-hands",
        "sheet": sheet,
        "entry": entry,
        "heading": heading,
        "written": written,
        "written_sections": _already(written, entry) if written and not more.get("asks_reason") else [],
        "blocks": now,
        "later": later,
        "later_named": _named(later),
        "perhaps": perhaps,
        "perhaps_named": _named(perhaps),
        "lines": lines,
        "put_right": put_right,
        "open_rest": any(one["href"].startswith("#") and one["href"] not in alone for one in entry.errors),
        "sums": comes_to(entry, heads, number),
        "results": as_tables(entry.results),
        "helps": layout.helps(),
        "measured": how_measured(sheet),
        "number": number,
        "hazards": [one.hazard for one in sheet.cautions],
        "cautions": [*(one.sentence for one in sheet.cautions), STANDING_CAUTION],
        "caution_open": bool(sheet.cautions) and not has_met(signed_on(request), sheet),
        "closed_time": carried_in_words(written.record.happened_from if written and not left_open(written) else None),
        "errors": with_records(entry.errors),
        "token": token or request.POST.get(TOKEN, "") or sendings.new_token(),
        "beside": beside,
        "drafting": drafting,
        "cancel": cancel or (record_address(written.record) if written else ""),
        **more,
    }
    return render(request, "batches/entry.html", context)


def _folded(blocks: Sequence[Block], entry: EntryForm) -> tuple[list[Block], list[Block]]:
    """What may wait and what may never come: all of one moment is folded away, or none where something is written."""
    waits = [one for one in blocks if entry.may_wait(one.moment)]
    perhaps = [one for one in waits if entry.sheet.moment(one.moment).may_never_come]
    begun = {one.moment for one in waits if one.is_begun}
    later = [one for one in waits if one not in perhaps]
    # The moments that must come are folded away together.
    later = [] if begun & {one.moment for one in later} else later
    return later, [one for one in perhaps if one.moment not in begun]


def _named(blocks: Sequence[Block]) -> str:
    return ", ".join(one.heading.lower() for one in blocks if one.heading)


def has_met(person: Person, sheet: Sheet) -> bool:
    """True once a person has written at a step; until then its caution stands open."""
    return Version.objects.filter(person=person, record__kind=sheet.kind).exists()


def _already(written: RecordAsWritten, entry: EntryForm) -> list[tuple[str, object]]:
    here = set(entry.form.fields)
    shown: list[tuple[str, object]] = []
    for section in written.sheet.sections:
        if not any(field.name in here for field in section.fields) and (facts := written.facts_of(section)):
            shown.append((section.heading, facts))
    return shown


def left_open(written: RecordAsWritten) -> bool:
    """Whether more of a record is still to be written, at a time of its own."""
    return written.record.state == State.OPEN


def problems_of(error: Unfit | Refused | Busy) -> Sequence[Problem]:
    """What is wrong, at the boxes it hangs on."""
    if isinstance(error, Unfit):
        return error.problems
    return [Problem(error.field if isinstance(error, Refused) else "", None, error.sentence)]
