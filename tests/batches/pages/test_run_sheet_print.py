"""A run stands on one landscape page, read back: what was measured and read, its balance, corrections."""

from __future__ import annotations

import io
import re

import pytest
from pypdf import PdfReader

from batches.models import Reading, Record
from batches.pages.common import record_or_404
from batches.pages.papers.run_sheet import is_run
from batches.pages.records.printed import record_pdf, record_sheet
from batches.pages.records.record_table import with_latest
from batches.records import recording
from batches.records.readings import strike_reading
from batches.steps import STEPS
from distillery import figures
from distillery.clock.reading import books_now
from distillery.people.models import Person

KINDS = [sheet.kind for sheet in STEPS if is_run(sheet)]


def printed(kind: str, number: str) -> PdfReader:
    return PdfReader(io.BytesIO(record_pdf(record_or_404(kind, number), printed_at=books_now(), printed_by="tests")))


def text_of(paper: PdfReader) -> str:
    return " ".join(" ".join(page.extract_text() for page in paper.pages).split())


def test_the_runs_are_those_of_every_still() -> None:
    assert KINDS == ["wash_run", "spirit_run", "third_still_run"]


@pytest.mark.parametrize("kind", KINDS)
def test_every_run_of_the_month_stands_on_one_landscape_page(loaded_month, kind: str) -> None:
    numbers = list(with_latest(Record.objects.filter(kind=kind)).values_list("number", flat=True))
    assert numbers
    for number in [numbers[0], numbers[len(numbers) // 2], numbers[-1]]:
        paper = printed(kind, number)
        assert len(paper.pages) == 1, number
        box = paper.pages[0].mediabox
        assert box.width > box.height
        text = text_of(paper)
        assert ("Readings" in text) == Reading.objects.filter(record__number=number).exists()
        for word in ("Measured", "Balance", "Charged", "Accounted for", "Made from", "Corrections"):
            assert word in text, (number, word)
        for word in ("Measured by", "Checked by", "Manager", "Page 1 of 1"):
            assert word in text


def test_every_figure_that_was_written_is_on_it(loaded_month) -> None:
    written = record_or_404("spirit_run", "SR0007")
    text = text_of(printed("spirit_run", "SR0007"))
    for name, typed in written.typed.items():
        field = written.sheet.field(name)
        if field.kind.name in ("NUMBER", "WHOLE"):
            assert re.search(rf"(?<![\d.]){re.escape(typed)}(?!\d)", text) or f"{float(typed):,.1f}" in text, name
    for reading in Reading.objects.filter(record=written.record):
        assert f"{figures.clock(reading.at)} {reading.value}" in text


def test_what_was_put_right_is_struck_with_its_footnote_and_both_movements(loaded_month, staff: Person) -> None:
    record = Record.objects.get(number="SR0007")
    recording.correct(record, {"spirit_after_dip_mm": "927"}, person=staff, reason="read anew")
    text = text_of(printed("spirit_run", "SR0007"))
    assert re.search(r"827 ?a ?927", text)
    assert "827 struck, now 927" in text
    assert re.search(r"Movement \d+ \([\d,.]+ LPA\) was taken back by its opposite, movement \d+", text)
    assert len(printed("spirit_run", "SR0007").pages) == 1


def test_a_struck_reading_has_its_footnote(loaded_month, staff: Person) -> None:
    reading = Reading.objects.filter(record__number="SR0008").order_by("at").first()
    assert reading is not None
    strike_reading(reading, value="71.0", person=staff, reason="meniscus")
    text = text_of(printed("spirit_run", "SR0008"))
    assert f"{reading.value} struck, now 71.0" in text
    assert "meniscus" in text
    assert len(printed("spirit_run", "SR0008").pages) == 1


def test_the_balance_is_that_of_the_legs(loaded_month) -> None:
    sheet = record_sheet(record_or_404("wash_run", "WR0007"))
    assert sheet.run is not None
    boxes = {one.label: one.value for one in sheet.run.balance}
    amounts = {label: round(float(value.split()[0].replace(",", "")), 2) for label, value in boxes.items()}
    took = [amounts[label] for label in list(amounts)[1 : list(amounts).index("Accounted for")]]
    assert sum(took) == pytest.approx(amounts["Accounted for"], abs=0.011)
    assert "missing" in boxes["Wash run"]
    assert amounts["Charged"] - amounts["Accounted for"] == pytest.approx(amounts["Wash run"], abs=0.011)
