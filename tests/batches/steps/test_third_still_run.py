"""Gin and vodka in the third still, worked by hand on the plain plant: a litre a millimetre, everything at 20 °C.

1,000 litres of neutral spirit at 96.0 % vol are received; 250 litres of it (240 LPA) are charged. The recipe asks for
32 grams of juniper and 16 of coriander seed for each LPA: 7.680 and 3.840 kg, 1.920 and 0.960 in each of four baskets.
Consignor, recipe, lots and figures are invented; limits are those of Regulation (EC) 110/2008 as the site's rules have
them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from decimal import Decimal
from pathlib import Path

import pytest
from django.test import Client

from batches.loading.load_folder import load_folder
from batches.models import Record
from batches.pages.records.shown import RecordAsWritten
from batches.pages.results import as_it_stands
from batches.records import recording
from batches.records.asking import Asked
from batches.running.before import usual_of
from batches.running.runs import runs_of
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import Unfit
from batches.steps import sheet_of
from batches.tracing.trace import trace_back, trace_forward
from distillery.people.models import Person
from distillery.plant.keeping import add_recipe_version
from distillery.process.product_names import Outcome
from ledger.models import Balance
from tests.batches.results import LATER, made_under, outcome_in
from tests.batches.tiny_month import write_folder
from tests.batches.tiny_plant import gauge

Write = Callable[..., Record]

RECEIPT = {
    "received_at": "2027-03-02T10:00",
    "consignor": "Carrow Grain Spirits",
    "document": "27GBHM000000000000417",
    "lot": "NS-204",
    "spirit": "neutral spirit",
    "consignor_litres": "1000",
    "consignor_percent": "96.0",
    "tank": "VA",
    **gauge("tank_before", "0"),
    **gauge("tank_after", "1000", "96.0"),
}
CERTIFICATE = {
    "certificate": "C-88",
    "distilled_percent": "96.4",
    "origin": "agricultural",
    "base_material": "wheat",
    "methanol_g_per_hl": "4.2",
}
CHARGE = {
    "kind": "gin",
    "charged_at": "2027-03-04T08:00",
    "source": "VA",
    **gauge("source_before", "1000", "96.0"),
    **gauge("source_after", "750", "96.0"),
    "product_vessel": "GI",
    **gauge("product_before", "0"),
    **gauge("heads_tails_before", "0"),
}
GIN = {"legal_name": "London gin", "recipe": "No. 9", "baskets": "4", "charge_water_litres": "300"}
FINISH = {
    "ended_at": "2027-03-04T16:00",
    **gauge("product_after", "270", "80.0"),
    **gauge("heads_tails_after", "25", "75.0"),
}
TASTED = {"predominant_taste": "juniper", "sweetening_g_per_l": "0", "added": "water"}


def baskets(*weights: tuple[str, str, str, Sequence[str]]) -> list[dict[str, str]]:
    """A line for each lot and basket."""
    return [
        {"botanical_lot": lot, "botanical": name, "basket": str(place), "botanical_kg": kilograms}
        for lot, name, _, each in weights
        for place, kilograms in enumerate(each, start=1)
    ]


BOTANICALS = baskets(("J-71", "juniper", "", ["1.920"] * 4), ("C-12", "coriander seed", "", ["0.960"] * 4))


def outcomes(record: Record) -> dict[str, tuple[Outcome, str]]:
    """What each requirement came to and what was found, by its code."""
    return {line.cells[4].split(":")[0]: (outcome_in(line), line.cells[2]) for line in made_under(record, "What").lines}


def remarks(record: Record) -> list[str]:
    return [one.sentence for one in RecordAsWritten(record, sheet_of(record.kind)).remarks]


@pytest.fixture
def spirit(write: Write, manager: Person) -> Record:
    add_recipe_version(
        recipe="No. 9",
        botanicals=[("juniper", Decimal(32)), ("coriander seed", Decimal(16))],
        why="the first",
        person=manager,
    )
    return write("receipt_under_bond", "RB0001", **RECEIPT, **CERTIFICATE)


@pytest.fixture
def run(write: Write, spirit: Record) -> Record:
    return write("third_still_run", "TS0001", BOTANICALS, **CHARGE, **GIN)


@pytest.fixture
def steeped(write: Write, spirit: Record) -> Record:
    """960 LPA: the recipe's 30.72 kg of juniper for all of it, and no coriander seed."""
    return write(
        "maceration",
        "MC0001",
        [{"botanical_lot": "J-71", "botanical": "Juniper", "botanical_kg": "30.72"}],
        vessel="VA",
        recipe="No. 9",
        begun_at="2027-03-02T13:00",
        **gauge("before", "1000", "96.0"),
        ended_at="2027-03-03T13:00",
        **gauge("after", "985", "95.8"),
    )


