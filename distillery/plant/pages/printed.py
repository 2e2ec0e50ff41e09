"""The register of instruments on paper: what is known of the measuring, for a file or an officer."""

from __future__ import annotations

from datetime import datetime

from distillery import figures
from distillery.clock.reading import books_time, site_day
from distillery.plant.outfit import Register
from distillery.plant.pages.shown import register_lists
from distillery.printing.blocks import Block, Paragraph
from distillery.printing.digest import digest_of, digest_statement
from distillery.printing.document import Part, print_document
from distillery.printing.furniture import Furniture, Impression
from distillery.printing.house import impression, site
from distillery.printing.tabled.paged import figure_table

LEAD = (
    "Certificate corrections are added to a reading before anything else. What a certificate or a vessel's table "
    "leaves open lasts from reading to reading and is common to all gauges made with it."
)


def register_pdf(*, printed_at: datetime, printed_by: str) -> bytes:
    """The printed register as things stand on the day it is printed."""
    return print_document([register_part(impression(printed_at, printed_by))])


def register_part(printing: Impression) -> Part:
    """The register as a part of a document, as things stand on the day it is printed."""
    day = site_day(books_time(printing.printed_at))
    register = Register.read()
    lists = [kind(rows, register=register, on=day).whole() for kind, rows in register_lists(register, day)]
    data = [[one.caption, [[cell.text for cell in row.cells] for row in one.rows]] for one in lists]
    digest = digest_of(data)
    furniture = Furniture(site(), "Register of instruments", figures.day(day, year=True), 0, printing, digest)
    blocks: list[Block] = [Paragraph(LEAD), *map(figure_table, lists), digest_statement(digest)]
    return Part(furniture, blocks, landscape=True, data=data)
