"""Recipes as a list: each version with its botanicals, the newest of each recipe first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db.models import QuerySet

from distillery import figures
from distillery.lists.columns import ListColumn
from distillery.lists.tables import HouseTable
from distillery.people.models import Person
from distillery.plant.models import Recipe
from distillery.plant.recipes import MILLIGRAMS_A_GRAM, RecipeVersion
from distillery.process.compounding import recipe_parts


class GramsColumn(ListColumn):
    """A figure that stands to the right."""

    numeric = True


class RecipeTable(HouseTable):
    """One line for each botanical of each version."""

    recipe = ListColumn("Recipe", "recipe")
    version = GramsColumn("Version", lambda row: str(row.version))
    botanical = ListColumn("Botanical", "botanical")
    grams = GramsColumn("Weight", lambda row: f"{row.milligrams_per_lpa / MILLIGRAMS_A_GRAM:.3f}", unit="g/LPA")
    part = GramsColumn("Share", lambda row: figures.percent(row.part), unit="%")
    since = ListColumn("From", lambda row: row.since)
    who = ListColumn("Entered by", lambda row: row.who)
    why = ListColumn("Why", lambda row: row.why)

    name, caption = "recipes", "Recipes by version"
    note = "grams for each litre of pure alcohol in the charge; a batch keeps the version it began with"
    nothing = "No recipe yet. Enter one, and the third still and the steeping vessel ask for its weights."

    def prepare(self, rows: Sequence[Any]) -> None:
        """Reads the versions of these lines, who entered them, and each line's share of its version."""
        versions = {(one.recipe, one.version): one for one in RecipeVersion.objects.all()}
        people = Person.objects.in_bulk({one.person_id for one in versions.values() if one.person_id})
        whole: dict[tuple[str, int], list[Any]] = {}
        for one in Recipe.objects.filter(recipe__in={row.recipe for row in rows}):
            whole.setdefault((one.recipe, one.version), []).append(one)
        parts = {
            one.pk: part
            for own in whole.values()
            for one, part in zip(own, recipe_parts([each.milligrams_per_lpa for each in own]), strict=True)
        }
        for row in rows:
            version = versions.get((row.recipe, row.version))
            row.part = parts[row.pk]
            row.since = figures.moment(version.from_at, year=True) if version and version.from_at else "the first"
            row.why = version.why if version else ""
            person = people.get(version.person_id) if version and version.person_id else None
            row.who = person.shown_name if person else "with the plant's tables"


def recipe_rows() -> QuerySet[Recipe]:
    """All botanicals of all versions, the newest version of each recipe first."""
    return Recipe.objects.order_by("recipe", "-version", "pk")
