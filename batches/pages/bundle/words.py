"""The pages of a bundle that are about the bundle: contents, how to read the records, digests and how to check them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from batches.pages.bundle.months import Months
from distillery import figures
from distillery.printing.blocks import Block, Heading, Item, ItemList, Paragraph
from distillery.printing.digest import MEANING, digest_of, digest_statement
from distillery.printing.document import Part
from distillery.printing.furniture import Furniture, Impression, grouped
from distillery.printing.house import site
from distillery.printing.paper import BOLD
from distillery.printing.signing import Signatory, Signatures
from distillery.printing.tabled.columns import Column, figure_column
from distillery.printing.tabled.tables import FigureTable

TITLE: Final = "Records for a visit"
READING: Final = "How to read these records"
CHECKING: Final = "Digests and how to check them"
WENT_ON: Final = (
    "Somebody wrote in the books while this was made: a document made later may hold an entry that one made earlier, "
    "or the ledger beside it, does not hold yet."
)
ROOM: Final = "_" * 28

_READ: Final = (
    (
        "Amounts",
        "Alcohol is in litres of pure alcohol at 20 °C (LPA). The books keep whole microlitres and the paper rounds, "
        "so that printed figures may differ from their printed sum in the last place. Volumes are litres at 20 °C, "
        "strengths % vol at 20 °C.",
    ),
    ("Differences", figures.SIGN_OF_DIFFERENCE),
    (
        "An account",
        "In every line what was there at first and what came in, less what went out, known losses and difference, is "
        "what was there at the end. Known losses have a cause and a name to them; a difference has not, and stands in "
        "the books until an enquiry ends.",
    ),
    (
        "Gains and losses",
        "They are listed apart and never set off by adding up. A review threshold says when a difference is looked "
        "into; it allows nothing.",
    ),
    (
        "What was put right",
        "Nothing that was saved is removed. What was written first stays to be read, with what stands now, why, by "
        "whom and when. In the books an opposite movement takes back the first one, and both remain. What is put right "
        "after a month was closed stands in the first open month and says when it truly happened.",
    ),
    (
        "Two times",
        "A record has the time at which a thing happened and the time at which it was written. Where they lie apart "
        "the entry is among those written late.",
    ),
    (
        "Duty",
        "Duty is worked out here by the rates that the site has entered. The return is what is declared, and the law "
        "and the officer decide.",
    ),
    (
        "Page numbers and digests",
        "At the foot of each page stand the first sixteen figures of the digest of the document that the page belongs "
        f"to, and its number in the whole bundle. {MEANING} The last pages list every digest.",
    ),
    (
        "Other forms",
        "The files beside this document hold every table as text, which can be read aloud, searched and added up. The "
        "text of this document can be searched and copied, but it has no tags for a screen reader: the pages of the "
        "program are the accessible form.",
    ),
)


@dataclass(frozen=True, slots=True)
class Line:
    """One document of a bundle: its number in the bundle, of which month ('' of all), its title and its own number,
    its digest, its first and last page."""

    place: int
    of: str
    title: str
    number: str
    digest: str
    first: int
    last: int

    @property
    def pages(self) -> str:
        """'5 to 9', or '10'."""
        return str(self.first) if self.first == self.last else f"{self.first} to {self.last}"


def contents(months: Months, lines: Sequence[Line], printing: Impression) -> Part:
    """The first page: what is in the bundle, on which page."""
    data = {"number": months.bundle_number, "contents": [[one.of, one.title, one.number, one.first] for one in lines]}
    columns = (Column("Of", width_mm=31), Column("Document", width_mm=72), Column("Number"), figure_column("Page"))
    rows = [(one.of, one.title, one.number, one.first) for one in lines]
    blocks: list[Block] = [
        ItemList(
            (
                Item("Months", months.name),
                *([Item("Left out", months.left_out)] if months.left_out else []),
                Item("Documents", figures.count(len(lines) + 1)),
                Item("Asked for by", ROOM),
                Item("Day of the visit", ROOM),
            )
        ),
        Heading("Contents"),
        FigureTable(columns, rows),
        Signatures((Signatory("Handed over by"), Signatory("Received by")), with_correction_rule=False),
    ]
    furniture = Furniture(site(), TITLE, months.bundle_number, 0, printing, digest_of(data))
    return Part(furniture, blocks, data=data, bookmarks=((TITLE, 0),))


def how_to_read(months: Months, printing: Impression) -> Part:
    """One page for somebody who sees such records for the first time."""
    data = [list(one) for one in _READ]
    blocks = [block for head, said in _READ for block in (Heading(head), Paragraph(said))]
    furniture = Furniture(site(), READING, months.number, 0, printing, digest_of(data))
    return Part(furniture, blocks, data=data, bookmarks=((READING, 0),))


def checking(months: Months, lines: Sequence[Line], data: object, printing: Impression, *, went_on: bool) -> Part:
    """The last pages: the digest of every document, that of them all, and how both are had again; and that the books
    went on meanwhile, where they did.
    """
    digest = digest_of(data)
    columns = (
        figure_column("No."),
        Column("Of"),
        Column("Document"),
        Column("Number"),
        Column("Pages"),
        Column("Digest, first 16 figures"),
    )
    rows = [(one.place, one.of, one.title, one.number, one.pages, grouped(one.digest)) for one in lines]
    blocks: list[Block] = [
        Paragraph(
            "Beside this document lie its files. documents.jsonl has for each document what its digest is taken over; "
            "the folder documents has the same documents as tables of text; pages.csv says for each page which digest "
            "stands at its foot; the other files are the whole ledger with its seals."
        ),
        Paragraph(
            "To check: python verify_export.py FOLDER, with Python 3.10 or later, in the folder of the files or from "
            "anywhere, without this program and without a network. It takes every digest anew, holds the tables "
            "against them, adds the ledger up, and lists the digest that each page must bear. Compare them with this "
            "paper."
        ),
        Paragraph(
            "The digest of this last document is taken over the list below, the digests of the tables and the seal of "
            "the last movement: where it agrees, so does all that it names."
        ),
        *([Paragraph(WENT_ON, BOLD)] if went_on else []),
        FigureTable(columns, rows),
        digest_statement(digest),
    ]
    furniture = Furniture(site(), CHECKING, months.bundle_number, 0, printing, digest)
    return Part(furniture, blocks, landscape=True, data=data, bookmarks=((CHECKING, 0),))
