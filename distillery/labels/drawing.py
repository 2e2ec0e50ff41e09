"""Labels as PDF: one of its own size, or as many as go on sheets of A4.

A label is 100 by 70 mm. The number of a cask is 18 mm high, which is 20 minutes of arc at 3 m: readable from the
passage. The QR code has error correction level Q, modules of 1 mm and the clear margin of 4 modules that ISO/IEC 18004
asks; Code 128 (ISO/IEC 15417) has modules of 0.25 to 0.5 mm and a clear margin of 10 modules.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING, Final

from distillery.labels.scanned import content_of
from distillery.printing.document import LANGUAGE
from distillery.printing.paper import BOLD, HAIRLINE, MILLIMETRE, PORTRAIT, REGULAR, breadth, fitted, fonts, printable

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

WIDTH_MM: Final = 100.0
HEIGHT_MM: Final = 70.0
MARGIN_MM: Final = 4.0
NUMBER_MM: Final = 18.0
LOT_NUMBER_MM: Final = 9.0
MODULE_MM: Final = 1.0
CLEAR_MODULES: Final = 4
# Letters set closer than to this share of their width are hard to tell apart; a longer number is set smaller.
CLOSEST: Final = 0.6
LINE_MM: Final = 4.6
# So high that a line across it at 15 degrees still meets every bar: 92 mm times the tangent, and a little.
CODE_MM: Final = 27.0
MOST_LINES: Final = 2
WIDEST_BAR_MM: Final = 0.5
NARROWEST_BAR_MM: Final = 0.25
ACROSS, DOWN = 2, 4
A_SHEET: Final = ACROSS * DOWN
SEPARATORS: Final = "/-"


class NoLabel(ValueError):
    """A number that no label has room for; one sentence."""


@dataclass(frozen=True, slots=True)
class CaskLabel:
    """A cask's label: its number, the year and the place. Strength and owner never stand on it."""

    number: str
    year: str = ""
    place: str = ""

    def draw(self, canvas: Canvas) -> None:
        """Draws it from the corner at bottom left."""
        side = _draw_qr(canvas, content_of(self.number))
        lines = _number_lines(self.number)
        top = HEIGHT_MM - MARGIN_MM
        for place, line in enumerate(lines):
            # Beside the code there is less room than above it.
            beside = top - NUMBER_MM < side
            room = WIDTH_MM - 2 * MARGIN_MM - (side if beside else 0)
            _draw_number(canvas, line, NUMBER_MM, top, room)
            top -= NUMBER_MM + (0.8 * MARGIN_MM if place + 1 < len(lines) else MARGIN_MM)
        room = WIDTH_MM - MARGIN_MM - side
        for text, font in ((self.year, BOLD), (self.place, REGULAR)):
            if text:
                _draw_text(canvas, text, font, top, room)
                top -= LINE_MM * 1.4


@dataclass(frozen=True, slots=True)
class BarLabel:
    """The label of a lot or a case: its number large, at most MOST_LINES lines of words, and Code 128 of the number."""

    number: str
    lines: tuple[str, ...] = ()

    def draw(self, canvas: Canvas) -> None:
        """Draws it from the corner at bottom left. Raises NoLabel for a number longer than its bars have room for."""
        top = HEIGHT_MM - MARGIN_MM
        _draw_number(canvas, self.number, LOT_NUMBER_MM, top, WIDTH_MM - 2 * MARGIN_MM)
        top -= LOT_NUMBER_MM + MARGIN_MM
        for line in self.lines[:MOST_LINES]:
            _draw_text(canvas, line, REGULAR, top, WIDTH_MM - 2 * MARGIN_MM)
            top -= LINE_MM * 1.4
        _draw_bars(canvas, content_of(self.number))


Label = CaskLabel | BarLabel


def labels_pdf(labels: Sequence[Label], *, on_a4: bool, title: str) -> bytes:
    """The PDF: a page of the label's size for each, or A_SHEET of them on each sheet of A4. Raises NoLabel."""
    from reportlab.pdfgen.canvas import Canvas

    fonts()
    target = BytesIO()
    size = (PORTRAIT.width, PORTRAIT.height) if on_a4 else (WIDTH_MM * MILLIMETRE, HEIGHT_MM * MILLIMETRE)
    canvas = Canvas(target, pagesize=size, pageCompression=1, invariant=1, lang=LANGUAGE)
    canvas.setTitle(title)
    canvas.setViewerPreference("DisplayDocTitle", "true")
    for place, label in enumerate(labels):
        on_sheet = place % A_SHEET if on_a4 else 0
        if place and not on_sheet:
            canvas.showPage()
        canvas.saveState()
        if on_a4:
            canvas.translate(*_corner(on_sheet))
            canvas.setLineWidth(HAIRLINE)
            canvas.rect(0, 0, WIDTH_MM * MILLIMETRE, HEIGHT_MM * MILLIMETRE)
        label.draw(canvas)
        canvas.restoreState()
    canvas.save()
    return target.getvalue()


