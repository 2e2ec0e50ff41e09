"""Parts of a comparison that are remembered: the same to the last digit, asked for by all they were made from."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from distillery.people.models import Person
from ledger.comparing.month import compare_month
from ledger.comparing.observations.from_ledger import log_of, operations_in
from ledger.comparing.observations.sealed_rows import sealed_rows
from ledger.comparing.remembered import NOTHING, Remembered
from ledger.comparing.search import explaining, searching
from ledger.comparing.search.blocks import block_of, digest_of_block
from ledger.comparing.search.windows import OddnessAsAsked, neighbourhood
from ledger.kept.made_from import plant_now
from tests.batches.random_writer import Writer

PERIOD = "2027-03"

pytestmark = pytest.mark.django_db


def test_what_is_remembered_is_what_is_made_from_nothing(loaded_month: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    known = Remembered(50_000)
    from_nothing = compare_month(PERIOD)
    assert compare_month(PERIOD, known=known).findings == from_nothing.findings
    with monkeypatch.context() as patched:
        patched.setattr(searching, "faults_in", lambda *given: pytest.fail("searched although nothing moved"))
        again = compare_month(PERIOD, known=known)
    assert again.findings == from_nothing.findings
    assert again.search.model.log == from_nothing.search.model.log
    assert len(NOTHING) == 0


def test_what_is_known_by_its_seal_is_not_read(loaded_month: Path) -> None:
    known = Remembered(50_000)
    anew = sealed_rows(operations_in(PERIOD))
    sealed_rows(operations_in(PERIOD), known)
    with CaptureQueriesContext(connection) as asked:
        again = sealed_rows(operations_in(PERIOD), known)
    assert len(asked) <= 2, "the calendar, and the numbers and seals"
    assert [one.movement for one in again] == [one.movement for one in anew]
    assert log_of(PERIOD, again, known) == log_of(PERIOD, anew)


def test_another_plant_measures_anew(
    loaded_month: Path, staff: Person, manager: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = plant_now()
    assert plant_now(before) == before
    known = Remembered(50_000)
    compare_month(PERIOD, known=known.with_plant(before))
    Writer(1, staff, manager).table()
    after = plant_now(before)
    assert after != before
    searched = []
    real = explaining.faults_in

    def counted(*given: object) -> object:
        searched.append(given)
        return real(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(searching, "faults_in", counted)
    moved = compare_month(PERIOD, known=known.with_plant(after))
    assert searched
    assert moved.findings == compare_month(PERIOD).findings


def test_a_block_is_known_by_every_figure_in_it(loaded_month: Path) -> None:
    month = compare_month(PERIOD)
    model, written = month.as_written.model, month.as_written.written
    seed = month.search.found[0].fault.hypothesis.columns[0]
    keys = neighbourhood(model, next(iter(seed)), OddnessAsAsked(model))
    digest = digest_of_block(block_of(model, keys), written)
    assert digest_of_block(block_of(model, list(keys)), written) == digest
    for figures in (model.residuals, model.charges):
        for key in sorted(keys)[:5]:
            there = figures[key]
            figures[key] = there + 1e-9
            assert digest_of_block(block_of(model, keys), written) != digest
            figures[key] = there
    assert digest_of_block(block_of(model, keys), written) == digest


def test_the_parts_asked_for_last_are_remembered() -> None:
    known = Remembered(2)
    made: list[str] = []

    def make(name: str) -> str:
        made.append(name)
        return name

    for name in ("a", "b", "a", "c", "a", "b"):
        assert known.part(name, lambda name=name: make(name)) == name  # type: ignore[misc]
    assert made == ["a", "b", "c", "b"]
    known.forget()
    assert len(known) == 0
