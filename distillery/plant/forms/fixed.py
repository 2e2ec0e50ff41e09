"""The forms of a vessel that stands where it is: what it is, and its table of dips and litres."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from distillery.people.models import Person
from distillery.plant import keeping
from distillery.plant.forms.boxes import REQUIRED, Figure, PlantForm, VesselBox, Words
from distillery.plant.keeping.fixed import Line
from distillery.plant.models import Kind, Purpose, Stage
from distillery.typed import meaning as typed
from distillery.typed.meaning import NotAFigure

TWO_FIGURES = 2


class Lines(forms.CharField):
    """A table typed or pasted: a line for each dip, millimetres and litres."""

    def __init__(self, label: str, **more: Any) -> None:
        super().__init__(
            label=label,
            strip=True,
            max_length=40_000,
            widget=forms.Textarea(attrs={"rows": 10, "cols": 24, "autocomplete": "off", "spellcheck": "false"}),
            help_text="A line for each dip: millimetres, space, litres. Such as 1000 4000. Linear between. "
            "Two columns pasted from a sheet are taken.",
            error_messages={"required": REQUIRED},
            **more,
        )

    def clean(self, value: Any) -> list[Line]:
        found: list[Line] = []
        for number, line in enumerate(str(super().clean(value) or "").splitlines(), 1):
            if not line.strip():
                continue
            parts = line.replace("\t", " ").replace(";", " ").split()
            if len(parts) != TWO_FIGURES:
                raise forms.ValidationError(f"Line {number}, '{line[:40]}', is not two figures: write 1000 4000.")
            try:
                dip, litres = (Decimal(typed.figure(part)) for part in parts)
            except NotAFigure as refused:
                raise forms.ValidationError(f"Line {number}: {refused}") from refused
            found.append((dip, litres))
        return found


class VesselForm(PlantForm):
    """A vessel new on the site."""

    title = "Add a vessel"
    lead = (
        "A washback, still, receiver, vat or tank. Casks are numbered by a record of their own. What is dipped needs "
        "its table; it can be entered later, before the first gauge."
    )
    kept = "Its code stands in every record from the first gauge on, so it is given for good."
    submit = "Save vessel"

    code = Words("Code", longest=40, help_text="Short, as it is called: WB1.")
    name = Words("Name", longest=80, help_text="In full: Washback 1.")
    kind = forms.ChoiceField(label="Kind", choices=[(one.value, one.label) for one in Kind if one != Kind.CASK])
    stage = forms.ChoiceField(
        label="Holds", choices=[one for one in Stage.choices if one[0] not in (Stage.MATURING, Stage.BOTTLED)]
    )
    purpose = forms.ChoiceField(
        label="A receiver is kept for", choices=[("", "nothing in particular"), *Purpose.choices], required=False
    )
    capacity_litres = Figure("Capacity", "L", required=False)
    lines = Lines("Table of the vessel", required=False)

    def enter(self, person: Person) -> str:
        given = self.cleaned_data
        vessel = keeping.add_vessel(
            code=given["code"],
            name=given["name"],
            kind=Kind(given["kind"]),
            stage=Stage(given["stage"]),
            purpose=Purpose(given["purpose"]) if given["purpose"] else None,
            capacity_litres=given["capacity_litres"],
            lines=given["lines"],
            person=person,
        )
        lines = len(given["lines"])
        return f"{vessel.code}, {vessel.name}, is on the site" + (
            f", with {lines} lines of its table." if lines else "."
        )


class TableForm(PlantForm):
    """The table of a vessel that has none."""

    title = "Enter a vessel's table"
    lead = "How many litres the vessel holds at each dip. How sure the table is has a form of its own."
    kept = "A table is entered once, because every gauge of the vessel stands on it."
    submit = "Save table"

    vessel = VesselBox(label="Vessel")
    lines = Lines("Table of the vessel")

    def enter(self, person: Person) -> str:
        vessel = self.cleaned_data["vessel"]
        number = keeping.add_table(vessel, self.cleaned_data["lines"], person=person)
        return f"The table of {vessel.code} is entered, {number} lines."
