"""The frame of every page, the file's own description, and that the same printing gives the same bytes."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from io import BytesIO

import pytest
from printed_samples import (
    DIGEST,
    IMPRESSION,
    SITE,
    log_sheet,
    month_sheet,
    pages_of,
    printed,
    run_sheet,
)
from pypdf import PdfReader

from distillery.printing.blocks import Heading, Paragraph
from distillery.printing.document import Part, print_document
from distillery.printing.documents.blank_sheet import blank_sheets_pdf
from distillery.printing.documents.month_account import month_account_pdf
from distillery.printing.documents.record_sheet import record_sheet_pdf
from distillery.printing.furniture import Furniture, Impression, Site, grouped
from distillery.printing.paper import BOTTOM_MARGIN, LEFT_MARGIN, RIGHT_MARGIN, TOP_MARGIN

LONG = Paragraph("Reading and writing. " * 900)


def samples() -> dict[str, bytes]:
    return {
        "month": month_account_pdf(month_sheet(), IMPRESSION),
        "run": record_sheet_pdf(run_sheet(), IMPRESSION),
        "run, portrait": record_sheet_pdf(replace(run_sheet(), landscape=False), IMPRESSION),
        "blank": blank_sheets_pdf(log_sheet(), IMPRESSION),
    }


def test_every_page_says_whose_which_when_and_how_many() -> None:
    pages = pages_of(printed(LONG))
    assert len(pages) > 1
    for number, page in enumerate(pages, start=1):
        for wanted in (
            "Harrowmere Distillery",
            "Harrowmere, by the lower weir",
            "Approval number HM-0001",
            "Trial sheet",
            "TS-2026-0001, version 1",
            "Printed 25 Nov 2026 14:02 by Ines Marlow, copy 1",
            "9f3c 71d0 44ab e802",
            f"Page {number} of {len(pages)}",
        ):
            assert wanted in page


def test_who_printed_it_and_when_stands_on_one_line_where_a_page_is_narrow() -> None:
    furniture = Furniture(SITE, "Trial sheet", "TS-2026-0001", 1, replace(IMPRESSION, copy=0), DIGEST)
    (page,) = PdfReader(BytesIO(print_document([Part(furniture, [Paragraph("Text")])]))).pages
    assert "Printed 25 Nov 2026 14:02 by Ines Marlow, screen copy" in page.extract_text().splitlines()


def test_a_digest_is_printed_in_fours() -> None:
    assert grouped(DIGEST) == "9f3c 71d0 44ab e802"
    assert grouped("") == ""


@pytest.mark.parametrize("name", ["month", "run", "run, portrait", "blank"])
def test_the_same_printing_gives_the_same_bytes(name: str) -> None:
    assert samples()[name] == samples()[name]


def test_another_time_or_copy_gives_another_print() -> None:
    later = replace(IMPRESSION, printed_at=datetime(2026, 11, 25, 14, 3, tzinfo=UTC))
    prints = {record_sheet_pdf(run_sheet(), each) for each in (IMPRESSION, later, replace(IMPRESSION, copy=2))}
    assert len(prints) == 3


def test_the_file_names_the_document_and_nobody_else() -> None:
    reader = PdfReader(BytesIO(printed(Heading("Charge"), Paragraph("Text"))))
    described = reader.metadata
    assert described is not None
    assert described.title == "Trial sheet TS-2026-0001, version 1"
    assert described.author == "Harrowmere Distillery"
    assert not described.producer
    assert not described.creator
    assert described.creation_date == IMPRESSION.printed_at
    assert reader.trailer["/Root"]["/Lang"] == "en-GB"
    assert reader.outline[0].title == "Charge"


@pytest.mark.parametrize("name", ["month", "run", "run, portrait", "blank"])
def test_every_font_used_is_embedded(name: str) -> None:
    used = set()
    for page in PdfReader(BytesIO(samples()[name])).pages:
        text = page.get_contents().get_data().decode("latin-1")
        for key, font in page["/Resources"]["/Font"].items():
            if f"{key} " in text:
                used.add((font["/BaseFont"], "/FontFile2" in font.get("/FontDescriptor", {})))
    # The library sets its own default font at the head of a page; nothing is drawn in it.
    drawn = {name for name, embedded in used if embedded}
    assert any("B612" in name for name in drawn)
    assert {name for name, embedded in used if not embedded} == set()


@pytest.mark.parametrize("name", ["month", "run", "run, portrait", "blank"])
def test_nothing_is_written_in_the_margins(name: str) -> None:
    written = 0
    for page in PdfReader(BytesIO(samples()[name])).pages:
        width, height = float(page.mediabox.width), float(page.mediabox.height)
        assert {round(width / 72 * 25.4), round(height / 72 * 25.4)} == {210, 297}
        spots: list[tuple[float, float]] = []

        def keep(
            text: str, user: list[float], matrix: list[float], *rest: object, into: list[tuple[float, float]] = spots
        ) -> None:
            if text.strip():
                into.append((matrix[4] + user[4], matrix[5] + user[5]))

        page.extract_text(visitor_text=keep)
        written += len(spots)
        assert all(x >= LEFT_MARGIN - 0.1 for x, _ in spots)
        assert all(x < width - RIGHT_MARGIN for x, _ in spots)
        assert all(BOTTOM_MARGIN <= y <= height - TOP_MARGIN for _, y in spots)
    assert written > 50


@pytest.mark.parametrize("name", ["month", "run", "run, portrait", "blank"])
def test_everything_prints_in_black(name: str) -> None:
    for page in PdfReader(BytesIO(samples()[name])).pages:
        words = page.get_contents().get_data().decode("latin-1").split()
        colours = {tuple(words[n - 3 : n]) for n, word in enumerate(words) if word in ("rg", "RG")}
        assert colours <= {("0", "0", "0")}
        assert {words[n - 1] for n, word in enumerate(words) if word in ("g", "G")} <= {"0"}


def test_long_names_break_and_are_not_lost() -> None:
    name = "The Very Old and Very Long Named Distillery of Harrowmere under the Weir and over the Hill"
    by = "A Person with a Name that Goes on and on until the Digest in the Middle of the Page is in its Way"
    pages = pages_of(
        printed(
            Paragraph("Text"),
            site=Site(name, "Lane " * 30, "HM-0001"),
            impression=Impression(IMPRESSION.printed_at, by, copy=1),
        )
    )
    flat = " ".join(pages[0].split())
    assert name in flat
    assert f"by {by}, copy 1" in flat
    assert "Page 1 of 1" in flat


def test_parts_are_counted_through_and_keep_their_way_up() -> None:
    furniture = Furniture(SITE, "Records for visit", "OB-2026-0006", 1, IMPRESSION, DIGEST)
    parts = [Part(furniture, [LONG]), Part(replace(furniture, title="Inside"), [Paragraph("Text")], landscape=True)]
    pages = pages_of(print_document(parts))
    assert f"Page {len(pages)} of {len(pages)}" in pages[-1]
    reader = PdfReader(BytesIO(print_document(parts)))
    assert reader.pages[0].mediabox.height > reader.pages[0].mediabox.width
    assert reader.pages[-1].mediabox.width > reader.pages[-1].mediabox.height
