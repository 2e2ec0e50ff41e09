"""What stands on every printed page: whose record it is, which, who printed it when, its digest, its number.

Top left the site, top right the document; bottom left who printed it and when, bottom centre the first
sixteen figures of the digest, bottom right the page of how many.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from distillery import figures
from distillery.printing import paper
from distillery.printing.paper import BOLD, MONO, REGULAR, SMALL_SIZE, Sheet, breadth, broken, printable

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

HEAD_SIZE = 10.5
FOOT_SIZE = 7.0
GAP = 4.0
BETWEEN = 14.0
FOOT_GAP = 8.0
SCREEN_COPY = "screen copy"


@dataclass(frozen=True, slots=True)
class Site:
    """Whose records these are: name, postal address in one line, excise approval number ('' where not known)."""

    name: str
    address: str = ""
    approval_number: str = ""


@dataclass(frozen=True, slots=True)
class Impression:
    """One printing: when (with a zone), by whom, which copy it is (from 1; 0: not counted, looked at on a screen; None:
    nobody counts copies of it), and the last seal of the books then.

    The seal is blank for what is no record. It stands outside the page's own digest, as time and name do.
    `books_at` is what the clock of the books said then, where it stands away from real time: `printed_at` is real.
    """

    printed_at: datetime
    printed_by: str
    copy: int | None = None
    seal_line: str = ""
    books_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Furniture:
    """The frame of one document's pages. `digest` is hexadecimal; '' for a sheet that carries no data. `changes` says
    what is other than in the version before."""

    site: Site
    title: str
    number: str
    version: int
    impression: Impression
    digest: str = ""
    changes: str = ""

    @property
    def printed_line(self) -> str:
        printing = self.impression
        # Without its weekday, so that the digest has its place in the middle of a narrow page.
        when = figures.moment(printing.printed_at, year=True).partition(" ")[2]
        copy = {None: "", 0: f", {SCREEN_COPY}"}.get(printing.copy, f", copy {printing.copy}")
        return f"Printed {when} by {printing.printed_by}{copy}"

    @property
    def books_line(self) -> str:
        """What changed since the version before; what is said of the books at the time of printing: their own clock,
        where they have one, and their seal."""
        at = self.impression.books_at
        clock = f"The clock of these books stood at {figures.moment(at, year=True)}." if at is not None else ""
        return " ".join(said for said in (self.changes, clock, self.impression.seal_line) if said)

    @property
    def numbered(self) -> str:
        version = f"version {self.version}" if self.version else ""
        return ", ".join(said for said in (self.number, version) if said)


def grouped(digest: str) -> str:
    """The first sixteen figures of a digest in fours: '9f3c 71d0 44ab e802'."""
    short = digest[:16]
    return " ".join(short[start : start + 4] for start in range(0, len(short), 4))


@dataclass(frozen=True, slots=True)
class Frame:
    """Furniture measured for a sheet: what is left for the record is `body_height` points."""

    furniture: Furniture
    sheet: Sheet

    def _head_lines(self) -> tuple[list[tuple[str, str, float]], list[tuple[str, str, float]]]:
        furniture = self.furniture
        site = furniture.site
        approval = f"Approval number {site.approval_number}" if site.approval_number else ""
        half = (self.sheet.inner_width - BETWEEN) / 2
        left = _lines(site.name, BOLD, HEAD_SIZE, half) + _lines(site.address, REGULAR, SMALL_SIZE, half)
        left += _lines(approval, REGULAR, SMALL_SIZE, half)
        right = _lines(furniture.title, BOLD, HEAD_SIZE, half)
        right += _lines(furniture.numbered, REGULAR, paper.TEXT_SIZE, half)
        return left, right

    def _foot_lines(self) -> list[str]:
        digest = breadth(grouped(self.furniture.digest), MONO) * FOOT_SIZE
        room = (self.sheet.inner_width - digest) / 2 - FOOT_GAP
        return broken(printable(self.furniture.printed_line), REGULAR, FOOT_SIZE, room)

    def _books_lines(self) -> list[str]:
        said = self.furniture.books_line
        return broken(printable(said), REGULAR, FOOT_SIZE, self.sheet.inner_width) if said else []

    @property
    def head_height(self) -> float:
        left, right = self._head_lines()
        return max(_height(left), _height(right)) + 2 * GAP

    @property
    def foot_height(self) -> float:
        return (len(self._foot_lines()) + len(self._books_lines())) * FOOT_SIZE * paper.LINE + 2 * GAP

    @property
    def body_height(self) -> float:
        return self.sheet.inner_height - self.head_height - self.foot_height

    @property
    def body_top(self) -> float:
        """Height of the top of the body above the foot of the sheet."""
        return self.sheet.height - paper.TOP_MARGIN - self.head_height

    def draw(self, canvas: Canvas, page: int, pages: int) -> None:
        left_edge = paper.LEFT_MARGIN
        right_edge = self.sheet.width - paper.RIGHT_MARGIN
        left, right = self._head_lines()
        top = self.sheet.height - paper.TOP_MARGIN
        _draw_down(canvas, left, left_edge, top, to_the_right=False)
        _draw_down(canvas, right, right_edge, top, to_the_right=True)
        canvas.setLineWidth(paper.FIRM_RULE)
        canvas.line(left_edge, self.body_top + GAP, right_edge, self.body_top + GAP)
        self._draw_foot(canvas, left_edge, right_edge, f"Page {page} of {pages}")

    def _draw_foot(self, canvas: Canvas, left_edge: float, right_edge: float, page_line: str) -> None:
        foot_top = paper.BOTTOM_MARGIN + self.foot_height - GAP
        canvas.setLineWidth(paper.HAIRLINE)
        canvas.line(left_edge, foot_top, right_edge, foot_top)
        first = foot_top - GAP - FOOT_SIZE * 0.75
        canvas.setFont(REGULAR, FOOT_SIZE)
        for number, line in enumerate((*self._foot_lines(), *self._books_lines())):
            canvas.drawString(left_edge, first - number * FOOT_SIZE * paper.LINE, line)
        canvas.drawRightString(right_edge, first, page_line)
        if self.furniture.digest:
            canvas.setFont(MONO, FOOT_SIZE)
            middle = (left_edge + right_edge) / 2
            canvas.drawCentredString(middle, first, grouped(self.furniture.digest))


def _lines(text: str, font: str, size: float, width: float) -> list[tuple[str, str, float]]:
    return [(line, font, size) for line in broken(printable(text), font, size, width)] if text else []


def _height(lines: list[tuple[str, str, float]]) -> float:
    return sum(size * paper.LINE for _, _, size in lines)


def _draw_down(
    canvas: Canvas, lines: list[tuple[str, str, float]], edge: float, top: float, *, to_the_right: bool
) -> None:
    for text, font, size in lines:
        canvas.setFont(font, size)
        baseline = top - size
        if to_the_right:
            canvas.drawRightString(edge, baseline, text)
        else:
            canvas.drawString(edge, baseline, text)
        top -= size * paper.LINE
