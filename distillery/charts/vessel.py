"""A vessel as it stands in the plant: its outline by kind, the level in it, and nothing written on either.

Copper is drawn in its own colour, everything else in ink; the level is a filled part of the inside. What it means
stands beside it in words, so the drawing is hidden from screen readers.
"""

from __future__ import annotations

from typing import Final
from xml.etree import ElementTree as ET

from django.utils.safestring import SafeString, mark_safe

WIDTH: Final = 72
HEIGHT: Final = 96
# Where the inside of a tub, receiver, vat or tank lies.
LEFT, RIGHT, TOP, FLOOR = 8, 64, 14, 88

OPEN_TUB: Final = "M8 8v80h56V8"
CLOSED: Final = "M8 14h56v74H8z"
LIDDED: Final = "M8 14h56v74H8zM4 14h64M28 14V8h16v6"
STILL: Final = "M29 8h14l5 24c16 9 20 26 14 46a8 8 0 0 1-8 10H18a8 8 0 0 1-8-10C4 58 8 41 24 32z"
CASK: Final = "M10 26c14-12 38-12 52 0v44c-14 12-38 12-52 0zM10 40c16 4 36 4 52 0M10 56c16 4 36 4 52 0"
BOTTLE: Final = "M30 8h12v20c10 4 14 10 14 18v42H16V46c0-8 4-14 14-18z"
OUTLINES: Final = {
    "washback": OPEN_TUB,
    "still": STILL,
    "receiver": CLOSED,
    "vat": LIDDED,
    "tank": LIDDED,
    "cask": CASK,
    "bottle": BOTTLE,
}
# A charged still has no gauge glass, and casks none either: they are drawn full of what their book says, or empty.
SHAPED: Final = frozenset({"still", "cask", "bottle"})


def vessel_drawing(kind: str, share: float | None) -> SafeString:
    """The drawing of a kind of vessel filled to a share of its height (0 to 1; None: nothing can be said of it).

    Raises KeyError for a kind that has no outline.
    """
    outline = OUTLINES[kind]
    root = ET.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "class": f"vessel vessel-{kind}",
            "viewBox": f"0 0 {WIDTH} {HEIGHT}",
            "aria-hidden": "true",
            "focusable": "false",
        },
    )
    full = min(max(share or 0.0, 0.0), 1.0)
    if full and kind in SHAPED:
        ET.SubElement(root, "path", {"class": "level", "d": outline.partition("zM")[0]})
    elif full:
        # What is there at all is to be seen.
        height = max(full * (FLOOR - TOP), 1.5)
        ET.SubElement(
            root,
            "rect",
            {
                "class": "level",
                "x": str(LEFT),
                "y": f"{FLOOR - height:.1f}",
                "width": str(RIGHT - LEFT),
                "height": f"{height:.1f}",
            },
        )
    ET.SubElement(root, "path", {"class": "wall", "d": outline})
    # Nothing typed by anybody is in it.
    return mark_safe(ET.tostring(root, encoding="unicode"))
