"""Ages followed back through casks, re-racking and a vat, and what whisky asks for; rows E11 to E22 of the excise
reference. Casks and days are invented; limits are those of the rows named.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest

from batches.models import Record
from batches.pages.places.cask_table import note_ages, years_between
from batches.pages.records.shown import RecordAsWritten
from batches.pages.results import as_it_stands, pictures_of, results_of
from batches.sheets.site import Site
from batches.steps import sheet_of
from batches.steps.shared.ages import WOOD_OF_CASKS, YEARS_IN_WOOD, proved_by, statement_checked
from batches.tracing.ages import youngest_in_vessel, youngest_of_record
from distillery.plant.models import Cask, Vessel
from distillery.process.ageing import Age
from distillery.process.product_names import Evidence, Outcome, as_a_whole, check
from distillery.rules.names import SIZE_OF_CASKS, largest_that_counts, requirements
from distillery.seals.writing import signed
from tests.batches.steps.test_disgorging import FILLED, line
from tests.batches.steps.test_re_racking import emptied, filled
from tests.batches.tiny_plant import cask, gauge

Write = Callable[..., Record]
DAY = date(2027, 5, 1)
AT = datetime(2027, 5, 1, 8, tzinfo=UTC)


@pytest.fixture
def disgorged(write: Write) -> Record:
    """C1 filled in 2020 and re-racked into C3 in 2026, C2 filled in 2022: both into the vat on 6 March 2027."""
    cask("C3")
    write("opening_cask", **{**FILLED, "number": "C1", "filled_at": "2020-03-06T02:00"})
    write("opening_cask", **{**FILLED, "number": "C2", "filled_at": "2022-03-07T02:00"})
    write("re_racking", "RK0001", [emptied("C1", "214"), filled("C3", "213")], at="2026-06-06T08:00")
    rows = [line("C3", "212"), line("C2", "217")]
    vat = {"vat": "BV", **gauge("vat_before", "0"), **gauge("vat_after", "360", "63.0")}
    return write("disgorging", "DG0001", rows, at="2027-03-06T08:00", **vat)


def test_the_youngest_counts_from_its_own_filling(disgorged: Record) -> None:
    found = youngest_of_record(disgorged.number, most_litres=700)
    assert found is not None
    assert found.since == Record.objects.get(kind="opening_cask", mentions__code="C2").number
    assert found.in_wood == datetime(2027, 3, 6, 8, tzinfo=UTC) - datetime(2022, 3, 7, 2, tzinfo=UTC)
    assert found.largest_litres == 200


def test_re_racking_goes_on(disgorged: Record) -> None:
    found = youngest_of_record("RK0001", most_litres=700)
    assert found is not None
    assert found.in_wood == datetime(2026, 6, 6, 7, tzinfo=UTC) - datetime(2020, 3, 6, 2, tzinfo=UTC)


def test_a_vat_stops_it(disgorged: Record) -> None:
    vat = Vessel.objects.get(code="BV")
    now, later = (youngest_in_vessel(vat, at, most_litres=700) for at in (AT, AT + timedelta(days=400)))
    assert now is not None
    assert now == later == youngest_of_record(disgorged.number, most_litres=700)


def test_casks_too_large_add_nothing(disgorged: Record) -> None:
    found = youngest_of_record(disgorged.number, most_litres=199)
    assert found is not None
    assert found.in_wood == timedelta()


def test_the_sheet_shows_it(disgorged: Record) -> None:
    shown = results_of(as_it_stands(RecordAsWritten(disgorged, sheet_of("disgorging")), Site()), AT)
    table = next(one for one in shown if one.heading == "Age of the youngest")
    assert [row.cells[1] for row in table.lines] == ["4.99 years or more", "4 years", "200 L"]


def test_the_wood_is_that_of_the_register(disgorged: Record) -> None:
    """Row E16: oak, where the register says so of every cask that it stood in."""

    def wood() -> list[Evidence]:
        return proved_by(youngest_of_record(disgorged.number, most_litres=700), AT).get(WOOD_OF_CASKS, [])

    _of_wood(C1="American oak", C2="oak, held sherry")
    assert wood() == []
    _of_wood(C3="European oak")
    assert [one.value for one in wood()] == ["oak"]
    _of_wood(C2="chestnut")
    assert [one.value for one in wood()] == ["chestnut"]


@signed("tests")
def _of_wood(**woods: str) -> None:
    for code, wood in woods.items():
        Cask.objects.filter(vessel__code=code).update(wood=wood)


def test_what_stood_in_the_vat_counts_too(write: Write, opened: Callable[..., Record]) -> None:
    """Spirit of three weeks' standing in a vat, never in wood, under a cask of five years: the youngest has no time."""
    write("opening_cask", **{**FILLED, "number": "C1", "filled_at": "2022-03-06T02:00"})
    opened("BV", "100", "63.0")
    vat = {"vat": "BV", **gauge("vat_before", "100", "63.0"), **gauge("vat_after", "280", "63.0")}
    record = write("disgorging", "DG0001", [line("C1", "214")], at="2027-03-20T08:00", **vat)
    shown = results_of(as_it_stands(RecordAsWritten(record, sheet_of("disgorging")), Site()), AT)
    table = next(one for one in shown if one.heading == "Age of the youngest")
    assert table.lines[0].cells[1] == "0.00 years or more"


