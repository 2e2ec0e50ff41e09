"""What is asked before a figure is written that is unlikely: outside what is usual, ten times what would be, or far
from the book of the vessel that was gauged.

Reading the sheet has noted it (`batches.sheets.parsing.unlikely`, and what a step notes of its own figures). Only what
is new or changed is asked about; the note of what is kept stays on the record.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from batches.records.asking.books import questions_about_books
from batches.records.asking.questions import Question, Sure, Why, ask, with_unit
from batches.sheets.read_sheet import Filled
from batches.sheets.sheet import Field, Kind, Note

Stood = tuple[Mapping[str, str], Sequence[Mapping[str, str]]]


def ask_about_figures(filled: Filled, *, sure: Sure, before: Stood | None = None) -> None:
    """Asks about the unlikely figures of a sheet that are new or changed since the version `before`.

    Raises Asked with the questions that `sure` does not answer.
    """
    if sure is True:
        return
    stood = before or ({}, ())
    found = list(_about(filled, filled.notes, stood))
    # What a step asks besides stands on the record once it is answered, and while the same is typed.
    besides = filled.completed.sheet.asks
    of_step = besides(filled.completed) if besides is not None and filled.claimed else []
    found += _about(filled, of_step, stood)
    asked = {one.field for one in found}
    # A gauge of which one reading is asked about already says nothing of its book.
    of_books = list(questions_about_books(filled, before[0] if before else {}, but=asked))
    ask([*found, *of_books], sure)
    filled.notes += [Note(one.field, None, one.remark) for one in of_books]
    filled.notes += of_step


def question_of(field: Field, note: Note, typed: str, line: int | None = None) -> Question:
    """The question that a note about what was typed asks before it is kept. `line` counts those of the page from 1."""
    meant = with_unit(field, note.instead) if typed[-1:].isdigit() else note.instead
    place = "" if line is None else f"Line {line}, "
    named = note.sentence if field.label in note.sentence else f"{field.label}: {_small(note.sentence)}"
    return Question(
        note.field,
        Why.UNLIKELY,
        f"{place}{_small(named) if place and field.label not in note.sentence else named}",
        typed,
        f"Keep {with_unit(field, typed)}",
        note.instead,
        f"It was {meant}" if meant else "",
        note.sentence,
        note.row,
    )


def _about(filled: Filled, notes: Iterable[Note], before: Stood) -> Iterator[Question]:
    sheet = filled.completed.sheet
    for note in notes:
        if not sheet.has_field(note.field) or not _is_doubted(sheet.field(note.field), note):
            continue
        typed = _typed(filled.typed, filled.rows, note)
        if typed and typed != _typed(*before, note):
            line = None if note.row is None else filled.places[note.row] + 1
            yield question_of(sheet.field(note.field), note, typed, line)


def _is_doubted(field: Field, note: Note) -> bool:
    """True for a figure, and for whatever something else was probably meant by. Times have questions of their own, and
    what is merely told about a vessel asks nothing."""
    return field.kind in (Kind.NUMBER, Kind.WHOLE) or (bool(note.instead) and field.kind != Kind.MOMENT)


def _typed(values: Mapping[str, str], rows: Sequence[Mapping[str, str]], note: Note) -> str:
    if note.row is None:
        return values.get(note.field, "")
    return rows[note.row].get(note.field, "") if note.row < len(rows) else ""


def _small(sentence: str) -> str:
    return f"{sentence[:1].lower()}{sentence[1:]}"
