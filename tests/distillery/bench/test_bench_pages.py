"""The bench without signing on: what bad input gets, where a result goes on, slips and tables on paper."""

from __future__ import annotations

from io import BytesIO

import pytest
from django.urls import NoReverseMatch, reverse
from pypdf import PdfReader

from distillery.bench.tools import TOOLS
from tests.distillery.bench.bench_plant import make_plant, table

pytestmark = pytest.mark.django_db

GAUGE = {"vessel": "SR1", "dip_mm": "1000", "celsius": "14", "hydrometer_percent": "61", "instrument": "ALC"}
READING = {"hydrometer_percent": "63.5", "celsius": "10", "instrument": "20"}
REDUCE = {"litres20": "1000", "percent20": "63.5", "aim": "strength", "target_percent": "40"}
CASK = {"cask": "HW-0001", "gross_kg": "248.2", "celsius": "15", "hydrometer_percent": "63.5", "instrument": "ALC"}
WASH = {
    "original_gravity": "1.060",
    "original_celsius": "20",
    "present_gravity": "0.998",
    "present_celsius": "20",
    "instrument": "SACC",
}
DENSITY = {"density": "948.05", "basis": "vacuum", "celsius": "20"}
TABLE = {"low": "60", "high": "70", "step": "0.5", "coldest": "10", "warmest": "15", "celsius_step": "1"}


@pytest.fixture(autouse=True)
def _plant() -> None:
    make_plant()


def words(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)


@pytest.mark.parametrize("name", TOOLS)
def test_each_sum_opens_signed_out(stranger, name):
    page = stranger.get(reverse("bench_tool", kwargs={"name": name}))
    assert page.status_code == 200
    text = page.content.decode()
    assert "<script" not in text
    assert "style=" not in text
    assert 'id="result"' not in text
    assert "autofocus" in text


def test_the_bench_lists_every_sum(stranger):
    text = stranger.get(reverse("bench")).content.decode()
    assert all(reverse("bench_tool", kwargs={"name": name}) in text for name in TOOLS)
    assert reverse("bench_tables") in text


def test_the_bench_works_on_an_empty_plant(stranger):
    from distillery.plant.models import Instrument

    Instrument.objects.all().delete()
    assert 'id="result"' in stranger.get("/bench/reading/", READING).content.decode()


