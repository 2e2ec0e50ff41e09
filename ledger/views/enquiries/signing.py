"""What has changed between the page that a person had before them and the moment its button was pressed."""

from __future__ import annotations

from collections.abc import Mapping

from distillery import signed
from distillery.pages import Cell, Column, Row, Table

GONE = "not there"


def moved_table(posted: Mapping[str, str], moved: signed.MovedOn) -> Table:
    """Both versions side by side: what was on the page, and what stands now."""
    was = signed.read_words(posted.get(signed.SEEN, ""), posted.get(signed.SEEN_WORDS, ""))
    return beside(was, moved.now)


def beside(was: signed.Shown, now: signed.Shown) -> Table:
    """All that differs, one row each; all that stands now where it is not known what was on the page."""
    return Table(
        caption="What has changed since the page was made",
        note="nothing was signed",
        columns=(Column("What"), Column("As it was on your page"), Column("As it stands now")),
        rows=[Row([Cell(label), Cell(old or GONE), Cell(new or GONE)]) for label, old, new in signed.changed(was, now)],
        empty="The page did not say what was on it.",
    )
