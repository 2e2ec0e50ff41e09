"""Two parts of a record side by side on a wide sheet: readings and their curve, where it came from and where it went.

They stand beside each other as one piece as long as that piece fits a landscape page; longer parts are set one
under the other, so that tables go on over the page as they would by themselves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from distillery.printing.blocks import Block
from distillery.printing.layout import Flow, PlainFlow
from distillery.printing.paper import MILLIMETRE

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

BETWEEN_SIDES = 18.0
TALLEST = 148 * MILLIMETRE


@dataclass(frozen=True, slots=True)
class Beside:
    """Blocks on the left over `left_share` of the width, blocks on the right over the rest."""

    left: Sequence[Block]
    right: Sequence[Block]
    left_share: float = 0.5

    def flows(self, width: float) -> list[Flow]:
        left_width = (width - BETWEEN_SIDES) * self.left_share
        left = _flows(self.left, left_width)
        right = _flows(self.right, width - BETWEEN_SIDES - left_width)
        if left and right and max(_height(left), _height(right)) <= TALLEST:
            spaces = [flows[0].space_above for flows in (left, right)]
            return [PlainFlow([_SidesStrip(left, right, left_width + BETWEEN_SIDES)], space_above=max(spaces))]
        return _flows((*self.left, *self.right), width)


def _flows(blocks: Sequence[Block], width: float) -> list[Flow]:
    return [flow for block in blocks for flow in block.flows(width)]


def _height(flows: Sequence[Flow]) -> float:
    heights = sum(strip.height for flow in flows for strip in flow.strips)
    return heights + sum(flow.space_above for flow in flows[1:])


@dataclass(frozen=True, slots=True)
class _SidesStrip:
    left: Sequence[Flow]
    right: Sequence[Flow]
    right_edge: float
    keep_with_next: bool = False

    @property
    def height(self) -> float:
        return max(_height(self.left), _height(self.right))

    def draw(self, canvas: Canvas, left: float, top: float) -> None:
        for flows, edge in ((self.left, left), (self.right, left + self.right_edge)):
            below = top
            for number, flow in enumerate(flows):
                below -= flow.space_above if number else 0.0
                for strip in flow.strips:
                    strip.draw(canvas, edge, below)
                    below -= strip.height
