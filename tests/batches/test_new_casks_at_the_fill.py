"""A cask that the plant does not have yet is entered with the sheet that fills it, once somebody has said it is new."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from batches.models import Record
from batches.records.asking import Asked, Why
from batches.records.recording import save
from batches.sheets.typed.read_sheet import Unfit
from distillery.plant.models import MICRO, Vessel

from .tiny_plant import gauge

NOW = datetime(2027, 3, 20, 12, tzinfo=UTC)
VAT = {
    "at": "2027-03-04 10:00",
    "vat": "VA",
    **gauge("vat_before", "1000", "63.5"),
    **gauge("vat_after", "800", "63.5"),
}


def cask(code: str, **more: str) -> dict[str, str]:
    weighed = {"tare_kg": "50.0", "gross_kg": "139.5", "celsius": "20.0", "hydrometer_percent": "63.5"}
    return {"cask": code, **weighed, **more}


NEW = [cask("2027/0101", cask_kind="barrel", nominal_litres="200"), cask("C1")]


@pytest.fixture
def fill(opened, staff):
    opened("VA", "1000", "63.5")

    def fill(lines, **more) -> Record:
        return save("cask_fill", None, VAT, lines, person=staff, now=NOW, **more)

    return fill


def test_it_is_asked_about_and_entered_with_the_fill(fill):
    with pytest.raises(Asked) as caught:
        fill(NEW)
    (question,) = caught.value.questions
    assert (question.why, question.field, question.row) == (Why.NEW_CASK, "cask", 0)
    assert question.sentence == "Not in the plant yet: 2027/0101, barrel of 200.0 L. Is it a new cask?"
    assert not Vessel.objects.filter(code="2027/0101").exists()
    record = fill(NEW, sure={question.key})
    made = Vessel.objects.select_related("cask").get(code="2027/0101")
    assert (made.kind, made.cask.kind, made.cask.nominal_ul) == ("cask", "barrel", 200 * MICRO)
    assert made.cask.tare_g == 50_000
    assert record.number == "CF0001"


def test_several_are_one_question(fill):
    lines = [cask(f"2027/{number}", cask_kind="barrel", nominal_litres="200") for number in (101, 102)]
    with pytest.raises(Asked) as caught:
        fill(lines)
    (question,) = caught.value.questions
    assert question.keep == "Enter all 2 with this sheet"
    fill(lines, sure={question.key})
    assert Vessel.objects.filter(code__startswith="2027/").count() == 2
    # The answer was about these two, and enters no third.
    with pytest.raises(Asked):
        fill([cask("2027/103", cask_kind="barrel", nominal_litres="200")], sure={question.key})


def test_two_spellings_of_one_number_are_one_cask(fill):
    lines = [cask(number, cask_kind="barrel", nominal_litres="200") for number in ("2027/0102", "2027/102")]
    with pytest.raises(Asked) as caught:
        fill(lines)
    (question,) = caught.value.questions
    assert question.sentence == "Not in the plant yet: 2027/0102, barrel of 200.0 L. Is it a new cask?"
    with pytest.raises(Unfit, match="2027/0102"):
        fill(lines, sure={question.key})
    assert not Vessel.objects.filter(code__startswith="2027/").exists()


def test_without_kind_and_size_the_refusal_says_what_to_write(fill):
    with pytest.raises(Unfit, match="Write its kind of cask and nominal size beside it"):
        fill([cask("2027/0101")])


def test_nothing_is_entered_where_the_fill_cannot_be_written(fill):
    with pytest.raises(Asked) as caught:
        fill(NEW)
    answer = {caught.value.questions[0].key}
    with pytest.raises(Unfit):
        fill([NEW[0], cask("C1", gross_kg="x")], sure=answer)
    assert not Vessel.objects.filter(code="2027/0101").exists()


def test_a_table_of_a_log_enters_no_cask(fill):
    with pytest.raises(Unfit, match="there is no vessel 2027/0101 on this site"):
        fill(NEW, sure=True, strict=True)


@pytest.mark.parametrize("code", ["x" * 41, "2027/01\x0001"])
def test_a_number_that_no_cask_can_have_is_refused(fill, code):
    with pytest.raises(Unfit):
        fill([cask(code, cask_kind="barrel", nominal_litres="200")])
