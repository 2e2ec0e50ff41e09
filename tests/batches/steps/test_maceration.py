"""A maceration, worked by hand on the plain plant: a litre a millimetre, everything read at 20 °C.

1,000 litres at 50.0 % vol are 500 litres of pure alcohol; 985 litres at 49.8 % vol are 490.53. So 9.47 are missing,
1.894 % of the contents before. The recipe and all figures are invented.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from django.test import Client

from batches.loading.load_folder import load_folder
from batches.models import Record
from batches.records import recording
from batches.sheets.typed.read_sheet import Unfit
from batches.tracing.trace import trace_back, trace_forward
from distillery.people.models import Person
from distillery.plant.keeping import add_recipes
from distillery.plant.models import Recipe
from distillery.rules.models import LossCause, ReviewThreshold
from ledger.models import Balance, Leg, Movement
from ledger.statements.month import month_account
from tests.batches.tiny_month import write_folder
from tests.batches.tiny_plant import gauge

Write = Callable[..., Record]

BEGUN = {"vessel": "GI", "begun_at": "2027-03-02T09:00", "recipe": "No. 9", **gauge("before", "1000", "50.0")}
DRAINED = {"ended_at": "2027-03-03T09:00", **gauge("after", "985", "49.8")}
BOTANICALS = [
    {"botanical_lot": "J-71", "botanical": "juniper", "botanical_kg": "10.00"},
    {"botanical_lot": "C-12", "botanical": "coriander seed", "botanical_kg": "4.00"},
]
TABLE = """\
maceration,vessel,begun_at,recipe,before_dip_mm,before_celsius,before_hydrometer_percent,ended_at,after_dip_mm,\
after_celsius,after_hydrometer_percent,botanical_lot,botanical,botanical_kg
MC0001,V1,2027-03-05T07:00,,1279,20,64.9,2027-03-05T19:00,1270,20,64.8,J-71,juniper,12.0
MC0001,V1,2027-03-05T07:00,,1279,20,64.9,2027-03-05T19:00,1270,20,64.8,C-12,coriander seed,5.0
"""


def legs(number: str, moment: str = "") -> dict[str, float]:
    """What a record's entries did to each account, litres of pure alcohol to a tenth of a millilitre."""
    found: dict[str, int] = {}
    entries = Leg.objects.filter(movement__record_number=number)
    if moment:
        entries = entries.filter(movement__moment=moment)
    for code, pure_ul in entries.values_list("account__code", "pure_ul"):
        found[code] = found.get(code, 0) + pure_ul
    return {code: round(pure_ul / 1e6, 4) for code, pure_ul in found.items() if pure_ul}


@pytest.fixture
def spirit(opened: Callable[..., Record]) -> Record:
    _recipe()
    return opened("GI", "1000", "50.0")


def _recipe() -> None:
    """20 and 8 grams for each litre of pure alcohol: 10 and 4 kg with 500 litres."""
    add_recipes(
        [
            Recipe(recipe="No. 9", botanical="juniper", milligrams_per_lpa=20_000),
            Recipe(recipe="No. 9", botanical="coriander seed", milligrams_per_lpa=8_000),
        ]
    )


@pytest.fixture
def steeped(write: Write, spirit: Record) -> Record:
    return write("maceration", "MC0001", BOTANICALS, **BEGUN, **DRAINED)


def test_what_is_missing_is_its_difference(steeped: Record) -> None:
    assert legs("MC0001", "begun") == {}
    assert legs("MC0001", "drained") == {"vessel:GI": -9.47, "difference:maceration": 9.47}
    assert Balance.objects.get(account__code="vessel:GI").balance_ul / 1e6 == pytest.approx(490.53, abs=1e-4)
    account = month_account("2027-03")
    assert dict(account.differences) == {"difference, maceration": pytest.approx(9_470_000, abs=200)}
    assert account.foots


def test_it_is_judged_against_the_contents_before(steeped: Record) -> None:
    movement = Movement.objects.get(record_number="MC0001", moment="drained")
    assert movement.judged_against == "contents before"
    assert (movement.judged_ul or 0) / 1e6 == pytest.approx(500.0, abs=1e-4)
    rule = ReviewThreshold.objects.get(operation="maceration")
    # 1.894 % lies inside the threshold of 2.9 %, and within the usual 0 to 2 %.
    assert rule.usual_millionths - rule.usual_half_width_millionths <= 18_940 <= rule.threshold_millionths
    assert rule.source
    assert LossCause.objects.get(name="wet botanicals").source


def test_figures_travel_with_it(steeped: Record) -> None:
    movement = Movement.objects.get(record_number="MC0001", moment="drained")
    found = {one.name: one for one in movement.figures.all()}
    assert found["botanicals for each litre"].value_millionths / 1e6 == pytest.approx(28.0, abs=1e-3)
    assert found["time steeped"].value_millionths / 1e6 == 24.0
    strength = found["strength after steeping"]
    assert strength.value_millionths / 1e6 == pytest.approx(49.8, abs=1e-4)
    assert (strength.expected_millionths or 0) / 1e6 == pytest.approx(50.0, abs=1e-4)


