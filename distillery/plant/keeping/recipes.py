"""How a site enters a recipe, or the next version of one: dated, with who and why, and none ever changed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from decimal import Decimal

from django.utils import timezone

from distillery.clock.reading import books_now
from distillery.people.models import Person
from distillery.plant.keeping.measuring import Unkeepable
from distillery.plant.models import Recipe
from distillery.plant.recipes import MILLIGRAMS_A_GRAM, WITH_THE_PLANT, RecipeVersion, newest
from distillery.seals.writing import signed

# No recipe has more than this of one botanical for each litre of pure alcohol.
MOST_GRAMS = Decimal(1000)
LONGEST_RECIPE = 40
LONGEST_BOTANICAL = 60


@signed("plant")
def add_recipes(rows: Iterable[Recipe]) -> int:
    """Botanicals of recipes that are new on the site, milligrams for each LPA, as a table of the plant brings them:
    each recipe's first version. Gives how many.
    """
    fresh = list(rows)
    written = timezone.now()
    RecipeVersion.objects.bulk_create(
        RecipeVersion(recipe=recipe, version=1, why=WITH_THE_PLANT, entered_at=written)
        for recipe in dict.fromkeys(row.recipe for row in fresh)
    )
    return len(Recipe.objects.bulk_create(fresh))


@signed("plant")
def add_recipe_version(
    *,
    recipe: str,
    botanicals: Sequence[tuple[str, Decimal]],
    why: str,
    person: Person | None,
    at: datetime | None = None,
) -> RecipeVersion:
    """The next version of a recipe, or its first; batches that begin from now on keep to it. Raises Unkeepable.

    Grams for each litre of pure alcohol, above 0 to 1,000. `at` is now by the books' clock.
    """
    name = recipe.strip()
    if not name:
        raise Unkeepable("recipe", "Say which recipe it is.")
    if len(name) > LONGEST_RECIPE:
        raise Unkeepable("recipe", f"A name of a recipe has at most {LONGEST_RECIPE} characters.")
    if not why.strip():
        raise Unkeepable("why", "Say why: whoever reads an old batch will want to know.")
    milligrams = _weighed(botanicals)
    last = newest(name)
    if last is not None and dict(last.botanicals) == milligrams:
        raise Unkeepable("botanicals", f"Nothing is different from version {last.version.version} of {name}.")
    now = at or books_now()
    if last is not None and last.version.from_at is not None and now < last.version.from_at:
        raise Unkeepable("recipe", f"Version {last.version.version} of {name} begins later than now; wait for it.")
    version = RecipeVersion.objects.create(
        recipe=name,
        version=1 if last is None else last.version.version + 1,
        from_at=None if last is None else now,
        why=why.strip(),
        person=person,
        entered_at=timezone.now(),
    )
    Recipe.objects.bulk_create(
        Recipe(recipe=name, version=version.version, botanical=botanical, milligrams_per_lpa=weight)
        for botanical, weight in milligrams.items()
    )
    return version


def _weighed(botanicals: Sequence[tuple[str, Decimal]]) -> dict[str, int]:
    """Milligrams by botanical. Raises Unkeepable."""
    if not botanicals:
        raise Unkeepable("botanicals", "Write at least one botanical with its grams.")
    found: dict[str, int] = {}
    for name, grams in botanicals:
        botanical = " ".join(name.split())
        if not botanical or len(botanical) > LONGEST_BOTANICAL:
            raise Unkeepable("botanicals", f"A botanical has a name of at most {LONGEST_BOTANICAL} characters.")
        if botanical.casefold() in {one.casefold() for one in found}:
            raise Unkeepable("botanicals", f"{botanical} stands there twice: add its weights up in one line.")
        if not 0 < grams <= MOST_GRAMS:
            raise Unkeepable("botanicals", f"{grams} g of {botanical} for each litre of pure alcohol cannot be.")
        milligrams = round(grams * MILLIGRAMS_A_GRAM)
        if not milligrams:
            raise Unkeepable("botanicals", f"{grams} g of {botanical} is less than a milligram.")
        found[botanical] = milligrams
    return found
