"""What a dated figure of the site declares to have its page: its list with its history, and the form for a new row.

A kind of figure is one `DatedSetting` in `SETTINGS`; address, list, files, form and the refusal of closed days follow
from it, and from its form the command `set_figure`, and that it waits for a second person. A room that keeps figures
of its own adds its declaration with `declare`; a form without a list of its own is added with `declare_form`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, Final

from django import forms
from django.db import models
from django.http import Http404

from batches.pages.setting_up.history import DatedTable
from distillery.people.models import Person
from distillery.plant.forms.boxes import Day, PlantForm, Words
from distillery.rules.setting.entering import Unsettable

KEPT: Final = (
    "It is kept with your name and the time and never changed. Earlier figures stay as they are and hold for the days "
    "before."
)


class FigureForm(PlantForm):
    """The boxes of a new figure: `put` hands them to a service, `done` says what came of it.

    `two_hands` is False where one person may set it, since nothing is judged by it. `group` names the columns that
    tell one figure from another, where the boxes are called as the columns are.
    """

    kept: ClassVar[str] = KEPT
    two_hands: ClassVar[bool] = True
    model: ClassVar[type[models.Model]]
    group: ClassVar[tuple[str, ...]] = ()

    def put(self, person: Person | None) -> models.Model:
        """Enters what was typed, in a person's name or by a command. Raises Unsettable."""
        raise NotImplementedError

    def done(self, row: Any) -> str:
        """What is said of a row that was entered."""
        raise NotImplementedError

    def before(self) -> Any:
        """The row that what was typed would take the place of; None where there is none. Of a form that was read."""
        given = self.cleaned_data
        same = {column: given.get(column, "") for column in self.group}
        rows = self.model._default_manager.filter(**same, from_day__lte=given["from_day"])
        return rows.order_by("from_day", "pk").last()

    def refused(self, refusal: Unsettable) -> None:
        """Puts the sentence beside the box it is about."""
        box = self.beside.get(refusal.field, refusal.field)
        self.add_error(box if box in self.fields else None, refusal.sentence)

    @classmethod
    def as_it_stands(cls, row: Any) -> Mapping[str, Any]:
        """What the boxes begin with where a row is to be set anew; without day, source and reason."""
        return {}


class DatedForm(FigureForm):
    """The boxes of a new dated row; day, source and reason come last in every one."""

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
# The form of every kind of figure, those without a list of their own among them.
FORMS: Final[dict[str, type[FigureForm]]] = {}


def declare(*settings: DatedSetting) -> None:
    """Adds kinds of figures to the site, in the order in which they are listed."""
    SETTINGS.update({one.kind: one for one in settings})
    FORMS.update({one.kind: one.form for one in settings})


def declare_form(kind: str, form: type[FigureForm]) -> None:
    """Adds a kind of figure that stands in a list of Site."""
    FORMS[kind] = form


def setting_of(kind: str) -> DatedSetting:
    """The kind of dated figure of an address. Raises Http404."""
    if kind not in SETTINGS:
        raise Http404(f"The site has no figures called {kind[:40]}.")
    return SETTINGS[kind]


class Choice(forms.ChoiceField):
    """One of the words that the books know, read anew for every page."""

    def __init__(self, label: str, read: Any, **more: Any) -> None:
        super().__init__(label=label, choices=read, **more)