def _corner(place: int) -> tuple[float, float]:
    """Bottom left of a label on a sheet, in points; the labels lie together in the middle of it."""
    row, column = divmod(place, ACROSS)
    left = (PORTRAIT.width - ACROSS * WIDTH_MM * MILLIMETRE) / 2 + column * WIDTH_MM * MILLIMETRE
    below = (PORTRAIT.height - DOWN * HEIGHT_MM * MILLIMETRE) / 2 + (DOWN - 1 - row) * HEIGHT_MM * MILLIMETRE
    return left, below


def _number_lines(number: str) -> list[str]:
    """The number in one line where it goes into one, else parted behind its first stroke or hyphen."""
    if _share(number, NUMBER_MM, WIDTH_MM - 2 * MARGIN_MM) >= 1:
        return [number]
    parted = next((at for at, sign in enumerate(number) if sign in SEPARATORS and 0 < at < len(number) - 1), None)
    return [number] if parted is None else [number[: parted + 1], number[parted + 1 :]]


def _size(height_mm: float) -> float:
    """Points of type whose figures are so high."""
    return height_mm * MILLIMETRE * 1000 / float(fonts()[BOLD].face.capHeight)


def _share(text: str, height_mm: float, room_mm: float) -> float:
    """How much of its width the text may have where it is to go into the room."""
    return room_mm * MILLIMETRE / (breadth(text, BOLD) * _size(height_mm))


def _draw_number(canvas: Canvas, text: str, height_mm: float, top_mm: float, room_mm: float) -> None:
    shown = printable(text)
    share = min(1.0, _share(shown, height_mm, room_mm))
    if share < CLOSEST:
        height_mm, share = height_mm * share / CLOSEST, CLOSEST
    line = canvas.beginText(MARGIN_MM * MILLIMETRE, (top_mm - height_mm) * MILLIMETRE)
    line.setFont(BOLD, _size(height_mm))
    line.setHorizScale(share * 100)
    line.textOut(shown)
    canvas.drawText(line)


def _draw_text(canvas: Canvas, text: str, font: str, top_mm: float, room_mm: float) -> None:
    shown = printable(text)
    size = LINE_MM * MILLIMETRE
    canvas.setFont(font, fitted(shown, font, size, size / 2, room_mm * MILLIMETRE))
    canvas.drawString(MARGIN_MM * MILLIMETRE, (top_mm - LINE_MM) * MILLIMETRE, shown)


def _draw_qr(canvas: Canvas, content: str) -> float:
    """The QR code at bottom right with its clear margin; the side of both together in millimetres."""
    from reportlab.graphics import renderPDF
    from reportlab.graphics.barcode.qr import QrCodeWidget
    from reportlab.graphics.shapes import Drawing

    code = QrCodeWidget(content, barLevel="Q", barBorder=CLEAR_MODULES)
    code.qr.make()
    side_mm = (code.qr.getModuleCount() + 2 * CLEAR_MODULES) * MODULE_MM
    code.barWidth = code.barHeight = side_mm * MILLIMETRE
    drawing = Drawing(side_mm * MILLIMETRE, side_mm * MILLIMETRE)
    drawing.add(code)
    renderPDF.draw(drawing, canvas, (WIDTH_MM - side_mm) * MILLIMETRE, 0)
    return float(side_mm)


def _draw_bars(canvas: Canvas, content: str) -> None:
    from reportlab.graphics.barcode.code128 import Code128

    room_mm = WIDTH_MM - 2 * MARGIN_MM
    bar_mm = WIDEST_BAR_MM

    def bars() -> Code128:
        module = bar_mm * MILLIMETRE
        return Code128(
            content, barWidth=module, barHeight=CODE_MM * MILLIMETRE, quiet=True, lquiet=10 * module, rquiet=10 * module
        )

    drawn = bars()
    if drawn.width > room_mm * MILLIMETRE:
        bar_mm *= room_mm * MILLIMETRE / drawn.width
        if bar_mm < NARROWEST_BAR_MM:
            raise NoLabel(f"'{content[:40]}' is too long for the bars of a label; give the lot a shorter number.")
        drawn = bars()
    drawn.drawOn(canvas, (WIDTH_MM * MILLIMETRE - drawn.width) / 2, (MARGIN_MM + LINE_MM * 1.4) * MILLIMETRE)
    canvas.setFont(REGULAR, LINE_MM * MILLIMETRE * 0.8)
    canvas.drawCentredString(WIDTH_MM * MILLIMETRE / 2, MARGIN_MM * MILLIMETRE, printable(content))
