"""Recipes by version: what each asks for, since when, who entered it and why.

A batch keeps to the version that was in force when it began: versions begin one after another, none before it was
entered, and none is ever changed, so that asking again gives the same. Milligrams for each litre of pure alcohol.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db import models
from django.db.models import Q

from distillery.plant.metrology import Kept
from distillery.plant.models import Recipe

MILLIGRAMS_A_GRAM = 1000
# What is said of the version that came with a table of the plant.
WITH_THE_PLANT = "as the plant's table has it"


class RecipeVersion(Kept):
    """From this moment on batches that begin keep to this version; without one it holds from before all of them."""

    recipe = models.CharField(max_length=40)
    version = models.PositiveIntegerField()
    from_at = models.DateTimeField(null=True)
    why = models.TextField()

    class Meta:
        ordering = ["recipe", "version"]
        constraints = [models.UniqueConstraint(fields=["recipe", "version"], name="version_of_a_recipe_once")]

    def __str__(self) -> str:
        return f"{self.recipe}, version {self.version}"


@dataclass(frozen=True, slots=True)
class RecipeAsOf:
    """One version with its botanicals in the order they were entered: name, and milligrams for each LPA."""

    version: RecipeVersion
    botanicals: tuple[tuple[str, int], ...]

    @property
    def grams_per_lpa(self) -> float:
        """All botanicals together, grams for each litre of pure alcohol."""
        return sum(milligrams for _, milligrams in self.botanicals) / MILLIGRAMS_A_GRAM


def is_known(recipe: str) -> bool:
    """True where the site has a recipe of that name."""
    return bool(recipe) and RecipeVersion.objects.filter(recipe=recipe).exists()


def known_recipes() -> list[str]:
    """The names of the site's recipes."""
    return list(RecipeVersion.objects.order_by("recipe").values_list("recipe", flat=True).distinct())


def recipe_at(recipe: str, at: datetime) -> RecipeAsOf | None:
    """The version in force at a moment; None for a recipe the site does not have, or not by then."""
    if not recipe:
        return None
    begun = Q(from_at__isnull=True) | Q(from_at__lte=at)
    version = RecipeVersion.objects.filter(begun, recipe=recipe).order_by("version").last()
    return None if version is None else _with_botanicals(version)


def newest(recipe: str) -> RecipeAsOf | None:
    """The last version that was entered, whenever it begins."""
    version = RecipeVersion.objects.filter(recipe=recipe).order_by("version").last()
    return None if version is None else _with_botanicals(version)


def _with_botanicals(version: RecipeVersion) -> RecipeAsOf:
    rows = Recipe.objects.filter(recipe=version.recipe, version=version.version).order_by("pk")
    return RecipeAsOf(version, tuple(rows.values_list("botanical", "milligrams_per_lpa")))
