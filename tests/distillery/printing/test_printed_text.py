"""Text on paper: broken into lines that fit, signs the font lacks not lost, the figures equally wide."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from printed_samples import lines_of, pages_of, printed

from distillery.printing.blocks import Caution, Heading, Item, ItemList, Note, Notes, Paragraph
from distillery.printing.paper import BOLD, ITALIC, MONO, REGULAR, breadth, broken, fitted, fonts, printable


@pytest.mark.parametrize("font", [REGULAR, BOLD, ITALIC, MONO])
def test_all_ten_figures_are_equally_wide(font: str) -> None:
    assert {breadth(digit, font) for digit in "0123456789"} == {breadth("0", REGULAR)}


@given(st.text(alphabet="abc mW.", max_size=200), st.floats(20, 300))
def test_lines_fit_the_width_and_keep_every_letter(text: str, width: float) -> None:
    lines = broken(text, REGULAR, 10, width)
    assert all(breadth(line, REGULAR) * 10 <= width + 0.02 for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")


def test_a_line_break_that_was_written_stays() -> None:
    assert broken("one\n\ntwo", REGULAR, 10, 200) == ["one", "", "two"]


@pytest.mark.parametrize(
    ("typed", "on_paper"),
    [
        ("Mérida £5 −2 ±1 °C ½", "Mérida £5 −2 ±1 °C ½"),
        ("Siân Ŵyn", "Siân Wyn"),
        ("vat 1 → vat 2", "vat 1 to vat 2"),
        ("e\u0301", "é"),
        ("cask 🛢", "cask [U+1F6E2]"),
        ("a\x07b", "a[U+0007]b"),
    ],
)
def test_a_sign_the_font_lacks_is_said_another_way(typed: str, on_paper: str) -> None:
    assert printable(typed) == on_paper


def test_every_printable_text_is_in_the_font() -> None:
    known = fonts()[REGULAR].face.charToGlyph
    every = "".join(chr(code) for code in range(0x20, 0x3000))
    assert all(ord(sign) in known for sign in printable(every))


def test_a_long_text_is_set_smaller_down_to_a_limit() -> None:
    assert fitted("short", REGULAR, 10, 6, 500) == 10
    assert fitted("x" * 40, REGULAR, 10, 6, 1) == 6
    middle = fitted("x" * 40, REGULAR, 10, 1, 100)
    assert breadth("x" * 40) * middle == pytest.approx(100)


def test_what_looks_like_markup_is_printed_as_it_was_typed() -> None:
    typed = "temp <16 & >12 <b>bold</b> %s {0} \\n (a)"
    assert typed in lines_of(printed(Paragraph(typed)))


def test_a_paragraph_over_the_page_loses_no_line() -> None:
    words = [f"word{number:04d}" for number in range(3_000)]
    pages = pages_of(printed(Paragraph(" ".join(words))))
    assert len(pages) > 2
    found = [word for page in pages for word in page.split() if word.startswith("word")]
    assert found == words


def test_headings_values_notes_and_cautions_are_there() -> None:
    lines = lines_of(
        printed(
            Heading("Charge"),
            ItemList((Item("Pure alcohol", "1,289.60", "LPA"), Item("Strength", "24.8", "%", "28.4", "a"))),
            Caution("Spirit burns."),
            Notes((Note("a", "28.4 struck"),)),
        )
    )
    for wanted in ("Charge", "Pure alcohol", "1,289.60 LPA", "28.4", "24.8 %", "Spirit burns.", "28.4 struck"):
        assert wanted in lines


@given(st.text(alphabet=st.characters(max_codepoint=0x2FFF, exclude_categories=["Cs", "Cc"]), max_size=40))
def test_a_text_is_as_broad_as_the_pdf_library_has_it(text: str) -> None:
    for name, cut in fonts().items():
        assert breadth(text, name) == cut.stringWidth(text, 1)
