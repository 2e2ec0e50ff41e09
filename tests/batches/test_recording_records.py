"""Records from opening to correction: two goes, numbers without gaps, what a correction does to the books."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

from batches.models import Posted, Reading, Record, State, Version
from batches.records import recording
from batches.sheets.typed.read_sheet import Unfit
from distillery.people.models import Person
from ledger.enquiries.following import deferred
from ledger.models import Balance, Leg, Movement
from ledger.proof.proving import prove

from .posted_steps import CASKS, FILL, SPIRIT_CHARGE, SPIRIT_FINISH, legs
from .tiny_plant import gauge

Write = Callable[..., Record]


@pytest.fixture
def charged(write: Write, opened: Callable[..., Record]) -> Record:
    with deferred():
        opened("LW", "1000", "24.0")
        opened("FE", "500", "36.0")
        return write("spirit_run", None, **SPIRIT_CHARGE)


def net(number: str, code: str) -> float:
    pure = Leg.objects.filter(movement__record_number=number, account__code=code).values_list("pure_ul", flat=True)
    return sum(pure) / 1e6


def test_a_run_is_saved_in_two_goes(charged: Record, write: Write) -> None:
    assert (charged.number, charged.state, charged.happened_to) == ("SR0001", State.OPEN, None)
    done = write("spirit_run", "SR0001", **SPIRIT_FINISH)
    assert done.pk == charged.pk
    assert done.state == State.COMPLETE
    versions = Version.objects.filter(record=done).order_by("serial")
    assert [version.serial for version in versions] == [1, 2]
    assert json.loads(versions[1].values)["low_wines_before_dip_mm"] == "1000"
    assert [posted.moment for posted in Posted.objects.filter(record=done).order_by("pk")] == ["charge", "finish"]
    assert Movement.objects.get(moment="finish").record_digest == versions[1].digest


def test_a_cut_is_written_before_the_run_ends(charged: Record, write: Write) -> None:
    write("spirit_run", "SR0001", spirit_on_at="2027-03-05T09:00", cut_on_percent="75")
    write("spirit_run", "SR0001", spirit_on_at="2027-03-05T09:05")
    assert Record.objects.get(number="SR0001").state == State.OPEN
    assert Posted.objects.filter(record=charged).count() == 1


def test_what_is_in_the_books_is_not_saved_over(charged: Record, write: Write) -> None:
    with pytest.raises(Unfit) as refused:
        write("spirit_run", "SR0001", low_wines_before_dip_mm="990")
    [problem] = refused.value.problems
    assert problem.field == "low_wines_before_dip_mm"
    assert problem.sentence == (
        "Low wines before: dip of SR0001 is in the books as 1000; correct it on its page, with a reason."
    )


def test_saving_the_same_again_changes_nothing(charged: Record, write: Write) -> None:
    write("spirit_run", "SR0001", **SPIRIT_CHARGE)
    assert Version.objects.filter(record=charged).count() == 1


def test_numbers_run_without_gaps(write: Write, opened: Callable[..., Record]) -> None:
    opened("VA", "1000", "60")
    take = {
        "from_vessel": "VA",
        "to_vessel": "SP",
        **gauge("from_before", "1000", "60"),
        **gauge("to_before", "0"),
        **gauge("from_after", "900", "60"),
        **gauge("to_after", "100", "60"),
    }
    assert write("transfer", None, at="2027-03-02T06:00", **take).number == "TR0001"
    with pytest.raises(Unfit):
        write("transfer", None, at="2027-03-02T06:00", **{**take, "to_after_dip_mm": "9999"})
    assert write("transfer", None, at="2027-03-02T07:00", **take).number == "TR0002"
    assert write("transfer", "TR0010", at="2027-03-02T08:00", **take).number == "TR0010"
    assert write("transfer", None, at="2027-03-02T09:00", **take).number == "TR0011"


def test_a_number_of_another_kind_is_refused(charged: Record, write: Write) -> None:
    with pytest.raises(Unfit, match="SR0001 is the number of a spirit run; take another"):
        write("transfer", "SR0001", at="2027-03-02T06:00")


def test_a_time_without_its_day_is_kept_with_it(plain_plant: None, staff: Person) -> None:
    from datetime import date

    values = {"vessel": "VA", "at": "06:10", **gauge("gauge", "1000", "60")}
    record = recording.save("opening_stock", None, values, person=staff, day=date(2027, 3, 1))
    assert json.loads(Version.objects.get(record=record).values)["at"] == "2027-03-01T06:10"


class TestCorrecting:
    def test_the_opposite_and_the_new_entry(self, charged: Record, write: Write, staff: Person) -> None:
        write("spirit_run", "SR0001", **SPIRIT_FINISH)
        before = net("SR0001", "difference:spirit run")
        recording.correct(charged, {"spirit_after_dip_mm": "290"}, person=staff, reason="read again")
        assert net("SR0001", "difference:spirit run") == pytest.approx(before - 7.0, abs=1e-4)
        kinds = list(Movement.objects.filter(moment="finish").order_by("id").values_list("kind", flat=True))
        assert kinds == ["operation", "correction", "operation"]
        newest = Version.objects.filter(record=charged).latest("serial")
        assert (newest.serial, newest.reason) == (3, "read again")
        assert prove().broken == []

    def test_a_charge_put_right_moves_the_difference_of_its_finish(
        self, charged: Record, write: Write, staff: Person
    ) -> None:
        write("spirit_run", "SR0001", **SPIRIT_FINISH)
        before = net("SR0001", "difference:spirit run")
        recording.correct(charged, {"low_wines_after_dip_mm": "80"}, person=staff, reason="misread")
        assert net("SR0001", "difference:spirit run") == pytest.approx(before - 10.0, abs=1e-4)
        assert Balance.objects.get(account__code="vessel:SS").balance_ul == 0

    def test_what_was_not_posted_is_only_a_version(self, charged: Record, write: Write, staff: Person) -> None:
        write("spirit_run", "SR0001", **SPIRIT_FINISH)
        movements = Movement.objects.count()
        recording.correct(charged, {"spirit_off_at": "2027-03-05T11:30"}, person=staff, reason="slip of the pen")
        assert Movement.objects.count() == movements
        assert Version.objects.filter(record=charged).count() == 3

    @pytest.mark.parametrize(
        ("values", "reason", "sentence"),
        [
            ({"low_wines_after_dip_mm": "80"}, " ", "Reason is blank; say why, it is kept beside both figures."),
            ({"low_wines_after_dip_mm": "40"}, "x", "Nothing is different from what stands on SR0001."),
            ({"low_wines_after_dip_mm": "9999"}, "x", "outside the table of LW, which runs from 0 to 5000 mm"),
            ({"charged_at": ""}, "x", "Charged at is blank"),
        ],
    )
    def test_refused(self, charged: Record, staff: Person, values: dict[str, str], reason: str, sentence: str) -> None:
        movements = Movement.objects.count()
        with pytest.raises(Unfit) as refused:
            recording.correct(charged, values, person=staff, reason=reason)
        assert any(sentence in problem.sentence for problem in refused.value.problems)
        assert Movement.objects.count() == movements

    def test_the_finish_of_a_posted_run_cannot_be_left_blank(
        self, charged: Record, write: Write, staff: Person
    ) -> None:
        write("spirit_run", "SR0001", **SPIRIT_FINISH)
        with pytest.raises(Unfit, match="is in the books, so its time cannot be left blank; void the record"):
            recording.correct(charged, {"ended_at": ""}, person=staff, reason="x")

    def test_gravities_put_right_move_the_wash_runs_charged_by_them(
        self, write: Write, opened: Callable[..., Record], staff: Person
    ) -> None:
        write("intake", "M001", received_at="2027-03-01T06:00", kilograms="10000")
        write("mash", "MA0001", started_at="2027-03-01T06:00", malt_lot="M001", grist_kg="500")
        fermentation = write(
            "fermentation",
            "FE0001",
            mash="MA0001",
            washback="WB",
            pitched_at="2027-03-01T11:00",
            original_gravity="1.0600",
            ended_at="2027-03-04T11:00",
            final_gravity="0.9980",
            final_dip_mm="1000",
            final_celsius="20",
        )
        opened("LW", "100", "25.0")
        run = write(
            "wash_run",
            "WR0001",
            still="WS",
            fermentation="FE0001",
            washback="WB",
            charged_at="2027-03-04T12:00",
            washback_before_dip_mm="1000",
            washback_before_celsius="20",
            washback_after_dip_mm="0",
            receiver="LW",
            **gauge("receiver_before", "100", "25.0"),
            ended_at="2027-03-04T18:00",
            **gauge("receiver_after", "420", "25.0"),
            pot_ale_litres="700",
            pot_ale_percent="0.1",
        )
        # 62 degrees at 0.132 make 81.84 litres; 60 degrees at 0.132 make 79.20 (HMRC Excise Notice 226).
        assert net("WR0001", "difference:wash run") == pytest.approx(81.84 - 80.0 - 0.7, abs=1e-4)
        recording.correct(fermentation, {"final_gravity": "1.0000"}, person=staff, reason="misread")
        assert net("FE0001", "source:fermentation") == pytest.approx(-79.2, abs=1e-4)
        assert net("WR0001", "difference:wash run") == pytest.approx(79.2 - 80.0 - 0.7, abs=1e-4)
        assert net("WR0001", "difference:gauging:WB") == pytest.approx(0, abs=1e-4)
        newest = Version.objects.filter(record=run).latest("serial")
        assert newest.reason == "Worked out from FE0001, which was put right: misread"
        assert Balance.objects.get(account__code="vessel:WS").balance_ul == 0
        assert prove().broken == []

    def test_a_filling_put_right_moves_what_a_regauge_found(self, write: Write, staff: Person) -> None:
        cask = write(
            "opening_cask", number="C1", filled_at="2026-03-06T02:00", tare_kg="50", gross_kg="230", percent="63.5"
        )
        write(
            "regauge",
            "RG0001",
            at="2027-03-06T08:00",
            cask="C1",
            tare_kg="50",
            gross_kg="220",
            celsius="20",
            hydrometer_percent="63.0",
        )
        recording.correct(cask, {"gross_kg": "222"}, person=staff, reason="misread")
        booked = legs("RG0001")
        assert "difference:regauge" not in booked
        assert booked["loss:evaporation in cask"] == pytest.approx(-booked["vessel:C1"], abs=1e-6)

    def test_a_filling_written_late_moves_what_a_regauge_after_it_found(self, write: Write, staff: Person) -> None:
        write("opening_cask", number="C1", filled_at="2025-03-06T02:00", tare_kg="50", gross_kg="230", percent="63.5")
        weighing: dict[str, str] = {"tare_kg": "50", "celsius": "20", "hydrometer_percent": "63.0", "cask": "C1"}
        write("regauge", "RG0002", at="2027-03-06T08:00", gross_kg="222", **weighing)
        before = net("RG0002", "loss:evaporation in cask")
        early = {"at": "2026-03-06T08:00", "gross_kg": "227.5", **weighing}
        recording.save("regauge", "RG0001", early, person=staff, sure=True)
        # What the first regauge booked is no longer the second one's to book, which is judged from the first one on.
        booked = net("RG0001", "loss:evaporation in cask") + net("RG0002", "loss:evaporation in cask")
        assert booked + net("RG0002", "difference:regauge") == pytest.approx(before, abs=1e-4)
        assert booked < before
        assert prove().broken == []


class TestStockTakes:
    ROWS = ({"vessel": "VA", **gauge("gauge", "1010", "60.0")},)

    @pytest.fixture
    def waiting(self, opened: Callable[..., Record], staff: Person) -> Record:
        opened("VA", "1000", "60.0")
        return recording.save("stock_take", None, {"at": "2027-03-31T06:00"}, self.ROWS, person=staff)

    def test_waits_for_a_second_person(self, waiting: Record) -> None:
        assert waiting.state == State.WAITING
        assert not Posted.objects.filter(record=waiting).exists()

    def test_is_posted_with_both(self, waiting: Record, manager: Person, staff: Person) -> None:
        record = recording.countersign(waiting, manager)
        assert record.state == State.COMPLETE
        movement = Posted.objects.get(record=record).movement
        assert (movement.person, movement.second) == (staff, manager)
        assert net(record.number, "vessel:VA") == pytest.approx(6.0, abs=1e-4)

    def test_not_by_the_one_who_gauged(self, waiting: Record, staff: Person) -> None:
        with pytest.raises(Unfit, match="someone else has to agree"):
            recording.countersign(waiting, staff)

    def test_not_by_one_who_may_not_write(self, waiting: Record, officer: Person) -> None:
        with pytest.raises(Unfit, match="may not write, so cannot agree"):
            recording.countersign(waiting, officer)

    def test_not_twice(self, waiting: Record, manager: Person) -> None:
        recording.countersign(waiting, manager)
        with pytest.raises(Unfit, match="is not waiting for a second person"):
            recording.countersign(waiting, manager)

    def test_can_be_put_right_while_it_waits(self, waiting: Record, staff: Person, manager: Person) -> None:
        rows = [{"vessel": "VA", **gauge("gauge", "1001", "60.0")}]
        recording.correct(waiting, {}, rows, person=staff, reason="misread")
        recording.countersign(Record.objects.get(pk=waiting.pk), manager)
        assert net(waiting.number, "vessel:VA") == pytest.approx(0.6, abs=1e-4)


class TestVoiding:
    def test_takes_a_record_out_of_the_books_and_keeps_its_number(
        self, write: Write, opened: Callable[..., Record], staff: Person
    ) -> None:
        opened("VA", "1000", "63.5")
        fill = write("cask_fill", "CF0001", CASKS, **FILL)
        recording.void(fill, person=staff, reason="written twice")
        fill.refresh_from_db()
        assert fill.state == State.VOID
        assert legs("CF0001") == {}
        assert write("cask_fill", None, CASKS, **FILL).number == "CF0002"
        assert prove().broken == []

    def test_not_while_others_name_it(self, write: Write, staff: Person) -> None:
        lot = write("intake", "M001", received_at="2027-03-01T06:00", kilograms="10000")
        write("mash", "MA0001", started_at="2027-03-01T06:00", malt_lot="M001", grist_kg="500")
        with pytest.raises(Unfit, match="M001 is named by MA0001; correct those first"):
            recording.void(lot, person=staff, reason="x")

    def test_bottles_that_have_left_hold_their_bottling(
        self, write: Write, opened: Callable[..., Record], staff: Person
    ) -> None:
        opened("BV", "500", "41.4")
        stock: dict[str, str] = {"product": "gin", "bottle_centilitres": "70", "label_percent": "41.4"}
        bottling = write(
            "bottling",
            "BO0001",
            at="2027-03-08T08:00",
            vat="BV",
            lot_code="L1",
            bottles="600",
            **stock,
            **gauge("vat_before", "500", "41.4"),
            **gauge("vat_after", "78", "41.4"),
        )
        leave = {**stock, "kind": "export", "at": "2027-03-09T08:00", "bottles": "60"}
        recording.save("removal", None, leave, person=staff)
        with pytest.raises(Unfit, match="60 bottles too few"):
            recording.void(bottling, person=staff, reason="x")
        with pytest.raises(Unfit) as refused:
            recording.correct(bottling, {"bottles": "59"}, person=staff, reason="x")
        assert refused.value.problems[0].field == "bottles"


def _standing(record: Record) -> list[Reading]:
    return list(Reading.objects.filter(record=record, struck_by__isnull=True).exclude(value=""))


class TestReadings:
    def test_added_and_struck(self, charged: Record, staff: Person, manager: Person) -> None:
        reading = recording.add_reading(charged, "2027-03-05T09:00", "distillate_percent", "71,4", staff)
        assert reading.value == "71,4"
        struck = recording.strike_reading(reading, person=manager, reason="misread", value="70.9")
        assert _standing(charged) == [struck]
        assert Reading.objects.filter(record=charged).count() == 2
        with pytest.raises(Unfit, match="struck already"):
            recording.strike_reading(reading, person=manager, reason="again")

    def test_struck_for_good(self, charged: Record, staff: Person) -> None:
        reading = recording.add_reading(charged, "2027-03-05T09:00", "celsius", "17", staff)
        recording.strike_reading(reading, person=staff, reason="other still")
        assert _standing(charged) == []

    @pytest.mark.parametrize(
        ("quantity", "value", "sentence"),
        [
            (
                "gravity",
                "1.05",
                "Quantity is 'gravity'; a spirit run is read for: distillate_percent, celsius, "
                "run_off_litres, interruption.",
            ),
            ("distillate_percent", "714", "Distillate, strength is 714; it cannot be above 100 % vol."),
        ],
    )
    def test_refused(self, charged: Record, staff: Person, quantity: str, value: str, sentence: str) -> None:
        with pytest.raises(Unfit) as refused:
            recording.add_reading(charged, "2027-03-05T09:00", quantity, value, staff)
        assert refused.value.problems[0].sentence.startswith(sentence)

    def test_not_by_an_officer(self, charged: Record, officer: Any) -> None:
        with pytest.raises(Unfit, match="may read but not write"):
            recording.add_reading(charged, "2027-03-05T09:00", "celsius", "17", officer)
