"""A short form of the trial with generated input, and that it sees what it looks for."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import pytest
from django.http import HttpRequest, HttpResponse

from tests.faults import bad_input

NUMBER = 300
pytestmark = pytest.mark.django_db


@pytest.fixture
def trial(tmp_path: Path) -> bad_input.Trial:
    bad_input.build(tmp_path)
    return bad_input.Trial(bad_input.people(), random.Random(20), of_each_page=1)


@pytest.mark.faults
def test_bad_input_gets_a_sentence_and_readers_write_nothing(trial: bad_input.Trial) -> None:
    for _ in range(bad_input.folders_of(NUMBER)):
        trial.folder()
    bad_input.run(trial, NUMBER)
    assert trial.wrong == []
    # It went in far enough: forms were found and taken, and others refused on their own page.
    assert len(trial.forms) > 50
    assert trial.answers["302"] > 5
    assert trial.answers["403"] > 20
    assert trial.answers["refused"] > 5


def test_a_page_that_fails_is_seen(trial: bad_input.Trial, monkeypatch: pytest.MonkeyPatch) -> None:
    from batches.pages.places import find

    def fails(request: HttpRequest) -> HttpResponse:
        raise RuntimeError("planted")

    monkeypatch.setattr(find.find, "__code__", fails.__code__)
    trial.addresses = ["/find/?q=x"]
    trial._ask("staff", "GET", "/find/?q=x")
    assert len(trial.wrong) == 1
    assert "500 RuntimeError: planted" in trial.wrong[0]


def test_what_a_reader_writes_is_seen(trial: bad_input.Trial) -> None:
    from distillery.plant.models import Vessel

    before: dict[str, str] = bad_input.facts()
    Vessel.objects.create(code="ZZ", name="Planted", kind="tank", stage="wash")
    wrong: list[Any] = []
    bad_input._compare(before, bad_input.facts(), wrong)
    assert any(sentence.startswith("plant_vessel was ") for sentence in wrong)
