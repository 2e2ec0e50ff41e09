"""Vatting, filtration, standing and reductions on the plain plant, worked by hand: a litre a millimetre at 20 °C.

1,000 litres at 60.0 % vol are 600 litres of pure alcohol, 500 at 50.0 are 250. All figures are invented.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from batches.models import Record
from batches.pages.records.shown import RecordAsWritten
from batches.pages.results import as_it_stands
from batches.sheets.register import sheet_of
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import Unfit
from batches.stores.book import lot_meant
from batches.stores.kinds import MaterialKind
from distillery.alcoholometry.mixing import Part, blend, reduce_to_strength
from ledger.models import Figure, Leg, Movement
from tests.batches.results import LATER, facts_in, made_of
from tests.batches.tiny_plant import gauge

pytestmark = pytest.mark.django_db
Write = Callable[..., Record]


def legs(number: str) -> dict[str, float]:
    found: dict[str, int] = {}
    for code, pure_ul in Leg.objects.filter(movement__record_number=number).values_list("account__code", "pure_ul"):
        found[code] = found.get(code, 0) + pure_ul
    return {code: round(pure_ul / 1e6, 3) for code, pure_ul in found.items() if pure_ul}


def figure(number: str, name: str) -> Figure:
    return Figure.objects.get(movement__record_number=number, name=name)


VATTING = {
    "at": "2027-03-02T09:00",
    "vat": "BV",
    "first_vessel": "VA",
    **gauge("first_before", "1000", "60.0"),
    **gauge("first_after", "0"),
    **gauge("vat_before", "0"),
}
SECOND = {"second_vessel": "SP", **gauge("second_before", "500", "50.0"), **gauge("second_after", "0")}


@pytest.fixture
def two_vats(opened: Callable[..., Record]) -> None:
    opened("VA", "1000", "60.0")
    opened("SP", "500", "50.0")


def test_what_left_is_what_came(write: Write, two_vats: None) -> None:
    # The two contract; the vat is gauged at 1,496 litres of 56.7 % vol, 848.232 litres of pure alcohol of 850.
    made = blend([Part(1000, 60.0), Part(500, 50.0)])
    record = write("vatting", "VT0001", (), **VATTING, **SECOND, **gauge("vat_after", "1496", "56.7"))
    assert legs("VT0001") == {
        "vessel:VA": -600.0,
        "vessel:SP": -250.0,
        "vessel:BV": 848.232,
        "difference:vatting": 1.768,
    }
    movement = Movement.objects.get(record_number="VT0001")
    assert movement.judged_against == "what left the vats"
    assert (movement.judged_ul or 0) / 1e6 == pytest.approx(850, abs=1e-3)
    strength = figure("VT0001", "strength after vatting")
    assert (strength.expected_millionths or 0) / 1e6 == pytest.approx(made.percent20, abs=1e-3)
    facts = facts_in(made_of(record))
    assert facts["Strength by the mixing"].text == f"{made.percent20:.2f}"
    assert facts["Difference"].text == "0.21"
    assert facts["Class of spirits"].state is None


def test_one_vat_alone(write: Write, two_vats: None) -> None:
    write("vatting", "VT0001", (), **VATTING, **gauge("vat_after", "998", "60.0"))
    assert legs("VT0001")["difference:vatting"] == 1.2


def test_a_vessel_stands_once_and_has_its_gauges(write: Write, two_vats: None) -> None:
    after = gauge("vat_after", "1496", "56.7")
    with pytest.raises(Unfit, match="From, second vessel is BV, the vat that all goes into"):
        write("vatting", None, (), **VATTING, **(SECOND | {"second_vessel": "BV"}), **after)
    with pytest.raises(Unfit, match="From, second vessel is VA, which is named already"):
        write("vatting", None, (), **VATTING, **(SECOND | {"second_vessel": "VA"}), **after)
    with pytest.raises(Unfit, match="From, second vessel before: dip is blank; gauge SP"):
        write("vatting", None, (), **VATTING, second_vessel="SP", **after)


def test_classes_brought_together_are_said(write: Write, opened: Callable[..., Record]) -> None:
    opened("VA", "1000", "60.0")
    opened("GI", "500", "50.0")
    typed = VATTING | SECOND | {"second_vessel": "GI"} | gauge("vat_after", "1496", "56.7")
    assert facts_in(made_of(write("vatting", "VT0001", (), **typed)))["Class of spirits"].state is not None


FILTERED = {
    "at": "2027-03-02T09:00",
    "vat": "BV",
    "way": "chill",
    "filter_celsius": "-1",
    **gauge("vat_before", "1000", "43.0"),
}


def test_only_what_was_measured_is_a_known_loss(write: Write, opened: Callable[..., Record]) -> None:
    opened("BV", "1000", "43.0")
    kept = {"kept_litres": "2", "kept_percent": "43.0", "litres_in": "1000", "litres_out": "997"}
    record = write("filtration", "FI0001", (), **FILTERED, **gauge("vat_after", "997", "43.0"), **kept)
    # 3 litres at 43.0 are 1.29: 0.86 of them measured.
    assert legs("FI0001") == {"vessel:BV": -1.29, "loss:filtration": 0.86, "difference:filtration": 0.43}
    assert Movement.objects.get(record_number="FI0001").judged_against == "contents before filtering"
    facts = facts_in(made_of(record))
    assert facts["Kept by the meters"].text == "1.29"
    assert facts["Difference"].text == "0.10"


def test_what_was_not_measured_is_the_difference(write: Write, opened: Callable[..., Record]) -> None:
    opened("BV", "1000", "43.0")
    into = {"into": "GI", **gauge("into_before", "0"), **gauge("into_after", "798", "43.0")}
    write("filtration", "FI0001", (), **FILTERED, **gauge("vat_after", "200", "43.0"), **into)
    assert legs("FI0001") == {"vessel:BV": -344.0, "vessel:GI": 343.14, "difference:filtration": 0.86}
    assert Movement.objects.get(record_number="FI0001").judged_against == "what left the vat"


def test_filter_sheets_come_from_the_stores(write: Write, opened: Callable[..., Record]) -> None:
    opened("BV", "1000", "43.0")
    line = {"material": "filter sheet", "lot": "FS-3", "what": "sheets for cold spirit", "pieces": "60"}
    write("material_receipt", None, [line], received_at="2027-03-01T08:00", supplier="Harrowmere Mills")
    used = {"sheet_lot": "FS-3", "sheets_used": "20"}
    write("filtration", "FI0001", (), **FILTERED, **gauge("vat_after", "998", "43.0"), **used)
    lot = lot_meant(MaterialKind.FILTER_SHEET, "FS-3")
    assert lot is not None
    assert lot.held == 40


def test_what_a_filtration_needs(write: Write, opened: Callable[..., Record]) -> None:
    opened("BV", "1000", "43.0")
    after = gauge("vat_after", "998", "43.0")
    with pytest.raises(Unfit, match="Strength of what it kept is blank"):
        write("filtration", None, (), **FILTERED, **after, kept_litres="2")
    with pytest.raises(Unfit, match="leave it blank where it went back"):
        write("filtration", None, (), **FILTERED, **after, into="BV")
    with pytest.raises(Unfit, match="Into after: dip is blank; gauge GI"):
        write("filtration", None, (), **FILTERED, **after, into="GI", **gauge("into_before", "0"))


STANDING = {"vessel": "BV", "begun_at": "2027-03-02T09:00", **gauge("before", "1000", "50.0")}


def test_what_a_vat_gives_off_as_it_stands(write: Write, opened: Callable[..., Record]) -> None:
    opened("BV", "1000", "50.0")
    write("standing", "SD0001", (), **STANDING)
    assert legs("SD0001") == {}
    record = write("standing", "SD0001", (), ended_at="2027-03-12T09:00", **gauge("after", "998", "50.0"))
    assert legs("SD0001") == {"vessel:BV": -1.0, "difference:standing": 1.0}
    facts = facts_in(made_of(record))
    # 1 of 500 in 10 days.
    assert facts["Given off"].text == "0.020"
    assert facts["Stood"].text == "10.0"
    with pytest.raises(Unfit, match="say when the vat was gauged again"):
        write("standing", None, (), **STANDING, ended_at=STANDING["begun_at"], **gauge("after", "998", "50.0"))


FIRST = {
    "at": "2027-03-02T09:00",
    "vessel": "VA",
    "target_percent": "50",
    "water_kg": "200",
    "next_target_percent": "43",
    "rest_days": "3",
    **gauge("before", "1000", "60.0"),
    **gauge("after", "1193", "50.2"),
}


@pytest.fixture
def first_reduction(write: Write, opened: Callable[..., Record]) -> Record:
    opened("VA", "1000", "60.0")
    return write("reduction", "RE0001", (), **FIRST, top_percent="50.25", bottom_percent="50.15")


def test_the_water_of_this_reduction_and_of_the_next(first_reduction: Record) -> None:
    facts = facts_in(made_of(first_reduction))
    wanted = reduce_to_strength(Part(1000, 60.0), target_percent=50)
    after = reduce_to_strength(Part(1193, 50.2), target_percent=43)
    assert facts["Water wanted"].text == f"{wanted.water_kilograms_in_air:.1f}"
    assert facts["Water the next one wants"].text == f"{after.water_kilograms_in_air:.1f}"
    assert facts["Mixed"].text == "yes"
    assert float(facts["Strength by the mixing"].text) == pytest.approx(50.2, abs=0.2)


def test_the_next_reduction_rests_as_long_as_planned(write: Write, first_reduction: Record) -> None:
    second = {
        "vessel": "VA",
        "goes_on_from": "RE0001",
        "water_kg": "195",
        "target_percent": "43",
        **gauge("before", "1193", "50.2"),
        **gauge("after", "1390", "43.0"),
    }
    record = write("reduction", "RE0002", (), at="2027-03-04T09:00", **second, top_percent="43.2", bottom_percent="43")
    facts = facts_in(made_of(record))
    assert (facts["Rested"].text, facts["Rested"].state is None) == ("2.0", False)
    assert facts["Mixed"].text == "no"
    sheet = sheet_of("reduction")
    assert sheet.pictures is not None
    (plot,) = sheet.pictures(as_it_stands(RecordAsWritten(record, sheet), Site()), LATER)
    assert plot.names == ("before", "RE0001", "RE0002")
    assert [round(value, 1) for _, value in plot.lines[0].points] == [60.0, 50.2, 43.0]
    with pytest.raises(Unfit, match=r"RE0001 was made .*, after this one; name an earlier one"):
        write("reduction", None, (), at="2027-03-01T09:00", **second)
    with pytest.raises(Unfit, match="two strengths say whether a vat is mixed"):
        write("reduction", None, (), at="2027-03-05T09:00", **second, top_percent="43")