def test_a_bottling_says_its_age_and_checks_its_label(disgorged: Record, write: Write) -> None:
    """The youngest is four whole years: 4 may stand on the label; of 5 it is not proven, as it may be older."""
    bottling = {
        "at": "2027-03-08T08:00",
        "vat": "BV",
        "lot_code": "L27063",
        "product": "Harrowmere malt",
        "legal_name": "whisky",
        "bottle_centilitres": "70",
        "label_percent": "63.0",
        "added_to_spirit": "nothing",
        **gauge("vat_before", "360", "63.0"),
    }
    first = write(
        "bottling", "BO0001", (), bottles="100", stated_years="4", **bottling, **gauge("vat_after", "290", "63.0")
    )
    found = {
        one.heading: one for one in results_of(as_it_stands(RecordAsWritten(first, sheet_of("bottling")), Site()), AT)
    }
    assert found["Age of the youngest"].lines[1].cells[1] == "4 years"
    assert found["Age on the label"].lines[0].cells[1] == "Pass"
    [added] = [row.cells for row in found["What whisky needs"].lines if "plain caramel" in row.cells[0]]
    assert added[1] == "Pass"


def test_a_vatting_says_the_age_of_the_youngest(disgorged: Record, write: Write, opened: Callable[..., Record]) -> None:
    record = write(
        "vatting",
        None,
        (),
        at="2027-03-09T08:00",
        vat="GI",
        first_vessel="BV",
        **gauge("vat_before", "0"),
        **gauge("first_before", "360", "63.0"),
        **gauge("first_after", "0"),
        **gauge("vat_after", "360", "63.0"),
    )
    shown = results_of(as_it_stands(RecordAsWritten(record, sheet_of("vatting")), Site()), AT)
    table = next(one for one in shown if one.heading == "Age of the youngest")
    assert table.lines[1].cells[1] == "4 years"


def test_the_register_has_the_same_age(disgorged: Record, write: Write) -> None:
    """A cask that was re-racked keeps its age, which its own filling does not say."""
    write("opening_cask", **{**FILLED, "number": cask("C5").code, "filled_at": "2021-05-01T08:00"})
    cask("C4")
    write("re_racking", "RK0002", [emptied("C5", "216"), filled("C4", "215")], at="2027-04-01T08:00")
    four = Cask.objects.select_related("vessel").get(vessel__code="C4")
    note_ages([four])
    assert four.age == pytest.approx(years_between(datetime(2021, 5, 1, 7, tzinfo=UTC)), abs=0.001)


def test_a_steel_vat_of_new_spirit_has_no_age(opened: Callable[..., Record]) -> None:
    opened("VA", "1000", "63.5")
    found = youngest_in_vessel(Vessel.objects.get(code="VA"), AT, most_litres=700)
    assert found is not None
    assert (found.in_wood, found.or_more, found.largest_litres) == (timedelta(), True, None)
    assert youngest_in_vessel(Vessel.objects.get(code="BV"), AT, most_litres=700) is None


def evidence(
    years: float, *, strength: float = 40.0, distilled: float = 71.0, size: float = 200.0
) -> dict[str, list[Evidence]]:
    return {
        YEARS_IN_WOOD: [Evidence(years, "OC0001")],
        SIZE_OF_CASKS: [Evidence(size, "OC0001")],
        "bottled strength": [Evidence(strength, "BO0001")],
        "base strength": [Evidence(distilled, "SR0001")],
        "added to spirit": [Evidence("water and plain caramel", "BO0001")],
    }


