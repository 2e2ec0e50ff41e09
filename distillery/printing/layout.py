"""Where each strip of a record comes to lie: strips one under another, page after page.

A strip is the least that is never split: a row of a table, a line of text, a signature block. A flow is a
block made of strips that knows what to print where a page ends in its middle (carried forward) and begins
again (the head once more, brought forward). The pages are known before the first is drawn, which is
how every page can say how many there are. Heights are points. The time taken grows with the number of strips.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas


class StripTooTallError(ValueError):
    """One strip is taller than a page."""


class Strip(Protocol):
    """What is drawn as one piece, its left top corner given in points from the foot of the sheet."""

    @property
    def height(self) -> float: ...

    @property
    def keep_with_next(self) -> bool: ...

    def draw(self, canvas: Canvas, left: float, top: float) -> None: ...


class Flow(Protocol):
    """A block of strips in reading order."""

    @property
    def space_above(self) -> float: ...

    @property
    def strips(self) -> Sequence[Strip]: ...

    @property
    def foot_height(self) -> float:
        """Room to keep free below any strip but the last, for what is printed if the page ends there."""
        ...

    def at_break(self, following: int) -> tuple[Sequence[Strip], Sequence[Strip]]:
        """What closes the page and what opens the next if it ends before the strip numbered `following`."""
        ...


@dataclass(frozen=True, slots=True)
class PlainFlow:
    """A flow that says nothing where a page ends."""

    strips: Sequence[Strip]
    space_above: float = 0.0
    foot_height: float = 0.0

    def at_break(self, following: int) -> tuple[Sequence[Strip], Sequence[Strip]]:
        return (), ()


@dataclass(frozen=True, slots=True)
class Placed:
    """A strip and the distance of its top from the top of the page's body."""

    strip: Strip
    below_top: float


@dataclass(slots=True)
class LaidPage:
    placed: list[Placed] = field(default_factory=list)
    used: float = 0.0

    def add(self, strip: Strip, space: float = 0.0) -> None:
        self.placed.append(Placed(strip, self.used + space))
        self.used += space + strip.height


@dataclass(frozen=True, slots=True)
class _Item:
    flow: Flow
    number: int
    strip: Strip

    @property
    def space(self) -> float:
        return self.flow.space_above if self.number == 0 else 0.0

    @property
    def foot(self) -> float:
        return 0.0 if self.number == len(self.flow.strips) - 1 else self.flow.foot_height


def lay_out(flows: Sequence[Flow], body_height: float) -> list[LaidPage]:
    """Pages of `body_height` points that hold every strip of `flows` once, in order; at least one page.

    Raises StripTooTallError for a strip taller than the body.
    """
    items = [_Item(flow, number, strip) for flow in flows for number, strip in enumerate(flow.strips)]
    page = LaidPage()
    pages = [page]
    for position, item in enumerate(items):
        if item.strip.height > body_height:
            raise StripTooTallError(
                f"A piece of this record is {item.strip.height / 72 * 25.4:.0f} mm tall and the page has room "
                f"for {body_height / 72 * 25.4:.0f} mm. Print it with less in one piece."
            )
        if page.placed and page.used + _room_wanted(items, position, body_height) > body_height:
            foot, head = item.flow.at_break(item.number) if item.number else ((), ())
            for strip in foot:
                page.add(strip)
            page = LaidPage()
            pages.append(page)
            for strip in head:
                page.add(strip)
        page.add(item.strip, item.space if page.placed else 0.0)
    return pages


def _room_wanted(items: Sequence[_Item], position: int, body_height: float) -> float:
    """Height of the strip at `position` with those it must not be parted from and the foot that may follow."""
    alone = items[position].space + items[position].strip.height + items[position].foot
    wanted = items[position].space + items[position].strip.height
    last = position
    while items[last].strip.keep_with_next and last + 1 < len(items):
        last += 1
        wanted += items[last].space + items[last].strip.height
        if wanted > body_height:
            return alone
    return wanted + items[last].foot
