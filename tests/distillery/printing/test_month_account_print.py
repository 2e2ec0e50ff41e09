"""The printed monthly stock account: its figures, headings and sums, and that it never claims to foot falsely."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date

import pytest
from printed_samples import IMPRESSION, STAGES, lines_of, month_sheet, pages_of, total_of

from distillery.printing.balance import BalanceRow
from distillery.printing.documents.month_account import (
    AccountDoesNotAgreeError,
    account_digest,
    does_not_agree,
    month_account_pdf,
)
from distillery.printing.furniture import grouped


def test_headings_come_in_their_order() -> None:
    text = "\n".join(pages_of(month_account_pdf(month_sheet(), IMPRESSION)))
    headings = (
        "Site and stages",
        "Known losses by cause",
        "Gains",
        "Differences by operation",
        "Removals and duty",
        "Findings still open",
        "What each vessel held at the end",
        "Prepared by",
    )
    places = [text.index(f"{heading}\n") for heading in headings]
    assert places == sorted(places)


def test_a_stage_prints_its_seven_figures() -> None:
    lines = lines_of(month_account_pdf(month_sheet(), IMPRESSION))
    start = lines.index("Maturing in cask")
    # Worked by hand: 84,210.40 + 4,204.12 - 1,432.30 - 151.40 = 86,830.82; less 3.33 = 86,827.49.
    assert lines[start + 1 : start + 8] == [
        "84,210.40",
        "4,204.12",
        "1,432.30",
        "151.40",
        "86,830.82",
        "86,827.49",
        "3.33 missing",
    ]


def test_duty_losses_counts_and_findings_are_there() -> None:
    lines = lines_of(month_account_pdf(month_sheet(), IMPRESSION))
    for wanted in ("23,175.67", "232.51", "November 2026", "SR-2026-0409", "waits for an answer", "none"):
        assert wanted in lines
    assert lines[lines.index("Entries written late") + 1] == "3"
    assert lines[lines.index("Entries corrected") + 1] == "4"
    assert lines[lines.index("Open findings") + 1] == "2"


def test_every_vessel_is_printed_once_and_carried_over_the_pages() -> None:
    sheet = month_sheet(vessels=400)
    pages = pages_of(month_account_pdf(sheet, IMPRESSION))
    text = "\n".join(pages)
    assert re.findall(r"Cask 2022/\d{4}", text) == [f"Cask 2022/{number:04d}" for number in range(1, 401)]
    carried = re.findall(r"Carried forward\s*([\d,.]+)", text)
    brought = re.findall(r"Brought forward\s*([\d,.]+)", text)
    assert carried == brought
    assert len(carried) >= 8
    whole = sum(vessel.pure_ul for vessel in sheet.vessels) / 1_000_000
    assert f"{whole:,.2f}" in text


def test_the_digest_is_of_the_account_and_not_of_the_printing() -> None:
    sheet = month_sheet()
    digest = account_digest(sheet)
    for impression in (IMPRESSION, replace(IMPRESSION, copy=2, printed_by="Carl Rowe")):
        pages = pages_of(month_account_pdf(sheet, impression))
        assert all(grouped(digest) in page for page in pages)
        assert digest in "".join(pages[-1].split())
    assert account_digest(replace(sheet, losses=())) != digest
    # What was found, and how many entries were late, stands under it as of the print.
    assert account_digest(replace(sheet, late_entries=4, corrections=9, findings=())) == digest


def test_it_says_that_it_foots() -> None:
    text = " ".join(" ".join(pages_of(month_account_pdf(month_sheet(), IMPRESSION))).split())
    assert "This account foots" in text
    assert "does not foot" not in text


def test_one_microlitre_keeps_it_from_footing() -> None:
    sheet = month_sheet()
    wrong = (replace(STAGES[0], closing_ul=STAGES[0].closing_ul + 1), *STAGES[1:])
    assert does_not_agree(sheet) == ()
    assert len(does_not_agree(replace(sheet, stages=wrong))) == 2
    with pytest.raises(AccountDoesNotAgreeError, match=r"Wash: −0\.000001 LPA"):
        month_account_pdf(replace(sheet, stages=wrong), IMPRESSION)


def test_an_account_that_does_not_foot_names_where() -> None:
    wrong = (replace(STAGES[0], closing_ul=STAGES[0].closing_ul + 2_500_000), *STAGES[1:])
    sheet = replace(month_sheet(), stages=wrong, total=total_of(wrong), foots=False)
    text = " ".join(" ".join(pages_of(month_account_pdf(sheet, IMPRESSION))).split())
    assert "This account does not foot" in text
    assert "Wash: −2.500000 LPA keep the line from footing" in text


def test_moves_between_stages_may_be_left_out_of_the_total() -> None:
    site = total_of(STAGES)
    netted = replace(site, in_ul=site.in_ul - 9_000_000_000, out_ul=site.out_ul - 9_000_000_000)
    assert does_not_agree(replace(month_sheet(), total=netted)) == ()


def test_an_empty_month_says_what_there_was_none_of() -> None:
    nothing = BalanceRow("Whole site", 0, 0, 0, 0, 0, 0)
    sheet = replace(month_sheet(), stages=(), total=nothing, losses=(), gains=(), differences=())
    sheet = replace(sheet, removals=(), vessels=(), findings=())
    lines = lines_of(month_account_pdf(sheet, IMPRESSION))
    for wanted in ("No known losses in the period.", "No gains in the period.", "No finding is open."):
        assert wanted in lines


def test_a_period_that_is_no_month_prints_its_days() -> None:
    sheet = replace(month_sheet(), first_day=date(2026, 11, 2), last_day=date(2026, 12, 6))
    text = " ".join(" ".join(pages_of(month_account_pdf(sheet, IMPRESSION))).split())
    assert "Mon 2 Nov 2026 to Sun 6 Dec 2026" in text
