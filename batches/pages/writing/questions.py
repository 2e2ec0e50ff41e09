"""The question before saving, on a page: what was typed as the first answer, what was probably meant as the other.

Answers come back with the form: `answered` names a question that was kept as typed, `instead` a box and what is written
in it in place of what was typed. Answers given before are carried along, so that each question is put once.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.http import QueryDict

from batches.records.asking import Asked, Question
from distillery.pages import Choice

ANSWERED = "answered"
INSTEAD = "instead"


@dataclass(frozen=True, slots=True)
class Put:
    """A question as the page shows it, the answers it offers, and those given so far."""

    question: str
    choices: tuple[Choice, ...]
    given: tuple[str, ...]


def answers_in(posted: QueryDict | None) -> tuple[QueryDict | None, frozenset[str]]:
    """The form with what was chosen instead in its box, and the questions that were answered with what was typed."""
    if posted is None:
        return None, frozenset()
    answered = frozenset(posted.getlist(ANSWERED))
    box, colon, text = posted.get(INSTEAD, "").partition("|")
    if not colon or box not in posted:
        return posted, answered
    changed = posted.copy()
    changed[box] = text
    return changed, answered


def put(asked: Asked, answered: frozenset[str]) -> Put:
    """The first question that is left, with its buttons."""
    question: Question = asked.questions[0]
    choices = [Choice(question.keep, ANSWERED, question.key)]
    if question.instead:
        choices.append(Choice(question.instead_shown, INSTEAD, f"{question.field}|{question.instead}"))
    return Put(question.sentence, tuple(choices), tuple(sorted(answered)))
