"""Labels asked for on their page, and their codes scanned into the boxes that take a number."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
import zxingcpp
from django.test import Client
from django.urls import reverse
from PIL import Image
from pypdf import PdfReader

from batches.models import Mention, Record
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import read_so_far
from batches.steps import sheet_of
from distillery.labels.scanned import content_of
from distillery.people.models import Person
from distillery.plant.models import Cask
from distillery.prints.models import Print

Browser = Callable[[Person], Client]


@pytest.fixture
def here(loaded_month: Any, staff: Person, browser_of: Browser) -> Client:
    return browser_of(staff)


def text_of(answer: Any) -> str:
    assert answer["Content-Type"] == "application/pdf", answer.content.decode()
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(answer.content)).pages).split())


def scans(answer: Any, folder: Path) -> list[str]:
    (folder / "labels.pdf").write_bytes(answer.content)
    subprocess.run(["pdftoppm", "-r", "200", "-gray", "-png", "labels.pdf", "page"], cwd=folder, check=True, timeout=60)
    return [one.text for path in sorted(folder.glob("page*.png")) for one in zxingcpp.read_barcodes(Image.open(path))]


class TestLabels:
    def test_of_a_cask_by_its_number_and_of_all_casks_of_a_fill(self, here: Client, tmp_path: Path) -> None:
        fill = Record.objects.filter(kind="cask_fill").latest("pk")
        of = fill.mentions.filter(what=Mention.What.VESSEL, field="cask").order_by("pk")
        codes = list(dict.fromkeys(of.values_list("code", flat=True)))
        address = reverse("labels_print", args=["casks"])
        one = here.get(address, {"number": codes[0].lower()})
        assert scans(one, tmp_path) == [content_of(codes[0])]
        cask = Cask.objects.get(vessel__code=codes[0])
        said = text_of(one)
        assert cask.place in said
        assert "Filled 2027" in said
        assert "%" not in said
        every = here.get(address, {"number": fill.number, "on": "a4"})
        assert len(PdfReader(BytesIO(every.content)).pages) == -(-len(codes) // 8)
        assert here.get(address, {"number": f"{codes[0]}, {content_of(codes[0])}"}).content == one.content

    def test_of_a_lot_and_of_cases(self, here: Client, tmp_path: Path) -> None:
        lot = here.get(reverse("labels_print", args=["lot"]), {"number": "m001"})
        assert scans(lot, tmp_path) == [content_of("M001")]
        assert "Malt" in text_of(lot)
        asked = {"number": "L27066", "cases": "3", "first": "7"}
        cases = text_of(here.get(reverse("labels_print", args=["cases"]), asked))
        assert [f"Case {place}" in cases for place in (6, 7, 8, 9, 10)] == [False, True, True, True, False]
        assert "gin, 70 cL, 41.4 % vol" in cases

    @pytest.mark.parametrize(
        ("what", "asked", "said"),
        [
            ("casks", {"number": "9999/9999"}, "There is no cask 9999/9999, and no record of that number names one."),
            ("casks", {"number": " "}, "No number is typed"),
            ("casks", {"number": "2022/0001*0"}, "was misread"),
            ("lot", {"number": "none"}, "There is no lot none in the stores"),
            ("cases", {"number": "none"}, "There is no bottled lot none"),
            ("cases", {"number": "L27066", "cases": "9999"}, "Labels of 1 to 400 cases are made at once"),
            ("cases", {"number": "L27066", "cases": "many"}, "Labels of 1 to 400 cases are made at once"),
        ],
    )
    def test_what_cannot_be_labelled_says_why_and_keeps_what_was_typed(
        self, here: Client, what: str, asked: dict[str, str], said: str
    ) -> None:
        answer = here.get(reverse("labels_print", args=[what]), asked)
        assert answer.status_code == 404
        page = answer.content.decode()
        assert said in page
        assert asked["number"].strip() in page

    def test_a_label_is_no_record_and_no_other_label_is_made(self, here: Client) -> None:
        assert here.get(reverse("labels")).status_code == 200
        here.get(reverse("labels_print", args=["lot"]), {"number": "M001"})
        assert not Print.objects.exists()
        assert here.get(reverse("labels_print", args=["people"])).status_code == 404


class TestScans:
    def test_the_find_box_takes_a_scan_and_knows_a_slip(self, here: Client) -> None:
        code = Cask.objects.order_by("pk").values_list("vessel__code", flat=True)[0]
        assert here.get(reverse("find"), {"q": content_of(code)})["Location"] == reverse("cask", args=[code])
        assert "M001" in here.get(reverse("find"), {"q": content_of("M001")}, follow=True).content.decode()
        other = "0" if content_of(code)[-1] != "0" else "1"
        page = here.get(reverse("find"), {"q": content_of(code)[:-1] + other}).content.decode()
        assert "was misread: its check figure does not agree" in page
        assert "is of no label of this site" in here.get(reverse("find"), {"q": "http://x.example/*/"}).content.decode()

    def test_boxes_for_casks_take_a_scan(self, loaded_month: Any) -> None:
        code = Cask.objects.order_by("pk").values_list("vessel__code", flat=True)[0]
        sheet = sheet_of("cask_move")
        name = sheet.of_casks.cask  # type: ignore[union-attr]
        filled = read_so_far(sheet, {}, [{name: content_of(code)}], site=Site())
        [line] = filled.rows
        assert (line.vessel(name).code, line.typed[name]) == (code, code)

    def test_a_misread_scan_in_a_box_is_said_beside_it(self, here: Client) -> None:
        code = Cask.objects.order_by("pk").values_list("vessel__code", flat=True)[0]
        other = "0" if content_of(code)[-1] != "0" else "1"
        sent = {"cask": content_of(code)[:-1] + other, "at": "now"}
        page = here.post(reverse("record_new", args=["regauge"]), sent).content.decode()
        assert "was misread: its check figure does not agree" in page
        assert sent["cask"] in page
