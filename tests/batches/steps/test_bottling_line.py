"""A bottling on the plain plant, worked by hand: a litre a millimetre, everything read at 20 °C.

1,000 litres at 46.0 % vol are 460 litres of pure alcohol. 1,200 bottles of 70 cl at 46.0 hold 386.4; 2 litres sampled
at 46.0 are 0.92; 150 litres left are 69.0. So 460 − 69 − 386.4 − 0.92 = 3.68 are missing, 0.941 % of 391. All figures
are invented.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pytest

from batches.models import Record
from batches.pages.records.shown import RecordAsWritten
from batches.pages.results import as_it_stands
from batches.records.asking.questions import Asked
from batches.records.recording import save
from batches.sheets.results import Result
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import Unfit
from batches.steps.bottling import SHEET
from distillery.people.models import Person
from ledger.models import Balance, Leg, Movement
from tests.batches.results import LATER, made_of
from tests.batches.tiny_plant import gauge

pytestmark = pytest.mark.django_db
Write = Callable[..., Record]

BOTTLING = {
    "at": "2027-03-02T09:00",
    "vat": "BV",
    "lot_code": "L27061",
    "product": "Harrowmere gin",
    "bottle_centilitres": "70",
    "label_percent": "46.0",
    "bottles": "1200",
    **gauge("vat_before", "1000", "46.0"),
    **gauge("vat_after", "150", "46.0"),
}
SAMPLED = {"samples_litres": "2", "samples_percent": "46.0"}


def check_at(minute: str, **what: str) -> dict[str, str]:
    return {"checked_at": f"2027-03-02T09:{minute}", **what}


GOOD = [
    check_at("00", fill_millilitres="701.0", checked_percent="46.0", part_of_run="start"),
    check_at("15", fill_millilitres="702.0"),
    check_at("30", fill_millilitres="703.0", checked_percent="46.1", part_of_run="middle"),
    check_at("45", fill_millilitres="702.0", checked_percent="45.9", part_of_run="end"),
]


@pytest.fixture
def vat(opened: Callable[..., Record]) -> Record:
    return opened("BV", "1000", "46.0")


def legs(number: str) -> dict[str, float]:
    found: dict[str, int] = {}
    for code, pure_ul in Leg.objects.filter(movement__record_number=number).values_list("account__code", "pure_ul"):
        found[code] = found.get(code, 0) + pure_ul
    return {code: round(pure_ul / 1e6, 4) for code, pure_ul in found.items() if pure_ul}


def results(record: Record) -> dict[str, Result]:
    return {one.heading: one for one in made_of(record)}


def cells(result: Result) -> dict[str, tuple[str, ...]]:
    return {line.cells[0]: line.cells[1:] for line in result.lines}


def test_samples_leave_and_the_rest_is_the_loss_of_the_line(write: Write, vat: Record) -> None:
    write("bottling", "BO0001", (), **BOTTLING, **SAMPLED)
    assert legs("BO0001") == {
        "vessel:BV": -391.0,
        "stock:Harrowmere gin/70/46": 386.4,
        "removal:samples": 0.92,
        "difference:bottling": 3.68,
    }
    assert Movement.objects.get(record_number="BO0001").judged_ul == pytest.approx(391e6, abs=200)
    assert Balance.objects.get(account__code="vessel:BV").balance_ul / 1e6 == pytest.approx(69.0, abs=1e-4)


def test_what_it_comes_to(write: Write, vat: Record) -> None:
    back = {"returned_litres": "10", "returned_percent": "46.0"}
    record = write("bottling", "BO0001", GOOD, **BOTTLING, **SAMPLED, **back, bottles_a_case="6")
    comes_to = cells(results(record)["What it comes to"])
    assert comes_to["Drawn from the vat"][0] == "395.60"
    assert comes_to["Poured back"][0] == "4.60"
    assert comes_to["Line loss"][:2] == ("0.94", "%")
    # 2 mL in each of 1,200 bottles at 46.0: 1.104.
    assert comes_to["Overfill"][0] == "1.10"
    assert comes_to["Cases"][0] == "200"
    assert comes_to["Alcohol in a case"][0] == "1.932"


def test_bottles_that_are_as_they_should_be(write: Write, vat: Record) -> None:
    record = write("bottling", "BO0001", GOOD, **BOTTLING, lot_on_bottles="yes", lot_on_cases="yes")
    made = results(record)
    assert [line.cells[1] for line in made["Packers' rules"].lines] == ["Pass", "Pass", "Pass"]
    assert {line.cells[1] for line in made["Label and size"].lines} == {"Pass"}
    assert all(line.cells[4] for line in made["Packers' rules"].lines)


@pytest.mark.parametrize(
    ("fills", "passes"),
    # T1 of 700 mL is 685 and T2 is 670 (SI 2006/659).
    [
        (("699.0", "700.0"), ("", "Pass", "Pass")),
        (("684.0", "720.0"), ("Pass", "", "Pass")),
        (("668.0", "740.0"), ("Pass", "", "")),
    ],
)
def test_each_packers_rule_fails_alone(
    write: Write, vat: Record, fills: Sequence[str], passes: tuple[str, ...]
) -> None:
    lines = [check_at(f"1{place}", fill_millilitres=fill) for place, fill in enumerate(fills)]
    record = write("bottling", "BO0001", lines, **BOTTLING)
    assert tuple(line.cells[1] for line in results(record)["Packers' rules"].lines) == passes


def test_a_bottle_by_its_weight(write: Write, vat: Record) -> None:
    # 40 % vol is 948.05 kg/m³ at 20 °C ("Dilution of ethanol", tests/data/alcoholometry); in air a litre weighs about
    # 1.06 g less, so 700 mL are 662.9 g.
    record = write("bottling", "BO0001", [check_at("10", net_grams="662.9", checked_percent="40")], **BOTTLING)
    found = cells(results(record)["Packers' rules"])["Mean of the bottles checked"]
    assert float(found[1].split()[0]) == pytest.approx(700.0, abs=0.3)


@pytest.mark.parametrize(
    ("more", "said", "found"),
    [
        ({"mean_strength_percent": "46.4"}, "Strength beside the label", ""),
        ({"mean_strength_percent": "46.4", "macerated": "yes"}, "Strength beside the label", "Pass"),
        ({"mean_strength_percent": "46.3"}, "Strength beside the label", "Pass"),
        ({"lot_on_bottles": "no"}, "Lot code on each bottle", ""),
        ({"label_percent": "46.05"}, "Strength as declared", ""),
        ({"bottle_centilitres": "75", "bottles": "1100"}, "Size of the bottle", ""),
    ],
)
def test_label_and_size(write: Write, vat: Record, more: dict[str, str], said: str, found: str) -> None:
    record = write("bottling", "BO0001", (), **(BOTTLING | more))
    assert cells(results(record)["Label and size"])[said][0] == found


@pytest.mark.parametrize(
    ("name", "label", "least"),
    # Assimilated Regulation (EC) 110/2008, Annex II: gin and vodka 37.5; Article 2: any spirit drink 15.
    [("vodka", "37.4", "37.5"), ("London gin", "37.4", "37.5"), ("", "14.9", "15")],
)
def test_a_label_below_what_its_name_asks_is_asked_about(
    staff: Person, vat: Record, name: str, label: str, least: str
) -> None:
    typed = {**BOTTLING, "label_percent": label, "legal_name": name}
    with pytest.raises(Asked) as asked:
        save("bottling", None, {key: value for key, value in typed.items() if value}, (), person=staff)
    about = " ".join(question.sentence for question in asked.value.questions)
    assert f"is bottled at {least} % vol or more" in about
    assert "bottle it stronger" in about


def test_a_check_that_says_nothing_or_twice(write: Write, vat: Record) -> None:
    with pytest.raises(Unfit, match="Nothing was checked on this line"):
        write("bottling", None, [check_at("10")], **BOTTLING)
    with pytest.raises(Unfit, match="leave one of them blank"):
        write("bottling", None, [check_at("10", net_grams="656", fill_millilitres="700")], **BOTTLING)
    with pytest.raises(Unfit, match="Strength of samples is blank"):
        write("bottling", None, (), **BOTTLING, samples_litres="2")


def test_two_heads_are_checked_in_the_same_minute(write: Write, vat: Record) -> None:
    heads = [check_at("10", filling_head=head, fill_millilitres="700") for head in ("1", "2")]
    record = write("bottling", "BO0001", heads, **BOTTLING)
    assert cells(results(record)["Packers' rules"])["None below T2, 670.0 mL"][1] == "0 of 2"
    with pytest.raises(Unfit, match="already"):
        write("bottling", None, [heads[0], heads[0]], **BOTTLING)


def test_the_pictures_have_their_limits(write: Write, vat: Record) -> None:
    record = write("bottling", "BO0001", GOOD, **BOTTLING)
    assert SHEET.pictures is not None
    fill, strength = SHEET.pictures(as_it_stands(RecordAsWritten(record, SHEET), Site()), LATER)
    assert [line.label for line in fill.lines] == ["Mean at each check", "Nominal", "T1", "T2"]
    assert fill.lines[0].points == ((0.0, 701.0), (15.0, 702.0), (30.0, 703.0), (45.0, 702.0))
    assert [line.points[0][1] for line in fill.lines[1:]] == [700.0, 685.0, 670.0]
    assert [round(line.points[0][1], 2) for line in strength.lines[1:]] == [46.0, 45.7, 46.3]


@pytest.mark.parametrize(
    ("market", "name", "asked"),
    [
        ("", "vodka", False),
        ("Great Britain", "vodka", False),
        ("NI and EU", "vodka (NI and EU)", True),
        ("ni and eu", "vodka (ni and eu)", True),
    ],
)
def test_a_name_is_held_to_the_rules_of_its_market(
    write: Write, vat: Record, market: str, name: str, asked: bool
) -> None:
    record = write("bottling", "BO0001", (), **BOTTLING, legal_name="vodka", market=market)
    needs = results(record)[f"What {name} needs"]
    # Sweetening of vodka: Regulation (EU) 2019/787, Annex I, category 15 (from memory); none is asked at home.
    assert any(line.cells[0].casefold().startswith("sweetening") for line in needs.lines) == asked


def test_a_market_without_rules_proves_nothing_and_says_where_they_are_entered(write: Write, vat: Record) -> None:
    record = write("bottling", "BO0001", (), **BOTTLING, legal_name="gin", market="Holm")
    assert not any(heading.startswith("What gin") for heading in results(record))
    said = [one.sentence for one in RecordAsWritten(record, SHEET).remarks]
    assert (
        "Not proven: the site has no rules of what gin has to be in Holm. Enter them under Site, What names need, as "
        "those of gin (Holm), or send it to a market that it has rules of."
    ) in said


def test_a_label_too_weak_for_its_market_is_asked_about_with_that_rule(staff: Person, vat: Record) -> None:
    typed = {**BOTTLING, "label_percent": "37.0", "legal_name": "gin", "market": "NI and EU"}
    with pytest.raises(Asked) as caught:
        save("bottling", None, typed, person=staff)
    said = next(one.sentence for one in caught.value.questions if "bottled at" in one.sentence)
    # 37.5 % vol: Regulation (EU) 2019/787, Annex I, category 20 (from memory).
    assert "gin (NI and EU) is bottled at 37.5 % vol or more" in said
    assert "Regulation (EU) 2019/787" in said
