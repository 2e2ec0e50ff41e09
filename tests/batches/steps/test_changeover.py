"""A changeover of the third still, worked by hand on the plain plant: what was left in it and where it went.

12 litres at 20.0 % vol drained with the rinse are 2.4 litres of pure alcohol; 10 litres more at 50.0 % vol in the tank
of heads and tails are 5. Names and figures are invented.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from django.test import Client

from batches.distilling.facts import period_facts
from batches.distilling.periods import all_periods
from batches.distilling.yields import Yield
from batches.loading.load_folder import load_folder
from batches.models import Record, State
from batches.pages.records.shown import RecordAsWritten
from batches.records import recording
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import Unfit
from batches.steps import sheet_of
from distillery.pages import LOOK, Fact
from distillery.people.models import Person
from ledger.models import Leg, Movement
from ledger.statements.month import month_account
from tests.batches.tiny_month import write_folder
from tests.batches.tiny_plant import gauge

Write = Callable[..., Record]

DONE = {
    "at": "2027-03-04T20:00",
    "still": "TS",
    "from_product": "gin",
    "to_product": "vodka",
    "cleaned_with": "hot water",
    "cleaned": "pot, column, condenser and safe",
    "charcoal": "none in",
    "baskets": "emptied and cleaned",
    "checked_clear": "clear",
    "checked_by": "Isla Fenn",
}


def legs(number: str) -> dict[str, float]:
    """What a record's entries did to each account, litres of pure alcohol."""
    found: dict[str, int] = {}
    for code, pure_ul in Leg.objects.filter(movement__record_number=number).values_list("account__code", "pure_ul"):
        found[code] = found.get(code, 0) + pure_ul
    return {code: round(pure_ul / 1e6, 3) for code, pure_ul in found.items() if pure_ul}


def test_what_drains_away_is_a_known_loss_that_was_found_first(write: Write, plain_plant: None) -> None:
    write("changeover", "CO0001", **DONE, residue_litres="12", residue_percent="20.0")
    assert legs("CO0001") == {"loss:cleaning": 2.4, "difference:changeover": -2.4}
    movement = Movement.objects.get(record_number="CO0001")
    assert movement.judged_against == "what was left in the still"
    assert month_account("2027-03").foots


def test_what_is_pumped_away_is_gauged_where_it_went(write: Write, opened: Callable[..., Record]) -> None:
    opened("HT", "100", "50.0")
    pumped = gauge("residue_to_before", "100", "50.0") | gauge("residue_to_after", "110", "50.0")
    write("changeover", "CO0001", **DONE, residue_to="HT", **pumped)
    assert legs("CO0001") == {"vessel:HT": 5.0, "difference:changeover": -5.0}


def test_nothing_left_posts_nothing_and_is_remarked_on(write: Write, plain_plant: None) -> None:
    record = write("changeover", "CO0001", **DONE)
    assert legs("CO0001") == {}
    assert record.state == State.COMPLETE
    said = [one.sentence for one in RecordAsWritten(record, sheet_of("changeover")).remarks]
    assert said == ["Nothing is written of what was left in the still."]


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        ({"residue_litres": "12"}, "write both, or leave both blank"),
        ({"residue_to": "HT"}, "gauge the vessel the residue went to"),
        ({"to_product": "Gin"}, "which it was charged for already"),
    ],
)
def test_what_is_refused(write: Write, plain_plant: None, more: dict[str, str], sentence: str) -> None:
    with pytest.raises(Unfit, match=sentence):
        write("changeover", "CO0001", **(DONE | more))


def test_a_rinse_that_was_not_clear_is_remarked_on(write: Write, plain_plant: None) -> None:
    record = write("changeover", "CO0001", **(DONE | {"checked_clear": "not clear"}))
    said = [one.sentence for one in RecordAsWritten(record, sheet_of("changeover")).remarks]
    assert any("clean again before another product is charged" in one for one in said)


def test_page_list_print_and_blank_sheet(
    write: Write, plain_plant: None, browser_of: Callable[[Person], Client], staff: Person
) -> None:
    write("changeover", "CO0001", **DONE, residue_litres="12", residue_percent="20.0")
    browser = browser_of(staff)
    assert "pot, column, condenser and safe" in browser.get("/records/changeover/CO0001/").content.decode()
    assert "CO0001" in browser.get("/records/changeover/").content.decode()
    assert browser.get("/records/changeover/CO0001/record.pdf").content[:4] == b"%PDF"
    assert browser.get("/records/changeover/blank-sheet.pdf").content[:4] == b"%PDF"
    assert browser.get("/records/changeover/new/").status_code == 200


def test_it_comes_in_a_table(db: None, tmp_path: Path) -> None:
    given = {"changeover": "CO0001"} | DONE | {"still": "TS"}
    given |= {"residue_litres": "12", "residue_percent": "20.0"}
    cells = [f'"{one}"' for one in given.values()]
    folder = write_folder(tmp_path, changeovers=f"{','.join(given)}\n{','.join(cells)}\n")
    load_folder(folder)
    assert legs("CO0001") == {"loss:cleaning": 2.4, "difference:changeover": -2.4}


def test_a_period_ends_at_a_changeover_and_says_what_came_after_it(
    write: Write, opened: Callable[..., Record], staff: Person
) -> None:
    for vessel, litres, percent in (("VA", "1000", "96.0"), ("HT", "100", "50.0"), ("GI", "0", "")):
        opened(vessel, litres, percent)
    write(
        "distillation_period",
        "DP0001",
        spirit_class="other",
        opened_at="2027-03-03T06:00",
        feints_receiver="HT",
        **gauge("feints_open", "100", "50.0"),
    )

    def run(number: str, kind: str, at: str, source: tuple[str, str]) -> None:
        write(
            "third_still_run",
            number,
            kind=kind,
            charged_at=at,
            source="VA",
            **gauge("source_before", source[0], "96.0"),
            **gauge("source_after", source[1], "96.0"),
            product_vessel="GI",
            **gauge("product_before", "0"),
            **gauge("heads_tails_before", "100", "50.0"),
        )

    def facts() -> dict[str, Fact]:
        return {one.label: one for one in period_facts(Yield(all_periods()[0], Site()))}

    run("TS0001", "gin", "2027-03-04T08:00", ("1000", "900"))
    recording.save(
        "third_still_run",
        "TS0001",
        {
            "ended_at": "2027-03-04T16:00",
            **gauge("product_after", "100", "85.0"),
            **gauge("heads_tails_after", "112", "52.0"),
        },
        person=staff,
        sure=True,
    )
    assert "Changeover of TS, CO0001" not in facts()
    write("changeover", "CO0001", **DONE)
    found = facts()["Changeover of TS, CO0001"]
    assert (found.note, found.state) == ("gin to vodka; the period ends with it", None)
    run("TS0002", "vodka", "2027-03-05T08:00", ("900", "800"))
    found = facts()["Changeover of TS, CO0001"]
    assert found.note.startswith("gin to vodka; 1 run charged after it")
    assert found.state == LOOK
