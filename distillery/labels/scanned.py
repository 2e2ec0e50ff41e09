"""What the codes on labels say, and how a scan is read where a number may also be typed.

A code says the number, a star and its check figure, and nothing else. No number has a star in it, so a scan is told
from what was typed.
"""

from __future__ import annotations

from typing import Final

from distillery.labels.check_figure import FIGURES, check_figure

MARK: Final = "*"
LONGEST_SHOWN: Final = 60


class Unscannable(ValueError):
    """A scan that is damaged, or of no label of this site; `str()` says what to do."""


def content_of(number: str) -> str:
    """What the code on a label says: '2022/0007*K'. Raises ValueError for a number with no figure or letter."""
    return f"{number}{MARK}{check_figure(number)}"


def number_of(text: str) -> str:
    """The number that was scanned, or what was typed as it is. Raises Unscannable."""
    given = text.strip()
    if MARK not in given:
        return given
    number, _, check = given.rpartition(MARK)
    shown = given[:LONGEST_SHOWN]
    if len(check) != 1 or check.upper() not in FIGURES or not any(sign in FIGURES for sign in number.upper()):
        raise Unscannable(f"The scan '{shown}' is of no label of this site. Scan its own label, or type the number.")
    if check_figure(number) != check.upper():
        raise Unscannable(
            f"The scan '{shown}' was misread: its check figure does not agree. Scan it again, or type the number."
        )
    return number


def number_or_text(text: str) -> str:
    """The same where a scan that cannot be read stays as it was, for a box that says so itself."""
    try:
        return number_of(text)
    except Unscannable:
        return text.strip()
