"""The officer's bundle read back: contents, bookmarks and digests are true, figures are those of the books, the folder
proves itself with Python alone, and a bundle that cannot be finished leaves nothing."""

from __future__ import annotations

import csv
import errno
import io
import json
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from batches.counting.on_site import StockOn
from batches.models import Record
from batches.pages.bundle import making
from batches.pages.bundle.entered import enter_bundle
from batches.pages.bundle.months import months_of
from batches.pages.bundle.parts import Parts
from batches.records import recording
from batches.returns.months import span_of
from distillery import figures
from distillery.people.models import Person
from distillery.plant.lookup import FIXED
from distillery.printing.digest import digest_of
from distillery.printing.documents.month_account import account_digest
from distillery.printing.house import impression
from distillery.prints.models import Print
from ledger.models import Account, Head, Leg
from ledger.proof.checking import Asked
from ledger.proof.paper.answering import answer
from ledger.statements.month import month_account
from ledger.statements.printed import month_account_sheet
from ledger.views.account_paper import vessel_account_part
from tests.batches.pages.bundled import ASKED, MONTH, verified

DIGEST = re.compile(r"\b[0-9a-f]{4}(?: [0-9a-f]{4}){3}\b")


def pressed(here: Client, address: str) -> str:
    """The text of a counted copy of what an address prints."""
    pdf = here.post(reverse("print_copy"), {"address": address}).content
    return " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)