def test_what_was_steeped_belongs_to_the_weights_of_the_run(write: Write, steeped: Record) -> None:
    coriander = baskets(("C-12", "coriander seed", "", ["0.958"] * 4))
    charge = {
        **CHARGE,
        **gauge("source_before", "985", "95.8"),
        **gauge("source_after", "735", "95.8"),
        "maceration": steeped.number,
    }
    run = write("third_still_run", "TS0001", coriander, **charge, **GIN)
    wanted = made_under(run, "Botanicals by the recipe")
    # 250 L at 95.8 % are 239.5 LPA: 32 g/LPA are 7.664 kg, and 30.72 kg × 239.5 / 960 were steeped.
    assert [head.label for head in wanted.heads][2] == "Steeped"
    assert wanted.lines[0].cells == ("juniper", "7.664", "7.664", "0.000", "", "0.0")
    assert wanted.lines[1].cells == ("coriander seed", "3.832", "", "0.958", "3.832", "0.0")
    assert "MC0001" in wanted.note
    assert [one for one in remarks(run) if "recipe" in one] == []


def test_what_neither_was_steeped_nor_is_in_a_basket_is_noted(write: Write, steeped: Record) -> None:
    levels = {**gauge("source_before", "985", "95.8"), **gauge("source_after", "735", "95.8")}
    run = write("third_still_run", "TS0001", **{**CHARGE, **levels, **GIN, "maceration": steeped.number})
    assert [one for one in remarks(run) if "juniper" in one] == []
    assert any("asks for 3.832 kg of coriander seed; none is written" in one for one in remarks(run))


def test_the_sheet_offers_the_weights_wanted(run: Record) -> None:
    wanted = made_under(run, "Botanicals by the recipe")
    assert [line.cells for line in wanted.lines] == [
        ("juniper", "7.680", "1.920", "7.680", "0.0"),
        ("coriander seed", "3.840", "0.960", "3.840", "0.0"),
        ("all", "11.520", "2.880", "11.520", "0.0"),
    ]
    assert "version 1" in wanted.note
    assert remarks(run) == []


def test_the_charge_and_its_load_at_still_strength(run: Record) -> None:
    litres, percent, lpa, load = (float(cell) for cell in made_under(run, "Charge").lines[0].cells[1:])
    # 250 litres at 96.0 % and 300 of water contract, to about 534; 11.52 kg are spread over them.
    assert 530 < litres < 540
    assert lpa == pytest.approx(240.0, abs=0.005)
    assert percent == pytest.approx(100 * 240 / litres, abs=0.01)
    assert load == pytest.approx(11_520 / litres, abs=0.06)


def test_a_new_version_leaves_the_batch_as_it_began(run: Record, manager: Person) -> None:
    add_recipe_version(recipe="No. 9", botanicals=[("juniper", Decimal(30))], why="less", person=manager)
    assert made_under(run, "Botanicals by the recipe").lines[0].cells[1] == "7.680"


def test_an_uneven_basket_is_named(write: Write, spirit: Record) -> None:
    # The published row P068: 3.00, 3.02, 2.98 and 2.90 kg, the fourth 2.52 % below their mean.
    rows = baskets(("J-71", "juniper", "", ["3.00", "3.02", "2.98", "2.90"]))
    record = write("third_still_run", "TS0001", rows, **CHARGE, **(GIN | {"recipe": "", "legal_name": ""}))
    assert "Basket 4 holds 2.900 kg, \N{MINUS SIGN}2.52 % of the mean." in remarks(record)
    assert [line.cells[3] for line in made_under(record, "Baskets").lines] == ["", "", "", "uneven"]


