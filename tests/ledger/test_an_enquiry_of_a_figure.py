"""An enquiry about a figure unlike its kind: page and paper have the finding's own figures. All are invented."""

from __future__ import annotations

import io
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from django.test import Client
from pypdf import PdfReader

from distillery.alcoholometry.quantity import NOTHING
from distillery.people.models import Person
from ledger.comparing.findings.finding import BesideUsual
from ledger.comparing.month import findings
from ledger.enquiries.models import Enquiry
from ledger.enquiries.raising import bring_up_to_date
from ledger.posting.drafts import Draft, FigureTaken, Moved
from ledger.posting.post import post
from ledger.posting.turns import turn
from tests.ledger import plant

pytestmark = pytest.mark.django_db

PERIOD = "2027-03"
START = datetime(2027, 3, 1, 6, tzinfo=UTC)
HOURS = (6.0, 6.1, 5.9, 6.2, 6.0, 5.8, 6.1, 6.0, 6.1, 5.9, 6.0, 6.1, 16.0)


@pytest.fixture
def enquiry(manager: Person) -> Enquiry:
    """About the last run, which took ten hours longer than the others."""
    for number, hours in enumerate(HOURS, start=1):
        lines = (Moved(plant.vessel_account(plant.vessel("S1")), plant.loss("spent lees"), NOTHING),)
        post(
            Draft(
                "spirit_run",
                "spirit run",
                START + timedelta(days=number),
                "spirit_run",
                f"R{number}",
                "finish",
                lines,
                figures=(FigureTaken("run time", "S1", "ended_at", hours, "h"),),
            ),
            person=manager,
        )
    with turn():
        bring_up_to_date(PERIOD)
    return Enquiry.objects.get()


@pytest.fixture
def found(enquiry: Enquiry) -> BesideUsual:
    [found] = findings(PERIOD)
    assert found.beside_usual is not None
    assert found.key == enquiry.key
    return found.beside_usual


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


def test_paper_has_the_figures_of_the_page(
    enquiry: Enquiry, found: BesideUsual, officer: Person, browser_of: Callable[[Person], Client]
) -> None:
    address = f"/books/enquiries/{enquiry.number}/"
    page = browser_of(officer).get(address).content.decode()
    paper = text_of(browser_of(officer).get(f"{address}enquiry.pdf").content)
    assert (found.figure, found.usual) == (16.0, 6.0)
    for name, figure in found.said:
        assert f"{name} {figure} h" in paper, name
        assert f">{name}<" in page, name
        assert figure in page, name
    assert "Difference in the books" not in page
    assert "Difference in the books" not in paper, "the alcohol of its run is none of it"
    assert "Explained" not in paper


def test_put_right_it_has_no_figures_that_no_longer_hold(
    enquiry: Enquiry, officer: Person, browser_of: Callable[[Person], Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    from ledger.enquiries import printed
    from ledger.enquiries.finding_of import Looked

    monkeypatch.setattr(printed, "look_at", lambda enquiry: Looked(None, None, None))
    paper = text_of(browser_of(officer).get(f"/books/enquiries/{enquiry.number}/enquiry.pdf").content)
    assert enquiry.said in paper
    assert "Usual" not in paper
    assert "Difference in the books" not in paper