def rows_of(path: Path) -> list[list[str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


@pytest.mark.usefixtures("loaded_month")
class TestTheBundleOfTheSampleMonth:
    made: Path | None = None
    read: list[str] | None = None

    @pytest.fixture
    def folder(self, tmp_path_factory: pytest.TempPathFactory) -> Path:
        """The bundle, made once for the class; whoever changes it takes a copy."""
        cls = type(self)
        if cls.made is None:
            folder = tmp_path_factory.mktemp("bundle") / "made"
            call_command("officer_bundle", str(folder), *ASKED)
            cls.made = folder
        return cls.made

    @pytest.fixture
    def paper(self, folder: Path) -> PdfReader:
        return PdfReader(folder / "bundle.pdf")

    @pytest.fixture
    def texts(self, paper: PdfReader) -> list[str]:
        """The text of each page, read once."""
        cls = type(self)
        cls.read = cls.read or [page.extract_text() for page in paper.pages]
        return cls.read

    @pytest.fixture
    def documents(self, folder: Path) -> list[dict[str, Any]]:
        with (folder / "documents.jsonl").open(encoding="utf-8") as lines:
            return [json.loads(line) for line in lines]

    def test_the_contents_name_the_page_on_which_each_document_begins(self, folder: Path, texts: list[str]) -> None:
        listed = [row[2:] for row in self._listed(folder)]
        assert len(listed) == 34
        first = int(listed[0][2]) - 1
        head = " ".join(texts[:first])
        for title, number, page in listed:
            at = int(page) - 1
            assert title in head
            assert title in texts[at]
            assert number in texts[at]
            # The list before the first has every title.
            assert at == first or not (title in texts[at - 1] and number in texts[at - 1])
        for page, text in enumerate(texts, 1):
            assert f"Page {page} of {len(texts)}" in text

    def test_the_bookmarks_lead_to_the_same_pages(self, folder: Path, paper: PdfReader) -> None:
        outline = paper.outline
        top = [one.title for one in outline if not isinstance(one, list)]
        assert top == [
            "Records for a visit",
            "How to read these records",
            "Keyholders and opening times",
            "March 2027",
            "Entries late, missing, struck or put right",
            "Visit notes",
            "Instruments and tables",
            "Digests and how to check them",
        ]
        month = outline[outline.index(next(one for one in outline if getattr(one, "title", "") == "March 2027")) + 1]
        begins = {row[3]: int(row[4]) for row in self._listed(folder) if row[1] == "March 2027"}
        marked = {one.title: paper.get_destination_page_number(one) + 1 for one in month if not isinstance(one, list)}
        assert marked[f"Monthly stock account MS-{MONTH}"] == begins[f"MS-{MONTH}, version 1"]
        assert marked["Loss enquiry EQ0002"] == begins["EQ0002, version 1"]
        # Headings of the account lie one level below it.
        assert "Removals and duty" in [one.title for one in month[1] if not isinstance(one, list)]

    @staticmethod
    def _listed(folder: Path) -> list[list[str]]:
        return [row for row in rows_of(next((folder / "documents").glob("001-*.csv"))) if row[0] == "row"]

    def test_every_page_bears_the_digest_that_the_files_give(self, folder: Path, texts: list[str]) -> None:
        head, *rows = rows_of(folder / "pages.csv")
        for row, text in zip(rows, texts, strict=True):
            assert row[head.index("at_foot")] in text

    def test_figures_are_those_of_the_books(self, folder: Path, texts: list[str], documents: list[Any]) -> None:
        account = month_account(MONTH)
        [printed] = [one for one in documents if one["title"] == "Monthly stock account"]
        assert printed["content"]["total"]["closing_ul"] == account.site.closing_ul
        pages = [int(row[0]) for row in rows_of(folder / "pages.csv")[1:] if row[2] == "Monthly stock account"]
        text = " ".join(texts[page - 1] for page in pages)
        for line in (*account.stages, account.site):
            assert figures.lpa(line.closing_ul) in text
        casks = list(StockOn(span_of(MONTH).last_day).every_cask())
        [listed] = (folder / "documents").glob("*-stock-of-the-warehouses*.csv")
        rows = rows_of(listed)
        assert sorted(row[1] for row in rows if row[0] == "row") == sorted(one.code for one in casks)
        assert figures.lpa(sum(one.pure_ul for one in casks)) in next(row for row in rows if row[0] == "total")
        [records] = (folder / "documents").glob("*-records-2027-03.csv")
        numbers = [row[1] for row in rows_of(records) if row[0] == "row"]
        span = span_of(MONTH)
        happened = Record.objects.filter(happened_from__gte=span.starts, happened_from__lt=span.ends)
        assert sorted(numbers) == sorted(happened.values_list("number", flat=True))

    def test_every_vessel_that_moved_has_its_account_with_its_own_digest(self, documents: list[Any]) -> None:
        printed = {one["number"]: one["digest"] for one in documents if one["title"] == "Vessel account"}
        moved = Leg.objects.filter(period=MONTH, account__vessel__kind__in=FIXED).values_list("account", flat=True)
        assert len(printed) == len(set(moved)) > 10
        account = Account.objects.get(code="vessel:SR")
        alone = vessel_account_part(account, MONTH, impression(timezone.now(), "tests")).furniture
        assert printed[f"SR, {MONTH}, version 1"] == alone.digest

    def test_a_document_bears_the_digest_that_it_has_by_itself(self, documents: list[Any]) -> None:
        [printed] = [one for one in documents if one["title"] == "Monthly stock account"]
        assert printed["digest"] == account_digest(month_account_sheet(month_account(MONTH)))

    def test_every_digest_in_it_is_known_to_the_check_and_stands(self, folder: Path, documents: list[Any]) -> None:
        # Made within the class' first test, whose writing was rolled back with it.
        months = months_of(MONTH, MONTH)
        parts = [part for _, part in Parts(months, impression(timezone.now(), "tests")).made()]
        enter_bundle(months, [(part, True) for part in parts], 1, person=None)
        digests = {part.furniture.digest for part in parts}
        assert digests == {one["digest"] for one in documents[2:-1]}
        for part in parts:
            said = answer(Asked(part.furniture.digest[:16])).as_data()
            assert (said["known"], said["stands"]) == (True, True), (part.furniture.title, said)
            assert said["document"].startswith(part.furniture.title)

    def test_it_is_text_with_its_fonts_language_and_title(self, paper: PdfReader) -> None:
        assert paper.trailer["/Root"]["/Lang"] == "en-GB"
        assert paper.metadata is not None
        assert paper.metadata.title == f"Records for a visit OB-{MONTH}, version 1"
        fonts = {id(font): font for page in paper.pages for font in page["/Resources"]["/Font"].values()}
        for font in (one.get_object() for one in fonts.values()):
            descriptor = font.get("/FontDescriptor")
            assert descriptor is None or "/FontFile2" in descriptor.get_object()
            assert descriptor is not None or font["/BaseFont"] == "/Helvetica", "only the library's unused default"

    def test_the_folder_alone_proves_itself(self, folder: Path, documents: list[Any], texts: list[str]) -> None:
        found = verified(folder)
        for text in texts:
            printed = DIGEST.findall(text)
            assert any(one in found.stdout for one in printed), "what is at its foot is worked out of the files alone"
        assert found.returncode == 0, found.stdout + found.stderr
        assert f"{Head.objects.get(pk=1).last_number} movements, every seal holds" in found.stdout
        for one in documents:
            digest = one["digest"]
            assert f"{digest[:4]} {digest[4:8]} {digest[8:12]} {digest[12:16]}  {one['title']}" in found.stdout
        assert documents[-1]["digest"] in found.stdout

    @pytest.mark.parametrize(
        ("name", "was", "now", "said"),
        [
            ("documents/005-*.csv", "Foots", "Food", "does not give its digest"),
            ("documents/*-stock-of-the-warehouses*.csv", "125.53", "125.63", "does not give its digest"),
            ("documents.jsonl", '"closing_ul":', '"closing_ul":1', "its content does not give its digest"),
            ("documents.jsonl", '"document":6,', '"document":7,', "it does not stand in its place"),
            ("legs.csv", ",2027-03-", ",2027-04-", "legs.csv does not say what is sealed"),
        ],
    )
    def test_a_changed_figure_turns_it_red(
        self, folder: Path, tmp_path: Path, name: str, was: str, now: str, said: str
    ) -> None:
        copy = shutil.copytree(folder, tmp_path / "copy")
        [path] = copy.glob(name)
        text = path.read_text(encoding="utf-8")
        assert was in text
        path.write_text(text.replace(was, now, 1), encoding="utf-8", newline="")
        found = verified(copy)
        assert found.returncode == 1
        assert said in found.stdout

    def test_a_document_made_anew_with_its_digests_is_missed_by_the_last_one(
        self, folder: Path, tmp_path: Path, documents: list[Any]
    ) -> None:
        copy = shutil.copytree(folder, tmp_path / "copy")
        forged = documents[2]
        forged["content"]["caption"] = "Nobody"
        forged["digest"] = digest_of(forged["content"])
        lines = (json.dumps(one, ensure_ascii=False) for one in documents)
        (copy / "documents.jsonl").write_text("\n".join(lines), encoding="utf-8")
        found = verified(copy)
        assert found.returncode == 1
        assert "the last document does not name the documents that are there" in found.stdout

    def test_a_page_given_to_another_document_is_found(self, folder: Path, tmp_path: Path) -> None:
        copy = shutil.copytree(folder, tmp_path / "copy")
        rows = rows_of(copy / "pages.csv")
        rows[5][1:] = rows[4][1:]
        with (copy / "pages.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(rows)
        found = verified(copy)
        assert (found.returncode, "pages.csv, page 5" in found.stdout) == (1, True)

    def test_a_bundle_that_cannot_be_finished_leaves_nothing(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def full(*_: object) -> None:
            raise OSError(errno.ENOSPC, "No space left on device")

        monkeypatch.setattr(making, "write_laid", full)
        monkeypatch.setattr(making.Parts, "made", lambda self: iter(()))
        with pytest.raises(CommandError, match="cannot be written: No space left on device"):
            call_command("officer_bundle", str(tmp_path / "made"), *ASKED)
        assert list(tmp_path.iterdir()) == []


@pytest.mark.usefixtures("loaded_month")
def test_a_finished_bundle_is_entered_copy_by_copy(
    tmp_path: Path, staff: Person, officer: Person, browser_of: Callable[[Person], Client]
) -> None:
    for copy in (1, 2):
        folder = tmp_path / str(copy)
        call_command("officer_bundle", str(folder), *ASKED)
        texts = [page.extract_text() for page in PdfReader(folder / "bundle.pdf").pages]
        assert all(f"by the command line, copy {copy} " in " ".join(text.split()) for text in texts)
        assert "OB-2027-03, version 1" in texts[0]
        assert "OB-2027-03, version 1" in texts[-1]
    with (tmp_path / "1" / "documents.jsonl").open(encoding="utf-8") as lines:
        known = {json.loads(line)["digest"] for line in lines}
    assert known <= set(Print.objects.filter(copy=1).values_list("digest", flat=True))
    last = Print.objects.filter(copy=1).latest("pk")
    said = answer(Asked(last.digest)).as_data()
    assert (said["known"], said["stands"]) == (True, False)
    assert "verifier in the bundle's folder" in said["says"]
    # Other figures in one of its documents make the next version of the bundle, and of these documents only.
    before = Print.objects.filter(document="Monthly stock account", copy=2).get()
    recording.correct(Record.objects.get(number="SR0007"), {"spent_lees_litres": "1"}, person=staff, reason="read anew")
    # Printed by itself, the account is the next version of what was bound in.
    assert f"{before.number}, version 2" in pressed(browser_of(officer), f"/books/months/{MONTH}/account.pdf")
    call_command("officer_bundle", str(tmp_path / "3"), *ASKED)
    third = PdfReader(tmp_path / "3" / "bundle.pdf")
    assert "OB-2027-03, version 2" in third.pages[0].extract_text()
    assert verified(tmp_path / "3").returncode == 0
    versions = {(row[2], row[3]) for row in rows_of(tmp_path / "3" / "pages.csv")[1:]}
    anew = {title for title, number in versions if number.endswith("version 2")}
    assert "Monthly stock account" in anew
    assert {"Removals", "Visit notes", "Keyholders"}.isdisjoint(anew)
    # The first pages list it.
    texts = [page.extract_text() for page in third.pages]
    [account, *_] = [text for text in texts[4:] if f"{before.number}, version 2" in text]
    assert "Other than in version 1: " in account
    said = answer(Asked(before.digest)).as_data()
    assert (said["stands"], said["version"]) == (False, 1)
    assert said["changed"] != ["the figures"], "its parts are named"
