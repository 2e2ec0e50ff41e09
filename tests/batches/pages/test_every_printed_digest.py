"""Every digest that the sample month can print is known when it is typed, and stands; after a correction the right ones
are other, and only those, and each names what."""

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
from batches.records import recording
from distillery.people.models import Person
from ledger.enquiries.models import Enquiry
from ledger.proof.checking import Asked
from ledger.proof.paper.answering import answer
from tests.acceptance.test_every_list_is_a_table_class import arguments, routes

IN_FULL = re.compile(r"Digest of the data \(SHA-256\), ([0-9a-f ]{19}) in short: ([0-9a-f ]+)\.")


def digest_on(pdf: bytes) -> str:
    """The digest in full as it stands on the paper; '' where the paper has none."""
    # It stands at the end, before the signatures.
    text = ""
    for page in reversed(PdfReader(io.BytesIO(pdf)).pages):
        text = f"{page.extract_text()} {text}"
        if found := IN_FULL.search(re.sub(r"\s+", " ", text)):
            return found[2].replace(" ", "")
    return ""


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
    yield reverse("record_pdf", args=["spirit_run", CORRECTED])
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


# What says other figures once the spent lees of SR0007 are put right: its list (other documents of runs are of the
# newest run), the books of its month, the enquiry about its difference, and lists of what was written or put right.
CORRECTED = "SR0007"
CHANGED = {
    "/?written-as=pdf",
    "/board/?losses-as=pdf",
    "/board/board.pdf",
    "/books/accounts/?as=pdf",
    "/books/duty/?may-be-due-as=pdf",
    "/books/enquiries/EQ0001/enquiry.pdf",
    "/books/findings/?as=pdf",
    "/books/losses/2027-03/register.pdf",
    "/books/losses/?differences-as=pdf",
    "/books/losses/?losses-as=pdf",
    "/books/months/2027-03/?findings-as=pdf",
    "/books/months/2027-03/account.pdf",
    "/books/movements/?as=pdf",
    "/books/returns/2027-03/figures.pdf",
    "/changes/entries/?as=pdf",
    "/records/spirit_run/?as=pdf",
    "/records/spirit_run/SR0007/record.pdf",
}


def test_every_printed_digest_is_known_and_stands_and_after_a_correction_the_right_ones_are_other(
    loaded_month, everybody, browser_of
) -> None:
    here, filled = browser_of(everybody), arguments()
    assert Enquiry.objects.get(number="EQ0001").record_number == CORRECTED
    digests = {address: printed(here, address) for address in addresses(here, filled)}
    without = {address for address, digest in digests.items() if not digest}
    assert all(NO_DIGEST.search(address) for address in without), without
    typed = {address: digest for address, digest in digests.items() if digest}
    assert len(typed) > 70
    wrong = []
    for address, digest in typed.items():
        said = answer(Asked(digest[:16])).as_data()
        stands = said["stands"] and not said["changed"]
        if not said["known"] or not (stands or address in MOVE_BY_THEMSELVES):
            wrong.append((address, said))
    assert not wrong, "\n".join(map(str, wrong))

    recording.correct(Record.objects.get(number=CORRECTED), {"spent_lees_litres": "1"}, person=everybody, reason="anew")
    said_now = {address: answer(Asked(digest)).as_data() for address, digest in typed.items()}
    assert all(said["known"] for said in said_now.values())
    other = {address: said["changed"] for address, said in said_now.items() if not said["stands"]}
    assert set(other) - MOVE_BY_THEMSELVES == CHANGED
    assert all(other.values()), "each names what is other"
