"""The whole of a batch on one page and in one document, by the links there are; the account of a vessel on paper."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from itertools import accumulate

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from batches.models import Record
from batches.pages.common import record_or_404
from batches.pages.papers import batch as batch_module
from batches.pages.papers import batch_print
from batches.pages.papers.batch import Batch, batch_of
from batches.records import recording
from distillery import figures
from distillery.people.models import Person
from ledger.models import Leg

MASH = "MA0003"


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


@pytest.fixture
def here(officer: Person, browser_of: Callable[[Person], Client]) -> Client:
    return browser_of(officer)


@pytest.fixture
def batch(loaded_month) -> Batch:
    return batch_of(record_or_404("mash", MASH))


def test_it_has_its_fermentation_its_runs_and_all_its_alcohol(batch: Batch) -> None:
    assert [one.record.number for one in batch.worked] == ["FE0003"]
    assert batch.runs[0].number == "WR0003"
    assert batch.runs[0].kind == "wash_run"
    assert any(one.kind == "spirit_run" for one in batch.runs)
    # All that came of it is held somewhere now, left, or is in a difference: shares of all come to the whole.
    assert sum(one.of_all for one in batch.held) == pytest.approx(1.0, abs=0.02)


def test_page_and_paper_say_the_same(batch: Batch, here: Client) -> None:
    page = here.get(reverse("batch", args=["mash", MASH])).content.decode()
    paper = text_of(here.get(reverse("batch_pdf", args=["mash", MASH])).content)
    for word in ("What this batch is", "Distilled in runs", "Went through", "Where it went", "Corrections"):
        assert word in page
        assert word in paper
    for number in (*(one.number for one in batch.runs), *(one.record for one in (*batch.passed, *batch.held[:40]))):
        assert number in page
    for number in (*(one.number for one in batch.runs), *(one.record for one in (*batch.passed, *batch.held))):
        assert number in paper
    whole = figures.lpa(sum(one.pure_ul for one in batch.held))
    assert f"Total {whole}" in paper
    assert "FE0003: Readings" in paper


def test_a_list_that_goes_over_the_page_is_carried_and_brought_forward(batch: Batch, here: Client) -> None:
    pages = PdfReader(io.BytesIO(here.get(reverse("batch_pdf", args=["mash", MASH])).content)).pages
    flat = " ".join(" ".join(page.extract_text() for page in pages).split())
    carried, brought = (re.findall(rf"{word} forward ([\d,.]+)", flat) for word in ("Carried", "Brought"))
    assert carried
    assert carried == brought
    sums = [figures.lpa(sum_) for sum_ in accumulate(one.pure_ul for one in batch.held)]
    assert set(carried) <= set(sums)


def test_a_batch_is_followed_from_its_lot_of_malt_too(loaded_month, here: Client) -> None:
    lot = batch_of(record_or_404("intake", "M001"))
    assert [one.record.number for one in lot.worked] == ["MA0001", "FE0001", "MA0002", "FE0002", "MA0003", "FE0003"]
    assert {one.kind for one in lot.runs} == {"wash_run", "spirit_run", "third_still_run"}
    # What left the site stands where it went, not among what it went through; all comes to the whole but for losses.
    assert {"removal", "cask", "bottled stock"} <= {one.kind for one in lot.held}
    assert "removal" not in {one.kind for one in lot.passed}
    assert sum(one.pure_ul for one in lot.held) == pytest.approx(lot.trace.ahead_ul, rel=0.02)
    assert {one.kind: 1.0 for one in lot.held} == pytest.approx(
        {kind: sum(one.share for one in lot.held if one.kind == kind) for kind in {one.kind for one in lot.held}}
    )
    page = here.get(reverse("batch", args=["intake", "M001"])).content.decode()
    paper = text_of(here.get(reverse("batch_pdf", args=["intake", "M001"])).content)
    for word in ("Net weight", "MA0002", "FE0003", "Distilled in runs", "RM0001", "Where it went"):
        assert word in page
        assert word in paper
    assert f"Total {figures.lpa(sum(one.pure_ul for one in lot.held))}" in paper


def test_a_bottling_is_followed_back_to_its_malt(loaded_month, here: Client) -> None:
    bottled = batch_of(record_or_404("bottling", "BO0001"))
    assert [one.record.number for one in bottled.worked] == ["MA0001", "FE0001"]
    assert [one.number for one in bottled.runs] == ["WR0001", "SR0001", "TS0001"]
    # All of it was distilled in the third still, and by the book the least of it came from malt.
    assert bottled.runs[-1].share == pytest.approx(1.0)
    assert {"M001", "TR0003", "RE0001"} <= {one.record for one in bottled.passed}
    # 1,200 bottles of 70 cl at 41.4 % (worked by hand: 1,200 x 0.7 x 0.414) are in stock or were sent out.
    assert sum(one.pure_ul for one in bottled.held) == pytest.approx(347_760_000, abs=2)
    paper = text_of(here.get(reverse("batch_pdf", args=["bottling", "BO0001"])).content)
    page = here.get(reverse("batch", args=["bottling", "BO0001"])).content.decode()
    for word in ("Made of", "M001", "Came through", "Not known where from", "Total 347.76", "RM0003", "FE0001"):
        assert word in paper
        assert word.removeprefix("Total ") in page


def test_of_very_many_those_with_most_of_it_are_shown_whole(loaded_month, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(batch_module, "MOST_WHOLE", 2)
    monkeypatch.setattr(batch_print, "MOST_WHOLE", 2)
    lot = batch_of(record_or_404("intake", "M001"))
    assert len(lot.worked) == 2
    rest = {"MA0001", "FE0001", "MA0002", "FE0002", "MA0003", "FE0003"} - {one.record.number for one in lot.worked}
    assert rest <= {one.record for one in lot.passed}
    assert "The 2 mashes and fermentations with most of it" in batch_print.others_of(lot)


def test_a_batch_that_is_nowhere_yet_says_so(loaded_month, here: Client) -> None:
    paper = text_of(here.get(reverse("batch_pdf", args=["mash", "MA0022"])).content)
    assert "No account holds any of it, and none has left the site." in paper
    assert "Total" not in paper


def test_only_malt_a_mash_and_a_bottling_have_a_batch(loaded_month, here: Client) -> None:
    assert here.get(reverse("batch", args=["spirit_run", "SR0007"])).status_code == 404
    assert "Batch record" not in here.get(reverse("record", args=["spirit_run", "SR0007"])).content.decode()
    for kind, number in (("mash", MASH), ("intake", "M001"), ("bottling", "BO0001")):
        assert (
            reverse("batch", args=[kind, number]) in here.get(reverse("record", args=[kind, number])).content.decode()
        )


@pytest.mark.parametrize("name", ["batch", "batch_pdf"])
def test_a_void_record_has_no_batch_and_its_page_offers_none(
    loaded_month, here: Client, manager: Person, name: str
) -> None:
    for number in ("FE0022", "MA0022"):
        recording.void(Record.objects.get(number=number), person=manager, reason="written twice")
    assert here.get(reverse(name, args=["mash", "MA0022"])).status_code == 404
    assert "Batch record" not in here.get(reverse("record", args=["mash", "MA0022"])).content.decode()


def test_an_account_is_carried_forward_and_foots(loaded_month, here: Client) -> None:
    address = f"{reverse('vessel_account_pdf', args=['SR'])}?month=2027-03"
    texts = [page.extract_text() for page in PdfReader(io.BytesIO(here.get(address).content)).pages]
    came = sum(leg.pure_ul for leg in Leg.objects.filter(account__code="vessel:SR") if leg.pure_ul > 0)
    whole = " ".join(" ".join(texts).split())
    assert f"Total {figures.lpa(came)}" in whole
    carried, brought = (re.findall(rf"{word} forward ([\d,.]+) ([\d,.]+)", whole) for word in ("Carried", "Brought"))
    assert len(carried) == len(texts) - 1 or carried
    assert carried == brought
    assert "Signature" in texts[-1]
    assert "Digest of the data" in texts[-1]
