"""The list of changes that stands behind a document of a later version: each figure as it was and as it is."""

from __future__ import annotations

from typing import Final

from distillery.printing.blocks import Block, Heading, Paragraph
from distillery.printing.noting import Numbering
from distillery.printing.tabled.columns import Column
from distillery.printing.tabled.tables import FigureTable

NOT_IN_THE_DIGEST: Final = "This list compares two versions; it is no part of the digest."
# Lines of the list; what is more is counted.
MOST_LINES: Final = 200
WIDTH_MM: Final = 52.0


def other_parts(numbering: Numbering) -> str:
    """Which parts are other than in the version before, as a sentence."""
    return f"Other than in version {numbering.before}: {', '.join(numbering.changed)}."


def listed_since(before: int) -> str:
    """The sentence that leads to the list."""
    return f"What changed since version {before} stands at the end."


def changed_blocks(numbering: Numbering) -> list[Block]:
    """The list of what is other than in the version before."""
    columns = (Column("Part"), Column("What"), Column("Was", width_mm=WIDTH_MM), Column("Is now", width_mm=WIDTH_MM))
    rows = tuple((one.part, one.what, one.was, one.now) for one in numbering.figures[:MOST_LINES])
    blocks: list[Block] = [
        Heading(f"Changed since version {numbering.before}"),
        Paragraph(other_parts(numbering)),
        FigureTable(columns, rows, space_above=6.0),
    ]
    if len(numbering.figures) > MOST_LINES:
        blocks.append(Paragraph(f"{len(numbering.figures) - MOST_LINES} more figures are other."))
    return [*blocks, Paragraph(NOT_IN_THE_DIGEST, small=True, closes=True)]