@pytest.mark.parametrize(
    ("tool", "given", "box", "sentence"),
    [
        ("gauge", {**GAUGE, "celsius": "48"}, "celsius", "cool the sample below 40 °C"),
        ("gauge", {**GAUGE, "celsius": "-21"}, "celsius", "-21 °C"),
        ("gauge", {**GAUGE, "dip_mm": "3000"}, "dip_mm", "which runs from 0 to 2000 mm"),
        ("gauge", {**GAUGE, "dip_mm": "-1"}, "dip_mm", "below zero"),
        ("gauge", {**GAUGE, "hydrometer_percent": ""}, "hydrometer_percent", "take a hydrometer reading"),
        ("gauge", {**GAUGE, "hydrometer_percent": "101"}, "hydrometer_percent", "101"),
        ("gauge", {**GAUGE, "instrument": "ALC-OLD"}, "instrument", "no reference temperature"),
        ("gauge", {**GAUGE, "vessel": "NONE"}, "vessel", "no vessel of that code"),
        ("gauge", {**GAUGE, "vessel": "WB1"}, "original_gravity", "proved by its gravities"),
        ("reading", {**READING, "hydrometer_percent": "sixty"}, "hydrometer_percent", "type digits with a point"),
        ("reading", {**READING, "hydrometer_percent": "6e1"}, "hydrometer_percent", "write all its digits"),
        ("reading", {**READING, "hydrometer_percent": "6_3"}, "hydrometer_percent", "write all its digits"),
        ("reading", {**READING, "hydrometer_percent": "٦٣"}, "hydrometer_percent", "type digits with a point"),
        ("reading", {**READING, "litres": "2,360"}, "litres", "can mean 2360 or 2.360"),
        ("reading", {**READING, "litres": "9" * 39}, "litres", "check the decimal point"),
        ("reading", {**READING, "hydrometer_percent": "nan"}, "hydrometer_percent", "not a figure"),
        ("reading", {**READING, "hydrometer_percent": "inf"}, "hydrometer_percent", "not a figure"),
        ("reading", {**READING, "hydrometer_percent": "99.9", "celsius": "-10"}, "hydrometer_percent", "kg/m³"),
        ("reading", {**READING, "thermometer_correction": "90"}, "thermometer_correction", "100 °C"),
        ("reading", {**READING, "litres": "1e300"}, "litres", "check the decimal point"),
        ("density", {**DENSITY, "basis": ""}, "basis", "in air or in vacuum"),
        ("density", {**DENSITY, "density": "0.94805"}, "density", "948.05 kg/m³"),
        ("density", {**DENSITY, "density": "700"}, "density", "700"),
        ("reduce", {**REDUCE, "target_percent": "70"}, "target_percent", "Water cannot bring"),
        ("reduce", {**REDUCE, "target_percent": ""}, "target_percent", "is blank"),
        ("reduce", {**REDUCE, "percent20": "163.5"}, "percent20", "outside 0 to 100 %"),
        ("reduce", {**REDUCE, "litres20": "0"}, "litres20", "nothing in the vat"),
        ("reduce", {**REDUCE, "first_share": "100"}, "first_share", "leaves nothing to trim"),
        ("reduce", {**REDUCE, "aim": "capacity", "capacity_litres": "900"}, "capacity_litres", "use a larger one"),
        ("blend", {"litres_1": "10", "percent_1": "40", "litres_2": "5"}, "percent_2", "0 for water"),
        ("blend", {"litres_1": "0", "percent_1": "40"}, "litres_1", "nothing to mix"),
        ("cask", {**CASK, "gross_kg": "40"}, "gross_kg", "below the tare"),
        ("cask", {**CASK, "cask": "HW-9999"}, "cask", "no cask HW-9999"),
        ("cask", {**CASK, "cask": ""}, "tare_kg", "weight of the empty cask"),
        ("wash", {**WASH, "original_gravity": "10603"}, "original_gravity", "1.0603 and not 1060.3"),
        ("wash", {**WASH, "original_gravity": "10.61"}, "original_gravity", "1.0603 and not 1060.3"),
        ("wash", {**WASH, "present_gravity": "1.070"}, "present_gravity", "swapped"),
        ("wash", {**WASH, "original_gravity": "1.120"}, "present_gravity", "no factor"),
        ("wash", {**WASH, "present_celsius": "60"}, "present_celsius", "60 °C"),
        ("convert", {"value": "120", "scale": "percent_vol"}, "value", "120"),
        ("convert", {"value": "1.3", "scale": "gravity"}, "value", "Plato is not defined"),
        ("convert", {"value": "40", "scale": "nonsense"}, "scale", "not one of the available choices"),
    ],
)
def test_bad_input_is_named_beside_its_box(stranger, tool, given, box, sentence):
    page = stranger.get(f"/bench/{tool}/", given)
    form = page.context["form"]
    assert page.status_code == 200
    assert list(form.errors) == [box], form.errors
    assert sentence in " ".join(form.errors[box])
    text = page.content.decode()
    assert f'href="#id_{box}"' in text
    assert "Error: " in text.split("</title>")[0]
    assert 'id="result"' not in text
    # What was typed stays in its box.
    for name, typed in given.items():
        if typed and name not in ("instrument", "vessel", "aim", "basis", "scale"):
            assert f'value="{typed}"' in text


