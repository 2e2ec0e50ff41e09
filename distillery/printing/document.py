"""A printed record from its parts: pages laid out, counted, framed and written as a PDF.

The same parts and the same printing (time, name, copy) give the same bytes. The file names the document and
the site and says its language; fonts are embedded, so a copy prints alike anywhere.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from io import BytesIO
from typing import IO, TYPE_CHECKING

from distillery.printing import paper
from distillery.printing.blocks import Block, HeadingStrip, Paragraph
from distillery.printing.changed import changed_blocks, listed_since, other_parts
from distillery.printing.furniture import Frame, Furniture
from distillery.printing.layout import Flow, LaidPage, Strip, lay_out
from distillery.printing.layout_kept import kept_together
from distillery.printing.noting import end_before_drawing, note_document
from distillery.printing.paper import LANDSCAPE, PORTRAIT, Sheet
from distillery.printing.signing import Signatures, SignLines

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

LANGUAGE = "en-GB"
# The PDF library writes no structure tags.
NOT_TAGGED = "This PDF is not tagged. The page of the program that prints it is its accessible form."


@dataclass(frozen=True, slots=True)
class Part:
    """Blocks that begin on a page of their own, with the frame and the way up of their pages.

    `on_every_page` stands at the foot of each of its pages, above the furniture. `data` is what the digest was taken
    over, for whoever hands both out. `bookmarks` are entries of the reader's list of contents that lead to its first
    page, each with its level from 0; headings then stand one level below the last.
    """

    furniture: Furniture
    blocks: Sequence[Block]
    landscape: bool = False
    on_every_page: Sequence[Block] = ()
    data: object = None
    bookmarks: Sequence[tuple[str, int]] = ()

    @property
    def sheet(self) -> Sheet:
        return LANDSCAPE if self.landscape else PORTRAIT


@dataclass(frozen=True, slots=True)
class LaidPart:
    """A part whose pages are known."""

    part: Part
    frame: Frame
    pages: list[LaidPage]
    foot: list[Strip]

    def draw_page(self, canvas: Canvas, page: LaidPage, number: int, of: int) -> None:
        canvas.setPageSize((self.frame.sheet.width, self.frame.sheet.height))
        below = self._bookmark(canvas, first=page is self.pages[0])
        self.frame.draw(canvas, number, of)
        top = self.frame.body_top
        for placed in page.placed:
            strip, height = placed.strip, top - placed.below_top
            if isinstance(strip, HeadingStrip):
                key = f"{number}-{height:.2f}"
                canvas.bookmarkHorizontal(key, paper.LEFT_MARGIN, height)
                canvas.addOutlineEntry(strip.title, key, level=below)
            strip.draw(canvas, paper.LEFT_MARGIN, height)
        top -= self.frame.body_height - sum(strip.height for strip in self.foot)
        for strip in self.foot:
            strip.draw(canvas, paper.LEFT_MARGIN, top)
            top -= strip.height
        canvas.showPage()

    def _bookmark(self, canvas: Canvas, *, first: bool) -> int:
        """Sets the part's own bookmarks at its first page, and gives the level of its headings."""
        level = -1
        for title, level in self.part.bookmarks:
            if first:
                key = f"part-{canvas.getPageNumber()}-{level}"
                canvas.bookmarkPage(key)
                canvas.addOutlineEntry(title, key, level=level, closed=True)
        return level + 1


def print_document(parts: Sequence[Part]) -> bytes:
    """The PDF of one or more parts, their pages counted through. The first part names the file.

    Raises TableError or StripTooTallError where something cannot be put on the paper.
    """
    parts = [one for part in parts for one in numbered(part)]
    end_before_drawing()
    target = BytesIO()
    write_laid([laid(part) for part in parts], target)
    return target.getvalue()


def numbered(part: Part) -> list[Part]:
    """The part as the version and copy that it is, where copies are counted; noted as printed. Behind it stands the
    list of figures that are other than in the version before, where that is known."""
    own = part.furniture
    numbering = note_document(own.title, own.number, own.version, own.digest)
    if numbering is None:
        return [part]
    changes = ""
    if numbering.changed:
        changes = other_parts(numbering)
    if numbering.figures:
        # In few words, so that what was fitted on one page stays on it.
        changes = listed_since(numbering.before)
    printing = replace(own.impression, copy=numbering.copy)
    framed = replace(own, version=numbering.version, impression=printing, changes=changes)
    listed = [replace(part, furniture=framed)]
    if numbering.figures:
        blocks = changed_blocks(numbering)
        listed.append(Part(framed, blocks, part.landscape))
    return listed


def write_laid(parts: Sequence[LaidPart], target: IO[bytes], told: Callable[[int, int], None] | None = None) -> None:
    """Writes the PDF of parts that are laid out. `told` hears the number of each page and of how many."""
    # Here and not above: commands that print nothing start sooner without the PDF library.
    from reportlab.pdfgen.canvas import Canvas

    first = parts[0].frame
    paper.fonts()
    canvas = Canvas(
        target,
        pagesize=(first.sheet.width, first.sheet.height),
        pageCompression=1,
        invariant=1,
        lang=LANGUAGE,
        # The library's own first font would be named in the file and not embedded.
        initialFontName=paper.REGULAR,
    )
    _name(canvas, first.furniture)
    total = sum(len(part.pages) for part in parts)
    number = 0
    for part in parts:
        for page in part.pages:
            number += 1
            if told is not None:
                told(number, total)
            part.draw_page(canvas, page, number, total)
    canvas.save()


def flows_of(blocks: Sequence[Block], width: float) -> list[Flow]:
    """The flows of blocks for a page `width` points wide, in order. Signatures and the digest never stand alone on a
    page: they take the end of what they are about with them."""
    flows: list[Flow] = []
    for block in blocks:
        if flows and (isinstance(block, Signatures | SignLines) or (isinstance(block, Paragraph) and block.closes)):
            flows = kept_together(flows)
        flows += block.flows(width)
    return flows


def room_for(part: Part) -> float:
    """Height in points that a page of the part has for its blocks."""
    return Frame(part.furniture, part.sheet).body_height - sum(strip.height for strip in _foot_of(part))


def _foot_of(part: Part) -> list[Strip]:
    return [strip for flow in flows_of(part.on_every_page, part.sheet.inner_width) for strip in flow.strips]


def laid(part: Part) -> LaidPart:
    """The part with its pages. Raises TableError or StripTooTallError where something cannot be put on the paper."""
    pages = lay_out(flows_of(part.blocks, part.sheet.inner_width), room_for(part))
    return LaidPart(part, Frame(part.furniture, part.sheet), pages, _foot_of(part))


def _name(canvas: Canvas, furniture: Furniture) -> None:
    canvas.setTitle(f"{furniture.title} {furniture.numbered}")
    canvas.setAuthor(furniture.site.name)
    canvas.setSubject(furniture.printed_line)
    canvas.setKeywords(NOT_TAGGED)
    canvas.setCreator("")
    canvas.setProducer("")
    printed = furniture.impression.printed_at
    zone = printed.strftime("%z") or "+0000"
    stamp = f"D:{printed:%Y%m%d%H%M%S}{zone[:3]}'{zone[3:5]}'"
    canvas.setDateFormatter(lambda *_moment_of_the_library: stamp)
    canvas.setViewerPreference("DisplayDocTitle", "true")
