"""Casks that are emptied, on the page: what they give below the rows, and no sum where there is none."""

from __future__ import annotations

from collections.abc import Callable

from django.test import Client

from batches.models import Record
from distillery.people.models import Person
from tests.batches.steps.test_disgorging import AT, FILLED, line
from tests.batches.tiny_plant import gauge

Write = Callable[..., Record]


def test_what_casks_should_hold_is_no_sum_of_what_they_held(
    write: Write, browser_of: Callable[[Person], Client], staff: Person
) -> None:
    for code in ("C1", "C2"):
        write("opening_cask", number=code, **FILLED)
    vat = {"vat": "BV", **gauge("vat_before", "0"), **gauge("vat_after", "390", "63.0")}
    write("disgorging", "DG0001", [line("C1", "227.5"), line("C2", "227")], at=AT, **vat)
    page = browser_of(staff).get("/records/disgorging/DG0001/").content.decode()
    balance = page[page.index("record-balance") :]
    balance = balance[: balance.index("</dl>")]
    assert "What the casks should hold by now" in balance
    assert ">=</span>" not in balance
    assert ">+</span> Cask C2" in balance
