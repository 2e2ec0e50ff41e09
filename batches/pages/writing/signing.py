"""Second signatures on a record's page: what has been changed since, and both versions where it has moved on."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from batches.models import Signature, Version
from batches.pages.common import record_or_404, signed_on
from batches.pages.records.shown import RecordAsWritten, record_address
from batches.pages.writing.taking_back import ReasonForm
from batches.records import recording, signatures
from batches.records.merging import differences, flat
from batches.records.recording import Busy, MovedOn
from batches.records.versions import typed_of
from batches.sheets.typed.read_sheet import Unfit
from distillery import figures, pages
from distillery.drafts import showing as drafts
from distillery.people.roles import WRITERS, needs
from distillery.signed import SEEN, Carried
from ledger.posting.drafts import Refused
from ledger.views.enquiries.signing import GONE

NOT_SAID = "The page did not say which version was on it, so nothing was signed."


@dataclass(frozen=True, slots=True)
class Signing:
    """What a page says of second signatures: the one that no longer covers what stands, and what waits instead."""

    changed: Signature | None
    sentence: str
    seen: Carried


def signing_of(written: RecordAsWritten) -> Signing:
    """How the record that is shown stands with its second signature."""
    latest = written.latest
    changed = written.no_longer_signed
    sentence = signatures.changed_in_words(written.record, latest, changed) if changed is not None else ""
    return Signing(changed, sentence, Carried(latest.digest, ""))


def moved_on(request: HttpRequest, written: RecordAsWritten, seen: str) -> HttpResponse:
    """Nothing was signed: the version that was on the page beside the one that stands now."""
    latest = written.latest
    before = next((one for one in written.versions if one.digest == seen), None)
    said = NOT_SAID
    if before is not None:
        said = (
            f"{latest.person.shown_name} wrote version {latest.serial} at {figures.moment(latest.written_at)}; your "
            f"page showed version {before.serial}, so nothing was signed."
        )
    return render(
        request,
        "batches/moved_on.html",
        {
            "area": "records",
            "record": written.record,
            "sheet": written.sheet,
            "sentence": said,
            "both": _both(written, before),
            "back": record_address(written.record),
        },
        status=409,
    )


def _both(written: RecordAsWritten, before: Version | None) -> pages.Table:
    sheet, latest = written.sheet, written.latest
    opened = flat(sheet, *typed_of(before)) if before is not None else {}
    now = flat(sheet, *typed_of(latest))
    rows = [(one.label, one.opened, one.theirs) for one in differences(sheet, opened, opened, now)]
    if signatures.asks_void(latest):
        rows.insert(0, ("Record", "stands", f"asked to be made void: {latest.reason}"))
    return pages.Table(
        caption="Both versions",
        note="nothing was signed",
        columns=(
            pages.Column("What"),
            pages.Column(f"Version {before.serial}, on your page" if before is not None else "On your page"),
            pages.Column(f"Version {latest.serial}, as it stands now"),
        ),
        rows=[
            pages.Row([pages.Cell(what), pages.Cell(was or GONE), pages.Cell(becomes or GONE)])
            for what, was, becomes in rows
        ],
        empty="The figures are the same; only who wrote them, and why, is not.",
    )


@needs(WRITERS)
def record_send_back(request: HttpRequest, kind: str, number: str) -> HttpResponse:
    """Does not agree to what waits on a record that was signed before, and says why."""
    written = record_or_404(kind, number)
    record = written.record
    back = record_address(record)
    form = ReasonForm(request.POST if request.method == "POST" else None)
    if request.method == "POST":
        seen = request.POST.get(SEEN, "")
        try:
            recording.send_back(record, person=signed_on(request), reason=form.text("reason"), seen=seen)
        except MovedOn:
            return moved_on(request, record_or_404(kind, number), seen)
        except (Unfit, Refused, Busy) as error:
            form.mark(error)
        else:
            drafts.saved(request)
            messages.success(
                request, f"Sent back {figures.clock(timezone.now())}: what was countersigned stands on {record.number}."
            )
            return redirect(back)
    heading = f"Send back what waits on {record.number}"
    return render(
        request,
        "batches/reason.html",
        {
            "area": "records",
            "heading": heading,
            "drafting": drafts.of_page(request, form, heading),
            "explained": "What was countersigned stands on the record again. What waited stays to be read.",
            "form": form,
            "submit": "Send it back",
            "cancel": back,
            "seen": Carried(written.latest.digest, ""),
        },
    )
