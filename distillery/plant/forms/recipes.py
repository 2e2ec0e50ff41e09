"""The form for a recipe, or for the next version of one."""

from __future__ import annotations

from decimal import Decimal

from django import forms

from distillery.people.models import Person
from distillery.plant import keeping
from distillery.plant.forms.boxes import PlantForm, Words
from distillery.typed.meaning import NotAFigure, figure


class RecipeForm(PlantForm):
    """A recipe by its botanicals; a name that is on the list gets its next version."""

    title = "Enter a recipe or a new version"
    lead = (
        "Grams for each litre of pure alcohol in the charge, so that a charge of any size and strength is flavoured "
        "alike. Batches that have begun keep the version they began with."
    )
    kept = "A version is kept with your name, the time and why, and is never changed; what changes is the next version."
    submit = "Save version"

    recipe = Words("Recipe", longest=40, help_text="A name that is on the list gets its next version.")
    botanicals = forms.CharField(
        label="Botanicals",
        strip=True,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 10, "cols": 32, "autocomplete": "off", "spellcheck": "false"}),
        help_text="A line for each: name, space, grams for each LPA. Such as juniper 21.0.",
        error_messages={"required": "Write at least one botanical with its grams."},
    )
    why = Words("Why", help_text="What changed, and what for.")

    def clean_botanicals(self) -> list[tuple[str, Decimal]]:
        """Name and grams of each line."""
        found = []
        for line in self.cleaned_data["botanicals"].splitlines():
            name, _, grams = line.replace("\t", " ").strip().rpartition(" ")
            if not line.strip():
                continue
            try:
                found.append((name, figure(grams)))
            except NotAFigure as error:
                raise forms.ValidationError(
                    f"'{line.strip()}' is not a botanical and its grams: write a name and a figure: juniper 21.0."
                ) from error
        return found

    def enter(self, person: Person) -> str:
        given = self.cleaned_data
        version = keeping.add_recipe_version(
            recipe=given["recipe"], botanicals=given["botanicals"], why=given["why"], person=person
        )
        return f"{version.recipe}, version {version.version}, is entered; batches that begin from now on keep to it."
