"""The boxes of an enquiry. They carry what was typed; what is right and what is missing the service says."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django import forms
from django.http import HttpRequest
from django.utils import timezone

from distillery.pen.trying.taking import proven
from distillery.pen.trying.tries import Refused as WrongTry
from distillery.people.hashing import ManySigningOn
from distillery.people.models import Person
from distillery.years import is_of_a_site
from ledger.enquiries.answering import Proposal
from ledger.enquiries.explaining import amount_meant, known_causes
from ledger.enquiries.models import Ending, Enquiry, What
from ledger.enquiries.opening import Unanswerable
from ledger.enquiries.standing import Standing
from ledger.posting.drafts import Refused

MOMENT = "%Y-%m-%dT%H:%M"
PLAIN_FIGURE = re.compile(r"[0-9]+([.,][0-9]+)?")
LONGEST_FIGURE = 40


# A correction ends an enquiry by itself, or asks for a second person; nobody has to propose it.
BY_HAND = [(value, label) for value, label in Ending.choices if value != Ending.CORRECTED]


class Box(forms.CharField):
    """A box of text. `unit` stands beside it, `width` says how many characters an answer has."""

    def __init__(self, *, unit: str = "", width: int = 40, lines: int = 1, **more: Any) -> None:
        attributes = {"autocomplete": "off"} | ({"rows": str(lines)} if lines > 1 else {})
        widget = forms.Textarea(attributes) if lines > 1 else forms.TextInput(attributes)
        super().__init__(**({"widget": widget} | more))
        self.unit = unit
        self.width = width

    def validate(self, value: Any) -> None:
        """Nothing is refused here: the service knows what may be blank."""


class Choice(forms.ChoiceField):
    """A list to choose from that refuses nothing itself."""

    def validate(self, value: Any) -> None:
        """Nothing is refused here: the service knows what may be blank."""


class EnquiryForm(forms.Form):
    """A form whose errors come from the service, in its words, beside the box they concern."""

    use_required_attribute = False

    def text(self, name: str) -> str:
        """What was typed in a box."""
        if not self.is_bound:
            return ""
        if not hasattr(self, "cleaned_data"):
            self.full_clean()
        return str(self.cleaned_data.get(name) or "").strip()

    def mark(self, error: Unanswerable | Refused) -> None:
        """Puts what is wrong beside its box, or above all where it has none; what is wrong with a second person, at
        the name."""
        field = "username" if error.field == "second" else error.field
        self.add_error(field if field in self.fields else None, error.sentence)


class AddForm(EnquiryForm):
    """What was done: a note, something checked, a reading asked for, a cause thought likely."""

    what = forms.ChoiceField(
        label="What",
        choices=[
            (What.CHECKED.value, "Something was checked"),
            (What.ASKED.value, "A reading is asked for"),
            (What.CAUSE.value, "This may be the cause"),
            (What.NOTE.value, "A note"),
        ],
        initial=What.CHECKED.value,
        widget=forms.RadioSelect,
    )
    words = Box(label="In your words", lines=3, help_text="Kept with your name and the time; never changed.")


class ReasonForm(EnquiryForm):
    """Why, in a few words."""

    reason = Box(label="Reason", help_text="In a few words; kept with your name and the time.")


class OpenForm(EnquiryForm):
    """What is to be looked into."""

    words = Box(label="What is to be looked into", lines=3, help_text="What was seen, and where.")


class TieForm(EnquiryForm):
    """Which enquiry belongs to this one, and what shows it."""

    other = Choice(label="The other enquiry")
    reason = Box(
        label="What shows that the two belong together",
        lines=3,
        help_text="A loss and a gain are set off only where they are shown to be related.",
    )

    def __init__(self, others: list[Standing], data: Any = None) -> None:
        super().__init__(data)
        field = self.fields["other"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [
            (one.enquiry.number, f"{one.enquiry.number}, {one.enquiry.record_number}: {one.enquiry.said}")
            for one in others
        ]


class ProposalForm(EnquiryForm):
    """How the enquiry ends. What a known loss needs besides is asked for below, and who agrees if they are there."""

    ending = forms.ChoiceField(
        label="How it ends", choices=BY_HAND, initial=Ending.LOSS.value, widget=forms.RadioSelect
    )
    other = Choice(
        label="Set off against",
        help_text="Only where the two are shown to be related: say under Reason what shows it. Both then end together.",
    )
    checked = Box(
        label="What was checked", lines=3, help_text="Which readings, vessels and papers, and what they showed."
    )
    reason = Box(label="Reason", lines=2, help_text="Why this is the answer.")
    cause = Choice(label="Cause")
    happened_at = Box(label="Lost at", width=20, help_text="Like 2027-03-12T14:30; if not known, when it was found.")
    product = Box(label="Product", width=20)
    pure = Box(label="Alcohol", unit="LPA", width=12)
    percent = Box(label="Strength", unit="% vol at 20 °C", width=8)
    username = Box(label="Name of the second person", width=20)
    password = Box(
        label="Password of the second person",
        width=20,
        help_text="Or, at an enrolled PC, their PIN.",
        strip=False,
        widget=forms.PasswordInput({"autocomplete": "off"}),
    )

    LOSS_BOXES = ("cause", "happened_at", "product", "pure", "percent")
    SECOND_BOXES = ("username", "password")

    def __init__(
        self, enquiry: Enquiry, open_ul: int, data: Any = None, initial: Any = None, *, others: Sequence[Enquiry] = ()
    ) -> None:
        super().__init__(data, initial=initial)
        self.open_ul = open_ul
        self._others = {one.number: one for one in others}
        field = self.fields["cause"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [("", "choose"), *((name, name) for name in known_causes(enquiry.happened_at))]
        if others:
            against = self.fields["other"]
            assert isinstance(against, forms.ChoiceField)
            named = ((one.number, f"{one.number}, {one.record_number}: {one.said}") for one in others)
            against.choices = [("", "choose"), *named]
        else:
            del self.fields["other"]

    @property
    def boxes(self) -> list[forms.BoundField]:
        """What every ending asks for."""
        return [one for one in self if one.name not in (*self.LOSS_BOXES, *self.SECOND_BOXES)]

    @property
    def loss_boxes(self) -> list[forms.BoundField]:
        """What a known loss asks for besides."""
        return [self[name] for name in self.LOSS_BOXES]

    @property
    def second_boxes(self) -> list[forms.BoundField]:
        """Who agrees here and now."""
        return [self[name] for name in self.SECOND_BOXES]

    @property
    def other_enquiry(self) -> Enquiry | None:
        """The enquiry it is set off against, where one was chosen."""
        return self._others.get(self.text("other")) if "other" in self.fields else None

    def second(self, request: HttpRequest) -> Person | None:
        """Who agrees here and now; None where both boxes are blank. Raises Unanswerable where the two do not fit."""
        self.full_clean()
        username, password = self.text("username"), str(self.cleaned_data.get("password") or "")
        return second_person(request, username, password) if username or password else None

    def proposal(self) -> Proposal:
        """What was typed, read. Raises Unanswerable for a figure or a time that cannot be read."""
        sign = -1 if self.open_ul < 0 else 1
        is_loss = self.text("ending") == Ending.LOSS
        return Proposal(
            ending=self._ending(),
            checked=self.text("checked"),
            reason=self.text("reason"),
            cause=self.text("cause"),
            happened_at=self._moment("happened_at") if is_loss else None,
            product=self.text("product"),
            pure_ul=sign * self._pure_ul() if is_loss else 0,
            percent=self._figure("percent") if is_loss else None,
        )

    def _ending(self) -> Ending:
        said = self.text("ending")
        if said not in Ending.values:
            raise Unanswerable("How it ends is not chosen; choose one of the list.", field="ending")
        return Ending(said)

    def _pure_ul(self) -> int:
        return amount_meant(self.text("pure"), self.open_ul) if self._figure("pure") is not None else 0

    def _figure(self, name: str) -> float | None:
        text = self.text(name)
        if not text:
            return None
        label = self.fields[name].label
        if len(text) > LONGEST_FIGURE:
            sentence = f"{label} is {len(text)} characters long; a figure has at most {LONGEST_FIGURE}."
            raise Unanswerable(sentence, field=name)
        if not PLAIN_FIGURE.fullmatch(text):
            raise Unanswerable(f"{label} is '{text}'; write a figure such as 12.5.", field=name)
        return float(text.replace(",", "."))

    def _moment(self, name: str) -> datetime | None:
        text = self.text(name)
        if not text:
            return None
        try:
            moment = timezone.make_aware(datetime.strptime(text.replace(" ", "T"), MOMENT))
            if not is_of_a_site(moment):
                raise ValueError(f"{moment.year} is not a year of this site")
            return moment
        except (ValueError, OverflowError) as unreadable:
            sentence = f"'{text[:LONGEST_FIGURE]}' is no time; write it like 2027-03-12T14:30."
            raise Unanswerable(sentence, field=name) from unreadable


class SecondForm(EnquiryForm):
    """The second person at the same PC: own name and own PIN or password, without taking the pen."""

    username = Box(label="Name of the second person", width=20)
    password = Box(
        label="Password of the second person",
        width=20,
        help_text="Or, at an enrolled PC, their PIN.",
        strip=False,
        widget=forms.PasswordInput({"autocomplete": "off"}),
    )

    def second(self, request: HttpRequest) -> Person:
        """Who signs. Raises Unanswerable where name and password do not belong together, or too many sign on."""
        self.full_clean()
        return second_person(request, self.text("username"), str(self.cleaned_data.get("password") or ""))


def second_person(request: HttpRequest, username: str, password: str) -> Person:
    """Whoever proves who they are at this PC without taking the pen. Raises Unanswerable."""
    try:
        return proven(request, username, password)
    except ManySigningOn as many:
        raise Unanswerable(many.sentence, field="password") from many
    except WrongTry as wrong:
        raise Unanswerable(wrong.sentence, field="password") from wrong
