"""A distillation period from opened to ended, worked by hand on the plain plant: a litre a millimetre, all at 20 °C."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime

import pytest

from batches.distilling.facts import period_facts
from batches.distilling.in_the_way import in_the_way
from batches.distilling.periods import all_periods, months_after, runs_without_period
from batches.distilling.yields import Yield
from batches.models import Record
from batches.pages.results import results_of
from batches.sheets.register import sheet_of
from batches.sheets.site import Site
from batches.sheets.typed.read_sheet import Unfit, read_so_far
from distillery.pages import OUT
from tests.batches.results import facts_in
from tests.batches.still_house import fermented_washback
from tests.batches.tiny_plant import gauge

pytestmark = pytest.mark.django_db
Write = Callable[..., Record]
NOW = datetime(2027, 5, 1, tzinfo=UTC)

OPENED = {
    "spirit_class": "malt spirit",
    "opened_at": "2027-03-02T06:00",
    "feints_receiver": "FE",
    **gauge("feints_open", "800", "30.0"),
}
ENDED = {"ended_at": "2027-03-06T06:00", **gauge("feints_close", "835", "30.0")}
WASH = {
    "still": "WS",
    "fermentation": "FE0001",
    "washback": "WB",
    "charged_at": "2027-03-04T12:00",
    "washback_after_dip_mm": "0",
    "receiver": "LW",
    **gauge("receiver_before", "0"),
}
WASH_ENDED = {
    "ended_at": "2027-03-04T18:00",
    **gauge("receiver_after", "650", "25.0"),
    "pot_ale_litres": "1330",
    "pot_ale_percent": "0.1",
}
SPIRIT = {
    "still": "SS",
    "charged_at": "2027-03-05T08:00",
    "low_wines_receiver": "LW",
    "feints_receiver": "FE",
    "spirit_receiver": "SP",
    **gauge("low_wines_before", "650", "25.0"),
    **gauge("low_wines_after", "0"),
    **gauge("feints_before", "800", "30.0"),
    **gauge("feints_after", "0"),
    **gauge("spirit_before", "100", "70.0"),
    "ended_at": "2027-03-05T14:00",
    **gauge("spirit_after", "315", "70.0"),
    **gauge("feints_receiver_after", "835", "30.0"),
    "spent_lees_litres": "600",
    "spent_lees_percent": "0.05",
}


@pytest.fixture
def house(write: Write, opened: Callable[..., Record]) -> None:
    """Feints of 240 LPA, a remnant of 70, and a washback of 2,000 litres at 8.184 % vol of 400 kg of malt of 410."""
    opened("LW", "0", "")
    opened("FE", "800", "30.0")
    opened("SP", "100", "70.0")
    fermented_washback(write, promised="410", malt="400")


@pytest.fixture
def distilled(write: Write, house: None) -> Record:
    """A period that holds a wash run and a spirit run, both ended."""
    period = write("distillation_period", "DP0001", **OPENED)
    write("wash_run", "WR0001", **WASH, **WASH_ENDED)
    write("spirit_run", "SR0001", **SPIRIT)
    return period


def test_what_it_made_of_its_malt(write: Write, distilled: Record) -> None:
    write("distillation_period", "DP0001", **ENDED)
    (period,) = all_periods()
    found = Yield(period, Site())
    # Spirit 215 L at 70 %: 150.5 LPA; feints from 240 to 250.5; 400 kg: (150.5 + 10.5) / 0.4 = 402.5 LPA a tonne.
    assert found.made_ul / 1e6 == pytest.approx(150.5, abs=1e-3)
    assert found.feints_open_ul / 1e6 == pytest.approx(240.0, abs=1e-3)
    assert found.feints_close_ul / 1e6 == pytest.approx(250.5, abs=1e-3)
    assert found.malt_kilograms == pytest.approx(400.0)
    assert found.lpa_per_tonne == pytest.approx(402.5, abs=0.01)
    assert found.predicted == pytest.approx(410.0)
    assert found.efficiency == pytest.approx(100 * 402.5 / 410, abs=0.01)
    (mash,) = found.mashes
    assert (mash.mash.number, mash.share) == ("MA0001", 1.0)
    # 163.68 LPA of wash of 400 kg.
    assert mash.wash_per_tonne == pytest.approx(409.2, abs=0.01)
    # One charge since the first on record; seven until it is judged.
    assert (found.settling.charges, found.settling.needed, found.settling.judged) == (1, 7, False)
    assert found.u95_lpa_per_tonne is not None
    assert found.u95_lpa_per_tonne > 0


def test_what_its_runs_recovered(write: Write, distilled: Record) -> None:
    write("distillation_period", "DP0001", **ENDED)
    found = {fact.label: fact for fact in period_facts(Yield(all_periods()[0], Site()))}
    # 162.5 of 163.68 LPA of wash; 150.5 and 250.5 of 402.5 LPA charged.
    assert (found["Recovered, wash runs"].text, found["Recovered, wash runs"].state) == ("99.28", None)
    assert (found["Recovered, spirit runs"].text, found["Recovered, spirit runs"].state) == ("99.63", None)


def test_more_than_was_charged_is_no_good_run(write: Write, house: None) -> None:
    write("distillation_period", "DP0001", **OPENED)
    write("wash_run", "WR0001", **WASH, **(WASH_ENDED | gauge("receiver_after", "680", "25.0")))
    (period,) = all_periods()
    found = {fact.label: fact for fact in period_facts(Yield(period, Site()))}["Recovered, wash runs"]
    # 170 of 163.68 LPA.
    assert (found.text, found.state) == ("103.86", OUT)
    assert "biased" in found.note


def test_gauges_of_its_feints_stand_in_the_books(write: Write, distilled: Record) -> None:
    write("distillation_period", "DP0001", **(ENDED | gauge("feints_close", "830", "30.0")))
    (period,) = all_periods()
    # Five litres less than after the run: what the closing gauge says is the stock.
    assert Yield(period, Site()).feints_close_ul / 1e6 == pytest.approx(249.0, abs=1e-3)


def refused(write: Write, **values: str) -> list[str]:
    with pytest.raises(Unfit) as error:
        write("distillation_period", "DP0001", **values)
    return [problem.sentence for problem in error.value.problems]


def test_a_charged_still_and_wash_left_stand_in_the_way(write: Write, house: None) -> None:
    write("distillation_period", "DP0001", **OPENED)
    write("wash_run", "WR0001", **(WASH | {"washback_after_dip_mm": "1000"}))
    said = refused(write, **ENDED)
    assert said == [
        "WR0001 is charged in WS and has not ended.",
        "WB still holds 1,000 L of FE0001, of which WR0001 was charged.",
    ]
    (period,) = all_periods()
    assert [one.number for one in in_the_way(period.spirits, period.opened_at, period.until)] == ["WR0001", "WR0001"]


def test_a_receiver_that_was_not_measured_stands_in_the_way(write: Write, house: None) -> None:
    write("distillation_period", "DP0001", **OPENED)
    write("wash_run", "WR0001", **WASH, **(WASH_ENDED | dict.fromkeys(gauge("receiver_after", "", "1"), "missing")))
    (said,) = refused(write, **ENDED)
    assert said == "WR0001: Receiver after is marked missing, so what it gave is not accounted for."


def test_not_longer_than_a_month_unless_it_was_allowed(write: Write, distilled: Record) -> None:
    late = ENDED | {"ended_at": "2027-04-03T06:00"}
    (said,) = refused(write, **late)
    assert said.startswith("A period of 31 days 23 h is longer than 1 month")
    write("distillation_period", "DP0001", **late, longer_allowed="Officer, letter of 1 March 2027")
    assert all_periods()[0].ended_at is not None


def test_one_after_another(write: Write, distilled: Record) -> None:
    with pytest.raises(Unfit, match=r"DP0001 of malt spirit lies in the same time"):
        write("distillation_period", "DP0002", **(OPENED | {"opened_at": "2027-03-05T20:00"}))
    write("distillation_period", "DP0001", **ENDED)
    following = OPENED | {"opened_at": "2027-03-06T06:00"} | gauge("feints_open", "835", "30.0")
    write("distillation_period", "DP0002", **following)
    assert [one.number for one in all_periods("malt spirit")] == ["DP0002", "DP0001"]


def test_another_class_has_periods_of_its_own(write: Write, distilled: Record) -> None:
    other = {
        "spirit_class": "other",
        "opened_at": "2027-03-03T06:00",
        "feints_receiver": "HT",
        **gauge("feints_open", "0"),
    }
    write("distillation_period", "DP0002", **other)
    assert Yield(all_periods("other")[0], Site()).runs == []


def test_a_run_names_its_period(distilled: Record) -> None:
    sheet = sheet_of("spirit_run")
    written = read_so_far(sheet, SPIRIT, site=Site(), number="SR0001")
    found = facts_in(results_of(written, NOW))["Distillation period"]
    assert (found.text, found.href) == ("DP0001", "/distilling/DP0001/")


def test_a_run_before_any_period_belongs_to_none(write: Write, house: None) -> None:
    write("wash_run", "WR0001", **WASH, **WASH_ENDED)
    write("distillation_period", "DP0001", **(OPENED | {"opened_at": "2027-03-05T06:00"}))
    assert [run.record.number for run in runs_without_period(all_periods())] == ["WR0001"]


@pytest.mark.parametrize(
    ("day", "later"),
    [
        (date(2027, 1, 31), date(2027, 2, 28)),
        (date(2027, 12, 5), date(2028, 1, 5)),
        (date(2028, 1, 31), date(2028, 2, 29)),
    ],
)
def test_a_month_later(day: date, later: date) -> None:
    assert months_after(day, 1) == later
