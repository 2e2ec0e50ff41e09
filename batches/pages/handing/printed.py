"""The handover sheet on paper: what stood, what was said, and both names."""

from __future__ import annotations

from datetime import datetime

from batches.handover.handing import lines_of, shown_of
from batches.handover.models import Handover
from batches.handover.what_stands import NOTHING
from batches.pages.handing.lists import taken_of
from distillery import figures
from distillery.printing.blocks import Block, Heading, Item, ItemList, Paragraph
from distillery.printing.digest import digest_statement
from distillery.printing.document import Part, print_document
from distillery.printing.furniture import Furniture
from distillery.printing.house import impression, site
from distillery.printing.signing import Signatory, Signatures
from distillery.signed import digest_of

TITLE = "Handover"


def handover_sheet(handover: Handover, *, printed_at: datetime, printed_by: str) -> bytes:
    """The PDF, upright."""
    digest = digest_of(shown_of(handover))
    furniture = Furniture(site(), TITLE, f"Handover {handover.pk}", 0, impression(printed_at, printed_by), digest)
    taken = taken_of(handover)
    blocks: list[Block] = [
        ItemList(
            (
                Item("From", handover.person.shown_name),
                Item("At", figures.moment(handover.said_at, year=True)),
                Item("Signed by the next shift", taken.person.shown_name if taken else "nobody yet"),
            ),
            across=1,
        ),
        Heading("Handed over"),
        *(Paragraph(line) for line in handover.text.splitlines() if line.strip()),
        *_stands(handover),
    ]
    if taken is not None and taken.text:
        blocks += [Heading("Asked, or seen by who came"), Paragraph(taken.text)]
    blocks += [digest_statement(digest), Signatures(_signatories(handover), with_correction_rule=False)]
    return print_document([Part(furniture, blocks)])


def _stands(handover: Handover) -> list[Block]:
    lines = lines_of(handover)
    if not lines:
        return [Heading("What stood"), Paragraph(NOTHING)]
    blocks: list[Block] = []
    last = ""
    for heading, text in lines:
        if heading != last:
            blocks.append(Heading(heading))
        last = heading
        blocks.append(Paragraph(text))
    return blocks


def _signatories(handover: Handover) -> tuple[Signatory, ...]:
    taken = taken_of(handover)
    return (
        Signatory("Handed over by", handover.person.shown_name, handover.written_at),
        Signatory("Taken over by", taken.person.shown_name, taken.at) if taken else Signatory("Taken over by"),
    )
