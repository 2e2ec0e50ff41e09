"""The paper and the type of the printed records: sheet, margins, sizes, and text measured and broken into lines.

Sheets are A4 (ISO 216), with the wide margin of ISO 5457 on the left for filing. The type is B612, whose ten
figures are equally wide in regular and bold, so that a bold total stands exactly under the figures it adds
up. Lengths are points (1/72 inch) unless a name says millimetres. Everything prints in black.

The font carries the letters of Western Europe only: a letter with an unknown accent prints without the
accent, another unknown sign prints as its number, so nothing a person wrote disappears without a trace.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from reportlab.pdfbase.ttfonts import TTFont

MILLIMETRE: Final = 72 / 25.4

LEFT_MARGIN: Final = 20 * MILLIMETRE
RIGHT_MARGIN: Final = 12 * MILLIMETRE
TOP_MARGIN: Final = 14 * MILLIMETRE
BOTTOM_MARGIN: Final = 16 * MILLIMETRE

REGULAR: Final = "B612"
BOLD: Final = "B612-Bold"
ITALIC: Final = "B612-Italic"
MONO: Final = "B612-Mono"

TEXT_SIZE: Final = 9.5
FIGURE_SIZE: Final = 10.0
SMALL_SIZE: Final = 8.0
HEADING_SIZE: Final = 11.5
LINE: Final = 1.32

SLACK: Final = 0.01

HAIRLINE: Final = 0.25
RULE: Final = 0.6
FIRM_RULE: Final = 1.0

_FONT_FILES: Final = {
    REGULAR: "B612-Regular.ttf",
    BOLD: "B612-Bold.ttf",
    ITALIC: "B612-Italic.ttf",
    MONO: "B612Mono-Regular.ttf",
}
_FONT_FOLDER: Final = Path(__file__).parent / "fonts"

_IN_WORDS: Final = {"→": "to", "←": "from", "≤": "at most ", "≥": "at least ", "≈": "about ", "\t": " "}


@dataclass(frozen=True, slots=True)
class Sheet:
    """One side of A4, `width` and `height` in points."""

    width: float
    height: float

    @property
    def inner_width(self) -> float:
        return self.width - LEFT_MARGIN - RIGHT_MARGIN

    @property
    def inner_height(self) -> float:
        return self.height - TOP_MARGIN - BOTTOM_MARGIN


PORTRAIT: Final = Sheet(210 * MILLIMETRE, 297 * MILLIMETRE)
LANDSCAPE: Final = Sheet(297 * MILLIMETRE, 210 * MILLIMETRE)


@cache
def fonts() -> dict[str, TTFont]:
    """The four cuts of B612 by name, made known to the PDF library at first use."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    cuts = {name: TTFont(name, str(_FONT_FOLDER / file)) for name, file in _FONT_FILES.items()}
    for cut in cuts.values():
        pdfmetrics.registerFont(cut)
    return cuts


@lru_cache(maxsize=4096)
def breadth(text: str, font: str = REGULAR) -> float:
    """Width of a printable `text` in ems: times the size it is points. Added up as the PDF library does, in less time,
    since a long list asks it of every cell."""
    return 0.001 * sum(map(_widths(font).__getitem__, text))


class _Widths(dict[str, float]):
    """Widths of the signs of a font in thousandths of an em, each looked up in the font once."""

    def __init__(self, cut: TTFont) -> None:
        super().__init__()
        self._face = cut.face

    def __missing__(self, sign: str) -> float:
        width: float = self._face.charWidths.get(ord(sign), self._face.defaultWidth)
        self[sign] = width
        return width


@cache
def _widths(font: str) -> _Widths:
    return _Widths(fonts()[font])


def printable(text: str) -> str:
    """`text` in signs that the font has; line breaks stay."""
    if text.isascii() and text.isprintable():
        return text
    text = unicodedata.normalize("NFC", text)
    known = fonts()[REGULAR].face.charToGlyph
    return "".join(sign if ord(sign) in known else _replaced(sign, known) for sign in text)


def _replaced(sign: str, known: dict[int, int]) -> str:
    if sign == "\n":
        return sign
    if sign in _IN_WORDS:
        return _IN_WORDS[sign]
    if unicodedata.combining(sign):
        return ""
    plain = "".join(part for part in unicodedata.normalize("NFKD", sign) if not unicodedata.combining(part))
    if plain != sign and plain and all(ord(part) in known for part in plain):
        return plain
    return f"[U+{ord(sign):04X}]"


def broken(text: str, font: str, size: float, width: float) -> list[str]:
    """The lines of a printable `text` no wider than `width` points; a word wider than a line is cut.

    Line breaks in the text are kept. At least one line, which may be empty.
    """
    # A width worked out from this very text must hold it whatever the last digit of the sums.
    width += SLACK
    if "\n" not in text and breadth(text, font) * size <= width:
        return [text]
    lines: list[str] = []
    for written_line in text.split("\n"):
        line = ""
        for word in _words(written_line, font, size, width):
            longer = f"{line} {word}" if line else word
            if line and breadth(longer, font) * size > width:
                lines.append(line)
                line = word
            else:
                line = longer
        lines.append(line)
    return lines


def _words(text: str, font: str, size: float, width: float) -> list[str]:
    words: list[str] = []
    for word in text.split():
        while breadth(word, font) * size > width and len(word) > 1:
            fits = max(1, _signs_that_fit(word, font, width / size))
            words.append(word[:fits])
            word = word[fits:]
        if word:
            words.append(word)
    return words


def _signs_that_fit(word: str, font: str, ems: float) -> int:
    used = 0.0
    for position, sign in enumerate(word):
        used += breadth(sign, font)
        if used > ems:
            return position
    return len(word)


def fitted(text: str, font: str, largest: float, smallest: float, width: float) -> float:
    """The size in points, from `largest` down to `smallest`, at which `text` comes nearest to fitting `width`."""
    ems = breadth(text, font)
    return max(smallest, min(largest, width / ems)) if ems else largest
