"""Every strip stands once, in order, within the page; what belongs together is not parted. No outside source."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reportlab.pdfgen.canvas import Canvas

from distillery.printing.layout import PlainFlow, Strip, StripTooTallError, lay_out

BODY = 100.0


@dataclass(frozen=True)
class Block:
    name: int
    height: float
    keep_with_next: bool = False

    def draw(self, canvas: Canvas, left: float, top: float) -> None:
        raise AssertionError("laying out draws nothing")


@dataclass(frozen=True)
class Counted:
    """A flow that closes a page with a foot of 10 and opens the next with a head of 12."""

    strips: tuple[Strip, ...]
    space_above: float = 0.0
    foot_height: float = 10.0

    def at_break(self, following: int) -> tuple[list[Strip], list[Strip]]:
        return [Block(-1000 - following, 10.0)], [Block(1000 + following, 12.0)]


@given(
    st.lists(st.tuples(st.floats(1, BODY), st.booleans()), max_size=60),
    st.floats(0, 20),
)
def test_every_strip_stands_once_in_order_and_within_the_page(drawn: list[tuple[float, bool]], space: float) -> None:
    strips = tuple(Block(number, height, keep) for number, (height, keep) in enumerate(drawn))
    half = len(strips) // 2
    pages = lay_out([PlainFlow(strips[:half], space), PlainFlow(strips[half:], space)], BODY)
    assert [placed.strip for page in pages for placed in page.placed] == list(strips)
    for page in pages:
        lowest = 0.0
        for placed in page.placed:
            assert placed.below_top >= lowest - 1e-9
            lowest = placed.below_top + placed.strip.height
        assert lowest <= BODY + 1e-6


@given(st.lists(st.floats(1, 60), min_size=1, max_size=60))
def test_a_page_that_ends_inside_a_flow_is_closed_and_the_next_opened(heights: list[float]) -> None:
    flow = Counted(tuple(Block(number, height) for number, height in enumerate(heights)))
    pages = lay_out([flow], BODY)
    for page, following in pairwise(pages):
        foot, head = page.placed[-1].strip, following.placed[0].strip
        next_strip = following.placed[1].strip
        assert isinstance(foot, Block)
        assert isinstance(head, Block)
        assert isinstance(next_strip, Block)
        assert foot.name == -1000 - next_strip.name
        assert head.name == 1000 + next_strip.name
        assert page.placed[-1].below_top + foot.height <= BODY + 1e-6


def test_a_heading_goes_to_the_page_of_what_it_heads() -> None:
    strips = (Block(0, 80), Block(1, 10, keep_with_next=True), Block(2, 20))
    pages = lay_out([PlainFlow(strips)], BODY)
    assert [[placed.strip for placed in page.placed] for page in pages] == [[strips[0]], [strips[1], strips[2]]]


def test_the_last_strip_may_use_the_room_kept_for_a_foot() -> None:
    flow = Counted((Block(0, 50), Block(1, 50)))
    assert len(lay_out([flow], BODY)) == 1


def test_no_space_is_left_at_the_top_of_a_page() -> None:
    pages = lay_out([PlainFlow([Block(0, 90)]), PlainFlow([Block(1, 20)], space_above=15)], BODY)
    assert pages[1].placed[0].below_top == 0


def test_nothing_to_print_is_one_empty_page() -> None:
    assert [page.placed for page in lay_out([], BODY)] == [[]]


def test_a_strip_taller_than_the_page_is_refused_by_name() -> None:
    with pytest.raises(StripTooTallError, match="less in one piece"):
        lay_out([PlainFlow([Block(0, BODY + 1)])], BODY)
