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


def lines_of(number: str) -> list[str]:
    """The lines of text of a cask fill's print, in order."""
    pdf = record_pdf(record_or_404("cask_fill", number), printed_at=books_now(), printed_by="tests")
    pages = PdfReader(io.BytesIO(pdf)).pages
    return [" ".join(line.split()) for page in pages for line in page.extract_text().splitlines()]


def test_each_cask_stands_in_its_columns_as_on_the_page(loaded_month) -> None:
    written = record_or_404("cask_fill", "CF0001")
    table = lines_table(written, books_of(written.record, written.sheet, Site()).measured)
    assert table is not None
    printed = " ".join(lines_of("CF0001"))
    assert len(table.rows) == 34
    for row in table.rows:
        # One column more or less, or two that changed places, and this line is not there.
        assert " ".join(cell.text for cell in row.cells) in printed, row.cells[0].text


def test_alcohol_is_carried_forward_in_whole_microlitres_and_comes_to_what_was_filled(loaded_month) -> None:
    lines = lines_of("CF0001")
    record = Record.objects.get(number="CF0001")
    flows = MeasuredFlow.objects.filter(movement__record_number=record.number, movement__record_kind=record.kind)
    by_cask = {flow.taker.name.removeprefix("Cask "): flow.pure_ul for flow in flows.select_related("taker")}
    running, seen = 0, 0
    for line in lines:
        first = line.split()[0] if line else ""
        if first in by_cask and len(line.split()) > 6:
            running += by_cask[first]
            seen += 1
        elif re.match(r"(Carried|Brought) forward [\d,.]+$", line) and seen < len(by_cask):
            assert line.endswith(f"forward {figures.lpa(running)}")
    assert seen == len(by_cask) == 34
    assert f"Total {figures.lpa(sum(by_cask.values()))}" in lines
    assert sum(line.startswith("Carried forward") for line in lines) == sum(
        line.startswith("Brought forward") for line in lines
    )
