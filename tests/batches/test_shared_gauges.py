"""A gauge that is another one where it is left blank: asked once, posted once, counted once.

Worked by hand on the plain plant: a litre a millimetre, everything read at 20 °C. Wash strength is drop × factor by
HMRC Excise Notice 226. Other figures are invented. Litres of pure alcohol.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from batches.models import Record
from batches.pages.common import record_or_404
from batches.pages.records.measured import gauges_table
from batches.pages.records.posted import books_of
from batches.pages.records.printed import record_sheet
from batches.records import recording
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import Unfit
from distillery.people.models import Person
from ledger.comparing.model.equations import equations_of
from ledger.comparing.observations.from_ledger import log_of
from ledger.models import Gauge, Movement

from .posted_steps import SPIRIT_CHARGE, SPIRIT_FINISH, _every_movement_balances, about, book, fermented, legs
from .tiny_plant import gauge

__all__ = ["_every_movement_balances", "fermented"]

Write = Callable[..., Record]
ONCE = {name: text for name, text in SPIRIT_CHARGE.items() if not name.startswith("feints_receiver_before")}
WASH = {
    "still": "WS",
    "fermentation": "FE0001",
    "washback": "WB",
    "charged_at": "2027-03-04T12:00",
    "washback_after_dip_mm": "0",
    "receiver": "LW",
    **gauge("receiver_before", "100", "25.0"),
}
WASH_END = {
    "ended_at": "2027-03-04T18:00",
    **gauge("receiver_after", "412", "25.0"),
    "pot_ale_litres": "700",
    "pot_ale_percent": "0.1",
}


def test_the_feints_after_charging_are_the_feints_before_the_run(write: Write, opened: Callable[..., Record]) -> None:
    opened("LW", "1000", "24.0")
    opened("FE", "500", "36.0")
    write("spirit_run", "SR0001", **ONCE)
    charged = (240.0 - 10.0) + (180.0 - 7.2)
    assert legs("SR0001") == about(vessel__LW=-230.0, vessel__FE=-172.8, vessel__SS=charged)
    assert not Gauge.objects.filter(name="feints_receiver_before").exists()
    write("spirit_run", "SR0001", **SPIRIT_FINISH)
    spirit, feints, lees = 196.0, 201.6 - 7.2, 0.3
    assert legs("SR0001", "finish") == about(
        vessel__SS=-charged,
        vessel__SP=spirit,
        vessel__FE=feints,
        loss__spent_lees=lees,
        difference__spirit_run=charged - spirit - feints - lees,
    )


def test_the_washback_before_charging_is_the_one_that_was_declared(
    write: Write, fermented: Record, opened: Callable[..., Record]
) -> None:
    opened("LW", "100", "25.0")
    write("wash_run", "WR0001", **WASH)
    assert legs("WR0001") == about(vessel__WB=-81.84, vessel__WS=81.84)
    write("wash_run", "WR0001", **WASH_END)
    finish = Movement.objects.get(record_number="WR0001", moment="finish")
    assert finish.judged_ul == pytest.approx(81_840_000, abs=100)
    assert finish.judged_parts == '{"final@FE0001": 1, "washback_after": -1}'


def test_a_part_charge_takes_its_temperature_from_the_fermentation_too(
    write: Write, fermented: Record, opened: Callable[..., Record]
) -> None:
    opened("LW", "100", "25.0")
    write("wash_run", "WR0001", **WASH | {"washback_after_dip_mm": "400"})
    assert legs("WR0001") == about(vessel__WB=-600 * 0.08184, vessel__WS=600 * 0.08184)
    after = Gauge.objects.get(name="washback_after")
    assert '"column":"final_celsius"' in after.chain
    assert '"final_celsius":"20"' in after.raw


def test_the_charge_follows_when_the_fermentation_is_put_right(
    write: Write, fermented: Record, opened: Callable[..., Record], staff: Person
) -> None:
    opened("LW", "100", "25.0")
    write("wash_run", "WR0001", **WASH)
    write("wash_run", "WR0001", **WASH_END)
    recording.correct(fermented, {"final_dip_mm": "990"}, person=staff, reason="misread the rod")
    charge = 990 * 0.08184
    assert legs("WR0001", "charge") == about(vessel__WB=-charge, vessel__WS=charge)
    assert book("WB") == pytest.approx(0.0, abs=1e-4)
    assert book("WS") == pytest.approx(0.0, abs=1e-4)


def test_the_comparison_counts_a_shared_gauge_once(
    write: Write, fermented: Record, opened: Callable[..., Record]
) -> None:
    opened("LW", "100", "25.0")
    write("wash_run", "WR0001", **WASH)
    write("wash_run", "WR0001", **WASH_END)
    lines = {line.key: line for line in equations_of(log_of("2027-03"))}
    balance = lines["operation:WR0001"]
    [final] = [term for term in balance.terms if "FE0001" in term.quantity]
    assert final.factor == 1.0
    assert [term.factor for term in balance.charge if "FE0001" in term.quantity] == [1.0]
    # Nothing is found at a gauge that was not taken.
    assert not [key for key in lines if key.startswith("continuity") and "WB" in key]


def test_a_washback_that_was_drawn_from_since_is_gauged_again(
    write: Write, fermented: Record, opened: Callable[..., Record]
) -> None:
    opened("LW", "100", "25.0")
    write("wash_run", "WR0001", **WASH | {"washback_after_dip_mm": "400"})
    write("wash_run", "WR0001", **WASH_END)
    again = WASH | {"charged_at": "2027-03-05T08:00", **gauge("receiver_before", "412", "25.0")}
    with pytest.raises(Unfit, match="WB was gauged last by WR0001, not by FE0001; write its gauge before charging"):
        write("wash_run", "WR0002", **again)
    write("wash_run", "WR0002", **again | {"washback_before_dip_mm": "398", "washback_before_celsius": "20"})
    assert legs("WR0002")["vessel:WS"] == pytest.approx(398 * 0.08184, abs=1e-4)


def test_half_a_gauge_is_neither_one(write: Write, opened: Callable[..., Record]) -> None:
    opened("LW", "1000", "24.0")
    opened("FE", "500", "36.0")
    with pytest.raises(Unfit, match="Feints receiver before the run: dip is blank; write it, or leave the whole gauge"):
        write("spirit_run", "SR0001", **ONCE | {"feints_receiver_before_celsius": "20"})


def test_its_page_and_print_show_the_gauge_with_whose_record_it_is(
    write: Write, fermented: Record, opened: Callable[..., Record], staff: Person
) -> None:
    opened("LW", "100", "25.0")
    write("wash_run", "WR0001", **WASH)
    # 1,000 litres at 8.184 % vol: drop × factor, HMRC Excise Notice 226; then 990 of them.
    assert _washback_before("WR0001") == ("1000", "1000.0", "81.84")
    recording.correct(fermented, {"final_dip_mm": "990"}, person=staff, reason="misread the rod")
    assert _washback_before("WR0001") == ("990", "990.0", "81.02")
    recording.void(Record.objects.get(number="WR0001"), person=staff, reason="written twice")
    assert _washback_before("WR0001") is None


def _washback_before(run: str) -> tuple[str, ...] | None:
    """Dip, litres and pure alcohol of the shared gauge, as both have it; None where neither does."""
    written = record_or_404("wash_run", run)
    table = gauges_table(written, books_of(written.record, written.sheet, Site()).measured)
    heads = [one.label for one in table.columns] if table else []
    of_page = [[cell.text for cell in row.cells] for row in table.rows] if table else []
    printed = record_sheet(written).run
    assert printed is not None
    of_paper = [[str(cell) for cell in row] for row in printed.measured.rows] if printed.measured else []
    assert of_paper == of_page
    found = [row for row in of_page if row[0] == "Washback before, gauge of FE0001"]
    assert len(found) <= 1
    return tuple(found[0][heads.index(one)].replace(",", "") for one in ("Dip", "Volume", "Alcohol")) if found else None
