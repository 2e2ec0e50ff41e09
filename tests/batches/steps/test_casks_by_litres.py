"""Casks measured by their litres in place of a weight: filled by meter, gauged and emptied by dip or meter.

Worked by hand on the plain plant at 20 °C, where litres × strength / 100 is pure alcohol; away from 20 °C litres go
through the density formula of OIML R 22:1975, as a dip does. All figures are invented.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from math import sqrt

import pytest
from django.test import Client
from pypdf import PdfReader

from batches.models import Record
from batches.pages.writing.grid.worked_out import work_out
from batches.sheets.register import sheet_of
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import Unfit
from distillery.alcoholometry.gauging.gauge import gauge_by_dip, gauge_by_litres_chain
from distillery.clock.reading import books_now
from distillery.people.models import Person
from distillery.plant.lookup import Plant
from distillery.plant.models import Cask
from ledger.comparing.month import findings
from ledger.models import Balance, MeasuredFlow
from ledger.models import Gauge as Measured
from ledger.posting.gauging import kept, measure
from tests.batches.steps.test_disgorging import FILLED, disgorge, legs, line, weighed
from tests.batches.tiny_plant import cask, gauge

Write = Callable[..., Record]
BY_METER = {"cask": "C1", "litres": "199.5", "celsius": "20", "hydrometer_percent": "63.0"}


@pytest.fixture
def full(write: Write) -> None:
    for code in ("C1", "C2"):
        write("opening_cask", number=code, **FILLED)


@pytest.mark.parametrize("celsius", [8.0, 20.0, 27.5])
def test_litres_come_to_what_the_same_litres_by_dip_do(celsius: float) -> None:
    by_litres = gauge_by_litres_chain(
        litres_at_temperature=200.0, u_litres=0.0, celsius=celsius, hydrometer_percent=60.0
    ).quantity
    by_dip = gauge_by_dip(litres_at_temperature=200.0, litres_per_mm=0.0, celsius=celsius, hydrometer_percent=60.0)
    assert by_litres == by_dip


def test_how_sure_litres_are_adds_by_squares() -> None:
    """Half a per cent of 100 LPA is 0.5 LPA (common practice, no source), beside what the rest leaves unsure."""
    sure, unsure = (
        gauge_by_litres_chain(litres_at_temperature=200.0, u_litres=u, celsius=20.0, hydrometer_percent=50.0).quantity
        for u in (0.0, 1.0)
    )
    assert unsure.uncertainty_ul / 1e6 == pytest.approx(sqrt((sure.uncertainty_ul / 1e6) ** 2 + 0.5**2), rel=1e-6)


@pytest.mark.usefixtures("full")
class TestEmptied:
    def test_one_by_meter_beside_one_by_weight(self, write: Write) -> None:
        disgorge(write, [BY_METER, line("C2", "227")], "390")
        filled, metered, second = weighed("230", "63.5"), 199.5 * 0.63, weighed("227", "63.0")
        assert legs("DG0001") == pytest.approx(
            {
                "vessel:C1": -filled,
                "vessel:C2": -filled,
                "vessel:BV": 390 * 0.63,
                "loss:evaporation in cask": 2 * filled - metered - second,
                "difference:disgorging": metered + second - 390 * 0.63,
            },
            abs=2e-6,
        )
        emptied = Balance.objects.filter(account__code__in=("vessel:C1", "vessel:C2"))
        assert set(emptied.values_list("balance_ul")) == {(0,)}
        found = MeasuredFlow.objects.get(movement__record_number="DG0001", method="volume")
        # What is kept with it is enough to measure it anew.
        assert measure(kept(found.chain, method=found.method, vessel=None), Plant()).quantity.lpa == pytest.approx(
            metered, abs=2e-6
        )

    def test_it_is_measured_one_way(self, write: Write) -> None:
        with pytest.raises(Unfit, match="Gross and litres by meter or dip are both written on line 1; leave blank"):
            disgorge(write, [line("C1", "227") | {"litres": "199.5"}], "195")
        with pytest.raises(Unfit, match="Gross is blank on line 1; write tare and gross, or the litres by meter or"):
            disgorge(write, [{name: text for name, text in line("C1", "").items() if text}], "195")

    def test_a_wrong_meter_is_a_cause_that_is_named(self, write: Write) -> None:
        """189.5 was written for 199.5: the vat found ten litres more than the meter said."""
        disgorge(write, [BY_METER | {"litres": "189.5"}, line("C2", "227")], "395")
        [found] = [one for one in findings("2027-03") if one.record == "DG0001"]
        assert any("litres" in one.cause or "volume" in one.cause for one in found.likely), found.likely

    def test_a_regauge_by_dip(self, write: Write) -> None:
        write("regauge", "RG0001", at="2027-03-07T08:00", **BY_METER)
        found = Measured.objects.get(movement__record_number="RG0001")
        assert (found.method, found.pure_ul) == ("volume", pytest.approx(199.5e6 * 0.63, abs=2))
        assert legs("RG0001")["loss:evaporation in cask"] == pytest.approx(
            weighed("230", "63.5") - 199.5 * 0.63, abs=2e-6
        )

    def test_each_line_is_worked_out_as_it_is_written(self) -> None:
        typed = {"at": "2027-03-06T08:00", "vat": "BV"}
        rows = [line("C1", "227"), BY_METER | {"cask": "C2"}, {"cask": "C2", "celsius": "20"}]
        came = work_out(sheet_of("disgorging"), typed, rows, site=Site(), now=books_now()).lines
        assert [came[place][""].quantity is not None for place in range(3)] == [True, True, False]

    def test_its_page_and_its_print_say_what_was_read(
        self, write: Write, staff: Person, browser_of: Callable[[Person], Client]
    ) -> None:
        write("regauge", "RG0001", at="2027-03-07T08:00", **BY_METER)
        client = browser_of(staff)
        page = client.get("/records/regauge/RG0001/").text
        assert "Litres read" in page
        assert "199.5" in page
        printed = PdfReader(io.BytesIO(client.get("/records/regauge/RG0001/record.pdf").content)).pages
        text = " ".join(" ".join(page.extract_text() for page in printed).split())
        assert "Litres by meter or dip" in text
        assert "199.5" in text

    def test_on_into_another(self, write: Write) -> None:
        cask("C9")
        write(
            "re_racking",
            "RK0001",
            [
                BY_METER | {"what_happens": "emptied"},
                BY_METER | {"cask": "C9", "litres": "198", "what_happens": "filled"},
            ],
            at="2027-03-06T08:00",
        )
        assert legs("RK0001")["vessel:C9"] == pytest.approx(198 * 0.63, abs=2e-6)


class TestFilledByMeter:
    def fill(self, write: Write, opened: Callable[..., Record], **more: str) -> None:
        opened("VA", "1000", "63.5")
        write(
            "cask_fill",
            "CF0001",
            [{"cask": "C1", "litres": "200", "celsius": "20", "hydrometer_percent": "63.5", **more}],
            at="2027-03-08T08:00",
            vat="VA",
            **gauge("vat_before", "1000", "63.5"),
            **gauge("vat_after", "799", "63.5"),
        )

    def test_litres_by_strength(self, write: Write, opened: Callable[..., Record]) -> None:
        self.fill(write, opened)
        assert legs("CF0001") == pytest.approx(
            {"vessel:VA": -201 * 0.635, "vessel:C1": 127.0, "difference:cask fill": 0.635}, abs=2e-6
        )
        assert Cask.objects.get(vessel__code="C1").tare_g is None

    def test_a_tare_beside_it_is_kept_for_the_next_weighing(self, write: Write, opened: Callable[..., Record]) -> None:
        self.fill(write, opened, tare_kg="51.5")
        assert Cask.objects.get(vessel__code="C1").tare_g == 51_500
