"""Where ink goes on a printed record: who signs, the officer's block, and the rule for putting ink right.

The sheet that is signed says how a wrong figure in ink is corrected: nothing is obliterated, and the entry that
stands names who changed it, when and why. The blocks are never split over two pages.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from distillery import figures
from distillery.printing.blocks import TextStrip
from distillery.printing.layout import Flow, PlainFlow, Strip
from distillery.printing.paper import (
    BOLD,
    HAIRLINE,
    LINE,
    MILLIMETRE,
    REGULAR,
    RULE,
    SMALL_SIZE,
    TEXT_SIZE,
    broken,
    fitted,
    printable,
)

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

CORRECTION_RULE = (
    "To put right a figure written in ink: one line through it, so that it can still be read; the right figure "
    "beside it; then your initials, the date and the time, and why. Nothing is painted out, rubbed out or "
    "written over, and no page is taken away."
)
ROW_TO_WRITE_IN = 8.5 * MILLIMETRE
BETWEEN_BOXES = 12.0
SIGN_HEIGHT = 22.0
SIGNED_WITH = "name, signature, date, time"


@dataclass(frozen=True, slots=True)
class Signatory:
    """A line to sign on. `name` and `at` are printed where the person has already signed on the screen."""

    role: str
    name: str = ""
    at: datetime | None = None


MEASURED_CHECKED_MANAGER = (Signatory("Measured by"), Signatory("Checked by"), Signatory("Manager"))
PREPARED_CHECKED_MANAGER = (Signatory("Prepared by"), Signatory("Checked by"), Signatory("Manager"))


@dataclass(frozen=True, slots=True)
class _Boxes:
    boxes: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    width: float
    keep_with_next: bool = False

    @property
    def height(self) -> float:
        rows = max(len(lines) for _, lines in self.boxes)
        return TEXT_SIZE * LINE + rows * ROW_TO_WRITE_IN

    def draw(self, canvas: Canvas, left: float, top: float) -> None:
        each = (self.width - BETWEEN_BOXES * (len(self.boxes) - 1)) / len(self.boxes)
        for number, (role, lines) in enumerate(self.boxes):
            x = left + number * (each + BETWEEN_BOXES)
            canvas.setFont(BOLD, TEXT_SIZE)
            canvas.drawString(x, top - TEXT_SIZE, printable(role))
            bottom = top - TEXT_SIZE * LINE
            for label, text in lines:
                bottom -= ROW_TO_WRITE_IN
                _draw_line_to_write_on(canvas, label, text, x, bottom, each)


def _draw_line_to_write_on(canvas: Canvas, label: str, text: str, left: float, bottom: float, width: float) -> None:
    label_width = 54.0 if label else 2.0
    canvas.setFont(REGULAR, SMALL_SIZE)
    canvas.drawString(left, bottom + 2.5, label)
    if text:
        shown = printable(text)
        canvas.setFont(REGULAR, fitted(shown, REGULAR, TEXT_SIZE, 5.5, width - label_width))
        canvas.drawString(left + label_width, bottom + 2.5, shown)
    canvas.setLineWidth(RULE)
    canvas.line(left + label_width - 2, bottom, left + width, bottom)


@dataclass(frozen=True, slots=True)
class Signatures:
    """Printed name, signature, date and time for each of the people who answer for the record."""

    people: tuple[Signatory, ...] = MEASURED_CHECKED_MANAGER
    with_correction_rule: bool = True

    def flows(self, width: float) -> list[Flow]:
        boxes = tuple(
            (
                person.role,
                (
                    ("Name", person.name),
                    ("Signature", ""),
                    ("Date, time", figures.moment(person.at, year=True) if person.at else ""),
                ),
            )
            for person in self.people
        )
        if not boxes:
            return []
        flows: list[Flow] = [PlainFlow([_Boxes(boxes, width, self.with_correction_rule)], space_above=14.0)]
        return flows + (CorrectionRule().flows(width) if self.with_correction_rule else [])


@dataclass(frozen=True, slots=True)
class _RuleStrip:
    lines: tuple[str, ...]
    width: float
    keep_with_next: bool = False

    @property
    def height(self) -> float:
        return len(self.lines) * SMALL_SIZE * LINE + 8

    def draw(self, canvas: Canvas, left: float, top: float) -> None:
        canvas.setLineWidth(HAIRLINE)
        canvas.line(left, top - 3, left + self.width, top - 3)
        for number, line in enumerate(self.lines):
            strip = TextStrip(line, size=SMALL_SIZE)
            strip.draw(canvas, left, top - 5 - number * strip.height)


@dataclass(frozen=True, slots=True)
class CorrectionRule:
    """How a figure in ink is put right, in small print under a rule."""

    def strip(self, width: float) -> Strip:
        return _RuleStrip(tuple(broken(printable(CORRECTION_RULE), REGULAR, SMALL_SIZE, width)), width)

    def flows(self, width: float) -> list[Flow]:
        return [PlainFlow([self.strip(width)], space_above=8.0)]


@dataclass(frozen=True, slots=True)
class _RuledStrip:
    said: str
    lines: int
    width: float
    keep_with_next: bool = True

    @property
    def height(self) -> float:
        return TEXT_SIZE * LINE + self.lines * ROW_TO_WRITE_IN

    def draw(self, canvas: Canvas, left: float, top: float) -> None:
        canvas.setFont(BOLD, TEXT_SIZE)
        canvas.drawString(left, top - TEXT_SIZE, self.said)
        canvas.setLineWidth(HAIRLINE)
        for line in range(1, self.lines + 1):
            height = top - TEXT_SIZE * LINE - line * ROW_TO_WRITE_IN
            canvas.line(left, height, left + self.width, height)


@dataclass(frozen=True, slots=True)
class RoomToWrite:
    """Lines to write on in ink under a few words that say what for; on one page with the signatures after it."""

    said: str
    lines: int = 6

    def flows(self, width: float) -> list[Flow]:
        return [PlainFlow([_RuledStrip(printable(self.said), self.lines, width)], space_above=10.0)]


@dataclass(frozen=True, slots=True)
class _SignStrip:
    people: tuple[Signatory, ...]
    width: float
    height: float = SIGN_HEIGHT
    keep_with_next: bool = False

    def draw(self, canvas: Canvas, left: float, top: float) -> None:
        each = (self.width - BETWEEN_BOXES * (len(self.people) - 1)) / len(self.people)
        for number, person in enumerate(self.people):
            x = left + number * (each + BETWEEN_BOXES)
            shown = printable(f"{person.role} {person.name}".strip())
            canvas.setFont(REGULAR, fitted(shown, REGULAR, SMALL_SIZE, 5.0, each / 2))
            canvas.drawString(x, top - SMALL_SIZE - 2, shown)
            canvas.setFont(REGULAR, 5.5)
            canvas.drawRightString(x + each, top - SMALL_SIZE - 2, SIGNED_WITH)
            canvas.setLineWidth(RULE)
            canvas.line(x, top - self.height + 2, x + each, top - self.height + 2)


@dataclass(frozen=True, slots=True)
class SignLines:
    """One line to sign on for each of the people who answer for the sheet, side by side."""

    people: tuple[Signatory, ...]

    def flows(self, width: float) -> list[Flow]:
        return [PlainFlow([_SignStrip(self.people, width)], space_above=5.0)] if self.people else []
