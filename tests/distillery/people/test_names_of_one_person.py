"""Nobody signs on under a name that several would share."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError

from distillery.people.models import Person

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("name", ["shift", "Shift2", "night", "stillhouse", "operator1", "Everybody"])
def test_a_shared_name_is_refused_with_the_reason(name):
    with pytest.raises(ValidationError, match="each person signs on with a name of their own"):
        Person(username=name).full_clean(exclude=["password"])


@pytest.mark.parametrize("name", ["isla", "r.alder", "dayton", "nighy"])
def test_a_person_s_name_is_taken(name):
    Person(username=name).full_clean(exclude=["password"])
    assert not Person.objects.filter(username=name).exists()


def test_a_name_is_one_whatever_its_capitals(person_of):
    person_of("isla", "staff")
    with pytest.raises(ValidationError, match="names are one"):
        Person(username="Isla").full_clean(exclude=["password"])
