"""What a digest from paper belongs to: a version of a record, a printed record worked out anew, a handover,
a stock take."""

from __future__ import annotations

from collections.abc import Iterator

from django.urls import reverse
from django.utils.http import urlencode

from batches.models import Record, Version
from batches.records.versions import digest_of as digest_of_version
from batches.steps import sheet_of
from distillery import figures
from distillery.signed import digest_of as digest_of_shown
from ledger.proof.checking import Asked, Checked, beginning, printed_page


def find_records(asked: Asked) -> Iterator[Checked]:
    """Versions whose digest begins as asked, and the printed page of the record whose number was typed."""
    yield from _versions(asked)
    if asked.number:
        yield from _printed(asked)


def _versions(asked: Asked) -> Iterator[Checked]:
    # Here and not above, as in `_printed`: no command has to load pages and paper before it starts.
    from batches.pages.records.shown import record_address, title_of

    for version in beginning(Version.objects.select_related("record", "person"), "digest", asked.digest):
        record = version.record
        before = Version.objects.filter(record=record, serial=version.serial - 1).first()
        digest = digest_of_version(version, before=before.digest if before is not None else "")
        agrees = digest == version.digest
        if agrees:
            sentence = f"It is the digest of what was written {figures.moment(version.written_at, year=True)}."
        else:
            sentence = "It is the digest of this version, but what the database now holds does not give this digest."
        document = f"{title_of(record.kind)} {record.number}"
        yield Checked(
            f"{document}, version {version.serial}",
            record_address(record),
            agrees,
            digest,
            f"{sentence} {_since(record, version)}".strip(),
            document=document,
            version=version.serial,
        )


def _printed(asked: Asked) -> Iterator[Checked]:
    from batches.pages.records.printed import record_sheet
    from batches.pages.records.shown import RecordAsWritten, record_address, title_of
    from distillery.printing.documents.record_sheet import record_digest

    for record in Record.objects.select_related("opened_by", "second").filter(number__iexact=asked.number):
        written = RecordAsWritten(record, sheet_of(record.kind))
        latest = written.latest
        since = f"Version {latest.serial} stands since {figures.moment(latest.written_at, year=True)}."
        title = f"{title_of(record.kind)} {record.number}, as it would be printed now"
        yield printed_page(title, record_address(record), record_digest(record_sheet(written)), asked, since=since)
        if written.sheet.spans:
            yield _period(record, asked, since=since)


def _period(record: Record, asked: Asked, *, since: str) -> Checked:
    from django.urls import reverse

    from batches.distilling.periods import period_of
    from batches.distilling.yields import Yield
    from batches.pages.distilling.tables import plain
    from batches.sheets.site import Site
    from distillery.printing.digest import digest_of

    title = f"What distillation period {record.number} came to, as it would be printed now"
    address = reverse("distillation_period", args=[record.number])
    return printed_page(title, address, digest_of(plain(Yield(period_of(record), Site()))), asked, since=since)


def find_board(asked: Asked) -> Iterator[Checked]:
    """The print of the board whose months stand at its head: '2026-04 to 2027-03'."""
    first, between, last = asked.number.casefold().partition(" to ")
    if not between:
        return
    from batches.board.reading import board
    from batches.pages.board.tables import plain
    from distillery.printing.digest import digest_of

    found = board(first.strip(), last.strip())
    # Other months than those that were typed would be another print.
    if found is None or found.span.words:
        return
    title = f"Board of {found.months[0].name} to {found.months[-1].name}, as it would be printed now"
    address = f"{reverse('board')}?{urlencode({'from': found.span.first, 'to': found.span.last})}"
    yield printed_page(title, address, digest_of(plain(found)), asked)


def find_handovers(asked: Asked) -> Iterator[Checked]:
    """Handovers whose digest, which both names stand under, begins as asked."""
    from batches.handover.handing import handovers, shown_of

    for handover in beginning(handovers(), "digest", asked.digest):
        digest = digest_of_shown(shown_of(handover))
        agrees = digest == handover.digest
        at = figures.moment(handover.said_at, year=True)
        signed = getattr(handover, "taken", None)
        sentence = f"It is the digest of what {handover.person.shown_name} handed over {at}"
        if not agrees:
            sentence += ", but what the database now holds does not give this digest."
        else:
            sentence += f"; {signed.person.shown_name} signed the same." if signed else "; nobody has signed it yet."
        title = f"Handover {handover.pk}, {at}"
        yield Checked(title, reverse("handover", args=[handover.pk]), agrees, digest, sentence)


def find_stock_takes(asked: Asked) -> Iterator[Checked]:
    """Stock takes whose digest, which both names stand under, begins as asked."""
    from batches.counting.ending import shown_of
    from batches.counting.models import Ready

    said = Ready.objects.select_related("take__person", "take__ending__second", "person")
    for ready in beginning(said, "digest", asked.digest):
        digest = digest_of_shown(shown_of(ready.take))
        agrees, ended = digest == ready.digest, getattr(ready.take, "ending", None)
        sentence = f"It is the digest of what {ready.person.shown_name} said to be all, {figures.moment(ready.at)}"
        if not agrees:
            sentence += "; something was counted since, so the stock take no longer gives this digest."
        elif ended is not None and ended.second is not None:
            sentence += f"; {ended.second.shown_name} agreed to the same and posted it."
        else:
            sentence += "; nobody has agreed to it yet."
        address = reverse("stock_take", args=[ready.take.serial])
        yield Checked(f"Stock take {ready.take.number}", address, agrees, digest, sentence)


def _since(record: Record, version: Version) -> str:
    newest = Version.objects.filter(record=record).order_by("serial").last()
    if newest is None or newest.serial == version.serial:
        return ""
    return f"Version {newest.serial} stands in its place since {figures.moment(newest.written_at, year=True)}."
