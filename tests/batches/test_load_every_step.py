"""Every step of the registry loaded from its tables to a finished record, its figures held against sums by hand.

The tables are those that are written in the browser from empty books (`tests.journeys.every_step`): everything at 20 °C
in vessels of a litre a millimetre, so that pure alcohol is millimetres × strength / 100, and that of wash litres × drop
of gravity in degrees × 0.132 (HMRC Notice 226, section 30.3, drops of 57.2 to 67.9). All figures are invented.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from django.core.management import call_command

from batches.loading.load_folder import load_folder
from batches.loading.outcome import BadRows
from batches.models import Reading, Record, State
from batches.records.versions import typed_of
from batches.steps import STEPS
from distillery.alcoholometry.gauging.gauge import gauge_by_weight
from ledger.models import Balance, Gauge, MeasuredFlow
from tests.journeys.every_step import write_log, write_plant
from tests.journeys.week import Act, What, acts_of, parsed

pytestmark = pytest.mark.django_db


PARTS = ("dip_mm", "hydrometer_percent", "original_gravity", "final_gravity", "gross_kg", "tare_kg", "litres")
BY_HAND: dict[str, Callable[[dict[str, float]], float]] = {
    "dip": lambda read: read["dip_mm"] * read.get("hydrometer_percent", 0.0) / 100,
    "wash dip": lambda read: (
        read["dip_mm"] * (read["original_gravity"] - read["final_gravity"]) * 1000 * 0.132 / 100
        if read["dip_mm"]
        else 0.0
    ),
    "volume": lambda read: read["litres"] * read["hydrometer_percent"] / 100,
    # OIML R 22, as `gauge_by_weight` works it.
    "weight": lambda read: (
        gauge_by_weight(
            gross_kg=read["gross_kg"],
            tare_kg=read["tare_kg"],
            celsius=20.0,
            hydrometer_percent=read["hydrometer_percent"],
        ).lpa
    ),
}


@pytest.fixture
def acts(tmp_path: Path) -> list[Act]:
    """What the tables say, once they are loaded."""
    folder = write_plant(tmp_path / "month")
    log = write_log(tmp_path / "whole")
    for file in log.iterdir():
        file.replace(folder / "log" / file.name)
    try:
        load_folder(folder)
    except BadRows as bad:
        pytest.fail("; ".join(f"{one}" for one in bad.bad))
    return acts_of(folder / "log", until=parsed("2027-04-01T00:00"), opening=True)


def apart(written: dict[str, str], kept: dict[str, str]) -> list[str]:
    """What was written and is not kept as it was."""
    return [f"{name} is {kept.get(name)!r} for {value!r}" for name, value in written.items() if kept.get(name) != value]


def test_from_tables_to_finished_records(acts: list[Act], capsys: pytest.CaptureFixture[str]) -> None:
    each_stands_as_it_was_written(acts)
    each_gauge_is_what_a_sum_by_hand_makes_of_it()
    each_book_is_its_last_gauge()
    call_command("verify_ledger", verbosity=1)
    assert "broken" not in capsys.readouterr().out.casefold()


def each_stands_as_it_was_written(acts: list[Act]) -> None:
    written = {act.sheet.kind for act in acts}
    assert written == {sheet.kind for sheet in STEPS if not sheet.in_plant}
    for kind in written:
        assert Record.objects.filter(kind=kind, state=State.COMPLETE).exists(), kind
    for act in acts:
        record = record_of(act)
        if act.what == What.READING:
            read = Reading.objects.filter(record=record)
            assert set(act.values.items()) <= set(read.values_list("quantity", "value")), f"{act.record}: {act.values}"
            continue
        values, rows = typed_of(record.versions.latest("serial"))
        for typed, kept in [(act.values, values), *zip(act.rows, rows, strict=False)]:
            assert not apart(typed, kept), f"{record.number}: {'; '.join(apart(typed, kept))}"


def record_of(act: Act) -> Record:
    """By its number, or where a table has none by what it is of."""
    of_kind = Record.objects.filter(kind=act.sheet.kind)
    if act.sheet.number_column:
        return of_kind.get(number=act.record)
    own = {name: act.values[name] for name in act.sheet.identity if name in act.values}
    [found] = [one for one in of_kind if not apart(own, typed_of(one.versions.latest("serial"))[0])]
    return found


def each_gauge_is_what_a_sum_by_hand_makes_of_it() -> None:
    measured = [*Gauge.objects.all(), *MeasuredFlow.objects.all()]
    for one in measured:
        read = {name: float(text) for name, text in json.loads(one.raw).items()}
        by_hand = BY_HAND.get(one.method)
        if by_hand is not None:
            parts = {next((part for part in PARTS if name.endswith(part)), name): value for name, value in read.items()}
            said = f"{one.movement.record_number} {one.name}: {one.raw}"
            assert one.pure_ul / 1e6 == pytest.approx(by_hand(parts), abs=2e-6), said
    assert BY_HAND.keys() <= {one.method for one in measured}


def each_book_is_its_last_gauge() -> None:
    last = {one.account_id: one for one in Gauge.objects.order_by("happened_at", "position")}
    books = dict(Balance.objects.values_list("account__code", "balance_ul"))
    held = {one.account.code: one.pure_ul for one in last.values()}
    assert len(held) > 8
    # One cask was emptied after it was gauged, one left; half a litre was drawn from the vat as a sample.
    held |= {"vessel:1/20": 0, "vessel:9/19": 0, "vessel:X1": held["vessel:X1"] - 500_000 * 641 // 1000}
    assert {code: books[code] for code in held} == held