def test_weights_off_the_recipe_and_a_wrong_number_of_baskets(write: Write, spirit: Record) -> None:
    rows = baskets(("J-71", "juniper", "", ["1.80"] * 3), ("L-3", "lemon peel", "", ["0.1"] * 3))
    said = " ".join(remarks(write("third_still_run", "TS0001", rows, **CHARGE, **GIN)))
    assert "5.400 kg of juniper; recipe No. 9 asks for 7.680 kg" in said
    assert "lemon peel is not in recipe No. 9" in said
    assert "3.840 kg of coriander seed; none is written" in said
    assert "4 baskets, but weights are written for 3." in said


def test_one_lot_may_stand_in_each_basket_once(write: Write, spirit: Record) -> None:
    with pytest.raises(Unfit, match="Lot J-71 stands on line 1 already"):
        write("third_still_run", "TS0001", [BOTANICALS[0], BOTANICALS[0]], **CHARGE, **GIN)


def test_what_london_gin_needs(run: Record, write: Write) -> None:
    begun = outcomes(run)
    # The base is proven by its certificate before anything is distilled; the rest not yet.
    assert begun["E24a"] == (Outcome.PASS, "96.4 % vol")
    assert begun["E25"] == (Outcome.PASS, "4.2 g/hL")
    assert begun["E26"] == (Outcome.NOT_PROVEN, "not known")
    done = outcomes(write("third_still_run", "TS0001", (), **FINISH, **TASTED))
    assert done["E26"] == (Outcome.PASS, "80.0 % vol")
    assert {done[code][0] for code in ("E01b", "E24b", "E23a", "E27a", "E27b")} == {Outcome.PASS}
    # Nobody has bottled it.
    assert done["E28"][0] == Outcome.NOT_PROVEN


def test_hearts_below_seventy_are_no_london_gin(run: Record, write: Write) -> None:
    # The published row P071.
    record = write("third_still_run", "TS0001", (), **(FINISH | gauge("product_after", "310", "69.4")), **TASTED)
    assert outcomes(record)["E26"] == (Outcome.FAIL, "69.4 % vol: below 70.0 % vol")
    assert any(one.startswith("Hold: it may not be called London gin") for one in remarks(record))


def test_gin_of_own_new_make_is_no_distilled_gin(write: Write, opened: Callable[..., Record]) -> None:
    opened("VA", "1000", "96.0")
    charged = CHARGE | {"legal_name": "distilled gin"}
    record = write("third_still_run", "TS0001", BOTANICALS, **charged, **FINISH)
    # Stock that was there when the books opened: nobody has a certificate of it.
    found = outcomes(record)["E24a"]
    assert found[0] == Outcome.NOT_PROVEN
    low = write("receipt_under_bond", "RB0002", **(RECEIPT | LOW))
    assert low.number == "RB0002"
    second = write("third_still_run", "TS0002", BOTANICALS, **(charged | SECOND), **(FINISH | SECOND_END))
    assert outcomes(second)["E24a"] == (Outcome.FAIL, "94.5 % vol: below 96.0 % vol")


LOW = {
    "received_at": "2027-03-05T10:00",
    "tank": "BV",
    "lot": "NS-205",
    "document": "27GBHM000000000000418",
    "certificate": "C-89",
    "distilled_percent": "94.5",
    **gauge("tank_before", "0"),
    **gauge("tank_after", "1000", "94.0"),
    "consignor_percent": "94.0",
}
SECOND = {
    "charged_at": "2027-03-06T08:00",
    "source": "BV",
    **gauge("source_before", "1000", "94.0"),
    **gauge("source_after", "750", "94.0"),
    **gauge("product_before", "270", "80.0"),
    **gauge("heads_tails_before", "25", "75.0"),
}
SECOND_END = {
    "ended_at": "2027-03-06T16:00",
    **gauge("product_after", "534", "80.0"),
    **gauge("heads_tails_after", "49", "75.0"),
}


