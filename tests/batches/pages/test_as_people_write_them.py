"""Numbers without noughts, figures with their unit, ways that are not open: as people meet them. Invented site."""

from __future__ import annotations

import pytest
from django.urls import reverse

from batches.pages.records.shown import as_text, unit_of
from batches.sheets import fields
from batches.sheets.site import Site

MASS = fields.kilograms("malt_kg", "Malt")


@pytest.mark.parametrize(
    ("typed", "shown"),
    [("2000", "2000 kg"), ("2000 kg", "2000 kg"), ("2,000kg", "2,000kg"), ("441 lb", "441 lb")],
)
def test_a_unit_stands_once_behind_a_figure(typed: str, shown: str) -> None:
    """A pound is 0.45359237 kg (NIST SP 811, from memory): 441 of them are 200.03423517 kg."""
    said = f"{as_text(MASS, typed)} {unit_of(MASS, typed)}".strip()
    assert said.startswith(shown[:6])
    assert said.count("kg") == 1


@pytest.mark.django_db
@pytest.mark.parametrize("typed", ["MA0007", "ma7", "MA7", " ma0007 ", "ma-7"])
def test_a_record_is_meant_without_its_noughts_and_in_any_case(loaded_month: object, typed: str) -> None:
    found = Site().record_meant("mash", typed)
    assert found is not None
    assert found.number == "MA0007"


@pytest.mark.django_db
@pytest.mark.parametrize("typed", ["", "7", "SR7", "ma", "ma9999", "ma7\x00"])
def test_what_means_no_record_of_the_kind_means_none(loaded_month: object, typed: str) -> None:
    assert Site().record_meant("mash", typed) is None


@pytest.mark.django_db
def test_a_strip_shows_no_way_that_would_be_refused(staff, manager, officer, browser_of) -> None:
    assert browser_of(staff).get("/books/export/").status_code == 403
    assert "/books/export/" not in browser_of(staff).get(reverse("check_digest")).content.decode()
    for person in (manager, officer):
        assert "/books/export/" in browser_of(person).get(reverse("check_digest")).content.decode()
        assert browser_of(person).get("/books/export/").status_code == 200


@pytest.mark.django_db
def test_several_blank_sheets_are_asked_for_in_boxes(officer, browser_of) -> None:
    here = browser_of(officer)
    page = here.get("/records/").content.decode()
    assert 'name="copies"' in page
    assert "?copies=" not in page
    answer = here.get("/records/blank-sheets/", {"kind": "cask_fill", "copies": "3", "part": "lines"})
    assert answer["Location"] == "/records/cask_fill/blank-sheet.pdf?copies=3&part=lines"
    assert here.get(answer["Location"]).content.startswith(b"%PDF")
    assert here.get("/records/blank-sheets/", {"kind": "nothing"})["Location"] == "/records/"
