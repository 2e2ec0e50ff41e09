"""The few boxes of notes and handovers; what is wrong with them the services say."""

from __future__ import annotations

from typing import Any

from django import forms

from batches.pages.writing.boxes import Typed
from batches.pages.writing.entry_page import problems_of
from batches.records.recording import Busy
from batches.sheets.typed.read_sheet import Unfit


class WordsForm(forms.Form):
    """Boxes for words, kept as typed."""

    use_required_attribute = False

    def text(self, name: str) -> str:
        """What was typed in a box."""
        self.full_clean()
        return str(self.cleaned_data.get(name) or "").strip()

    def mark(self, error: Unfit | Busy) -> None:
        """Puts what is wrong beside its box."""
        for problem in problems_of(error):
            self.add_error(problem.field if problem.field in self.fields else None, problem.sentence)


def words_box(label: str, *, help_text: str = "", required: bool = True, rows: int = 0) -> Typed:
    """A box for words; several lines of them where `rows` says so."""
    widget: Any = forms.Textarea({"rows": rows}) if rows else forms.TextInput({"autocomplete": "off"})
    return Typed(label=label, unit="", width=40, required=required, help_text=help_text, widget=widget)


class NoteForm(WordsForm):
    """One note."""

    text_box = "text"

    def __init__(self, data: Any = None) -> None:
        super().__init__(data)
        self.fields["text"] = words_box(
            "Note", help_text="What the shift should know. It bears your name and the time."
        )


class StrikeNoteForm(WordsForm):
    """Why a note is struck, and what stands in its place, if anything."""

    def __init__(self, data: Any = None) -> None:
        super().__init__(data)
        self.fields["text"] = words_box(
            "Right words", required=False, help_text="Left blank, the note is struck and nothing stands in its place."
        )
        self.fields["reason"] = words_box("Why", help_text="In a few words; it is kept with your name and the time.")


class HandoverForm(WordsForm):
    """What who goes says to who comes."""

    def __init__(self, data: Any = None) -> None:
        super().__init__(data)
        self.fields["text"] = words_box(
            "What you hand over",
            rows=6,
            help_text="What is unusual, what was tried, what comes next. The program adds what stands.",
        )


class TakeForm(WordsForm):
    """What who comes asked or saw, if anything."""

    def __init__(self, data: Any = None) -> None:
        super().__init__(data)
        self.fields["text"] = words_box(
            "What was asked, or you saw yourself",
            required=False,
            help_text="Read it out together, face to face; what came up stays with the sheet.",
        )
