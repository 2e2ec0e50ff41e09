"""The boxes of a visit note."""

from __future__ import annotations

from datetime import date
from typing import Any

from batches.pages.handing.forms import WordsForm, words_box
from batches.visits.noting import LONGEST_NOTE
from distillery import figures
from distillery.plant.forms.boxes import Day


class VisitNoteForm(WordsForm):
    """The day of the visit and what is noted of it."""

    def __init__(self, data: Any = None, *, day: date) -> None:
        super().__init__(data, initial={"visited_on": day.isoformat()})
        self.fields["visited_on"] = Day("Day of the visit")
        self.fields["text"] = words_box(
            "Note",
            rows=6,
            help_text=f"At most {figures.count(LONGEST_NOTE)} characters. It bears your name and the time, and nobody "
            "can change it, you neither: a note that is wrong is put right by another.",
        )
