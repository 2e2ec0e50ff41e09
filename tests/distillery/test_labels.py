"""Labels: the check figure by its standard's own values, what a scan is, and the codes scanned back from the print."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image

from distillery.labels.check_figure import FIGURES, check_figure
from distillery.labels.drawing import A_SHEET, BarLabel, CaskLabel, NoLabel, labels_pdf
from distillery.labels.scanned import Unscannable, content_of, number_of

DOTS_AN_INCH = 200
MILLIMETRES_AN_INCH = 25.4


class TestTheCheckFigure:
    @pytest.mark.parametrize(
        ("number", "check"),
        [
            # Both are numbers of standards that use ISO/IEC 7064 MOD 37,36, from memory: the example of the Global
            # Release Identifier standard, and the example of ISO 15706 (ISAN), each with its check letter.
            ("A12425GABC1234002", "M"),
            ("00000000D07A0090", "Q"),
        ],
    )
    def test_values_of_standards_that_use_it(self, number: str, check: str) -> None:
        assert check_figure(number) == check

    def test_it_finds_every_single_slip_and_nearly_every_two_changed_about(self) -> None:
        number = "2022/0007"
        right = check_figure(number)
        for at, sign in enumerate(number):
            for other in FIGURES if sign in FIGURES else "":
                slipped = number[:at] + other + number[at + 1 :]
                assert (check_figure(slipped) == right) == (other == sign)
        changed = [number[:at] + number[at + 1] + number[at] + number[at + 2 :] for at in range(len(number) - 1)]
        missed = [
            one for one in changed if one.replace("/", "") != number.replace("/", "") and check_figure(one) == right
        ]
        assert missed == []

    def test_small_letters_and_signs_between_do_not_count(self) -> None:
        assert check_figure("bo-0001") == check_figure("BO0001")
        with pytest.raises(ValueError, match="no figure or letter"):
            check_figure("/-")


class TestAScan:
    def test_what_is_typed_stays_and_what_is_scanned_is_its_number(self) -> None:
        assert number_of(" 2022/0007 ") == "2022/0007"
        assert number_of(content_of("2022/0007")) == "2022/0007"
        assert number_of(content_of("bo-0001").lower()) == "bo-0001"

    @pytest.mark.parametrize(
        ("scan", "said"),
        [
            ("2022/0008*" + check_figure("2022/0007"), "was misread: its check figure does not agree"),
            ("2022/0007*", "is of no label of this site"),
            ("*K", "is of no label of this site"),
            ("see *here* for more", "is of no label of this site"),
        ],
    )
    def test_a_damaged_or_foreign_one_says_what_to_do(self, scan: str, said: str) -> None:
        with pytest.raises(Unscannable, match=said) as refused:
            number_of(scan)
        assert str(refused.value).endswith("or type the number.")


def drawn(pdf: bytes, folder: Path) -> list[Image.Image]:
    """The pages as a scanner of 200 dots an inch sees them."""
    (folder / "labels.pdf").write_bytes(pdf)
    subprocess.run(
        ["pdftoppm", "-r", str(DOTS_AN_INCH), "-gray", "-png", "labels.pdf", "page"], cwd=folder, check=True, timeout=60
    )
    return [Image.open(path).convert("L") for path in sorted(folder.glob("page*.png"))]


def read(image: Image.Image) -> list[tuple[str, str]]:
    return [(one.format.name, one.text) for one in zxingcpp.read_barcodes(image)]


def turned(image: Image.Image, degrees: float) -> Image.Image:
    return image.rotate(degrees, resample=Image.Resampling.BICUBIC, expand=True, fillcolor=255)


class TestScannedBack:
    @pytest.mark.parametrize("number", ["2022/0007", "C12"])
    def test_the_qr_code_of_a_cask_at_any_angle(self, number: str, tmp_path: Path) -> None:
        [page] = drawn(labels_pdf([CaskLabel(number, "Filled 2022", "1A, row 2")], on_a4=False, title="x"), tmp_path)
        for degrees in (0, 17, 45, 90, 133, 180, 225, 270, 301, 345):
            assert read(turned(page, degrees)) == [("QRCode", content_of(number))], degrees

    @pytest.mark.parametrize("number", ["L27066", "M001", "MALT-2027-000412"])
    def test_the_bars_of_a_lot_within_15_degrees(self, number: str, tmp_path: Path) -> None:
        [page] = drawn(
            labels_pdf([BarLabel(number, ("gin, 70 cL, 41.4 % vol", "Case 3 of 100"))], on_a4=False, title="x"),
            tmp_path,
        )
        for degrees in (-15, -7, 0, 7, 15):
            assert read(turned(page, degrees)) == [("Code128", content_of(number))], degrees

    def test_a_damaged_code_is_read_back_right_or_not_at_all(self, tmp_path: Path) -> None:
        [page] = drawn(labels_pdf([CaskLabel("2022/0007")], on_a4=False, title="x"), tmp_path)
        width, height = page.size
        patched = page.copy()
        # A stain over a tenth of the code's side: level Q restores a quarter of it.
        side = width * 29 // 100
        patched.paste(255, (width - side // 2, height - side // 2, width - side // 2 + side // 10, height - side // 3))
        assert read(patched) == [("QRCode", content_of("2022/0007"))]
        patched.paste(255, (width - side, height - side // 2, width, height))
        assert read(patched) == []

    def test_several_on_a_sheet_of_a4(self, tmp_path: Path) -> None:
        numbers = [f"2027/{number:04d}" for number in range(1, A_SHEET + 3)]
        pages = drawn(labels_pdf([CaskLabel(one) for one in numbers], on_a4=True, title="x"), tmp_path)
        found = [sorted(number_of(text) for _, text in read(page)) for page in pages]
        assert found == [numbers[:A_SHEET], numbers[A_SHEET:]]


class TestTheDrawing:
    @pytest.mark.parametrize("number", ["2022/0007", "C12", "2027/0412"])
    def test_the_number_of_a_cask_is_18_mm_high(self, number: str, tmp_path: Path) -> None:
        [page] = drawn(labels_pdf([CaskLabel(number)], on_a4=False, title="x"), tmp_path)
        a_millimetre = DOTS_AN_INCH / MILLIMETRES_AN_INCH
        assert page.size == pytest.approx((100 * a_millimetre, 70 * a_millimetre), abs=2)
        # The first line of the number, down to the white under it.
        dark = [any(page.getpixel((x, y)) < 128 for x in range(page.width // 2)) for y in range(page.height)]
        first = dark.index(True)
        high = dark.index(False, first) - first
        # Round figures stand over the line by a little on both sides.
        assert 17.8 <= high / a_millimetre <= 19

    def test_a_number_that_bars_have_no_room_for_is_refused(self) -> None:
        with pytest.raises(NoLabel, match="give the lot a shorter number"):
            labels_pdf([BarLabel("LOT-" + "7X" * 20)], on_a4=False, title="x")

    def test_neither_strength_nor_owner_is_on_it(self) -> None:
        assert set(CaskLabel.__dataclass_fields__) == {"number", "year", "place"}