@pytest.mark.parametrize(
    ("tool", "given"),
    [
        ("reading", {"hydrometer_percent": "100", "celsius": "20", "instrument": "20"}),
        ("reading", {"hydrometer_percent": "0", "celsius": "20", "instrument": "20"}),
        ("reading", {"hydrometer_percent": "50", "celsius": "40", "instrument": "15.56"}),
        ("reading", {"hydrometer_percent": "50", "celsius": "-20", "instrument": "15"}),
        ("reduce", {**REDUCE, "target_percent": "63.5"}),
        ("gauge", {**GAUGE, "dip_mm": "0", "hydrometer_percent": ""}),
        ("cask", {**CASK, "gross_kg": "48.2", "hydrometer_percent": ""}),
        ("wash", {**WASH, "present_gravity": "1.060"}),
        ("convert", {"value": "0", "scale": "percent_vol", "litres20": "0"}),
        ("convert", {"value": "100", "scale": "percent_mass"}),
        ("blend", {"litres_1": "10", "percent_1": "100", "litres_2": "0", "percent_2": "0"}),
    ],
)
def test_the_ends_of_the_range_have_an_answer_and_a_slip(stranger, tool, given):
    page = stranger.get(f"/bench/{tool}/", given)
    assert page.context["form"].errors == {}
    assert 'id="result"' in page.content.decode()
    assert "nan" not in page.content.decode().split('id="result"')[1]
    assert stranger.get(f"/bench/{tool}/slip.pdf", given)["Content-Type"] == "application/pdf"


def test_caution_stands_where_spirit_is_moved(stranger):
    for tool in ("gauge", "reduce", "blend", "cask"):
        text = stranger.get(f"/bench/{tool}/").content.decode()
        assert "risk assessment" in text, tool


def test_slip_carries_what_the_page_shows(stranger):
    slip = stranger.get("/bench/gauge/slip.pdf", GAUGE)
    text = words(slip.content)
    for part in (
        "Bench slip: gauge a vessel",
        "Not a record",
        "1,572.17 LPA",
        "61 % vol",
        "SR1",
        "risk assessment",
        "someone not signed on",
        "THERM",
    ):
        assert part in text, part


def test_slip_names_who_printed_it(browser_of, staff):
    assert staff.shown_name in words(browser_of(staff).get("/bench/reading/slip.pdf", READING).content)


def test_slip_without_a_result_goes_back_to_the_form(stranger):
    answer = stranger.get("/bench/reading/slip.pdf", {**READING, "celsius": "48"})
    assert answer.status_code == 302
    assert answer["Location"].startswith("/bench/reading/?")
    assert "celsius=48" in answer["Location"]


def test_unknown_sums_and_tables_are_not_found(stranger):
    for address in ("/bench/nothing/", "/bench/nothing/slip.pdf", "/bench/tables/nothing.pdf"):
        assert stranger.get(address).status_code == 404
    assert stranger.post("/bench/reading/", READING).status_code == 405


def test_result_is_carried_into_a_record(stranger):
    text = stranger.get("/bench/gauge/", GAUGE).content.decode()
    try:
        address = reverse("record_new", kwargs={"kind": "transfer"})
    except NoReverseMatch:
        assert "A transfer out of this vessel" not in text
        return
    assert f"{address}?from_vessel=SR1&amp;from_before_dip_mm=1000&amp;from_before_celsius=14" in text
    assert "line-0-vessel=SR1&amp;line-0-gauge_dip_mm=1000" in text


def test_carried_names_are_the_names_of_the_records():
    """Boxes of the records the bench carries into, by the sheets that declare them."""
    from batches.steps import sheet_of
    from distillery.bench.tools import CaskForm, GaugeForm, ReductionForm

    for form in (GaugeForm(GAUGE), CaskForm(CASK), ReductionForm(REDUCE)):
        assert form.is_valid(), form.errors
        for carry in form.answer.carries:
            sheet = sheet_of(carry.kind)
            single = {field.name for field in sheet.fields}
            lines = {f"line-0-{field.name}" for field in sheet.row_fields} if sheet.rows else set()
            assert set(carry.values) <= single | lines, carry.kind


