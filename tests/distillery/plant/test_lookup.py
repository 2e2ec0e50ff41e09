"""The plant by code and kind: only what is asked for is read, however many casks there are."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from distillery.plant.lookup import Plant
from distillery.plant.models import MICRO, Cask, Kind, Stage, Vessel

pytestmark = pytest.mark.django_db


def casks(*codes: str) -> None:
    for code in codes:
        vessel = Vessel.objects.create(code=code, name=code, kind=Kind.CASK, stage=Stage.MATURING)
        Cask.objects.create(vessel=vessel, kind="barrel", nominal_ul=200 * MICRO)


@pytest.fixture(autouse=True)
def vats() -> None:
    for order, code in enumerate(("SV", "Gv 1")):
        Vessel.objects.create(code=code, name=code, kind=Kind.VAT, stage=Stage.NEW_SPIRIT, order=order)


@pytest.mark.parametrize("typed", ["SV", "sv", " Sv "])
def test_a_code_is_known_in_any_case(typed: str) -> None:
    found = Plant().vessel(typed)
    assert found is not None
    assert found.code == "SV"


@pytest.mark.parametrize("typed", ["aB7/001", "ab7/001", "AB7/001", "Ab7/001"])
def test_a_cask_is_known_in_any_case_also_where_its_number_has_letters_of_both(typed: str) -> None:
    casks("aB7/001")
    found = Plant().vessel(typed)
    assert found is not None
    assert found.code == "aB7/001"


def test_a_number_without_its_noughts_is_the_only_cask_it_can_be() -> None:
    casks("2022/0007", "2022/0012")
    assert Plant().vessel("2022/7") is None
    meant = Plant().vessel_meant("2022/7")
    assert meant is not None
    assert meant.code == "2022/0007"
    casks("2022/007")
    assert Plant().vessel_meant("2022/7") is None, "two casks could be meant"
    exact = Plant().vessel_meant("2022/007")
    assert exact is not None
    assert exact.code == "2022/007"


@pytest.mark.parametrize("typed", ["", "  ", "2022/9999", "2022/\x00", "x" * 5000])
def test_what_is_no_vessel_is_none(typed: str) -> None:
    casks("2022/0007")
    assert Plant().vessel(typed) is None
    assert Plant().vessel_meant(typed) is None


def test_a_cask_that_comes_later_is_found() -> None:
    plant = Plant()
    assert plant.vessel("2022/0007") is None
    casks("2022/0007")
    assert plant.vessel("2022/0007") is not None


def test_the_vessels_that_fit_are_no_casks_and_in_order() -> None:
    casks("2022/0007")
    assert [vessel.code for vessel in Plant().vessels()] == ["SV", "Gv 1"]
    assert Plant().vessels(kinds=[Kind.STILL]) == []


def test_many_casks_are_read_together_and_once() -> None:
    casks(*(f"2022/{number:04}" for number in range(40)))
    plant = Plant()
    with CaptureQueriesContext(connection) as asked:
        plant.look_up(f"2022/{number:04}" for number in range(40))
        assert all(plant.vessel(f"2022/{number:04}") for number in range(40))
        assert len(plant.vessels()) == 2
    # The fixed vessels, and the casks.
    assert len(asked) == 2
