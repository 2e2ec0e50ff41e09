"""A vessel takes what it is kept for, and one record at a time; a washback at work says so. By form and by table."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import pytest
from django.test import Client
from pypdf import PdfReader

from batches.loading.load_folder import BadRows, load_folder
from batches.models import Record
from batches.records import recording
from batches.sheets.typed.read_sheet import Unfit
from distillery.people.models import Person
from ledger.models import Movement
from ledger.statements.month import month_account
from ledger.statements.monthly.as_data import as_data

from .tiny_month import LOG, changed, write_folder
from .tiny_plant import gauge

Write = Callable[..., Record]

CHARGE = {
    "still": "WS",
    "fermentation": "FE0001",
    "washback": "WB",
    "charged_at": "2027-03-04T11:00",
    "washback_before_dip_mm": "1000",
    "washback_before_celsius": "20",
    "washback_after_dip_mm": "500",
    "receiver": "LW",
    **gauge("receiver_before", "0"),
}
FINISH = {
    "ended_at": "2027-03-04T17:00",
    **gauge("receiver_after", "150", "24.0"),
    "pot_ale_litres": "330",
    "pot_ale_percent": "0.1",
}
PITCHED = {
    "mash": "MA0001",
    "washback": "WB",
    "pitched_at": "2027-03-01T11:00",
    "original_gravity": "1.0600",
}
DECLARED = {
    "ended_at": "2027-03-04T11:00",
    "final_gravity": "0.9980",
    "final_dip_mm": "1000",
    "final_celsius": "20",
}


@pytest.fixture
def mashed(write: Write) -> Record:
    write("intake", "M001", received_at="2027-03-01T06:00", kilograms="10000")
    return write(
        "mash",
        "MA0001",
        started_at="2027-03-01T06:00",
        ended_at="2027-03-01T11:00",
        malt_lot="M001",
        grist_kg="500",
        wort_litres="1000",
        wort_gravity="1.0600",
        wort_celsius="18",
        washback="WB",
    )


@pytest.fixture
def declared(write: Write, mashed: Record) -> Record:
    return write("fermentation", "FE0001", **PITCHED, **DECLARED)


def refused(write: Write, kind: str, **values: str) -> list[tuple[str, str]]:
    with pytest.raises(Unfit) as error:
        write(kind, None, **values)
    return [(one.field, one.sentence) for one in error.value.problems]


class TestKeptFor:
    @pytest.mark.parametrize(
        ("wrong", "sentence"),
        [
            ({"still": "SS"}, "Still: SS is a still for low wines and feints; a still for wash goes here."),
            (
                {"receiver": "FE"},
                "Low wines receiver: FE is kept for feints; a receiver kept for low wines goes here.",
            ),
            (
                {"receiver": "SP"},
                "Low wines receiver: SP is a receiver for new spirit; a receiver for low wines and feints goes here.",
            ),
        ],
    )
    def test_a_vessel_kept_for_something_else_is_refused_beside_its_box(
        self, write: Write, declared: Record, wrong: dict[str, str], sentence: str
    ) -> None:
        assert refused(write, "wash_run", **(CHARGE | wrong)) == [(next(iter(wrong)), sentence)]

    def test_the_form_says_it_once_beside_the_box(
        self, declared: Record, staff: Person, browser_of: Callable[[Person], Client]
    ) -> None:
        before = Record.objects.count()
        page = browser_of(staff).post("/records/wash_run/new/", CHARGE | {"still": "SS"}).content.decode()
        assert Record.objects.count() == before
        assert 'href="#id_still"' in page
        assert page.count("a still for wash goes here") == 2  # in the summary, and beside the box
        assert "SS is a still for low wines and feints" in page

    def test_a_table_says_row_and_column(self, db: None, tmp_path: Path) -> None:
        with pytest.raises(BadRows) as error:
            load_folder(write_folder(tmp_path, wash_runs=changed("wash_runs", "17:00,L1,", "17:00,S1,")))
        [bad] = [one for one in error.value.bad if one.file == "log/wash_runs.csv"]
        assert (bad.row, bad.column) == (2, "receiver")
        assert "S1 is a receiver for new spirit" in bad.reason


class TestOneAtATime:
    def test_a_second_fermentation_in_one_washback(self, write: Write, mashed: Record) -> None:
        write("fermentation", "FE0001", **PITCHED)
        [(field, sentence)] = refused(write, "fermentation", **(PITCHED | {"pitched_at": "2027-03-02T11:00"}))
        assert field == "washback"
        assert sentence == (
            "WB holds fermentation FE0001, which began Mon 1 Mar 2027 11:00 and has not ended. "
            "Complete FE0001 first, or choose another."
        )

    def test_a_still_that_is_still_charged(self, write: Write, declared: Record) -> None:
        write("wash_run", "WR0001", **CHARGE)
        again = CHARGE | {
            "charged_at": "2027-03-04T14:00",
            "washback_before_dip_mm": "500",
            "washback_after_dip_mm": "0",
        }
        [(field, sentence)] = refused(write, "wash_run", **again)
        assert field == "still"
        assert "WS holds wash run WR0001" in sentence
        assert "has not ended" in sentence
        write("wash_run", "WR0001", **FINISH)
        [(field, sentence)] = refused(write, "wash_run", **again)
        assert "at the same time" not in sentence
        assert "this has no end yet. Write ended at too" in sentence
        # A charge at the minute in which the run before it ended is the next one.
        assert write("wash_run", None, **(again | {"charged_at": FINISH["ended_at"]})).number == "WR0002"

    def test_a_past_record_is_not_corrected_into_another(self, write: Write, declared: Record, staff: Person) -> None:
        write("wash_run", "WR0001", **CHARGE, **FINISH)
        later = write(
            "wash_run",
            "WR0002",
            **CHARGE
            | FINISH
            | {
                "charged_at": "2027-03-05T06:00",
                "washback_before_dip_mm": "500",
                "washback_after_dip_mm": "0",
                **gauge("receiver_before", "150", "24.0"),
                "ended_at": "2027-03-05T12:00",
                **gauge("receiver_after", "300", "24.0"),
            },
        )
        before = Movement.objects.count()
        with pytest.raises(Unfit) as error:
            recording.correct(later, {"charged_at": "2027-03-04T16:00"}, person=staff, reason="clock", sure=True)
        [problem] = error.value.problems
        assert problem.field == "still"
        assert "WS holds wash run WR0001 from Thu 4 Mar 2027 11:00 to Thu 4 Mar 2027 17:00" in problem.sentence
        assert Movement.objects.count() == before
        recording.void(Record.objects.get(number="WR0001"), person=staff, reason="never happened")
        recording.correct(later, {"charged_at": "2027-03-04T16:00"}, person=staff, reason="clock", sure=True)

    def test_the_form_leads_to_the_still(
        self, write: Write, declared: Record, staff: Person, browser_of: Callable[[Person], Client]
    ) -> None:
        write("wash_run", "WR0001", **CHARGE)
        sent = CHARGE | {"charged_at": "2027-03-04T14:00"}
        page = browser_of(staff).post("/records/wash_run/new/", sent).content.decode()
        assert Record.objects.filter(kind="wash_run").count() == 1
        assert 'href="#id_still"' in page
        assert "Complete WR0001 first" in page

    def test_a_table_is_refused_by_row(self, db: None, tmp_path: Path) -> None:
        table = changed("fermentations", "MA0002,B1,Y1,5,2027-03-05", "MA0001,B1,Y1,5,2027-03-03")
        with pytest.raises(BadRows) as error:
            load_folder(write_folder(tmp_path, fermentations=table))
        [bad] = [one for one in error.value.bad if one.file == "log/fermentations.csv"]
        assert (bad.row, bad.column) == (3, "washback")
        assert "B1 holds fermentation FE0001" in bad.reason

    def test_a_run_forgotten_in_the_log_is_loaded_later(self, db: None, tmp_path: Path) -> None:
        whole = LOG["wash_runs"]
        head, row = whole.strip().rsplit("\n", 1)
        late = row.replace("WR0001", "WR0002").replace("2027-03-04T11:00", "2027-03-06T11:00")
        late = late.replace("2027-03-04T17:00", "2027-03-06T17:00").replace("2400,20,0", "0,20,0")
        late = late.replace("200,20,24,1000,20,24,1600", "40,20,24,40,20,24,0")
        load_folder(write_folder(tmp_path, wash_runs=f"{head}\n{late}\n"))
        loaded = load_folder(write_folder(tmp_path, wash_runs=f"{head}\n{late}\n{row}\n"))
        assert loaded.records == {"wash_run": 1}


class TestAtWork:
    def test_a_fermenting_washback_says_so_and_how_much(
        self, write: Write, mashed: Record, staff: Person, browser_of: Callable[[Person], Client]
    ) -> None:
        here = browser_of(staff)
        # The book of a washback has its page from its first entry on.
        write("opening_stock", vessel="WB", at="2027-02-28T06:00", **gauge("gauge", "0"))
        assert "MA0001 is not pitched yet" in here.get("/plant/").content.decode()
        write("fermentation", "FE0001", **PITCHED)
        page = here.get("/plant/").content.decode()
        assert "FE0001 ferments" in page
        assert "1,000.0" in page
        write("fermentation", "FE0001", **DECLARED)
        page = here.get("/plant/").content.decode()
        assert "ferments" not in page
        assert "81.84" in page

    def test_a_month_that_ended_meanwhile_keeps_saying_so(
        self, write: Write, mashed: Record, staff: Person, browser_of: Callable[[Person], Client]
    ) -> None:
        """Pitched in March and declared in April: at the end of March it fermented, whatever is known since."""
        here = browser_of(staff)
        write("opening_stock", vessel="WB", at="2027-02-28T06:00", **gauge("gauge", "0"))
        write("fermentation", "FE0001", **PITCHED | {"pitched_at": "2027-03-30T11:00"})
        write("fermentation", "FE0001", **DECLARED | {"ended_at": "2027-04-02T11:00"})
        march = here.get("/books/months/2027-03/").content.decode()
        vessels = march[march.index("Vessels at the end of the month") :]
        row = next(row for row in vessels.split("<tr")[1:] if "Washback" in row or "WB" in row)
        assert "FE0001 ferments" in row
        assert "Not declared" in row
        assert "1,000.0" in row
        assert "Empty" not in row
        assert "FE0001 ferments" in here.get("/books/accounts/WB/?month=2027-03").content.decode()
        assert "FE0001 ferments" not in here.get("/books/accounts/WB/?month=2027-04").content.decode()
        assert "FE0001 ferments" not in here.get("/books/months/2027-04/").content.decode()
        paper = PdfReader(BytesIO(here.get("/books/months/2027-03/account.pdf").content))
        assert "FE0001 ferments" in " ".join(page.extract_text() for page in paper.pages)
        [told] = [one for one in as_data(month_account("2027-03"))["vessels"] if one["vessel"] == "WB"]
        assert told["at_work"] == "FE0001 ferments"


MASHED_AGAIN = {
    "started_at": "2027-03-02T06:00",
    "ended_at": "2027-03-02T11:00",
    "malt_lot": "M001",
    "grist_kg": "500",
    "wort_litres": "1000",
    "wort_gravity": "1.0600",
    "wort_celsius": "18",
    "washback": "WB",
}


def test_no_mash_is_run_into_a_washback_that_holds_wash(mashed: Record, write: Write, staff: Person) -> None:
    write("fermentation", "FE0001", **PITCHED)
    with pytest.raises(Unfit) as caught:
        recording.save("mash", None, MASHED_AGAIN, person=staff)
    (problem,) = caught.value.problems
    assert problem.field == "washback"
    assert problem.sentence.startswith("WB holds wash: FE0001 ferments in it since ")
    assert "Choose another washback, or write first where that wash went." in problem.sentence
    recording.save("fermentation", "FE0001", DECLARED, person=staff, sure=True)
    waits = MASHED_AGAIN | {"started_at": "2027-03-04T13:00", "ended_at": "2027-03-04T18:00"}
    # 1,000 L of wash that fell from 1.0600 to 0.9980 are 81.84 LPA (HMRC Notice 226, section 30.3: row P021).
    with pytest.raises(Unfit, match=r"WB holds wash: 81\.84 litres of pure alcohol by its book"):
        recording.save("mash", None, waits, person=staff)
    # What a log says happened is taken as it is.
    assert recording.save("mash", None, MASHED_AGAIN, person=staff, sure=True).number