@pytest.mark.django_db
class TestWhisky:
    def outcomes(self, name: str, known: dict[str, list[Evidence]]) -> dict[str, Outcome]:
        return {one.requirement.code: one.outcome for one in check(requirements(name, DAY), known)}

    @pytest.mark.parametrize("name", ["whisky", "whisky (NI and EU)"])
    def test_rows_e11_to_e14(self, name: str) -> None:
        asked = requirements(name, DAY)
        assert as_a_whole(check(asked, evidence(3.0))) == Outcome.PASS
        assert self.outcomes(name, evidence(3.0, distilled=94.8))["E11"] == Outcome.FAIL
        assert self.outcomes(name, evidence(3.0, distilled=94.7))["E11"] == Outcome.PASS
        assert self.outcomes(name, evidence(2.99))["E12"] == Outcome.FAIL
        assert self.outcomes(name, evidence(3.0, strength=39.9))["E13"] == Outcome.FAIL
        sweet = evidence(3.0) | {"added to spirit": [Evidence("sugar", "BO0001")]}
        assert self.outcomes(name, sweet)["E14"] == Outcome.FAIL

    def test_what_is_not_known_is_no_pass(self) -> None:
        assert set(self.outcomes("whisky", {}).values()) == {Outcome.NOT_PROVEN}
        young = {YEARS_IN_WOOD: [Evidence(1.0, "RB0001", or_more=True)]}
        assert self.outcomes("whisky", young)["E12"] == Outcome.NOT_PROVEN

    def test_rows_e15_to_e21(self) -> None:
        """Scotch asks more; what nobody has written is not proven, and a cask over 700 litres fails it (E16)."""
        found = self.outcomes("Scotch whisky", evidence(3.0))
        assert {code for code, outcome in found.items() if outcome == Outcome.NOT_PROVEN} == {
            "E15a", "E15b", "E15c", "E16a", "E17a", "E17b", "E20", "E21",
        }  # fmt: skip
        assert self.outcomes("Scotch whisky", evidence(3.0, size=701))["E16b"] == Outcome.FAIL
        single = {one.code for one in requirements("single malt Scotch whisky", DAY)} - found.keys()
        assert single == {"E18a", "E18b", "E18c", "E19"}
        early = {one.code for one in requirements("single malt Scotch whisky", date(2022, 1, 1))}
        assert "E19" in early

    def test_row_e16_says_which_casks_count(self) -> None:
        assert largest_that_counts(DAY) == 700

    def test_row_e22_and_worked_check_12(self) -> None:
        vatted = datetime(2026, 11, 25, 9, tzinfo=UTC)
        age = Age(vatted - datetime(2017, 12, 2, 9, tzinfo=UTC), "CF0002")
        assert statement_checked(8, age, vatted).outcome == Outcome.PASS
        assert statement_checked(9, age, vatted).outcome == Outcome.FAIL
        assert statement_checked(8, None, vatted).outcome == Outcome.NOT_PROVEN
        assert statement_checked(9, Age(age.in_wood, "RB1", or_more=True), vatted).outcome == Outcome.NOT_PROVEN

    def test_three_years_to_the_day_prove_three(self) -> None:
        age = Age(AT - datetime(2024, 5, 1, 8, tzinfo=UTC), "CF0001", largest_litres=200)
        assert proved_by(age, AT)[YEARS_IN_WOOD][0].value == 3


def test_the_parts_of_a_vatting_say_how_old_each_is(disgorged: Record, write: Write) -> None:
    write("opening_stock", vessel="SP", at="2027-03-01T06:00", **gauge("gauge", "500", "60.0"))
    vat = {"vat": "SP", **gauge("vat_before", "500", "60.0"), **gauge("vat_after", "858", "61.3")}
    came = {"first_vessel": "BV", **gauge("first_before", "360", "63.0"), **gauge("first_after", "0")}
    record = write("vatting", "VT0001", (), at="2027-03-07T09:00", **vat, **came)
    sheet = sheet_of("vatting")
    (shown,) = pictures_of(as_it_stands(RecordAsWritten(record, sheet), Site()), AT)
    # From 7 March 2022 to 6 March 2027, which is a day less than five years, before which no more is on record; the
    # other was never in wood.
    assert shown.table.columns[-1].label == "Age of the youngest"
    assert [(row.cells[0].text, row.cells[-1].text) for row in shown.table.rows] == [
        ("there in SP", ""),
        ("BV", "4.99 years or more"),
    ]
    assert "4.99 years" in shown.chart
