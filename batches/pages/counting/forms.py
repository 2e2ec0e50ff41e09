"""The boxes of stock takes: the plan, the readings of one thing, a scanned number; what is wrong the services say."""

from __future__ import annotations

from typing import Any

from django import forms

from batches.counting.planning import Planned, stocks_to_count, vessels_to_count, warehouses_to_count
from batches.pages.handing.forms import WordsForm, words_box
from batches.pages.writing.boxes import Typed
from batches.sheets.sheet import Problem, Sheet
from batches.sheets.typed.read_sheet import Unfit
from distillery.clock.reading import books_today
from distillery.plant.models import Kind, Vessel

SHORT = {"autocomplete": "off", "inputmode": "decimal"}


class PlanForm(WordsForm):
    """What is to be counted."""

    def __init__(self, data: Any = None, *, everything: bool = False) -> None:
        super().__init__(data)
        self.fields["day"] = Typed(
            label="Day",
            unit="",
            width=12,
            initial=books_today().isoformat(),
            widget=forms.DateInput({"type": "date"}, format="%Y-%m-%d"),
            help_text="Counts may arrive over several days; this one stands on the account.",
        )
        vessels = [(one.code, f"{one.code} {one.name}") for one in vessels_to_count()]
        self.fields["vessels"] = _several("Vessels", vessels, everything)
        self.fields["warehouses"] = _several("Warehouses", [(one, one) for one in warehouses_to_count()], everything)
        self.fields["rows"] = Typed(
            label="Only these rows",
            unit="",
            width=20,
            required=False,
            help_text="Of one warehouse, with commas: 4, 5, 6. Left blank, all of it is counted.",
            widget=forms.TextInput({"autocomplete": "off"}),
        )
        self.fields["weigh_one_in"] = Typed(
            label="Weigh one cask in",
            unit="",
            width=4,
            required=False,
            initial="20",
            help_text="The program chooses which. Write 0 to weigh none.",
            widget=forms.TextInput({"autocomplete": "off", "inputmode": "numeric"}),
        )
        stocks = [(one.code, one.name) for one in stocks_to_count()]
        self.fields["stocks"] = _several("Bottled stock", stocks, everything)
        self.fields["note"] = words_box("Note", required=False)

    def planned(self) -> Planned:
        """The plan as typed. Raises Unfit for what cannot be read."""
        self.full_clean()
        warehouses = list(self.cleaned_data.get("warehouses") or [])
        rows = [one.strip() for one in self.text("rows").split(",") if one.strip()]
        problems = []
        if rows and len(warehouses) != 1:
            said = "Rows are of one warehouse; choose that one alone, or leave the rows blank."
            problems.append(Problem("rows", None, said))
        day = None
        try:
            day = forms.DateField().clean(self.text("day"))
        except forms.ValidationError:
            said = f"'{self.text('day')[:20]}' is not a day; write it as 2027-03-31."
            problems.append(Problem("day", None, said))
        share = self.text("weigh_one_in") or "0"
        if not (share.isascii() and share.isdigit() and len(share) <= 6):
            said = f"'{share[:20]}' is no number of casks; write a whole number, 0 to weigh none."
            problems.append(Problem("weigh_one_in", None, said))
        if problems or day is None:
            raise Unfit(problems)
        return Planned(
            day,
            list(self.cleaned_data.get("vessels") or []),
            dict.fromkeys(warehouses, tuple(rows)),
            list(self.cleaned_data.get("stocks") or []),
            int(share),
            self.text("note"),
        )


def _several(label: str, choices: list[tuple[str, str]], everything: bool) -> forms.MultipleChoiceField:
    return forms.MultipleChoiceField(
        label=label,
        choices=choices,
        required=False,
        initial=[value for value, _ in choices] if everything else [],
        widget=forms.CheckboxSelectMultiple,
        error_messages={"invalid_choice": "%(value)s is none of those that can be counted; choose from those shown."},
    )


class ReadingsForm(WordsForm):
    """The readings of one vessel or cask: the boxes that the sheet has for them, wash by its gravity."""

    def __init__(self, sheet: Sheet, vessel: Vessel, names: list[str], data: Any = None) -> None:
        super().__init__(data)
        by = sheet.counted_by
        assert by is not None
        for name in (by.when, *names):
            one = sheet.field(name)
            washback = vessel.kind == Kind.WASHBACK
            if name.endswith("present_gravity") and not washback:
                continue
            self.fields[name] = Typed(
                label="Counted at" if name == by.when else _plain_label(one.label),
                unit=one.unit,
                width=20 if name == by.when else 8,
                required=one.required,
                initial="now" if name == by.when else "",
                help_text=one.help if name != by.when else "now, or when it was read: 14:05, or 2027-03-31 14:05.",
                widget=forms.TextInput(
                    {"autocomplete": "off"} if name == by.when else {**SHORT, **_first(name, names)}
                ),
            )

    def typed(self) -> dict[str, str]:
        """Everything as it was typed."""
        return {name: self.text(name) for name in self.fields}


class BottlesForm(WordsForm):
    """How many bottles of a lot were found."""

    def __init__(self, data: Any = None) -> None:
        super().__init__(data)
        self.fields["at"] = Typed(
            label="Counted at",
            unit="",
            width=20,
            initial="now",
            help_text="now, or when it was counted: 14:05, or 2027-03-31 14:05.",
            widget=forms.TextInput({"autocomplete": "off"}),
        )
        self.fields["bottles"] = Typed(
            label="Bottles found",
            unit="",
            width=8,
            help_text="All of the lot that is here, cases and loose ones together.",
            widget=forms.TextInput({"autocomplete": "off", "inputmode": "numeric", "autofocus": True}),
        )

    def typed(self) -> dict[str, str]:
        """Everything as it was typed."""
        return {name: self.text(name) for name in self.fields}


class ReasonForm(WordsForm):
    """Why something is apart, or a cask was not found."""

    def __init__(self, label: str, data: Any = None, *, help_text: str = "") -> None:
        super().__init__(data)
        self.fields["reason"] = words_box(label, help_text=help_text)


class ScanForm(WordsForm):
    """A number that was scanned or typed."""

    def __init__(self, data: Any = None) -> None:
        super().__init__(data)
        self.fields["cask"] = Typed(
            label="Cask",
            unit="",
            width=20,
            help_text="Scan the label, or type the number on the head and press Enter.",
            widget=forms.TextInput(
                {"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false", "autofocus": True}
            ),
        )


def _plain_label(label: str) -> str:
    """'Gauge: dip' of a sheet with many vessels is 'Dip' on the page of one."""
    said = label.rsplit(": ", 1)[-1]
    return said[:1].upper() + said[1:]


def _first(name: str, names: list[str]) -> dict[str, Any]:
    return {"autofocus": True} if names and name == names[0] else {}