def test_it_is_written_in_two_goes_and_holds_its_vessel_meanwhile(write: Write, spirit: Record) -> None:
    record = write("maceration", "MC0001", BOTANICALS, **BEGUN)
    assert record.happened_to is None
    with pytest.raises(Unfit, match="GI holds maceration MC0001, which began Tue 2 Mar 2027 09:00"):
        write("maceration", None, BOTANICALS, **(BEGUN | {"begun_at": "2027-03-02T10:00"}))
    assert write("maceration", "MC0001", (), **DRAINED).happened_to is not None
    assert legs("MC0001") == {"vessel:GI": -9.47, "difference:maceration": 9.47}


def test_nothing_steeps_in_no_time(write: Write, spirit: Record) -> None:
    with pytest.raises(Unfit, match="say when the botanicals came out"):
        write("maceration", None, BOTANICALS, **BEGUN, **(DRAINED | {"ended_at": BEGUN["begun_at"]}))
    assert not Leg.objects.filter(movement__operation="maceration").exists()


def test_each_lot_stands_once(write: Write, spirit: Record) -> None:
    with pytest.raises(Unfit, match="Lot J-71 stands on line 1 already"):
        write("maceration", None, [BOTANICALS[0], BOTANICALS[0]], **BEGUN)


@pytest.mark.parametrize(
    ("rows", "sentence"),
    [
        (BOTANICALS[:1], "Recipe No. 9 asks for 4.00 kg of coriander seed; none is written."),
        (
            [BOTANICALS[0] | {"botanical_kg": "9.5"}, BOTANICALS[1]],
            "9.50 kg of juniper; recipe No. 9 asks for 10.00 kg with this spirit.",
        ),
        (
            [*BOTANICALS, {"botanical_lot": "M-1", "botanical": "bog myrtle", "botanical_kg": "0.5"}],
            "bog myrtle is not in recipe No. 9.",
        ),
    ],
)
def test_weights_beside_the_recipe(write: Write, spirit: Record, rows: list[dict[str, str]], sentence: str) -> None:
    record = write("maceration", None, rows, **BEGUN, **DRAINED)
    assert sentence in record.versions.get().notes


def test_weights_that_meet_the_recipe_are_passed_over(steeped: Record) -> None:
    assert steeped.versions.get().notes == "[]"


def test_a_corrected_dip_moves_the_difference(steeped: Record, staff: Person) -> None:
    recording.correct(steeped, {"after_dip_mm": "995"}, person=staff, reason="read again", sure=True)
    # 995 litres at 49.8 % vol are 495.51.
    assert legs("MC0001") == {"vessel:GI": -4.49, "difference:maceration": 4.49}


def test_a_trace_leads_through_it(write: Write, steeped: Record) -> None:
    moved = write(
        "transfer",
        "TR0001",
        at="2027-03-04T09:00",
        from_vessel="GI",
        to_vessel="BV",
        **gauge("from_before", "985", "49.8"),
        **gauge("to_before", "0"),
        **gauge("from_after", "0"),
        **gauge("to_after", "985", "49.8"),
    )
    assert {(one.kind, one.record) for one in trace_back(moved.number)} >= {("maceration", "MC0001")}
    assert {one.record for one in trace_back("MC0001")} == {"OV0001"}
    # By the number of a botanical's lot as well.
    assert {one.record for one in trace_forward("J-71")} >= {"TR0001", "BV"}


def test_form_page_list_print_and_find_follow(
    spirit: Record, staff: Person, browser_of: Callable[[Person], Client]
) -> None:
    here = browser_of(staff)
    form = here.get("/records/maceration/new/").content.decode()
    assert "catches fire at room temperature" in form
    assert "use the hoist" in form
    assert "Static can light spirit vapour" in form
    lines = {f"line-{number}-{name}": text for number, row in enumerate(BOTANICALS) for name, text in row.items()}
    answer = here.post("/records/maceration/new/", {**BEGUN, **DRAINED, **lines, "lines": "2"}, follow=True)
    record = Record.objects.get(kind="maceration")
    assert answer.redirect_chain[-1][0] == f"/records/maceration/{record.number}/"
    page = answer.content.decode()
    assert "juniper" in page
    assert "9.47" in page
    assert record.number in here.get("/records/maceration/").content.decode()
    assert here.get(f"/records/maceration/{record.number}/record.pdf").content.startswith(b"%PDF")
    assert here.get("/records/maceration/blank-sheet.pdf").content.startswith(b"%PDF")
    assert record.number in here.get("/find/", {"q": "J-71"}, follow=True).content.decode()


def test_a_month_s_table_is_loaded(db: None, tmp_path: Path) -> None:
    folder = write_folder(tmp_path, macerations=TABLE, cask_fills=None, stock_take=None)
    assert load_folder(folder).records["maceration"] == 1
    # 1279 litres at 64.9 % vol are 830.071, 1270 at 64.8 are 822.96.
    assert legs("MC0001", "drained") == {"vessel:V1": -7.111, "difference:maceration": 7.111}
    assert load_folder(folder).records == {}