def test_vodka_rectified_to_ninety_six_needs_no_certificate(write: Write, opened: Callable[..., Record]) -> None:
    opened("VA", "1000", "96.0")
    vodka = {"kind": "vodka", "legal_name": "vodka"}
    record = write("third_still_run", "TS0001", **(CHARGE | vodka), **(FINISH | gauge("product_after", "225", "96.2")))
    assert outcomes(record)["E02"] == (Outcome.PASS, "96.2 % vol")
    assert outcomes(record)["E30"] == (Outcome.NOT_PROVEN, "not known")


def test_the_lot_of_the_spirit_travels_with_the_trace(run: Record, write: Write) -> None:
    write("third_still_run", "TS0001", (), **FINISH)
    forward = {(one.kind, one.record): one for one in trace_forward("NS-204")}
    assert forward["third_still_run", "TS0001"].share == pytest.approx(1.0)
    assert forward["vessel", "GI"].pure_ul / 1e6 == pytest.approx(216.0, abs=0.01)
    back = {(one.kind, one.record): one.share for one in trace_back("TS0001")}
    assert back["receipt_under_bond", "RB0001"] == pytest.approx(1.0)


def test_charcoal_says_how_much_it_has_treated(write: Write, spirit: Record) -> None:
    vodka = CHARGE | {"kind": "vodka", "charcoal_lot": "CH-7", "charcoal_kg": "5"}
    first = write("third_still_run", "TS0001", **vodka, **(FINISH | gauge("product_after", "225", "96.2")))
    assert made_under(first, "Charcoal").lines[0].cells == ("CH-7", "1", "240.0")
    again = {
        "charged_at": "2027-03-06T08:00",
        "charcoal_kg": "",
        **gauge("source_before", "750", "96.0"),
        **gauge("source_after", "500", "96.0"),
        **gauge("product_before", "225", "96.2"),
        **gauge("heads_tails_before", "25", "75.0"),
    }
    second = write("third_still_run", "TS0002", **(vodka | again))
    assert made_under(second, "Charcoal").lines[0].cells == ("CH-7", "2", "480.0")


def test_another_product_without_a_changeover_is_asked_about(run: Record, write: Write, staff: Person) -> None:
    write("third_still_run", "TS0001", (), **FINISH)
    vodka = {
        **CHARGE,
        "kind": "vodka",
        "charged_at": "2027-03-05T08:00",
        **gauge("source_before", "750", "96.0"),
        **gauge("source_after", "500", "96.0"),
        **gauge("product_before", "270", "80.0"),
        **gauge("heads_tails_before", "25", "75.0"),
    }

    def charge(sure: Sequence[str] = ()) -> Record:
        return recording.save("third_still_run", "TS0002", vodka, person=staff, sure=sure)

    with pytest.raises(Asked) as asked:
        charge()
    about = next(one for one in asked.value.questions if one.field == "kind")
    assert "still TS was last charged for gin (TS0001) and no changeover is written since" in about.sentence
    others = [one.key for one in asked.value.questions if one.field != "kind"]
    write(
        "changeover",
        "CO0001",
        at="2027-03-04T20:00",
        from_product="gin",
        to_product="vodka",
        cleaned_with="neutral spirit",
        cleaned="pot, column, condenser and safe",
        checked_clear="clear",
        checked_by="Isla",
    )
    assert charge(others).number == "TS0002"


def test_what_is_kept_of_a_question_stands_on_the_record(run: Record, write: Write, staff: Person) -> None:
    write("third_still_run", "TS0001", (), **FINISH)
    vodka = CHARGE | {"kind": "vodka", "charged_at": "2027-03-05T08:00", "product_vessel": "BV"}
    vodka |= gauge("source_before", "750", "96.0") | gauge("source_after", "500", "96.0")
    vodka |= gauge("heads_tails_before", "25", "75.0")
    with pytest.raises((Asked, Unfit)) as refused:
        recording.save("third_still_run", "TS0002", vodka | {"product_vessel": "GI"}, person=staff, sure=())
    assert isinstance(refused.value, Asked)
    keys = [one.key for one in refused.value.questions]
    record = recording.save("third_still_run", "TS0002", vodka | {"product_vessel": "GI"}, person=staff, sure=keys)
    assert any("no changeover is written" in one for one in remarks(record))


