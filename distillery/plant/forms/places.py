"""The forms of the warehouses: their rows, who holds their keys, and what the plant's list says of a cask."""

from __future__ import annotations

from typing import Any

from django import forms

from distillery.clock.reading import books_today
from distillery.people.models import Person
from distillery.plant import keeping
from distillery.plant.forms.boxes import Day, PlantForm, Words
from distillery.plant.keeping.places import MOST_TIERS
from distillery.plant.lookup import Plant
from distillery.plant.models import Cask, Kind

WHOLE = "This is not a whole number: type digits, such as 3."


class RowsForm(PlantForm):
    """Rows of a warehouse that have as many tiers."""

    title = "Enter rows of a warehouse"
    lead = "Rows where casks can lie, with their tiers. Enter rows of another height by themselves."
    kept = (
        "What is entered is kept with your name and the time and is never changed; what is entered later about the "
        "same row takes its place. No tiers (0) takes a row out of use."
    )

    warehouse = Words("Warehouse", longest=40)
    rows = Words("Rows", longest=400, help_text="With commas between them, such as 1, 2, 3.")
    tiers = forms.IntegerField(
        label="Tiers",
        min_value=0,
        max_value=MOST_TIERS,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        error_messages={"invalid": WHOLE, "required": "This is blank: fill it in."},
    )

    def enter(self, person: Person) -> str:
        given = self.cleaned_data
        rows = [one.strip() for one in given["rows"].split(",") if one.strip()]
        number = keeping.add_rows(warehouse=given["warehouse"], rows=rows, tiers=given["tiers"], person=person)
        return f"{number} {'row' if number == 1 else 'rows'} of {given['warehouse']} entered, {given['tiers']} tiers."


class KeyholderForm(PlantForm):
    """Who holds a key, from when, and up to when where it was given back."""

    title = "Enter a keyholder"
    lead = "Who holds which key of a warehouse. For a key given back enter the same line once more with its last day."

    warehouse = Words("Warehouse", longest=40)
    name = Words("Name", longest=80)
    key = Words("Key", longest=40, help_text="As it is marked.")
    from_day = Day("From")
    until_day = Day("Up to", required=False, help_text="Blank while it is held.")

    def enter(self, person: Person) -> str:
        given = self.cleaned_data
        row = keeping.add_keyholder(
            warehouse=given["warehouse"],
            name=given["name"],
            key=given["key"],
            from_day=given["from_day"],
            until_day=given["until_day"],
            person=person,
        )
        return f"{row.name} is entered with {row.key} of {row.warehouse}."


class CaskForm(PlantForm):
    """What the plant's list says of one cask."""

    title = "What is known of a cask"
    lead = (
        "Where a cask lies and whose it is change by records: a move, a change of owner. The owner here is whose it "
        "was when it came."
    )
    kept = "What the list said before stays in the trail of changes, with who changed it and when."

    cask = Words("Cask", longest=40)
    wood = Words("Wood", longest=60, required=False, help_text="Oak, and what it held before: American oak, bourbon.")
    owner = Words("Owner", longest=80, required=False)
    head_number = Words("Number on the head", longest=40, required=False)
    head_year = forms.IntegerField(
        label="Year on the head",
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        error_messages={"invalid": WHOLE},
    )
    head_distillery = Words("Distillery on the head", longest=80, required=False)
    first_warehoused_on = Day(
        "First warehoused", required=False, help_text="Of what was bought in cask; blank for what was filled here."
    )

    def enter(self, person: Person) -> str:
        given: dict[str, Any] = self.cleaned_data
        vessel = Plant().vessel_meant(given["cask"])
        if vessel is None or vessel.kind != Kind.CASK:
            raise keeping.Unkeepable("cask", f"There is no cask {given['cask']}.")
        keeping.note_cask(
            vessel.cask,
            **{
                name: given[name]
                for name in ("wood", "owner", "head_number", "head_year", "head_distillery", "first_warehoused_on")
            },
            today=books_today(),
        )
        return f"Cask {vessel.code}: what is known of it is saved."


def as_known(code: str) -> dict[str, Any]:
    """What the form of a cask begins with."""
    cask = Cask.objects.filter(vessel__code=code).first()
    if cask is None:
        return {}
    names = ("wood", "head_number", "head_year", "head_distillery", "first_warehoused_on")
    return {"owner": cask.listed_owner, **{name: getattr(cask, name) for name in names}}
