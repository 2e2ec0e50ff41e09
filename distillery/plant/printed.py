"""The register of instruments on paper: what is known of the measuring, for a file or an officer."""

from __future__ import annotations

from datetime import datetime

from distillery import figures
from distillery.clock.reading import books_time, site_day
from distillery.plant.outfit import Register
from distillery.plant.shown import register_lists
from distillery.printing.blocks import Block, Paragraph
from distillery.printing.document import Part, print_document
from distillery.printing.furniture import Furniture
from distillery.printing.house import impression, site
from distillery.printing.paged import figure_table

LEAD = (
    "Certificate corrections are added to a reading before anything else. What a certificate or a vessel's table "
    "leaves open lasts from reading to reading and is common to all gauges made with it."
)


def register_pdf(*, printed_at: datetime, printed_by: str) -> bytes:
    """The printed register as things stand on the day it is printed."""
    day = site_day(books_time(printed_at))
    furniture = Furniture(
        site(), "Register of instruments", figures.day(day, year=True), 0, impression(printed_at, printed_by)
    )
    blocks: list[Block] = [Paragraph(LEAD)]
    register = Register.read()
    blocks += [
        figure_table(kind(rows, register=register, on=day).whole()) for kind, rows in register_lists(register, day)
    ]
    return print_document([Part(furniture, blocks, landscape=True)])
