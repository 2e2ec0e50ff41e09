"""What several steps say of recipes: whether the site has one, and how much of each botanical it asks for."""

from __future__ import annotations

from batches.sheets.completed import Completed
from batches.sheets.sheet import Note
from distillery.plant.models import Recipe

MILLIGRAMS_A_KILOGRAM = 1_000_000


def known_recipe(written: Completed) -> list[Note]:
    """A recipe that is not on the site's list may be a slip of the pen."""
    recipe = written.text("recipe")
    if not recipe or Recipe.objects.filter(recipe=recipe).exists():
        return []
    return [Note("recipe", None, f"Recipe {recipe} is not on the site's list of recipes.")]


def asked_for(recipe: str, *, lpa: float) -> dict[str, float]:
    """Kilograms of each botanical that a recipe asks for with so many litres of pure alcohol, by its name in small
    letters; nothing for a recipe that is not on the site's list.
    """
    rows = Recipe.objects.filter(recipe=recipe) if recipe else Recipe.objects.none()
    return {row.botanical.casefold(): row.milligrams_per_lpa * lpa / MILLIGRAMS_A_KILOGRAM for row in rows}
