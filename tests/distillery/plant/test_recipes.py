"""Recipes by version: a batch keeps the one it began with, none is ever changed, and the page says who and why.

Recipe, names and weights are invented.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import DatabaseError, transaction
from django.test import Client
from django.urls import reverse

from distillery.people.models import Person
from distillery.plant.keeping import Unkeepable, add_recipe_version, add_recipes
from distillery.plant.models import Recipe
from distillery.plant.recipes import WITH_THE_PLANT, RecipeVersion, newest, recipe_at

pytestmark = pytest.mark.django_db
BEGAN = datetime(2027, 3, 2, 9, tzinfo=UTC)
SECOND = [("juniper", Decimal("19.5")), ("orris root", Decimal("0.4"))]


@pytest.fixture
def first() -> None:
    add_recipes([Recipe(recipe="No. 9", botanical="juniper", milligrams_per_lpa=20_000)])


def test_a_batch_keeps_the_version_it_began_with(first: None, manager: Person) -> None:
    add_recipe_version(recipe="No. 9", botanicals=SECOND, why="less juniper", person=manager, at=BEGAN)
    before, after = recipe_at("No. 9", BEGAN - timedelta(minutes=1)), recipe_at("No. 9", BEGAN)
    assert before is not None
    assert after is not None
    assert (before.version.version, before.botanicals) == (1, (("juniper", 20_000),))
    assert (after.version.version, after.botanicals) == (2, (("juniper", 19_500), ("orris root", 400)))
    assert after.grams_per_lpa == pytest.approx(19.9)
    assert (after.version.person, after.version.why) == (manager, "less juniper")
    assert before.version.why == WITH_THE_PLANT


def test_none_is_ever_changed(first: None) -> None:
    for rows, change in ((Recipe, {"milligrams_per_lpa": 1}), (RecipeVersion, {"why": "other"})):
        with pytest.raises(DatabaseError), transaction.atomic():
            rows.objects.update(**change)
        with pytest.raises(DatabaseError), transaction.atomic():
            rows.objects.all()._raw_delete("default")


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"botanicals": [("juniper", Decimal(20))]}, "botanicals"),
        ({"botanicals": []}, "botanicals"),
        ({"botanicals": [("juniper", Decimal(1)), ("Juniper", Decimal(2))]}, "botanicals"),
        ({"botanicals": [("juniper", Decimal(-1))]}, "botanicals"),
        ({"botanicals": [("juniper", Decimal("0.0001"))]}, "botanicals"),
        ({"why": " "}, "why"),
        ({"recipe": " "}, "recipe"),
        ({"recipe": "n" * 41}, "recipe"),
    ],
)
def test_what_cannot_be_entered(first: None, given: dict[str, object], field: str) -> None:
    whole: dict[str, object] = {"recipe": "No. 9", "botanicals": SECOND, "why": "trial", "person": None} | given
    with pytest.raises(Unkeepable) as refused:
        add_recipe_version(**whole)  # type: ignore[arg-type]
    assert refused.value.field == field
    assert RecipeVersion.objects.count() == 1


def test_a_manager_enters_the_next_version_on_the_page(
    first: None, manager: Person, browser_of: Callable[[Person], Client]
) -> None:
    browser = browser_of(manager)
    form = browser.get(reverse("recipe_new"), {"recipe": "No. 9"}).content.decode()
    assert "juniper 20" in form
    typed = {"recipe": "No. 9", "botanicals": "juniper 19.5\norris root 0.4", "why": "less juniper"}
    page = browser.post(reverse("recipe_new"), typed, follow=True)
    assert page.redirect_chain == [(reverse("recipes"), 302)]
    shown = page.content.decode()
    assert "less juniper" in shown
    assert "98.0" in shown  # 19.5 of 19.9 g/LPA
    last = newest("No. 9")
    assert last is not None
    assert last.version.version == 2


def test_a_slip_of_the_pen_is_kept_beside_its_sentence(
    first: None, manager: Person, browser_of: Callable[[Person], Client]
) -> None:
    typed = {"recipe": "No. 9", "botanicals": "juniper lots", "why": "trial"}
    page = browser_of(manager).post(reverse("recipe_new"), typed).content.decode()
    assert "is not a botanical and its grams" in page
    assert "juniper lots" in page
    assert RecipeVersion.objects.count() == 1


def test_staff_and_officer_read_and_do_not_enter(
    first: None, staff: Person, officer: Person, browser_of: Callable[[Person], Client]
) -> None:
    for person in (staff, officer):
        browser = browser_of(person)
        assert "No. 9" in browser.get(reverse("recipes")).content.decode()
        assert browser.get(reverse("recipe_new")).status_code == 403
    assert b"juniper" in browser.get(reverse("recipes"), {"as": "csv"}).getvalue()
