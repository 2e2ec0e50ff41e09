"""What ends a document stays with what comes before it, so that nobody signs an empty page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from distillery.printing.layout import Flow, Strip

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas


@dataclass(frozen=True, slots=True)
class _KeptStrip:
    """A strip that stays on one page with what follows it."""

    strip: Strip
    keep_with_next: bool = True

    @property
    def height(self) -> float:
        return self.strip.height

    def draw(self, canvas: Canvas, left: float, top: float) -> None:
        self.strip.draw(canvas, left, top)


@dataclass(frozen=True, slots=True)
class _KeptFlow:
    """A flow whose last strip stays with what follows it; in all else as it was."""

    flow: Flow
    strips: Sequence[Strip]

    @property
    def space_above(self) -> float:
        return self.flow.space_above

    @property
    def foot_height(self) -> float:
        return self.flow.foot_height

    def at_break(self, following: int) -> tuple[Sequence[Strip], Sequence[Strip]]:
        return self.flow.at_break(following)


def kept_together(flows: Sequence[Flow]) -> list[Flow]:
    """The flows, the last strip that might part from what follows them kept with it."""
    kept = list(flows)
    for place in range(len(kept) - 1, -1, -1):
        strips = kept[place].strips
        if not all(strip.keep_with_next for strip in strips):
            kept[place] = _KeptFlow(kept[place], [*strips[:-1], _KeptStrip(strips[-1])])
            break
    return kept
