"""The printed record: values, struck values with their footnotes, links both ways, balance, signatures."""

from __future__ import annotations

import re
from dataclasses import replace

from printed_samples import IMPRESSION, LITRE, at, lines_of, pages_of, run_sheet

from distillery.printing.documents.record_sheet import Correction, RecordSheet, record_sheet_pdf
from distillery.printing.signing import Signatory

# Happened, written, and the strength that follows them: no run of clock times under the curve looks like it.
READING = r"\b\d\d:\d\d\n\d\d:\d\d\n[\d.]+\n"


def flat(pdf: bytes) -> str:
    return " ".join(" ".join(pages_of(pdf)).split())


def test_the_record_prints_in_its_order() -> None:
    text = "\n".join(pages_of(record_sheet_pdf(run_sheet(), IMPRESSION)))
    headings = ("Caution", "Charge", "Readings", "Balance", "Made from", "Corrections", "Notes", "Measured by")
    places = [text.index(f"{heading}\n") for heading in headings]
    assert places == sorted(places)
    assert "SR-2026-0412, version 1" in text


def test_a_struck_value_says_who_when_and_why() -> None:
    pdf = record_sheet_pdf(run_sheet(), IMPRESSION)
    lines = lines_of(pdf)
    for value in ("71.9", "70.9", "28.4", "24.8 % vol at 20 °C"):
        assert value in lines
    wanted = "Strength at 01:50: 71.9 struck, now 70.9; Ines Marlow, Wed 25 Nov 2026 01:52: misread the meniscus"
    assert wanted in flat(pdf)


def test_a_value_struck_without_another_says_so() -> None:
    correction = Correction("a", "Flow", "9.7", "", "Ines Marlow", at(1, 0), "meter stood still")
    assert "Flow: 9.7 struck, nothing put in its place" in flat(
        record_sheet_pdf(replace(run_sheet(), corrections=(correction,)), IMPRESSION)
    )


def test_links_go_both_ways_with_their_shares() -> None:
    lines = lines_of(record_sheet_pdf(run_sheet(), IMPRESSION))
    start = lines.index("WR-2026-0811")
    assert lines[start + 1 : start + 4] == ["Wash run", "640.12", "49.6"]
    start = lines.index("TR-2026-0090")
    assert lines[start + 1 : start + 4] == ["Transfer to the spirit vat", "476.79", "100.0"]


def test_long_readings_run_over_pages_in_either_way_up() -> None:
    for landscape in (True, False):
        text = "\n".join(pages_of(record_sheet_pdf(replace(run_sheet(96), landscape=landscape), IMPRESSION)))
        assert len(re.findall(READING, text)) == 96


def test_readings_stand_once_beside_their_curve() -> None:
    (first, *_) = pages_of(record_sheet_pdf(run_sheet(12), IMPRESSION))
    assert len(re.findall(READING, first)) == 12
    assert "Spirit to feints 03:40 at 68.1 (plan 67.5)" in first


def test_the_balance_prints_all_seven_figures() -> None:
    lines = lines_of(record_sheet_pdf(run_sheet(), IMPRESSION))
    start = max(number for number, line in enumerate(lines) if line == "Spirit still")
    assert lines[start + 1 : start + 8] == ["0.00", "1,289.60", "1,288.83", "0.00", "0.77", "0.00", "0.77 missing"]


def test_a_bare_record_says_that_it_has_no_links_and_no_corrections() -> None:
    sheet = RecordSheet(run_sheet().site, "Transfer", "TR-2026-0090")
    lines = lines_of(record_sheet_pdf(sheet, IMPRESSION))
    assert "No record before this one." in lines
    assert "No record after this one." in lines
    assert lines[lines.index("Corrections") + 1] == "None."
    assert "Balance" not in lines


def test_who_signed_on_the_screen_is_printed_on_the_line() -> None:
    signed = (Signatory("Measured by", "Ines Marlow", at(5, 20)), Signatory("Checked by"))
    text = flat(record_sheet_pdf(replace(run_sheet(), signatories=signed), IMPRESSION))
    assert "Tue 24 Nov 2026 05:20" in text
    assert "Manager" not in text


def test_a_sheet_for_ink_says_how_ink_is_put_right() -> None:
    text = flat(record_sheet_pdf(run_sheet(), IMPRESSION))
    for wanted in ("one line through it", "the right figure beside it", "initials, the date and the time", "and why"):
        assert wanted in text


def test_the_signatures_are_not_parted_from_the_digest() -> None:
    for readings in range(10, 40):
        last = pages_of(record_sheet_pdf(run_sheet(readings), IMPRESSION))[-1]
        assert "Digest of the data" in last
        assert "Measured by" in last
        assert "one line through it" in last


def test_figures_are_litres_of_whole_microlitres() -> None:
    sheet = run_sheet()
    assert sheet.made_from[0].pure_ul is not None
    assert f"{sheet.made_from[0].pure_ul / LITRE:,.2f}" in lines_of(record_sheet_pdf(sheet, IMPRESSION))
