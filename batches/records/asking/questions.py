"""A question put before something is written, what answers it, and how it is put to whoever writes."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum

from batches.sheets.declared import Field

# Which questions are answered already: their keys, or all of them.
Sure = Collection[str] | bool


class Why(StrEnum):
    """What is asked about a time or a figure."""

    AHEAD = "ahead"
    BEFORE_OPENING = "before opening"
    TWICE = "twice"
    FAR = "far"
    LONG_AGO = "long ago"
    UNLIKELY = "unlikely"
    BOOK = "book"
    COURSE = "course"
    NEW_CASK = "new cask"
    LATE = "late"
    SAME_MINUTE = "same minute"
    RECALLED = "recalled"


@dataclass(frozen=True, slots=True)
class Question:
    """One question: its sentence, how to keep what was typed, and what was probably meant as it is typed.

    `said` is what was typed, or the moment it means: an answer holds only while that stays the same. `row` counts the
    repeating lines from 0. `remark` stands on the record where it was kept. A question that is answered in words has
    `choices` of them and nothing to keep.
    """

    field: str
    why: Why
    sentence: str
    said: str
    keep: str
    instead: str = ""
    instead_shown: str = ""
    remark: str = ""
    row: int | None = None
    choices: tuple[str, ...] = ()

    @property
    def key(self) -> str:
        """What an answer names: the same while the same is typed."""
        place = self.field if self.row is None else f"{self.field}@{self.row}"
        return f"{self.why}:{place}:{self.said}"


class Asked(Exception):
    """Something has to be answered before it is written; nothing was written."""

    def __init__(self, questions: Collection[Question]) -> None:
        super().__init__(" ".join(one.sentence for one in questions))
        self.questions = tuple(questions)


def with_unit(field: Field, figure: str) -> str:
    """A figure with the unit of its field, where none stands behind it."""
    bare = figure[-1:].isdigit() and field.unit not in ("", "relative density")
    return f"{figure} {field.unit}" if bare else figure


def ask(found: Collection[Question], sure: Sure) -> None:
    """Raises Asked with the questions that are not answered."""
    if sure is True:
        return
    answered = set(sure) if sure else set()
    left = [one for one in found if one.key not in answered]
    if left:
        raise Asked(left)
