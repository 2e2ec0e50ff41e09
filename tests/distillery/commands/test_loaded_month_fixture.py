"""The fixture that many tests stand on: the month is there for who asks, and for nobody else."""

from __future__ import annotations

from pathlib import Path

import pytest

from distillery.people.models import Person
from distillery.plant.models import Vessel
from ledger.kept import keeping
from tests.conftest import USUAL_PEOPLE


@pytest.mark.django_db
def test_the_database_has_one_of_each_role_and_no_plant_for_who_does_not_ask(manager: Person) -> None:
    assert set(Person.objects.values_list("username", flat=True)) == USUAL_PEOPLE.keys()
    assert manager.groups.get().name == "manager"
    assert not Vessel.objects.exists()


class TestTheMonthIsThere:
    def test_for_who_asks_with_its_people_and_vessels(self, loaded_month: Path, manager: Person) -> None:
        assert (loaded_month / "log" / "spirit_runs.csv").exists()
        assert Person.objects.filter(pk=manager.pk).exists()
        assert Vessel.objects.filter(code="SV").exists()

    def test_without_what_the_test_before_wrote(self, loaded_month: Path) -> None:
        assert not Person.objects.filter(username="test-manager").exists()


@pytest.mark.usefixtures("bare")
def test_nobody_is_there_for_who_asks_for_a_bare_site() -> None:
    assert not Person.objects.exists()
    assert not Vessel.objects.exists()


def test_the_comparison_that_demo_kept_is_read_here(loaded_month: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Else every test that stands in the month and asks for a finding would make it anew."""
    monkeypatch.setattr(keeping, "compare_month", lambda period, **given: pytest.fail(f"{period} was compared anew"))
    assert keeping.findings("2027-03")
