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

from batches.pages.common import record_or_404
from batches.pages.papers.batch import Batch, batch_of
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


def test_only_what_takes_malt_begins_a_batch(loaded_month, here: Client) -> None:
    assert here.get(reverse("batch", args=["spirit_run", "SR0007"])).status_code == 404
    assert "Batch record" in here.get(reverse("record", args=["mash", MASH])).content.decode()
    assert "Batch record" not in here.get(reverse("record", args=["spirit_run", "SR0007"])).content.decode()


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
