"""What leaves bond and what comes back, worked by hand on the plain plant: a litre a millimetre, all read at 20 °C.

Duty: the worked checks of an excise reference of November 2026, from the published rates (GOV.UK, Alcohol Duty rates:
32.79 a litre above 22 % to 31 January 2026, 33.99 from 1 February 2026), strength cut down to one decimal (Alcoholic
products technical guide, section 11), part-pence dropped (HMRC, published description of the figures the return
carries). Consignees, numbers and goods are invented.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from batches.awaited import awaited
from batches.models import Record, State
from batches.pages.records.printed_books import duty_section, standing_of
from batches.pages.records.shown import RecordAsWritten
from batches.pages.results import results_of
from batches.records import recording
from batches.sheets.register import sheet_of
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import Unfit, read_so_far
from distillery.clock.reading import books_now
from distillery.people.models import Person
from distillery.rules.names import duties
from ledger.models import Account, Duty, Leg
from ledger.proof.proving import prove
from ledger.statements.month import month_account
from tests.batches.results import made_of, made_under
from tests.batches.tiny_plant import gauge

Write = Callable[..., Record]
pytestmark = pytest.mark.django_db
GIN = {"product": "gin", "bottle_centilitres": "70", "label_percent": "40.0"}
BOND = {
    "kind": "under bond",
    "consignee": "Carrow Bonded Stores, Low Quay, Harrowmere",
    "consignee_approval": "GBWK000000417",
    "movement_reference": "27GB0000000000000HM17",
    "guarantee": "HM-G-3",
    "product_code": "S200",
}
HOME = {"kind": "home use"}
WEIGHED = {"tare_kg": "50", "gross_kg": "230", "celsius": "20", "hydrometer_percent": "60"}


def in_stock(write: Write, day: str = "2025-01-01", bottles: str = "1000", **label: str) -> None:
    write("opening_bottled_stock", at=f"{day}T06:00", bottles=bottles, **{**GIN, **label})


def full_cask(write: Write, code: str = "C1", dip: str = "1000") -> None:
    write("opening_stock", vessel="VA", at="2027-03-01T06:00", **gauge("gauge", dip, "60"))
    litres = 180.0 / 0.909  # what 180 kg come to, near enough for the vat to fall by
    after = f"{float(dip) - litres:.0f}"
    write(
        "cask_fill",
        "CF0001",
        [{"cask": code, **WEIGHED}],
        at="2027-03-02T06:00",
        vat="VA",
        **gauge("vat_before", dip, "60"),
        **gauge("vat_after", after, "60"),
    )


def said(unfit: pytest.ExceptionInfo[Unfit]) -> dict[str, str]:
    return {one.field: one.sentence for one in unfit.value.problems}


def legs(number: str) -> dict[str, float]:
    found: dict[str, int] = {}
    for code, pure_ul in Leg.objects.filter(movement__record_number=number).values_list("account__code", "pure_ul"):
        found[code] = found.get(code, 0) + pure_ul
    return {code: round(pure_ul / 1e6, 3) for code, pure_ul in found.items() if pure_ul}


def _printed_duty(record: Record) -> Any:
    section = duty_section(standing_of(RecordAsWritten(record, sheet_of(record.kind))))
    assert section is not None
    assert section.table is not None
    return section.table.rows


# -- duty


@pytest.mark.parametrize(
    ("day", "bottles", "percent", "lpa", "pence"),
    [
        ("2026-11-02", "120", "40.0", 33_600_000, 114_206),  # 33.6000 at 33.99: 1142.064
        ("2026-01-31", "600", "43.0", 180_600_000, 592_187),  # 180.6000 at 32.79: 5921.874
        ("2026-02-01", "600", "43.0", 180_600_000, 613_859),  # 180.6000 at 33.99: 6138.594
    ],
)
def test_bottles_bear_the_duty_of_the_day_they_leave(
    write: Write, day: str, bottles: str, percent: str, lpa: int, pence: int
) -> None:
    in_stock(write, label_percent=percent)
    write("removal", at=f"{day}T09:00", kind="home use", **{**GIN, "label_percent": percent, "bottles": bottles})
    duty = Duty.objects.get()
    assert (duty.tax_type, duty.pure_ul, duty.pence) == ("345", lpa, pence)


def test_bulk_without_a_label_bears_its_measured_strength_cut_down(write: Write) -> None:
    """812 litres at 57.8 % shown: 469.336 LPA at 33.99 are 15952.73064 pounds, part-pence dropped."""
    write("opening_stock", vessel="VA", at="2026-10-01T06:00", **gauge("gauge", "900", "57.86"))
    record = write(
        "bulk_removal",
        at="2026-11-02T09:00",
        vessel="VA",
        kind="home use",
        **gauge("vessel_before", "900", "57.86"),
        **gauge("vessel_after", "88", "57.86"),
    )
    duty = Duty.objects.get()
    assert (duty.percent_millionths, duty.pure_ul, duty.pence) == (57_800_000, 469_336_000, 1_595_273)
    assert legs(record.number) == {"vessel:VA": -469.823, "removal:home use": 469.823}


def test_the_duty_is_shown_before_it_is_saved_and_afterwards_once(write: Write) -> None:
    """120 bottles: 84.00 litres, 33.6000 LPA at 33.99: 1,142.06 pounds."""
    in_stock(write)
    typed = {**GIN, "at": "2026-11-02T09:00", "kind": "home use", "bottles": "120"}
    found = {
        one.heading: one.lines for one in results_of(read_so_far(sheet_of("removal"), typed, site=Site()), books_now())
    }
    [line] = found["Duty"]
    assert line.cells[:6] == ("120 bottles of gin, 70 cl at 40 %", "345", "40.0", "33.6000", "33.99", "1,142.06")
    [line] = found["What leaves"]
    assert line.cells[1:] == ("84.00", "40.00", "33.600")
    record = write("removal", None, **{name: text for name, text in typed.items() if name != "kind"}, **HOME)
    assert "Duty" not in [one.heading for one in made_of(record)]
    [row] = _printed_duty(record)
    assert row[:6] == ("home use", "345", "40.0", "33.6000", "33.99", "1,142.06")


def test_no_duty_where_none_falls_due(write: Write) -> None:
    in_stock(write)
    record = write("removal", at="2026-11-02T09:00", kind="export", bottles="120", **GIN)
    assert not Duty.objects.exists()
    assert "Duty" not in [one.heading for one in made_of(record)]


def test_a_constructive_removal_bears_duty_and_leaves_the_stock_account(write: Write) -> None:
    """Goods stay, duty falls due (technical guide, section 24)."""
    in_stock(write)
    with pytest.raises(Unfit) as unfit:
        write("removal", at="2026-11-02T09:00", kind="constructive removal", bottles="120", **GIN)
    assert said(unfit)["stays_at"].startswith("Where the goods stay, duty paid is blank, but the goods stay")
    kept = {"kind": "constructive removal", "stays_at": "shop store, bay 2"}
    record = write("removal", at="2026-11-02T09:00", bottles="120", **GIN, **kept)
    assert legs(record.number) == {"stock:gin/70/40": -33.6, "removal:constructive removal": 33.6}
    [line] = month_account("2026-11").removals
    assert (line.kind, line.pence) == ("constructive removal", 114_206)
    assert month_account("2026-11").foots


# -- casks and bulk


def test_a_cask_leaves_by_its_last_gauge_with_all_its_book_holds(write: Write) -> None:
    full_cask(write)
    held = Account.objects.get(code="vessel:C1").balance.balance_ul
    record = write("cask_removal", None, [{"cask": "C1"}], at="2027-03-05T09:00", kind="export", document="EX-1")
    assert Account.objects.get(code="vessel:C1").balance.balance_ul == 0
    assert legs(record.number)["removal:export"] == round(held / 1e6, 3)
    [line] = made_under(record, "What leaves").lines
    assert line.cells[0] == "Cask C1, by its last gauge"
    assert line.cells[2] == "60.00"
    assert prove().broken == []


def test_a_weighed_cask_is_brought_to_its_weighing_first(write: Write) -> None:
    full_cask(write)
    weighed = {"cask": "C1", **WEIGHED, "gross_kg": "229"}
    record = write("cask_removal", None, [weighed], at="2027-03-05T09:00", kind="export", document="EX-1")
    found = legs(record.number)
    # 179 kg of 60 % vol are 196.7 litres at 0.9096 kg a litre (OIML R 22): 118.0 LPA.
    assert found["removal:export"] == pytest.approx(118.0, abs=0.3)
    assert found.get("loss:evaporation in cask", 0) + found.get("difference:cask removal", 0) == pytest.approx(
        0.66, abs=0.02
    )
    assert Account.objects.get(code="vessel:C1").balance.balance_ul == 0
    assert month_account("2027-03").foots


def test_half_a_weighing_is_refused(write: Write) -> None:
    full_cask(write)
    with pytest.raises(Unfit) as unfit:
        write("cask_removal", None, [{"cask": "C1", "gross_kg": "230"}], at="2027-03-05T09:00", kind="export")
    assert said(unfit) == {
        "tare_kg": "Tare is blank, but gross is written; a weighing needs all its readings.",
    }


def test_an_empty_cask_cannot_leave(write: Write) -> None:
    with pytest.raises(Unfit) as unfit:
        write("cask_removal", None, [{"cask": "C1"}], at="2027-03-05T09:00", kind="export")
    assert said(unfit) == {"cask": "Cask C1 is empty in the books at that time; nothing can leave it."}


def test_a_vessel_that_holds_as_much_after_gave_nothing(write: Write, opened: Write) -> None:
    opened("VA", "900", "60")
    with pytest.raises(Unfit) as unfit:
        write(
            "bulk_removal",
            at="2027-03-05T09:00",
            vessel="VA",
            kind="export",
            **gauge("vessel_before", "900", "60"),
            **gauge("vessel_after", "900", "60"),
        )
    assert said(unfit) == {
        "vessel_after_dip_mm": "VA holds 540.00 LPA after and 540.00 LPA before, so nothing left it; check both gauges."
    }


def test_more_bottles_than_there_are_do_not_leave(write: Write) -> None:
    in_stock(write, bottles="100")
    with pytest.raises(Unfit) as unfit:
        write("removal", at="2026-11-02T09:00", kind="home use", bottles="101", **GIN)
    assert said(unfit) == {
        "bottles": "Bottles is 101, but there are 100 bottles of gin, 70 cl at 40 % in bond at that time."
    }


# -- under bond


@pytest.mark.parametrize(
    ("left_out", "sentence"),
    [
        (
            "consignee",
            "Name and address of the consignee is blank, but a movement under bond names who receives it "
            "(SI 2010/593; SI 1988/809, Schedule 2)",
        ),
        (
            "consignee_approval",
            "Consignee's approval number is blank, but only who is approved may receive goods under bond (SI 2010/593)",
        ),
        (
            "movement_reference",
            "Movement reference is blank, but goods under bond travel with their movement document "
            "(SI 2010/593; Excise Notice 197)",
        ),
        (
            "guarantee",
            "Guarantee is blank, but the duty on goods under way is secured "
            "(SI 1988/809, Schedule 2; technical guide, section 8)",
        ),
        (
            "product_code",
            "Excise product code is blank, but the movement document says what the goods are "
            "(SI 2010/593; Excise Notice 197)",
        ),
    ],
)
def test_under_bond_each_missing_paper_is_refused_by_name(write: Write, left_out: str, sentence: str) -> None:
    in_stock(write)
    papers = {name: text for name, text in BOND.items() if name != left_out}
    with pytest.raises(Unfit) as unfit:
        write("removal", at="2026-11-02T09:00", bottles="60", **GIN, **papers)
    assert said(unfit) == {left_out: f"{sentence}. Write it, or choose what else it left for than under bond."}


def test_all_that_is_missing_is_said_at_once_to_whoever_writes_on_a_page(write: Write, staff: Person) -> None:
    in_stock(write)
    values = {"at": "2026-11-02T09:00", "bottles": "60", "kind": "under bond", **GIN}
    with pytest.raises(Unfit) as unfit:
        recording.save("removal", None, values, person=staff, sure=frozenset())
    assert set(said(unfit)) == set(BOND) - {"kind"}


def test_a_log_that_keeps_no_papers_is_taken_in_and_its_record_says_what_is_missing(write: Write) -> None:
    in_stock(write)
    record = write("removal", at="2026-11-02T09:00", bottles="60", kind="under bond", **GIN)
    assert record.state == State.COMPLETE
    assert legs(record.number)["removal:under bond"] == pytest.approx(16.8)


def test_papers_of_another_kind_of_removal_are_refused(write: Write) -> None:
    in_stock(write)
    with pytest.raises(Unfit) as unfit:
        write("removal", at="2026-11-02T09:00", bottles="60", kind="home use", authority="D-1", **GIN)
    assert said(unfit) == {
        "authority": "Authority to destroy is written, but it left for home use; leave it blank, or choose destroyed "
        "under witness."
    }


@pytest.fixture
def sent(write: Write) -> Record:
    """60 bottles, 16.8 LPA, sent on Thursday 4 March 2027."""
    in_stock(write)
    return write("removal", "RM0001", at="2027-03-04T09:00", bottles="60", **GIN, **BOND)


def test_a_movement_under_bond_waits_for_its_report(write: Write, sent: Record) -> None:
    assert (sent.state, sent.happened_to) == (State.OPEN, None)
    record = write("removal", "RM0001", reported_at="2027-03-09T15:00", report_reference="R-1", bottles_arrived="60")
    assert record.state == State.COMPLETE
    assert record.happened_to == datetime(2027, 3, 9, 15, tzinfo=UTC)
    assert [line.cells for line in made_under(record, "Sent and arrived").lines] == [
        ("Sent", "16.800"),
        ("Arrived, as reported", "16.800"),
        ("Shortage", "0.000"),
    ]
    assert prove().broken == []


def test_what_went_for_home_use_waits_for_nothing(write: Write) -> None:
    in_stock(write)
    record = write("removal", "RM0001", at="2026-11-02T09:00", kind="home use", bottles="60", **GIN)
    assert record.state == State.COMPLETE
    with pytest.raises(Unfit) as unfit:
        write("removal", "RM0001", reported_at="2026-11-09T15:00")
    assert said(unfit) == {
        "reported_at": "Reported at is written, but movement reference or place of exit is blank; the report from the "
        "other end comes only with that."
    }
    assert prove().broken == []


def test_bottles_that_did_not_arrive_need_a_reason(write: Write, sent: Record) -> None:
    report = {"reported_at": "2027-03-09T15:00", "bottles_arrived": "54"}
    with pytest.raises(Unfit) as unfit:
        write("removal", "RM0001", **report)
    assert said(unfit) == {
        "difference_reason": "1.68 LPA (10.00 %) less arrived than was sent, beyond the review threshold: write the "
        "reason that is given for it, or that none is known, and tell the officer."
    }
    record = write("removal", "RM0001", **report, difference_reason="one case broken in the lorry")
    assert record.state == State.COMPLETE
    assert made_under(record, "Sent and arrived").lines[-1].cells == ("Shortage", "1.680")


def test_five_business_days_are_counted_over_the_weekend() -> None:
    """Within 5 business days: from memory; SI 2010/593. From Thursday 4 March 2027 that is Thursday the 11th."""
    [first, _] = duties("removal", date(2027, 3, 4), "under bond")
    assert first.by_day(date(2027, 3, 4)) == date(2027, 3, 11)


@pytest.mark.parametrize(("day", "overdue"), [(11, False), (12, True)])
def test_a_report_is_overdue_after_its_last_day(sent: Record, day: int, overdue: bool) -> None:
    [one] = awaited(datetime(2027, 3, day, 8, tzinfo=UTC))
    assert (one.record, one.last_day, one.is_overdue) == (sent, date(2027, 3, 11), overdue)
    states = [line.state for line in made_of(sent, datetime(2027, 3, day, 8, tzinfo=UTC))[2].lines]
    assert (states[0] is not None) is overdue


def test_what_is_reported_is_awaited_no_more(write: Write, sent: Record) -> None:
    write("removal", "RM0001", reported_at="2027-03-09T15:00", bottles_arrived="60")
    assert awaited(datetime(2027, 5, 1, tzinfo=UTC)) == []


def test_an_export_with_its_place_of_exit_waits_for_its_proof(write: Write) -> None:
    in_stock(write)
    kept = {"kind": "export", "document": "EX-1", "consignee": "Low Quay Traders", "place_of_exit": "Harrowmere Quay"}
    record = write("removal", "RM0001", at="2027-03-04T09:00", bottles="60", **GIN, **kept)
    assert record.state == State.OPEN
    [one] = awaited(datetime(2028, 1, 1, tzinfo=UTC))
    assert (one.last_day, one.is_overdue) == (None, False)


def test_a_reference_of_another_length_is_kept_and_noted(write: Write) -> None:
    in_stock(write)
    record = write("removal", at="2027-03-04T09:00", bottles="60", **GIN, **{**BOND, "movement_reference": "HM17"})
    assert "Movement reference has 4 characters" in record.versions.get().notes


# -- destroyed under witness


@pytest.mark.parametrize("kind", ["removal", "cask_removal", "bulk_removal"])
def test_what_is_destroyed_counts_once_a_second_person_has_agreed(
    write: Write, staff: Person, manager: Person, kind: str
) -> None:
    full_cask(write)
    in_stock(write, "2027-03-01")
    base = {"at": "2027-03-05T09:00", "kind": "destroyed under witness"}
    what: dict[str, Any] = {
        "removal": ((), {**GIN, "bottles": "60"}),
        "cask_removal": ([{"cask": "C1"}], {}),
        "bulk_removal": (
            (),
            {"vessel": "VA", **gauge("vessel_before", "802", "60"), **gauge("vessel_after", "700", "60")},
        ),
    }[kind]
    with pytest.raises(Unfit) as unfit:
        recording.save(kind, None, {**base, **what[1]}, what[0], person=staff, sure=frozenset())
    assert set(said(unfit)) == {"authority", "witness"}
    record = write(kind, None, what[0], **base, **what[1], authority="HM-D-4", witness="the officer of the day")
    assert record.state == State.WAITING
    assert legs(record.number) == {}
    recording.countersign(record, manager)
    record.refresh_from_db()
    assert (record.state, record.second) == (State.COMPLETE, manager)
    assert legs(record.number)["removal:destroyed under witness"] > 0
    assert prove().broken == []


# -- what comes back


RETURN = {
    "at": "2027-03-09T09:00",
    **GIN,
    "bottles": "12",
    "status": "under bond",
    "came_from": "Carrow Bonded Stores, Low Quay, Harrowmere",
    "document": "RT-1",
    "reason": "wrong label",
    "condition": "spoilt",
    "spoilt_bottles": "5",
}


def test_returned_bottles_come_back_into_stock(write: Write) -> None:
    record = write("return_inward", "RI0001", **RETURN)
    assert legs("RI0001") == {"source:returned inward under bond": -3.36, "stock:gin/70/40": 3.36}
    assert [line.cells for line in made_of(record)[0].lines] == [
        ("Came back", "12", "8.40", "40.0", "3.360"),
        ("Of these spoilt", "5", "3.50", "40.0", "1.400"),
    ]
    assert month_account("2027-03").foots


@pytest.mark.parametrize(
    ("changed", "field", "sentence"),
    [
        (
            {"status": "duty paid, drawback claimed"},
            "drawback_reference",
            "Reference of the claim is blank; goods whose duty was paid come back into suspension only beside a claim "
            "to drawback. Write its reference, or that they come under bond.",
        ),
        ({"spoilt_bottles": "13"}, "spoilt_bottles", "Of these spoilt is 13, but 12 bottles came back."),
        ({"reason": ""}, "reason", "Reason is blank; it is needed for the return."),
    ],
)
def test_a_return_that_cannot_be(write: Write, changed: dict[str, str], field: str, sentence: str) -> None:
    with pytest.raises(Unfit) as unfit:
        write("return_inward", **{**RETURN, **changed})
    assert said(unfit) == {field: sentence}


def test_spoilt_bottles_are_reprocessed_into_a_vat(write: Write, opened: Write) -> None:
    """60 bottles are 16.8 LPA: 42 litres at 40.0 %; the vat gains 41, so 0.4 are missing."""
    opened("GI", "500", "40")
    in_stock(write, "2027-03-01", "60")
    record = write(
        "reprocessing",
        at="2027-03-09T09:00",
        bottles="60",
        reason="haze",
        vat="GI",
        **GIN,
        **gauge("vat_before", "500", "40"),
        **gauge("vat_after", "541", "40"),
    )
    assert legs(record.number) == {
        "stock:gin/70/40": -16.8,
        "vessel:GI": 16.4,
        "difference:reprocessing": 0.4,
    }


@settings(max_examples=4, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    moves=st.lists(
        st.tuples(st.sampled_from(["home use", "export", "samples", "back"]), st.integers(1, 90)), max_size=4
    )
)
def test_what_leaves_and_comes_back_is_what_the_stock_lacks(plain_plant: None, staff: Person, moves: Any) -> None:
    """Bottles at first less those that left and with those that came back are those that are there; none below none."""
    label = {**GIN, "product": "sloe gin"}

    def save(step: str, /, **values: str) -> Record:
        return recording.save(step, None, values, person=staff, sure=True)

    with transaction.atomic():
        save("opening_bottled_stock", at="2027-03-01T06:00", bottles="100", **label)
        there, at = 100, datetime(2027, 3, 2, 6)
        for way, bottles in moves:
            at += timedelta(hours=1)
            when = {"at": f"{at:%Y-%m-%dT%H:%M}", "bottles": str(bottles)}
            if way == "back":
                save("return_inward", **{**RETURN, **label, "spoilt_bottles": "", **when})
                there += bottles
                continue
            if bottles > there:
                with pytest.raises(Unfit):
                    save("removal", kind=way, **label, **when)
                continue
            save("removal", kind=way, **label, **when)
            there -= bottles
        stock = Account.objects.get(code="stock:sloe gin/70/40")
        assert stock.balance.balance_ul == there * stock.bottle_pure_ul
        assert month_account("2027-03").foots
        transaction.set_rollback(True)