def test_printed_strength_table_holds_the_check_values(stranger):
    """computed_alcoholometer_reading_to_true_20C.csv: 63.5 at 15 °C is 65.189, 60 at 10 °C 63.423."""
    pdf = stranger.get("/bench/tables/strength.pdf", {**TABLE, "instrument": "ALC"})
    assert pdf["Content-Type"] == "application/pdf"
    lines = [line.split() for line in words(pdf.content).replace("\n", " ").split("  ")]
    flat = [word for line in lines for word in line]
    # A row is its reading and then 10, 11, 12, 13, 14 and 15 °C.
    row = flat[flat.index("63.5") : flat.index("63.5") + 7]
    assert float(row[6]) == pytest.approx(65.189, abs=0.0051)
    assert float(flat[flat.index("60.0") + 1]) == pytest.approx(63.423, abs=0.0051)
    text = words(pdf.content)
    for part in ("OIML R 22:1975", "ALC, marked at 20 °C", "Page 1 of 1", "Harrowmere"):
        assert part in text


def test_printed_volume_table_holds_the_check_values(stranger):
    """computed_volume_factor_to_20C.csv, to the five decimals printed."""
    known = {(row[0], row[1]): float(row[2]) for row in table("computed_volume_factor_to_20C.csv")}
    pdf = stranger.get("/bench/tables/volume.pdf", {**TABLE, "warmest": "20"})
    flat = words(pdf.content).split()
    row = flat[flat.index("63.5") : flat.index("63.5") + 12]
    assert float(row[1]) == pytest.approx(known["63.5", "10"], abs=6e-6)
    assert float(row[6]) == pytest.approx(known["63.5", "15"], abs=6e-6)
    seventy = flat[flat.index("70.0") : flat.index("70.0") + 12]
    assert float(seventy[9]) == pytest.approx(known["70", "18"], abs=6e-6)
    assert float(seventy[11]) == 1.0


def test_a_pair_no_spirit_shows_is_a_dash(stranger):
    pdf = stranger.get(
        "/bench/tables/strength.pdf", {**TABLE, "instrument": "ALC", "low": "98", "high": "100", "coldest": "0"}
    )
    flat = words(pdf.content).split()
    assert flat[flat.index("100.0") + 1] == "-"


@pytest.mark.parametrize(
    ("given", "box", "sentence"),
    [
        ({**TABLE, "high": "50"}, "high", "swap the two"),
        ({**TABLE, "coldest": "-30"}, "coldest", "outside -20 to 40 °C"),
        ({**TABLE, "warmest": "41"}, "warmest", "outside -20 to 40 °C"),
        ({**TABLE, "step": "0"}, "step", "outside 0.01 to 50"),
        ({**TABLE, "step": "0.01"}, "step", "wider step"),
        ({**TABLE, "celsius_step": "0.1"}, "celsius_step", "wider step"),
        ({**TABLE, "low": "x"}, "low", "not a figure"),
        ({**TABLE, "low": ""}, "low", "blank"),
        ({**TABLE, "instrument": "ALC-OLD"}, "instrument", "no reference temperature"),
    ],
)
def test_a_table_that_cannot_be_printed_says_why(stranger, given, box, sentence):
    page = stranger.get("/bench/tables/strength.pdf", {"instrument": "ALC"} | given)
    assert page["Content-Type"].startswith("text/html")
    assert list(page.context["form"].errors) == [box]
    assert sentence in " ".join(page.context["form"].errors[box])
    assert f'href="#id_strength_{box}"' in page.content.decode()


def test_widest_table_fits_its_page(stranger):
    pdf = stranger.get(
        "/bench/tables/volume.pdf",
        {"low": "0", "high": "100", "step": "0.25", "coldest": "-20", "warmest": "40", "celsius_step": "4"},
    )
    assert pdf["Content-Type"] == "application/pdf"
    assert len(PdfReader(BytesIO(pdf.content)).pages) > 10
