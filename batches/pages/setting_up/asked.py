"""What was asked for of a dated figure, as a second person reads it: box by box, what holds and what would hold."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms
from django.urls import reverse

from batches.pages.setting_up import law_forms as _law  # noqa: F401
from batches.pages.setting_up import of_the_site as _site  # noqa: F401
from batches.pages.setting_up.declared import FORMS, FigureForm
from distillery.figures import moment
from distillery.pages import Cell, Column, Link, Row, Table
from distillery.rules.setting.two_hands import boxes_of, waiting
from distillery.rules.site_facts import FigureAsked

# Why it is asked for stands by itself.
NOT_COMPARED = frozenset({"reason", "owed_later"})
NOTHING = "nothing held"


@dataclass(frozen=True, slots=True)
class Line:
    """One box: its label with the unit, what holds, what would hold."""

    label: str
    before: str
    after: str


def form_of(asked: FigureAsked) -> FigureForm:
    """The form as it was typed."""
    return FORMS[asked.kind](boxes_of(asked))


def boxes_sent(form: FigureForm) -> dict[str, str]:
    """What was typed in the boxes of a form, and in no other."""
    return {name: str(form.data.get(name, "")) for name in form.fields if name in form.data}


def lines(form: FigureForm) -> list[Line]:
    """Box by box what holds and what would. A form that can no longer be read has nothing that holds beside it."""
    before = form.before() if form.is_valid() else None
    stood: Mapping[str, Any] = {} if before is None else form.as_it_stands(before)
    if before is not None:
        stood = {**stood, "from_day": before.from_day.isoformat(), "source": before.source}
    return [
        Line(_label(field), _said(field, stood.get(name)) if stood else NOTHING, _typed(form, name))
        for name, field in form.fields.items()
        if name not in NOT_COMPARED
    ]


def compared(found: list[Line]) -> Table:
    """Both side by side, what would change marked by its word."""
    return Table(
        caption="What holds, and what would",
        columns=(Column("Figure"), Column("Holds now"), Column("Would hold"), Column("Changes")),
        rows=[
            Row([Cell(one.label), Cell(one.before), Cell(one.after), Cell("yes" if one.before != one.after else "no")])
            for one in found
        ],
        empty="Nothing was typed.",
        wide=True,
    )


def as_signed(found: list[Line]) -> dict[str, str]:
    """What a second person puts a name to."""
    return {one.label: f"{one.before}; {one.after}" for one in found}


def as_asked(found: list[Line]) -> Table:
    """What was asked for, once it is answered."""
    return Table(
        caption="What was asked for",
        columns=(Column("Figure"), Column("Asked for")),
        rows=[Row([Cell(one.label), Cell(one.after)]) for one in found],
        empty="Nothing was typed.",
    )


def what_is_asked(asked: FigureAsked) -> str:
    """'Set a review threshold: transfer', by the first box that something stands in; asks no database."""
    form = FORMS[asked.kind]
    boxes = boxes_of(asked)
    names = (name for name in form.base_fields if name not in ("from_day", "source", "reason"))
    first = next((boxes[name].strip() for name in names if boxes.get(name, "").strip()), "")
    return f"{form.title}: {first.splitlines()[0]}" if first else form.title


def waiting_links(*kinds: str) -> list[Link]:
    """The way to each figure that waits for a second person, the oldest first; of some kinds where they are named."""
    return [
        Link(
            what_is_asked(one),
            reverse("figure_waiting", args=[one.pk]),
            f"asked for by {one.person.shown_name}, {moment(one.asked_at)}",
        )
        for one in waiting(kinds or None)
    ]


def _label(field: forms.Field) -> str:
    unit = getattr(field, "unit", "")
    return f"{field.label}, {unit}" if unit else str(field.label)


def _typed(form: FigureForm, name: str) -> str:
    given = form.cleaned_data.get(name) if form.is_valid() else form.data.get(name)
    if isinstance(given, date):
        return given.isoformat()
    return _said(form.fields[name], form.data.get(name))


def _said(field: forms.Field, value: Any) -> str:
    if isinstance(field, forms.BooleanField):
        return "yes" if value in (True, "on", "true", "True", "1") else "no"
    text = "" if value is None else str(value).strip()
    if isinstance(field, forms.ChoiceField):
        text = str(dict(field.choices).get(text, text))  # type: ignore[arg-type]
    return text or "blank"
