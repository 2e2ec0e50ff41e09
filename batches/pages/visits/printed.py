"""One visit note on paper."""

from __future__ import annotations

from datetime import datetime

from batches.visits.models import VisitNote
from batches.visits.noting import shown_of
from distillery import figures
from distillery.printing.blocks import Block, Heading, Item, ItemList, Paragraph
from distillery.printing.digest import digest_statement
from distillery.printing.document import Part, print_document
from distillery.printing.furniture import Furniture
from distillery.printing.house import impression, site
from distillery.printing.signing import Signatory, Signatures
from distillery.signed import digest_of

TITLE = "Visit note"


def visit_note_pdf(note: VisitNote, *, printed_at: datetime, printed_by: str) -> bytes:
    """The PDF, upright."""
    digest = digest_of(shown_of(note))
    later = getattr(note, "put_right_by", None)
    blocks: list[Block] = [
        ItemList(
            (
                Item("Day of the visit", figures.day(note.visited_on, year=True)),
                Item("Officer", note.person.shown_name),
                Item("Written", figures.moment(note.written_at, year=True)),
                *([Item("Puts right", str(note.corrects))] if note.corrects else []),
                *([Item("Put right by", str(later))] if later else []),
            ),
            across=1,
        ),
        Heading("Note"),
        *(Paragraph(line) for line in note.text.splitlines() if line.strip()),
        digest_statement(digest),
        Signatures((Signatory("Officer", note.person.shown_name, note.written_at),), with_correction_rule=False),
    ]
    furniture = Furniture(site(), TITLE, str(note), 0, impression(printed_at, printed_by), digest)
    return print_document([Part(furniture, blocks)])
