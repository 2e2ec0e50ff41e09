"""Loading a month: what is loaded, what is passed over, and how bad rows are told. Months are invented."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from batches.loading.load_folder import load_folder
from batches.models import Reading, Record, State, Version
from batches.records import recording
from distillery.people.models import Person
from distillery.plant.models import Purpose, Vessel
from ledger.models import Movement
from ledger.proof.proving import prove

from .loaded_books import bad_rows, counts, net
from .tiny_month import LOG, PLANT, THIRD_STILL, changed, write_folder

pytestmark = pytest.mark.django_db


class TestATinyMonth:
    def test_everything_is_there(self, tmp_path: Path) -> None:
        loaded = load_folder(write_folder(tmp_path))
        assert loaded.records == {
            "opening_cask": 1,
            "opening_stock": 3,
            "opening_bottled_stock": 1,
            "intake": 1,
            "mash": 2,
            "fermentation": 2,
            "wash_run": 1,
            "spirit_run": 1,
            "transfer": 1,
            "cask_fill": 1,
            "removal": 1,
            "stock_take": 1,
        }
        assert loaded.readings == Reading.objects.count() == 3
        assert Record.objects.get(number="FE0002").state == State.OPEN
        assert Record.objects.get(number="ST0001").state == State.COMPLETE
        assert Record.objects.get(number="OB0001").happened_from == Record.objects.get(number="OV0001").happened_from
        assert prove().broken == []

    def test_an_end_and_a_charge_of_the_same_minute_come_in_the_order_of_the_process(self, tmp_path: Path) -> None:
        load_folder(write_folder(tmp_path))
        # 2,400 litres at 8.184 % vol, and 960 x 24 % + 480 x 36 %: nothing found by gauging on the way.
        assert net("WR0001", "vessel:W1") == net("SR0001", "vessel:P1") == 0
        assert net("WR0001", "difference:gauging:B1") == 0
        assert net("SR0001", "difference:gauging:L1") == 0
        assert net("FE0001", "source:fermentation") == pytest.approx(-2400 * 0.08184, abs=1e-4)

    def test_stills_are_made_and_vessels_know_what_they_are_kept_for(self, tmp_path: Path) -> None:
        load_folder(write_folder(tmp_path, third_still_runs=THIRD_STILL))
        stills = {vessel.code: vessel.stage for vessel in Vessel.objects.filter(kind="still")}
        assert stills == {"W1": "wash", "P1": "low wines and feints", "TS": "rectified and compounded"}
        purposes = dict(Vessel.objects.exclude(purpose="").values_list("code", "purpose"))
        assert purposes == {
            "L1": Purpose.LOW_WINES,
            "F1": Purpose.FEINTS,
            "S1": Purpose.SPIRIT,
            "H1": Purpose.HEADS_AND_TAILS,
        }
        values = json.loads(Version.objects.filter(record__number="TS0001").latest("serial").values)
        assert (values["third_still"], values["heads_tails_vessel"]) == ("TS", "H1")

    def test_the_hands_it_is_written_in_cannot_sign_on(self, tmp_path: Path) -> None:
        load_folder(write_folder(tmp_path))
        take = Movement.objects.get(record_number="ST0001")
        assert (take.person.username, take.second.username if take.second else "") == ("log", "log-second")
        assert not any(person.has_usable_password() for person in Person.objects.filter(username__startswith="log"))

    def test_loaded_again_it_adds_nothing(self, tmp_path: Path) -> None:
        folder = write_folder(tmp_path)
        load_folder(folder)
        before = counts()
        again = load_folder(folder)
        assert counts() == before
        assert (again.records, again.plant, again.readings) == ({}, {}, 0)
        assert again.passed_over > 0

    def test_a_row_written_otherwise_but_meaning_the_same_is_passed_over(self, tmp_path: Path) -> None:
        load_folder(write_folder(tmp_path))
        before = counts()
        load_folder(write_folder(tmp_path, transfers=changed("transfers", "S1,V1,280,20,70", "s1,v1,280.0,20.00,70.0")))
        assert counts() == before

    def test_a_row_that_says_more_is_added(self, tmp_path: Path) -> None:
        load_folder(write_folder(tmp_path))
        more = changed("fermentations", "1.0600,,,,", "1.0600,2027-03-08T11:00,0.9980,2400,20")
        loaded = load_folder(write_folder(tmp_path, fermentations=more))
        assert loaded.records == {}
        assert Record.objects.get(number="FE0002").state == State.COMPLETE
        assert net("FE0002", "source:fermentation") == pytest.approx(-2400 * 0.08184, abs=1e-4)
        load_folder(write_folder(tmp_path))

    def test_a_corrected_record_does_not_stop_the_folder_it_came_from(self, tmp_path: Path, staff: Person) -> None:
        folder = write_folder(tmp_path)
        load_folder(folder)
        record = Record.objects.get(number="SR0001")
        recording.correct(record, {"spirit_after_dip_mm": "281"}, person=staff, reason="read again")
        before = counts()
        load_folder(folder)
        assert counts() == before

    @pytest.mark.parametrize(
        ("name", "old", "new", "row", "column", "reason"),
        [
            (
                "transfers",
                "1279,20,64.9",
                "1278,20,64.9",
                2,
                "to_after_dip_mm",
                "TR0001 exists with other figures: 1279",
            ),
            ("intake", "10000", "11000", 2, "kilograms", "M001 exists with other figures: 10000 there, 11000 here."),
            ("opening_stock", "500,20,36", "501,20,36", 3, "gauge_dip_mm", "OV0002 exists with other figures: 500"),
            ("cask_fills", "2/27,barrel,1,200,50,230", "2/27,barrel,1,200,50,231", 3, "gross_kg", "CF0001 exists with"),
            ("stock_take", "F1,560", "F1,561", 3, "gauge_dip_mm", "ST0001 exists with other figures: 560 there, 561"),
            ("readings", "gravity,1.0600", "gravity,1.0610", 2, "value", "FE0001 has 1.0600 for gravity at that time"),
        ],
    )
    def test_other_figures_under_the_same_number_are_bad(
        self, tmp_path: Path, name: str, old: str, new: str, row: int, column: str, reason: str
    ) -> None:
        load_folder(write_folder(tmp_path))
        [(file, at, where, said)] = bad_rows(write_folder(tmp_path, **{name: changed(name, old, new)}))
        assert (file, at, where) == (f"log/{name}.csv", row, column)
        assert said.startswith(reason)


@pytest.mark.parametrize(
    ("name", "old", "new", "row", "column", "reason"),
    [
        ("transfers", "S1,V1", "S9,V1", 2, "from_vessel", "From vessel: there is no vessel S9 on this site."),
        (
            "transfers",
            "1279,20,64.9",
            "6000,20,64.9",
            2,
            "to_after_dip_mm",
            "To vessel after: dip: A dip of 6000 mm is",
        ),
        ("transfers", "280,20,70", "280,20,170", 2, "from_before_hydrometer_percent", "From vessel before: hydrometer"),
        ("transfers", "280,20,70", "280,55,70", 2, "from_before_celsius", "From vessel before: temperature is 55; it"),
        (
            "transfers",
            "280,20,70",
            "280,20,",
            2,
            "from_before_hydrometer_percent",
            "From vessel before: a dip of 280 mm",
        ),
        (
            "transfers",
            "280,20,70",
            "two,20,70",
            2,
            "from_before_dip_mm",
            "From vessel before: dip: 'two' is not a figure",
        ),
        ("transfers", "TR0001,2027-03-05T06:00", "TR0001,2027-03-05", 2, "at", "Moved at: '2027-03-05' is not a time"),
        ("transfers", "TR0001,2027-03-05T06:00", "TR0001,", 2, "at", "Moved at is blank; say when"),
        ("transfers", "TR0001,", ",", 2, "transfer", "The number is blank."),
        ("transfers", "transfer,at", "transfer,hour", 1, "at", "The column 'at' is missing."),
        ("mashes", "M001,500,2400", "M009,500,2400", 2, "malt_lot", "Malt lot: there is no record M009 to refer to."),
        ("wash_runs", "T17:00,L1", "T10:00,L1", 2, "ended_at", "Ended at is Thu 4 Mar 2027 10:00, before charged at"),
        ("wash_runs", "1600,0.1", ",0.1", 2, "pot_ale_litres", "Pot ale is blank; it is needed for the finish."),
        ("cask_fills", "V1,2/27", "V1,1/27", 3, "cask", "Cask 1/27 stands on line 1 already."),
        ("cask_fills", "V1,2/27", "V1,1/20", 3, "cask", "Cask 1/20 is full already: its book holds 126.99 litres"),
        ("cask_fills", "1A,1279,20,64.9,880,20,64.9\n", "1A,1278,20,64.9,880,20,64.9\n", None, "", ""),
        ("removals", "60,home use", "101,home use", 2, "bottles", "Bottles is 101, but there are 100 bottles of gin"),
        ("removals", "home use", "sold", 2, "kind", "Left for is 'sold'; it is one of: home use"),
        ("readings", "SR0001,", "SR0009,", 4, "record", "There is no record SR0009."),
        ("readings", "distillate_percent", "colour", 4, "quantity", "Quantity is 'colour'; a spirit run is read for"),
        ("readings", "74.0", "740", 4, "value", "Distillate, strength is 740; it cannot be above 100 % vol."),
        ("stock_take", "F1,560", "V1,560", 3, "vessel", "Vessel V1 stands on line 1 already."),
        ("intake", "lot,kind", "lot,sort", 1, "sort", "There is no column 'sort' in this table; it has: lot, kind"),
    ],
)
def test_a_bad_row_is_told_by_file_row_column_and_reason(
    tmp_path: Path, name: str, old: str, new: str, row: int | None, column: str, reason: str
) -> None:
    table = changed(name, old, new)
    if row is None:
        # The head of a fill that differs from line to line.
        table = LOG[name][: -len(old)] + new
        row, column, reason = 3, "vat_before_dip_mm", "vat_before_dip_mm is 1278 here and 1279 on row 2"
    found = bad_rows(write_folder(tmp_path, **{name: table}))
    here = [one for one in found if one[:3] == (f"log/{name}.csv", row, column)]
    assert here
    assert here[0][3].startswith(reason)


def test_all_bad_rows_are_told_and_none_that_only_hang_on_them(tmp_path: Path) -> None:
    found = bad_rows(
        write_folder(
            tmp_path,
            intake=changed("intake", "10000", "minus"),
            fermentations=changed("fermentations", "2400,20", "9400,20"),
            spirit_runs=changed("spirit_runs", "560,20,36", "560,20,136"),
            cask_fills=changed("cask_fills", "2/27", "7/27"),
            removals=LOG["removals"] + "RM0002,2027-03-08T06:00,gin,70,41.4,50,export\n",
            colours="shade\nred\n",
        )
    )
    assert [one[:3] for one in found] == [
        ("log/cask_fills.csv", 3, "cask"),
        ("log/colours.csv", 0, ""),
        ("log/fermentations.csv", 2, "final_dip_mm"),
        ("log/intake.csv", 2, "kilograms"),
        ("log/removals.csv", 3, "bottles"),
        ("log/spirit_runs.csv", 2, "feints_receiver_after_hydrometer_percent"),
    ]


def test_a_failed_bottling_does_not_make_its_removal_bad(tmp_path: Path) -> None:
    bottlings = (
        "bottling,at,vat,product,lot_code,bottle_centilitres,label_percent,bottles,vat_before_dip_mm,vat_before_celsius,"
        "vat_before_hydrometer_percent,vat_after_dip_mm,vat_after_celsius,vat_after_hydrometer_percent\n"
        "BO0001,2027-03-06T06:00,X9,gin,L1,70,41.4,500,500,20,41.4,10,20,41.4\n"
    )
    removals = changed("removals", "60,home use", "600,home use")
    found = bad_rows(write_folder(tmp_path, bottlings=bottlings, removals=removals))
    assert [one[:3] for one in found] == [("log/bottlings.csv", 2, "vat")]


@pytest.mark.parametrize("name", ["wash_runs", "intake"])
def test_a_table_that_has_to_be_there(tmp_path: Path, name: str) -> None:
    found = bad_rows(write_folder(tmp_path, **{name: None}))
    assert (f"log/{name}.csv", 0, "", "The file is missing.") in found


@pytest.mark.parametrize("name", ["vessels", "calibration", "instruments"])
def test_a_plant_table_that_has_to_be_there(tmp_path: Path, name: str) -> None:
    folder = write_folder(tmp_path)
    (folder / "plant" / f"{name}.csv").unlink()
    assert (f"plant/{name}.csv", 0, "", "The file is missing, and the site has none yet.") in bad_rows(folder)


def test_the_plant_need_not_be_listed_twice(tmp_path: Path) -> None:
    folder = write_folder(tmp_path)
    load_folder(folder)
    shutil.rmtree(folder / "plant")
    assert load_folder(folder).records == {}


@pytest.mark.parametrize(
    ("name", "old", "new", "row", "column", "reason"),
    [
        ("vessels", "B1,Back 1,washback", "B1,Back 1,bucket", 2, "kind", "Kind is 'bucket'; it is one of: washback"),
        ("vessels", "L1,Low wines", "B1,Low wines", 3, "vessel", "Vessel B1 is listed twice."),
        ("calibration", "B1,5000,5000", "B1,0,5000", 3, "dip_mm", "The dip does not rise from the row before"),
        ("calibration", "X1,5000,5000", "X7,5000,5000", 17, "vessel", "There is no vessel X7 on this site."),
        ("instruments", "0.85", "0", 2, "standard_uncertainty", "Standard uncertainty is 0; it cannot be below"),
        ("empty_casks", "2/27", "1/27", 3, "number", "Cask 1/27 is listed twice."),
        ("empty_casks", "2/27", "V1", 3, "number", "V1 is a vat on this site, not a cask."),
        ("maturing_casks", "230.0", "30.0", 2, "gross_kg", "Cask: The gross weight 30 kg is below the tare 50 kg"),
    ],
)
def test_a_bad_row_of_the_plant(
    tmp_path: Path, name: str, old: str, new: str, row: int, column: str, reason: str
) -> None:
    folder = write_folder(tmp_path)
    assert old in PLANT[name]
    (folder / "plant" / f"{name}.csv").write_text(PLANT[name].replace(old, new, 1), encoding="utf-8")
    here = [one for one in bad_rows(folder) if one[:3] == (f"plant/{name}.csv", row, column)]
    assert here
    assert here[0][3].startswith(reason)


def test_a_vessel_with_other_figures_is_changed_on_its_own_page(tmp_path: Path) -> None:
    folder = write_folder(tmp_path)
    load_folder(folder)
    path = folder / "plant" / "vessels.csv"
    path.write_text(
        PLANT["vessels"].replace("V1,Vat,vat,new spirit,5000", "V1,Vat,vat,new spirit,6000"), encoding="utf-8"
    )
    [(file, row, column, reason)] = bad_rows(folder)
    assert (file, row, column) == ("plant/vessels.csv", 6, "capacity_litres")
    assert "change it on the plant's own page" in reason


def two_receivers(tmp_path: Path, *, column: str = "", cell: str = "") -> Path:
    """A second wash run that sends its low wines to another receiver."""
    wash_runs = LOG["wash_runs"] + ("WR0002,W2,FE0001,B1,2027-03-04T18:00,0,20,0,2027-03-04T20:00,L2,0,20,,0,20,,0,0\n")
    spirit_runs = LOG["spirit_runs"]
    if column:
        head, row = spirit_runs.splitlines()
        spirit_runs = f"{head},{column}\n{row},{cell}\n"
    folder = write_folder(tmp_path, wash_runs=wash_runs, spirit_runs=spirit_runs)
    for name, lines in (
        ("vessels", "L2,Low wines 2,receiver,low wines and feints,5000\n"),
        ("calibration", "L2,0,0\nL2,5000,5000\n"),
    ):
        with (folder / "plant" / f"{name}.csv").open("a", encoding="utf-8") as table:
            table.write(lines)
    return folder


def test_which_receiver_cannot_be_told_names_the_column_to_add(tmp_path: Path) -> None:
    [(file, row, column, reason)] = bad_rows(two_receivers(tmp_path))
    assert (file, row, column) == ("log/spirit_runs.csv", 2, "low_wines_receiver")
    assert reason == (
        "The row does not say which vessel, and wash runs send low wines to L1, L2; add a column low_wines_receiver."
    )


def test_a_column_says_which_receiver(tmp_path: Path) -> None:
    load_folder(two_receivers(tmp_path, column="low_wines_receiver", cell="L1"))
    assert net("SR0001", "vessel:L1") == pytest.approx(-960 * 0.24, abs=1e-4)
