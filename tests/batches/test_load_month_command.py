"""The command that loads a month, and folders that are none: a sentence, status 1, nothing written."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from batches.loading.load_folder import load_folder
from distillery.people.models import Person
from ledger.models import Movement

from .loaded_books import bad_rows, counts
from .tiny_month import PLANT, changed, write_folder

pytestmark = pytest.mark.django_db


class TestTheCommand:
    def test_says_what_it_loaded(self, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        call_command("load_month", str(write_folder(tmp_path)))
        said = capsys.readouterr().out
        assert said.startswith("Loaded:\n")
        assert "  2 mashes\n" in said

    def test_as_one_document(self, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        call_command("load_month", str(write_folder(tmp_path)), "--json")
        document = json.loads(capsys.readouterr().out)
        assert document["loaded"] is True
        assert document["records"]["mash"] == 2

    def test_bad_rows_end_it(self, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        folder = write_folder(tmp_path, intake=changed("intake", "10000", "minus"))
        with pytest.raises(CommandError, match="nothing was loaded"):
            call_command("load_month", str(folder))
        assert "log/intake.csv, row 2, kilograms: Net weight: 'minus' is not a figure" in capsys.readouterr().err

    def test_bad_rows_as_one_document(self, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        folder = write_folder(tmp_path, intake=changed("intake", "10000", "minus"))
        with pytest.raises(SystemExit) as ended:
            call_command("load_month", str(folder), "--json")
        assert ended.value.code == 1
        document = json.loads(capsys.readouterr().out)
        assert document["loaded"] is False
        assert document["bad_rows"][0] == {
            "file": "log/intake.csv",
            "row": 2,
            "column": "kilograms",
            "reason": "Net weight: 'minus' is not a figure; write digits, such as 1000.",
        }

    def test_no_such_folder(self, tmp_path: Path) -> None:
        with pytest.raises(CommandError):
            call_command("load_month", str(tmp_path / "nowhere"), verbosity=0)

    def test_in_someones_own_hand(self, tmp_path: Path, staff: Person, manager: Person) -> None:
        call_command(
            "load_month",
            str(write_folder(tmp_path)),
            "--person",
            staff.username,
            "--second",
            manager.username,
            verbosity=0,
        )
        assert Movement.objects.get(record_number="ST0001").second == manager
        assert not Person.objects.filter(username="log").exists()

    def test_not_in_the_hand_of_one_who_may_not_write(self, tmp_path: Path, officer: Person) -> None:
        with pytest.raises(CommandError, match="may read but not write"):
            call_command("load_month", str(write_folder(tmp_path)), "--person", officer.username)

    def test_trace_as_one_document(self, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        load_folder(write_folder(tmp_path))
        call_command("trace", "1/27", "--json")
        document = json.loads(capsys.readouterr().out)
        assert document["ref"] == "1/27"
        assert {"record", "kind", "lpa", "share"} <= document["back"][0].keys()
        with pytest.raises(CommandError, match="There is no record, lot, vessel or cask ZZ"):
            call_command("trace", "ZZ")


class TestFoldersThatAreNone:
    def test_a_bad_plant_is_told_and_not_what_follows_from_it(self, tmp_path: Path) -> None:
        folder = write_folder(tmp_path, removals=changed("removals", "gin,70,41.4,60", "gin,70,41.4,sixty"))
        vessels = folder / "plant" / "vessels.csv"
        vessels.write_text(PLANT["vessels"].replace("B1,Back 1,washback", "B1,Back 1,bucket"), encoding="utf-8")
        told = bad_rows(folder)
        # The calibration of B1, and every run that names it, would only follow.
        assert [row[:3] for row in told] == [("plant/vessels.csv", 2, "kind"), ("log/removals.csv", 2, "bottles")]

    def test_a_plant_table_that_cannot_be_read_stands_first(self, tmp_path: Path) -> None:
        folder = write_folder(tmp_path, transfers=None)
        (folder / "plant" / "instruments.csv").write_bytes(b"\xff\xfe\x00")
        told = bad_rows(folder)
        assert told[0][0] == "plant/instruments.csv"
        assert {row[0] for row in told} == {"plant/instruments.csv"}

    @pytest.mark.parametrize("name", ["plant/vessels", "plant/recipes", "log/transfers", "log/readings"])
    @pytest.mark.parametrize("stands", ["a folder", "a link that leads to no file"])
    def test_what_stands_in_place_of_a_table_is_refused(self, tmp_path: Path, name: str, stands: str) -> None:
        folder = write_folder(tmp_path)
        file = folder / f"{name}.csv"
        file.unlink(missing_ok=True)
        if stands == "a folder":
            file.mkdir()
        else:
            file.symlink_to(folder / "nowhere")
        told = bad_rows(folder)
        assert (f"{name}.csv", 0, "") == told[0][:3]
        assert f"In its place stands {stands}" in told[0][3]

    @pytest.mark.parametrize("name", ["plant/vessels", "log/transfers", "log/readings"])
    def test_a_nul_is_refused_where_it_stands(self, tmp_path: Path, name: str) -> None:
        folder = write_folder(tmp_path)
        file = folder / f"{name}.csv"
        text = file.read_text(encoding="utf-8").splitlines()
        text[1] = f"{text[1][:2]}\0{text[1][2:]}"
        file.write_text("\n".join(text), encoding="utf-8")
        told = bad_rows(folder)
        assert told[0][:2] == (f"{name}.csv", 2)
        assert "NUL" in told[0][3]

    def test_a_great_many_unknown_records_are_counted_and_not_all_told(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        # More at once than SQLite takes variables in one question (sqlite.org/limits.html, 32,766 as it is delivered).
        rows = "".join(f"ZZ{row},2027-03-01T11:00,gravity,1.0600\n" for row in range(40_000))
        folder = write_folder(tmp_path, readings=f"record,at,quantity,value\n{rows}")
        before = counts()
        with pytest.raises(CommandError, match=r"The first 200 are above\. At least 10000 bad rows"):
            call_command("load_month", str(folder))
        assert counts() == before
        told = [line for line in capsys.readouterr().err.splitlines() if "There is no record ZZ" in line]
        assert len(told) == 200

    def test_a_table_of_absurd_length_is_refused_before_it_is_read_in(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        from batches.loading import tables

        monkeypatch.setattr(tables, "MOST_ROWS", 6)
        told = bad_rows(write_folder(tmp_path))
        assert ("plant/vessels.csv", 0, "") in [row[:3] for row in told]
        assert "more than 6" in told[0][3]
