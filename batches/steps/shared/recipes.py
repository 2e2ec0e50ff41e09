"""What several steps say of recipes: whether the site has one, and how much of each botanical it asks for.

A batch keeps to the version that was in force when it began (`distillery.plant.recipes`).
"""

from __future__ import annotations

from datetime import datetime

from batches.sheets.sheet import Note
from batches.sheets.typed.completed import Completed
from distillery.plant.recipes import MILLIGRAMS_A_GRAM, is_known, recipe_at
from distillery.process.compounding import botanical_kilograms


def known_recipe(written: Completed) -> list[Note]:
    """A recipe that is not on the site's list may be a slip of the pen."""
    recipe = written.text("recipe")
    if not recipe or is_known(recipe):
        return []
    return [Note("recipe", None, f"Recipe {recipe} is not on the site's list of recipes.")]


def asked_for(recipe: str, *, lpa: float, at: datetime) -> dict[str, float]:
    """Kilograms of each botanical that a recipe asked for at a moment with so many litres of pure alcohol, by its name
    in small letters; nothing for a recipe that is not on the site's list.
    """
    version = recipe_at(recipe, at)
    if version is None:
        return {}
    return {
        botanical.casefold(): botanical_kilograms(grams_per_lpa=milligrams / MILLIGRAMS_A_GRAM, lpa=lpa)
        for botanical, milligrams in version.botanicals
    }
