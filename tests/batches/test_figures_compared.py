"""The figures each step hands over to be compared with its kind, worked by hand on the plain plant.

A litre a millimetre, everything at 20 °C, so an average strength and a share are plain arithmetic. Amounts are
invented.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path

import pytest

import batches
from batches.cleaned import BETWEEN_CLEANINGS
from batches.models import Record
from batches.records import recording
from batches.records.posting import drafts_of
from batches.records.readings import add_readings
from batches.running.runs import BETWEEN_READINGS
from batches.sheets.register import all_sheets
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import read_sheet
from batches.steps import STEPS, sheet_of
from batches.steps.shared.figures import Compared
from distillery.people.models import Person
from distillery.plant.models import Kind as VesselKind
from distillery.rules.models import UsualFigure
from ledger.models import Figure, Gauge, Movement
from ledger.posting.drafts import FigureTaken

from .test_steps_post import SPIRIT_CHARGE, SPIRIT_FINISH
from .tiny_plant import gauge

Write = Callable[..., Record]
POSTING = [sheet for sheet in STEPS if sheet.moments[-1].post is not None]
# A name with a part left open has to say at least this much of itself.
LEAST_SAID = 12

MASH = {
    "started_at": "2027-03-01T06:00",
    "ended_at": "2027-03-01T11:00",
    "malt_lot": "M001",
    "grist_kg": "200",
    "wort_litres": "1000",
    "wort_gravity": "1.0605",
    "wort_celsius": "18",
    "washback": "WB",
}
FERMENTATION = {
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
TRANSFER = {
    "at": "2027-03-06T08:00",
    "from_vessel": "SP",
    "to_vessel": "VA",
    **gauge("from_before", "300", "70.0"),
    **gauge("to_before", "0"),
    **gauge("from_after", "0"),
    **gauge("to_after", "300", "69.8"),
}


def figures_of(number: str) -> dict[str, Figure]:
    standing = Figure.objects.filter(movement__record_number=number, movement__corrections__isnull=True)
    return {one.name: one for one in standing}


def values_of(number: str) -> dict[str, float]:
    return {name: one.value_millionths / 1e6 for name, one in figures_of(number).items()}


@pytest.fixture
def malt(write: Write) -> None:
    write(
        "intake", "M001", received_at="2027-03-01T06:00", kilograms="10000", predicted_spirit_yield_lpa_per_tonne="410"
    )
    write("mash", "MA0001", **MASH)


@pytest.fixture
def pitched(write: Write, malt: None) -> Record:
    return write("fermentation", "FE0001", **FERMENTATION)


def test_a_fermentation_beside_its_mash_its_log_and_its_malt(write: Write, pitched: Record, staff: Person) -> None:
    add_readings(pitched, [("2027-03-03T23:00", "gravity", "0.9986"), ("2027-03-04T05:00", "gravity", "0.9983")], staff)
    write("fermentation", "FE0001", **DECLARED)
    found = figures_of("FE0001")
    original = found["original gravity beside the wort"]
    assert (original.value_millionths, original.expected_millionths) == (1_060_000, 1_060_500)
    final = found["final gravity beside the last logged"]
    assert (final.value_millionths, final.expected_millionths) == (998_000, 998_300)
    # Half a degree as usual, one more reading's 0.0002, and 0.0003 in six hours going on for six more.
    assert final.spread_millionths == pytest.approx((500**2 + 200**2 + 300**2) ** 0.5, abs=1)
    assert values_of("FE0001")["wash beside the wort"] == pytest.approx(100.0)
    # 81.84 litres of pure alcohol (62 degrees by 0.132) of 82 promised: 200 kg at 410 a tonne.
    assert values_of("FE0001")["share of the predicted yield"] == pytest.approx(100 * 81.84 / 82.0, abs=1e-4)


@pytest.mark.parametrize("dip", ["500", "2000"])
def test_a_mash_shared_between_washbacks_is_not_held_against_either(write: Write, malt: None, dip: str) -> None:
    write("fermentation", "FE0001", **FERMENTATION, **DECLARED | {"final_dip_mm": dip})
    assert set(figures_of("FE0001")) == {"original gravity beside the wort"}


def test_an_old_reading_says_nothing_of_the_final_gravity(write: Write, pitched: Record, staff: Person) -> None:
    add_readings(pitched, [("2027-03-03T11:00", "gravity", "1.0100")], staff)
    write("fermentation", "FE0001", **DECLARED)
    assert "final gravity beside the last logged" not in figures_of("FE0001")


def test_a_corrected_mash_is_held_against_its_fermentation_anew(write: Write, pitched: Record, staff: Person) -> None:
    write("fermentation", "FE0001", **DECLARED)
    mash = Record.objects.get(number="MA0001")
    recording.correct(mash, {"wort_gravity": "1.0599"}, person=staff, reason="misread")
    assert figures_of("FE0001")["original gravity beside the wort"].expected_millionths == 1_059_900
    assert Movement.objects.filter(record_number="FE0001", corrections__isnull=True, corrects__isnull=True).count() == 1


def test_a_struck_reading_no_longer_counts(write: Write, pitched: Record, staff: Person) -> None:
    rows = [("2027-03-04T00:00", "gravity", "0.9983"), ("2027-03-04T05:00", "gravity", "0.9893")]
    [_right, wrong] = add_readings(pitched, rows, staff, sure=True)
    write("fermentation", "FE0001", **DECLARED)
    assert figures_of("FE0001")["final gravity beside the last logged"].expected_millionths == 989_300
    recording.strike_reading(wrong, person=staff, reason="misread")
    assert figures_of("FE0001")["final gravity beside the last logged"].expected_millionths == 998_300
    # A reading written later was no part of what was declared, and a temperature is none of it.
    movements = Movement.objects.count()
    late = [("2027-03-04T10:00", "gravity", "0.9981"), ("2027-03-04T10:00", "celsius", "30")]
    [_gravity, celsius] = add_readings(pitched, late, staff)
    recording.strike_reading(celsius, person=staff, reason="another washback", value="28")
    assert Movement.objects.count() == movements


def test_a_wash_run(write: Write, pitched: Record, opened: Callable[..., Record]) -> None:
    write("fermentation", "FE0001", **DECLARED)
    opened("LW", "100", "20.0")
    write(
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
        **gauge("receiver_before", "100", "20.0"),
        ended_at="2027-03-04T18:30",
        **gauge("receiver_after", "400", "23.0"),
        pot_ale_litres="680",
        pot_ale_percent="0.1",
    )
    assert values_of("WR0001") == pytest.approx(
        {
            # 92 less 20 litres of pure alcohol in 300 litres.
            "average strength of the low wines": 24.0,
            "pot ale of the charge": 68.0,
            "pot ale strength": 0.1,
            "run time": 6.5,
        },
        abs=1e-3,
    )
    assert {one.like for one in figures_of("WR0001").values()} == {"WS"}


def test_a_spirit_run(write: Write, opened: Callable[..., Record]) -> None:
    opened("LW", "1000", "24.0")
    opened("FE", "500", "36.0")
    write("spirit_run", "SR0001", **SPIRIT_CHARGE)
    assert figures_of("SR0001") == {}
    write("spirit_run", "SR0001", **SPIRIT_FINISH)
    charged = (240.0 - 10.0) + (180.0 - 7.2)
    assert values_of("SR0001") == pytest.approx(
        {
            "average strength of the cut": 70.0,
            "share of the charge in the cut": 100 * 196.0 / charged,
            "average strength of the feints": 36.0,
            "charge": 1440.0,
            "spent lees of the charge": 100 * 600 / 1440,
            "spent lees strength": 0.05,
            "strength at spirit on": 75.0,
            "time to spirit on": 1.0,
            "run time": 6.0,
        },
        abs=1e-3,
    )


def test_a_corrected_cut_strength_is_compared_anew(
    write: Write, opened: Callable[..., Record], staff: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened("LW", "1000", "24.0")
    opened("FE", "500", "36.0")
    run = write("spirit_run", "SR0001", **SPIRIT_CHARGE | SPIRIT_FINISH)
    recording.correct(run, {"cut_on_percent": "74.5"}, person=staff, reason="slip of the pen")
    assert values_of("SR0001")["strength at spirit on"] == 74.5
    # In a closed month a figure that is only compared is not worth an entry that moves no alcohol.
    monkeypatch.setattr("batches.records.posting.is_closed", lambda period: True)
    recording.correct(run, {"cut_on_percent": "74.0"}, person=staff, reason="again")
    assert values_of("SR0001")["strength at spirit on"] == 74.5


def test_a_third_still_run(write: Write, opened: Callable[..., Record]) -> None:
    opened("VA", "1000", "70.0")
    write(
        "third_still_run",
        "TS0001",
        third_still="TS",
        kind="vodka",
        charged_at="2027-03-08T06:00",
        source="VA",
        **gauge("source_before", "1000", "70.0"),
        **gauge("source_after", "900", "70.0"),
        product_vessel="GI",
        **gauge("product_before", "0"),
        heads_tails_vessel="HT",
        **gauge("heads_tails_before", "0"),
        charcoal_kg="7",
        baskets="4",
        ended_at="2027-03-08T14:00",
        **gauge("product_after", "66", "94.0"),
        **gauge("heads_tails_after", "8", "77.0"),
    )
    assert values_of("TS0001") == pytest.approx(
        {
            "average strength of the product": 94.0,
            "share of the charge in the product": 100 * 62.04 / 70,
            "share of the charge in heads and tails": 100 * 6.16 / 70,
            "charcoal": 10.0,
            "baskets": 4.0,
            "run time": 8.0,
        },
        abs=1e-3,
    )
    assert {one.like for one in figures_of("TS0001").values()} == {"TS vodka"}


def test_a_transfer_beside_the_strength_it_came_from(write: Write, opened: Callable[..., Record]) -> None:
    opened("SP", "300", "70.0")
    write("transfer", "TR0001", **TRANSFER)
    [figure] = figures_of("TR0001").values()
    assert (figure.value_millionths, figure.expected_millionths) == pytest.approx((69_800_000, 70_000_000), abs=2)


def test_a_transfer_into_a_vessel_with_something_in_it(write: Write, opened: Callable[..., Record]) -> None:
    opened("SP", "300", "70.0")
    opened("VA", "300", "70.0")
    write("transfer", "TR0001", **TRANSFER | gauge("to_before", "300", "70.0") | gauge("to_after", "600", "69.9"))
    [figure] = figures_of("TR0001").values()
    assert (figure.value_millionths, figure.expected_millionths) == pytest.approx((69_900_000, 70_000_000), abs=2)


def test_a_reduction_beside_what_mixing_makes(write: Write, opened: Callable[..., Record]) -> None:
    opened("VA", "1000", "71.2")
    # 1,000 litres at 71.2 and water that brings them to 63.5 % vol: 1,121.26 litres, 127.87 kg of water (computed from
    # the formula of OIML R 22:1975), of which a scale in air shows 0.11 % less.
    water = f"{127.87 * (1 - 0.00106):.2f}"
    write(
        "reduction",
        "RE0001",
        at="2027-03-06T09:00",
        vessel="VA",
        **gauge("before", "1000", "71.2"),
        water_kg=water,
        **gauge("after", "1121", "63.5"),
    )
    found = figures_of("RE0001")
    strength, bulk = found["strength beside the mixing"], found["bulk beside the mixing"]
    assert strength.expected_millionths == pytest.approx(63_500_000, abs=2000)
    assert bulk.value_millionths / 1e6 == pytest.approx(100 * 1121 / 1121.26, abs=0.005)
    # What the balance of the alcohol holds already is said once: the bulk is no row of the model.
    assert (strength.parts != "{}", bulk.parts) == (True, "{}")


@pytest.fixture
def filled(write: Write, opened: Callable[..., Record]) -> Record:
    opened("VA", "1000", "63.5")
    line = {"cask_kind": "barrel", "tare_kg": "50", "celsius": "20", "hydrometer_percent": "63.6"}
    return write(
        "cask_fill",
        "CF0001",
        [{"cask": "C1", "gross_kg": "230"} | line, {"cask": "C2", "gross_kg": "228"} | line],
        at="2027-03-06T10:00",
        vat="VA",
        **gauge("vat_before", "1000", "63.5"),
        **gauge("vat_after", "600", "63.5"),
    )


def test_each_cask_of_a_fill(filled: Record) -> None:
    found = list(Figure.objects.filter(movement__record_number="CF0001").order_by("line"))
    assert [one.name for one in found] == 2 * ["filled of its size", "tare", "strength beside the vat"]
    assert {(one.like, one.beside) for one in found if one.name == "tare"} == {("barrel 200 L", "CF0001")}
    full, tare, strength = found[:3]
    # 0.70549 litres of pure alcohol in a kilogram weighed in air at 63.5 % vol, from the formula of OIML R 22: 199.98
    # litres, and at 63.6 a fiftieth of a per cent more.
    assert full.value_millionths / 1e6 == pytest.approx(100 * 180 * 0.70549 / 0.635 / 200, abs=0.05)
    assert tare.value_millionths == 50_000_000
    assert tare.parts == '{"tare_kg@C1":1.0}'
    assert (strength.value_millionths, strength.expected_millionths) == pytest.approx((63_600_000, 63_500_000), abs=5)


def test_a_regauge(write: Write) -> None:
    write("opening_cask", number="C1", filled_at="2022-03-01T09:00", tare_kg="50", gross_kg="230.2", percent="63.5")
    before = {"at": "2027-03-01T15:00", "cask": "C1", "celsius": "20"}
    write("regauge", "RG0001", **before, tare_kg="50", gross_kg="212.0", hydrometer_percent="62.0")
    found = values_of("RG0001")
    # 127.13 litres of pure alcohol then, and 162 kg at 62 % vol now, five years on.
    now = Gauge.objects.get(movement__record_number="RG0001").pure_ul / 1e6
    assert found["loss a year"] == pytest.approx(100 * (1 - (now / (180.2 * 0.70549)) ** 0.2), abs=0.01)
    assert found["fall in strength a year"] == pytest.approx(1.5 / 5, abs=0.001)
    # The site's band of 1 to 3 % a year, by the table a site starts with.
    assert figures_of("RG0001")["loss a year"].expected_millionths == 2_000_000


def test_a_bottling(write: Write, opened: Callable[..., Record]) -> None:
    opened("BV", "1000", "40.0")
    write(
        "bottling",
        "BO0001",
        at="2027-03-07T09:00",
        vat="BV",
        product="gin",
        lot_code="L1",
        bottle_centilitres="70",
        label_percent="40",
        bottles="990",
        **gauge("vat_before", "1000", "40.0"),
        **gauge("vat_after", "300", "40.0"),
        mean_fill_millilitres="700.6",
        mean_strength_percent="40.1",
    )
    found = figures_of("BO0001")
    # 990 bottles are 693 litres of the 700 that left the vat; 0.6 % is the usual loss a site starts with.
    assert found["bottles beside the drop of the vat"].value_millionths / 1e6 == pytest.approx(99.0, abs=1e-4)
    assert found["bottles beside the drop of the vat"].expected_millionths == 99_400_000
    assert (found["mean fill"].value_millionths, found["mean fill"].expected_millionths) == (700_600_000, 700_000_000)
    assert found["mean strength beside the label"].expected_millionths == 40_000_000


# -- how far a reading moves a figure


def drafted(kind: str, values: Mapping[str, str], rows: list[dict[str, str]]) -> dict[tuple[str, int], FigureTaken]:
    filled = read_sheet(sheet_of(kind), values, rows, site=Site(), number="X1")
    figures = [figure for draft in drafts_of(filled).values() for figure in draft.figures]
    return {(figure.name, place): figure for place, figure in enumerate(figures)}


FILL_ROWS = [
    {"cask": "C1", "tare_kg": "50", "gross_kg": "230", "celsius": "17.5", "hydrometer_percent": "63.6"},
    {"cask": "C2", "tare_kg": "49", "gross_kg": "228", "celsius": "16.0", "hydrometer_percent": "63.0"},
]
SPIRIT = SPIRIT_CHARGE | SPIRIT_FINISH | gauge("spirit_before", "90", "69.0", "15")
CASES: dict[str, tuple[dict[str, str], list[dict[str, str]]]] = {
    "spirit_run": (SPIRIT, []),
    "transfer": (TRANSFER | gauge("to_before", "150", "66.0", "12") | gauge("to_after", "449", "68.5", "17"), []),
    "reduction": (
        {
            "at": "2027-03-06T09:00",
            "vessel": "VA",
            "water_kg": "128",
            **gauge("before", "1000", "71.2", "16"),
            **gauge("after", "1121", "63.4", "22"),
        },
        [],
    ),
    "cask_fill": (
        {
            "at": "2027-03-06T10:00",
            "vat": "VA",
            **gauge("vat_before", "1000", "63.5", "18"),
            **gauge("vat_after", "600", "63.5", "18"),
        },
        FILL_ROWS,
    ),
    "fermentation": (FERMENTATION | DECLARED, []),
}
STEPS_OF = {
    "dip_mm": 1.0,
    "celsius": 0.1,
    "hydrometer_percent": 0.1,
    "kg": 0.1,
    "gravity": 0.0001,
    "litres": 1.0,
    "percent": 0.01,
}


def moved(text: str, column: str, sign: int) -> tuple[str, float]:
    """The reading one step of its instrument further, as it would be written, and that step."""
    step = next(size for ending, size in STEPS_OF.items() if column.endswith(ending))
    return f"{float(text) + sign * step:.4f}", step


@pytest.mark.parametrize("kind", list(CASES))
def test_a_reading_moves_its_figure_as_far_as_is_said(kind: str, malt: None) -> None:
    values, rows = CASES[kind]
    there, checked = drafted(kind, values, rows), 0
    for key, figure in there.items():
        for part, slope in figure.parts:
            column, _, cask = part.partition("@")
            off = []
            for sign in (1, -1):
                changed, lines = dict(values), [dict(row) for row in rows]
                block = next(row for row in lines if row["cask"] == cask) if cask else changed
                block[column], step = moved(block[column], column, sign)
                again = drafted(kind, changed, lines)[key]
                off.append(again.value - (again.expected if again.expected and not again.like else 0.0))
            assert slope == pytest.approx((off[0] - off[1]) / (2 * step), rel=0.02, abs=1e-5), (key, part)
            checked += 1
    assert checked > 0


# -- what a site holds usual


def test_every_usual_figure_a_site_starts_with_is_some_steps(db: None) -> None:
    """Each is asked for by its name in the sources, or by a name with a part of it left to the step ('{…}')."""
    sources = "".join(path.read_text(encoding="utf-8") for path in Path(batches.__file__).parent.rglob("*.py"))
    names = set(UsualFigure.objects.values_list("name", flat=True))
    # What is asked of a run while it is on, of a vessel's book or its cleaning is no figure of a step.
    names -= {f"{BETWEEN_READINGS}, {sheet.operation}" for sheet in all_sheets() if sheet.running}
    names -= {f"{BETWEEN_CLEANINGS}, {kind}" for kind in VesselKind.values}
    said = re.findall(r'f"([^"\n]*\{[^"\n]*)"', sources)
    parts = [[re.escape(part) for part in re.split(r"\{[^}]*\}", one)] for one in said]
    patterns = [re.compile(".+".join(one)) for one in parts if sum(map(len, one)) >= LEAST_SAID]
    asked = {name for name in names if f'"{name}"' in sources or any(one.fullmatch(name) for one in patterns)}
    assert names - asked == set()
    assert len(names) > 20


def test_a_figure_that_cannot_be_worked_out_is_left_out(db: None) -> None:
    found = Compared(datetime(2027, 3, 1, tzinfo=UTC))
    found.with_kind("charge", lambda: 1.0 / 0.0, like="SS", field="x", unit="L")
    found.with_kind("charge", lambda: float("inf"), like="SS", field="x", unit="L")
    found.with_kind("charge", lambda: 1440.0, like="SS", field="x", unit="L")
    assert [one.value for one in found.figures] == [1440.0]
