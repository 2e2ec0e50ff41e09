"""What a dated figure of the site declares to have its page: its list with its history, and the form for a new row.

A kind of figure is one `DatedSetting` in `SETTINGS`; address, list, files, form and the refusal of closed days follow
from it. A room that keeps figures of its own adds its declaration with `declare`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, Final

from django import forms
from django.db import models

from batches.pages.setting_up.history import DatedTable
from distillery.people.models import Person
from distillery.plant.forms.boxes import Day, PlantForm, Words
from distillery.rules.entering import Unsettable

KEPT: Final = (
    "It is kept with your name and the time and never changed. Earlier figures stay as they are and hold for the days "
    "before."
)


class DatedForm(PlantForm):
    """The boxes of a new dated row; day, source and reason come last in every one.

    `enter` hands the boxes to a service, whose refusal stands beside the box it is about.
    """

    kept: ClassVar[str] = KEPT

    from_day = Day("In force from", help_text="As 2027-03-04. A day of a closed period is refused.")
    source = Words("Source", help_text="Law, notice, certificate or the records it rests on, with its date.")
    reason = Words("Why", help_text="Why it is set, or set anew.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        last = ("from_day", "source", "reason")
        self.order_fields([*(name for name in self.fields if name not in last), *last])
        if not self.is_bound:
            # The box that stood first before they were put in order.
            self.fields["from_day"].widget.attrs.pop("autofocus", None)
            next(iter(self.fields.values())).widget.attrs["autofocus"] = True

    def keep(self, person: Person) -> str:
        try:
            return self.enter(person)
        except Unsettable as refused:
            box = self.beside.get(refused.field, refused.field)
            self.add_error(box if box in self.fields else None, refused.sentence)
        return ""

    @classmethod
    def as_it_stands(cls, row: Any) -> Mapping[str, Any]:
        """What the boxes begin with where a row is to be set anew; without day, source and reason."""
        return {}


@dataclass(frozen=True, slots=True)
class DatedSetting:
    """One kind of dated figure: `kind` in its address, what its page is called and says, its model, list and form."""

    kind: str
    title: str
    lead: str
    model: type[models.Model]
    table: type[DatedTable]
    form: type[DatedForm]
    # What else belongs to it, as the page says under its lead: words and the name of a route.
    ways: Sequence[tuple[str, str]] = ()
    # A statement that may be made here in place of a new row.
    states: str = ""


SETTINGS: Final[dict[str, DatedSetting]] = {}


def declare(*settings: DatedSetting) -> None:
    """Adds kinds of figures to the site, in the order in which they are listed."""
    SETTINGS.update({one.kind: one for one in settings})


class Choice(forms.ChoiceField):
    """One of the words that the books know, read anew for every page."""

    def __init__(self, label: str, read: Any, **more: Any) -> None:
        super().__init__(label=label, choices=read, **more)
