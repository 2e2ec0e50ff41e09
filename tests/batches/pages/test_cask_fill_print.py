"""The lines of a cask fill on paper, read back: every cask with litres, strength and alcohol, in their columns."""

from __future__ import annotations

import io
import re

from pypdf import PdfReader

from batches.models import Record
from batches.pages.common import record_or_404
from batches.pages.records.measured import lines_table
from batches.pages.records.posted import books_of
from batches.pages.records.printed import record_pdf
from batches.sheets.site import Site
from distillery import figures
from distillery.clock.reading import books_now
from ledger.models import MeasuredFlow


def text_of(number: str) -> str:
    """The text of a cask fill's print, all on one line."""
    pdf = record_pdf(record_or_404("cask_fill", number), printed_at=books_now(), printed_by="tests")
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


def test_each_cask_stands_in_its_columns_as_on_the_page(loaded_month) -> None:
    written = record_or_404("cask_fill", "CF0001")
    table = lines_table(written, books_of(written.record, written.sheet, Site()).measured)
    assert table is not None
    printed = text_of("CF0001")
    assert len(table.rows) == 34
    for row in table.rows:
        # One column more or less, or two that changed places, and this line is not there.
        assert " ".join(cell.text for cell in row.cells) in printed, row.cells[0].text


def test_alcohol_is_carried_forward_in_whole_microlitres_and_comes_to_what_was_filled(loaded_month) -> None:
    text = text_of("CF0001")
    record = Record.objects.get(number="CF0001")
    flows = MeasuredFlow.objects.filter(movement__record_number=record.number, movement__record_kind=record.kind)
    by_cask = {flow.taker.name.removeprefix("Cask "): flow.pure_ul for flow in flows.select_related("taker")}
    assert len(by_cask) == 34
    # Of the casks alone: the table of movements has sums of both its columns.
    casks = text[: text.index(f"Total {figures.lpa(sum(by_cask.values()))}")]
    places = list(re.finditer(r"(Carried|Brought) forward ([\d,.]+)", casks))
    assert [match[1] for match in places] == ["Carried", "Brought"]
    for match in places:
        before = sum(pure for code, pure in by_cask.items() if f" {code} " in casks[: match.start()])
        assert match[2] == figures.lpa(before)
