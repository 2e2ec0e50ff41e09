"""Every digest that the sample month can print is known when it is typed, and stands."""

from __future__ import annotations

import html
import io
import re
from collections.abc import Callable, Iterator

import pytest
from django.test import Client
from django.urls import get_resolver, reverse
from pypdf import PdfReader

from batches.models import Record
from distillery.people.models import Person
from ledger.proof.checking import Asked
from ledger.proof.paper.answering import answer
from tests.acceptance.test_every_list_is_a_table_class import arguments, routes

IN_FULL = re.compile(r"Digest of the data \(SHA-256\), ([0-9a-f ]{19}) in short: ([0-9a-f ]+)\.")


def digest_on(pdf: bytes) -> str:
    """The digest in full as it stands on the paper; '' where the paper has none."""
    text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)
    found = IN_FULL.search(re.sub(r"\s+", " ", text))
    return found[2].replace(" ", "") if found else ""


def addresses(browser: Client, filled: dict[str, dict[str, object]]) -> Iterator[str]:
    """Every address of the sample month that gives paper: documents by their routes, lists by the ways on their pages,
    and a record of each kind."""
    for route in routes(get_resolver().url_patterns):
        address = str(route.pattern)
        if route.name in ("login", "logout") or (route.name not in filled and "<" in address):
            continue
        address = reverse(route.name, kwargs=filled.get(route.name))
        if address.endswith(".pdf"):
            yield address
            continue
        shown = browser.get(address)
        if shown.status_code == 200 and shown["Content-Type"].startswith("text/html"):
            for way in re.findall(r'href="(\?[^"]*as=pdf[^"]*)"', shown.content.decode()):
                yield f"{address}{html.unescape(way)}"
    yield "/trace/trace.pdf?ref=BO0001"
    yield "/recalls/touched/recall.pdf?ref=M001"
    for kind in Record.objects.order_by().values_list("kind", flat=True).distinct():
        latest = Record.objects.filter(kind=kind).latest("happened_from")
        yield reverse("record_pdf", args=[kind, latest.number])


def printed(browser: Client, address: str) -> str:
    """The digest at the foot of what an address prints; '' where it prints none."""
    made = browser.get(address)
    if made.status_code != 200 or made.headers.get("Content-Type") != "application/pdf":
        return ""
    return digest_on(made.content)


@pytest.fixture
def everybody(person_of: Callable[..., Person]) -> Person:
    return person_of("test-everybody", "manager", "administrator", "staff")


# Lists that say how things are at this moment: bands narrow as casks grow older, and a print is itself sealed.
MOVE_BY_THEMSELVES = {"/board/?ages-as=pdf", "/books/seals/?day-as=pdf"}

# Blank sheets, labels, the tables of the bench and the register of instruments carry no digest; nothing is traced
# without a reference, and a document of a bundle is asked for by its months.
NO_DIGEST = re.compile(
    r"blank-sheet|counting-sheets|walk-sheet|^/bench/|^/labels/|instruments/register|officer-bundle|(trace|recall)\.pdf$"
)


def test_every_printed_digest_is_known_and_stands(loaded_month, everybody, browser_of) -> None:
    here, filled = browser_of(everybody), arguments()
    digests = {address: printed(here, address) for address in addresses(here, filled)}
    without = {address for address, digest in digests.items() if not digest}
    assert all(NO_DIGEST.search(address) for address in without), without
    assert len(digests) - len(without) > 70
    wrong = []
    for address, digest in digests.items():
        for typed in (digest, digest[:16]) if digest else ():
            said = answer(Asked(typed)).as_data()
            stands = said["stands"] and not said["changed"]
            if not said["known"] or not (stands or address in MOVE_BY_THEMSELVES):
                wrong.append((address, said))
    assert not wrong, "\n".join(map(str, wrong))
