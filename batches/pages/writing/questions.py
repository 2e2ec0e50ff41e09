"""The question before saving, on a page: what was typed as the first answer, what was probably meant as the other.

Where several things are asked, the first stands with its buttons and the others are named below it.

Answers come back with the form: `answered` names a question that was kept as typed, `instead` a box and what is written
in it in place of what was typed. Answers given before are carried along, so that each question is put once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.http import QueryDict

from batches.pages.common import LATE_REASON
from batches.records.asking import Asked, NotSigned, Question, Why
from distillery.pages import Choice
from distillery.pen.trying.again import AGAIN

ANSWERED = "answered"
INSTEAD = "instead"
END_FIRST = "end_first"
# Between a box and what is written in it, and between several answers.
BETWEEN = "|"
# A figure or time that was typed is kept with one key. Whether something recalled leaves, a cask is new or two figures
# stand is not answered by a key that was pressed once too often.
BY_ONE_KEY = frozenset(Why) - {Why.RECALLED, Why.NEW_CASK, Why.SAME_MINUTE, Why.LATE}


@dataclass(frozen=True, slots=True)
class Put:
    """A question as the page shows it, the answers it offers, those given so far, what is asked besides, the box it
    is about, and the record that is to be ended once all is answered. `by_one_key`: the first answer has the focus."""

    question: str
    choices: tuple[Choice, ...]
    given: tuple[str, ...]
    besides: tuple[str, ...] = ()
    box: str = ""
    ending: str = ""
    is_late: bool = False
    by_one_key: bool = False

    @property
    def focus(self) -> str:
        """What has the focus: 'answer', 'question', or nothing of it, where a reason is to be written in its box."""
        if self.is_late:
            return ""
        return "answer" if self.by_one_key else "question"


@dataclass(frozen=True, slots=True)
class ToSign:
    """What takes the PIN again before it is written, in sentences, beside the answers given so far: they stand, and are
    not asked for again. `ending` as on `Put`."""

    sentences: tuple[str, ...]
    given: tuple[str, ...]
    ending: str = ""


def to_sign(
    posted: QueryDict | None, answered: frozenset[str], unsigned: NotSigned | None = None, *, ending: str = ""
) -> ToSign | None:
    """What a form that was sent signs for; None where nobody was asked and nothing asks now."""
    if unsigned is None and (posted is None or AGAIN not in posted):
        return None
    said = tuple(one.sentence for one in unsigned.cuts) if unsigned is not None else ()
    return ToSign(said, tuple(sorted(answered)), ending)


def answers_in(posted: QueryDict | None) -> tuple[QueryDict | None, frozenset[str]]:
    """The form with what was chosen instead in its box, and the questions that were answered with what was typed."""
    if posted is None:
        return None, frozenset()
    answered = frozenset(key for value in posted.getlist(ANSWERED) for key in value.split(BETWEEN) if key)
    box, parted, text = posted.get(INSTEAD, "").partition(BETWEEN)
    if not parted or box not in posted:
        return posted, answered
    changed = posted.copy()
    changed[box] = text
    return changed, answered


def put(asked: Asked, answered: frozenset[str], boxes: Mapping[str, str] | None = None, *, ending: str = "") -> Put:
    """The first question that is left, with its buttons; where there are more, one that keeps all as typed.

    `boxes` says in which box of the page what is asked about stands, where that is not the name of the field; a box of
    a repeating line goes by the place of the line among those written on.
    """
    question: Question = asked.questions[0]
    box = (boxes or {}).get(place_of(question), question.field)
    given = tuple(sorted(answered))
    if question.choices:
        words = tuple(Choice(text, LATE_REASON, text) for text in question.choices)
        return Put(question.sentence, words, given, (), box, ending, is_late=True)
    choices = [Choice(question.keep, ANSWERED, question.key)]
    if question.instead:
        choices.append(Choice(question.instead_shown, INSTEAD, f"{box}{BETWEEN}{question.instead}"))
    besides = asked.questions[1:]
    if besides:
        every = BETWEEN.join(one.key for one in asked.questions)
        choices.append(Choice(f"Keep all {len(asked.questions)} as typed", ANSWERED, every))
    said = tuple(one.sentence for one in besides)
    by_one_key = question.why in BY_ONE_KEY and not besides
    return Put(question.sentence, tuple(choices), given, said, box, ending, by_one_key=by_one_key)


def way_out(numbers: Sequence[str], answered: frozenset[str]) -> Put | None:
    """How a record that stands in the way is ended with this sheet; None where nothing does."""
    if not numbers:
        return None
    number = numbers[0]
    said = f"{number} can be ended as this one begins. What nobody read of it is marked missing, and is asked about."
    return Put(said, (Choice(f"Save, and end {number} with its readings missing", END_FIRST, number),), tuple(answered))


def place_of(question: Question) -> str:
    """The field a question is about, with the place of its repeating line."""
    return question.field if question.row is None else f"{question.row}:{question.field}"