def test_only_runs_of_the_same_product_are_usual(write: Write, spirit: Record) -> None:
    left = 1000
    for day, kind in enumerate(("gin", "vodka", "gin", "vodka"), start=4):
        charged = CHARGE | {"kind": kind, "charged_at": f"2027-03-0{day}T08:00"}
        charged |= gauge("source_before", str(left), "96.0") | gauge("source_after", str(left - 100), "96.0")
        left -= 100
        ended = FINISH | {"ended_at": f"2027-03-0{day}T16:00"}
        write("third_still_run", f"TS000{day}", **charged, **ended)
    last = Record.objects.get(number="TS0007")
    usual = usual_of(runs_of([last]))[last.pk]
    assert [one.record.number for one in usual.runs] == ["TS0005"]


def test_pages_say_it(run: Record, write: Write, browser_of: Callable[[Person], Client], staff: Person) -> None:
    write("third_still_run", "TS0001", (), **FINISH, **TASTED)
    browser = browser_of(staff)
    page = browser.get("/records/third_still_run/TS0001/").content.decode()
    for words in ("Botanicals by the recipe", "What London gin needs", "Not proven", "Annex II(22)"):
        assert words in page
    assert browser.get("/records/third_still_run/TS0001/record.pdf").content[:4] == b"%PDF"
    assert browser.get("/records/third_still_run/new/").status_code == 200


def test_what_was_weighed_at_the_charge_counts_while_the_finish_is_written(
    run: Record, browser_of: Callable[[Person], Client], staff: Person
) -> None:
    page = browser_of(staff).get("/records/third_still_run/TS0001/complete/").content.decode()
    assert "7.680" in page
    assert "juniper, coriander seed" in page


def test_it_comes_in_a_table(db: None, tmp_path: Path) -> None:
    given = {"run": "TS0001"} | CHARGE | {"source": "V1", "product_vessel": "G1", "recipe": "No. 3", "baskets": "2"}
    given |= gauge("source_before", "1279", "64.9") | gauge("source_after", "1029", "64.9")
    given |= {f"{prefix}_hydrometer_percent": "" for prefix in ("product_before", "heads_tails_before")}
    given |= FINISH | gauge("product_after", "170", "80.0") | gauge("heads_tails_after", "30", "75.0")
    given |= {"charged_at": "2027-03-05T07:00", "ended_at": "2027-03-05T15:00"}
    columns = [*given, *BOTANICALS[0]]
    rows = [",".join([*given.values(), *line.values()]) for line in BOTANICALS[:2]]
    folder = write_folder(tmp_path, third_still_runs="\n".join([",".join(columns), *rows, ""]))
    load_folder(folder)
    record = Record.objects.get(number="TS0001")
    assert len(RecordAsWritten(record, sheet_of(record.kind)).rows) == 2
    assert Balance.objects.get(account__code="vessel:G1").balance_ul > 0


def test_strength_stands_against_litres_over_runs_of_the_same_product(write: Write, spirit: Record) -> None:
    """Eight hours of gin: heads and tails took 25 L in 2 of 8 hours, the product 270 L in 6."""
    cuts = {
        "product_on_at": "2027-03-04T09:00",
        "product_on_percent": "85",
        "product_off_at": "2027-03-04T15:00",
        "product_off_percent": "60",
    }
    record = write("third_still_run", "TS0001", BOTANICALS, **{**CHARGE, **GIN, **cuts, **FINISH, **TASTED})
    sheet = sheet_of(record.kind)
    assert sheet.pictures is not None
    (plot,) = sheet.pictures(as_it_stands(RecordAsWritten(record, sheet), Site()), LATER)
    (line,) = plot.lines
    # 12.5 L of heads until the first cut, 282.5 L by the second.
    assert [point[0] for point in line.points] == pytest.approx([12.5, 282.5], abs=0.1)
    assert [point[1] for point in line.points] == [85.0, 60.0]
    assert [mark.at for mark in plot.marks] == pytest.approx([12.5, 282.5], abs=0.1)
