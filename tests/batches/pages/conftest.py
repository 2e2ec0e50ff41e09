"""The small site of the pages, with its opening stock, made once in the whole run."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.people.models import Person
from tests.conftest import PASSWORD
from tests.ready_databases import FilledOnce, standing_in


def _fill() -> None:
    from tests.batches.pages.small_site import opening, small_site
    from tests.people import somebody

    staff = somebody("test-staff", "staff", password=PASSWORD)
    small_site()
    opening(staff)
    opening(staff, "LWR", dip="900", percent="24.8")
    opening(staff, "FR", dip="500", percent="36.0")


@pytest.fixture(scope="session")
def _site_database(filled_once: FilledOnce) -> BaseDatabaseWrapper:
    return filled_once("small_site", _fill)


@pytest.fixture(scope="class")
def _site_stands(_site_database: BaseDatabaseWrapper) -> Iterator[None]:
    with standing_in(_site_database):
        yield


@pytest.fixture
def site(_site_stands: None, staff: Person) -> Person:
    """Vessels, casks and an opening stock are in the database; gives who wrote them."""
    return staff
