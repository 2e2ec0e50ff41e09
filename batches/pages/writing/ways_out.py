"""The ways out of a refusal, as buttons beside its sentence: what may go in the box instead of what was typed, and the
records that are named.

What is put in the box is sent with the rest of the form and read like anything typed; nothing is changed unasked.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from batches.models import Record
from batches.pages.records.shown import record_address
from batches.pages.writing.questions import BETWEEN, INSTEAD
from batches.sheets.sheet import Field, Problem
from batches.sheets.typed.parsing import GRAVITY_UNIT, MISSING
from distillery.pages import Choice, Link
from distillery.templatetags.look import ErrorItem

NUMBER = re.compile(r"\b[A-Z]{2}[0-9]{4,9}\b")


def choices_of(problem: Problem, field: Field, box: str) -> tuple[Choice, ...]:
    """A button for each figure that may have been meant, or for a reading that nobody took. `box` is the name of the
    box on the page."""
    return tuple(Choice(_said(field, text), INSTEAD, f"{box}{BETWEEN}{text}") for text in problem.instead)


def _said(field: Field, text: str) -> str:
    if text == MISSING:
        return f"{field.label.replace(': ', ', ')}: not taken"
    unit = f" {field.unit}" if field.unit and field.unit != GRAVITY_UNIT else ""
    return f"It was {text}{unit}"


def with_records(items: Sequence[ErrorItem]) -> list[ErrorItem]:
    """The same, each with a way to the records that its sentence names."""
    named = _records_named(item["text"] for item in items)
    if not named:
        return list(items)
    return [
        ErrorItem(
            href=item["href"],
            text=item["text"],
            choices=item.get("choices", ()),
            links=[Link(f"Open {one}", named[one]) for one in _numbers(item["text"]) if one in named],
        )
        for item in items
    ]


def _records_named(sentences: Iterable[str]) -> dict[str, str]:
    numbers = {number for sentence in sentences for number in _numbers(sentence)}
    if not numbers:
        return {}
    return {record.number: record_address(record) for record in Record.objects.filter(number__in=numbers)}


def _numbers(sentence: str) -> list[str]:
    """The numbers in a sentence, each once, in order."""
    return list(dict.fromkeys(NUMBER.findall(sentence)))
