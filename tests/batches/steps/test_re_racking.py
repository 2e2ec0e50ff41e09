"""Casks moved on into casks, worked by hand on the plain plant, everything read at 20 °C. All figures are invented."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from batches.models import Link, Record
from batches.sheets.typed.read_sheet import Unfit
from ledger.comparing.unaccounted import left_by_records
from ledger.models import Movement
from tests.batches.steps.test_disgorging import AT, FILLED, legs, line, weighed
from tests.batches.tiny_plant import cask

Write = Callable[..., Record]


def emptied(code: str, gross: str, percent: str = "63.0") -> dict[str, str]:
    return line(code, gross, percent) | {"what_happens": "emptied"}


def filled(code: str, gross: str, percent: str = "63.0", **more: str) -> dict[str, str]:
    return line(code, gross, percent) | {"what_happens": "filled", **more}


@pytest.fixture
def two_casks(write: Write) -> None:
    for code in ("C1", "C2"):
        write("opening_cask", number=code, **FILLED)
    for code in ("C3", "C4"):
        cask(code)


@pytest.mark.usefixtures("two_casks")
class TestTwoIntoTwo:
    def rack(self, write: Write) -> Record:
        rows = [emptied("C1", "227.5"), emptied("C2", "227"), filled("C3", "226"), filled("C4", "226.8")]
        return write("re_racking", "RK0001", rows, at=AT)

    def test_in_against_out(self, write: Write) -> None:
        self.rack(write)
        start = weighed("230", "63.5")
        out = weighed("227.5", "63.0") + weighed("227", "63.0")
        third, fourth = weighed("226", "63.0"), weighed("226.8", "63.0")
        assert legs("RK0001") == pytest.approx(
            {
                "vessel:C1": -start,
                "vessel:C2": -start,
                "vessel:C3": third,
                "vessel:C4": fourth,
                "loss:evaporation in cask": 2 * start - out,
                "difference:re-racking": out - third - fourth,
            },
            abs=4e-6,
        )

    def test_it_is_judged(self, write: Write) -> None:
        self.rack(write)
        left = left_by_records(["RK0001"])["RK0001"]
        assert left.difference_ul == pytest.approx(legs("RK0001")["difference:re-racking"] * 1e6, abs=4)
        assert left.charge_ul == pytest.approx(2 * weighed("230", "63.5") * 0.98e6, abs=2)
        assert left.threshold_ul == left.charge_ul * 20_000 // 1_000_000

    def test_parents_and_children_are_linked(self, write: Write) -> None:
        record = self.rack(write)
        taken = set(Link.objects.filter(taker=record).values_list("account__code", flat=True))
        assert taken == {"vessel:C1", "vessel:C2"}
        given = write(
            "disgorging",
            "DG0001",
            [line("C3", "225.9")],
            at="2027-06-06T08:00",
            vat="BV",
            vat_before_dip_mm="0",
            vat_before_celsius="20",
            vat_after_dip_mm="190",
            vat_after_celsius="20",
            vat_after_hydrometer_percent="63.0",
        )
        assert set(Link.objects.filter(taker=given).values_list("giver__number", flat=True)) == {"RK0001"}

    def test_a_filled_cask_ages_from_here(self, write: Write) -> None:
        self.rack(write)
        write("regauge", "RG0001", at="2028-03-05T14:00", **line("C3", "223.5", "62.9"))
        before, after = weighed("226", "63.0"), weighed("223.5", "62.9")
        assert legs("RG0001") == pytest.approx(
            {"vessel:C3": after - before, "loss:evaporation in cask": before - after}, abs=4e-6
        )
        assert left_by_records(["RG0001"])["RG0001"].difference_ul == 0
        assert Movement.objects.get(record_number="RG0001").judged_ul == pytest.approx(before * 0.98e6, rel=1e-4)


@pytest.mark.usefixtures("two_casks")
@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ([emptied("C1", "227"), emptied("C2", "227")], "No cask is filled"),
        ([emptied("C1", "227"), filled("C2", "227")], "full already"),
        ([emptied("C3", "227"), filled("C4", "227")], "C3 is empty in the books"),
        ([emptied("C1", "227"), filled("C1", "227")], "C1"),
    ],
)
def test_what_cannot_be(write: Write, rows: list[dict[str, str]], said: str) -> None:
    with pytest.raises(Unfit, match=said):
        write("re_racking", "RK0001", rows, at=AT)


def test_one_into_three_with_what_the_wood_keeps(write: Write) -> None:
    write("opening_cask", number="C1", **FILLED)
    cask("C3")
    rows = [emptied("C1", "227.5"), filled("C2", "140"), filled("C3", "136")]
    write("re_racking", "RK0001", rows, at=AT, wood_litres="1", wood_percent="60")
    found = legs("RK0001")
    assert found["loss:wood absorption"] == pytest.approx(0.6)
    left = weighed("227.5", "63.0") - 0.6 - weighed("140", "63.0") - weighed("136", "63.0")
    assert found["difference:re-racking"] == pytest.approx(left, abs=4e-6)
    assert left_by_records(["RK0001"])["RK0001"].difference_ul == pytest.approx(left * 1e6, abs=4)
