"""Casks against their band and their warehouse, worked by hand; the yearly 1 to 3 % is invented for these tests."""

from __future__ import annotations

import csv
import io
from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from distillery.people.models import Person
from distillery.plant.models import MICRO, Cask, Kind, Stage, Vessel
from distillery.rules.cask_loss import kept_share
from distillery.rules.models import CaskBand
from ledger.posting import post as posting
from ledger.posting.accounts import difference, source, vessel_account
from ledger.posting.drafts import Draft, Moved, Taken
from ledger.statements.maturing import FEWEST, CaskWatch, Verdict, cask_watch, not_gauged
from ledger.views.casks_watch import _printed
from tests.ledger.plant import gauge, quantity

pytestmark = pytest.mark.django_db

FILLED = datetime(2020, 3, 1, 12, tzinfo=UTC)
YEAR = timedelta(days=365.25)


@pytest.fixture(autouse=True)
def band() -> None:
    CaskBand.objects.create(
        from_day=date(2019, 1, 1),
        warehouse="1",
        low_millionths_a_year=10_000,
        high_millionths_a_year=30_000,
        source="invented",
    )


def cask(code: str, person: Person, *, filled: float, gauged: dict[float, float], warehouse: str = "1") -> None:
    """A cask filled with so much and gauged after so many years with so much, in litres of pure alcohol."""
    vessel = Vessel.objects.create(code=code, name=code, kind=Kind.CASK, stage=Stage.MATURING)
    Cask.objects.create(
        vessel=vessel, kind="barrel", nominal_ul=200 * MICRO, warehouse=warehouse, listed_warehouse=warehouse
    )

    def write(number: str, operation: str, at: datetime, line: Moved | Taken) -> None:
        posting.post(
            Draft(
                kind=operation,
                operation=operation,
                happened_at=at,
                record_kind=operation,
                record_number=number,
                moment="done",
                lines=(line,),
            ),
            person=person,
        )

    account = vessel_account(vessel)
    write(f"F-{code}", "cask fill", FILLED, Moved(source("opening stock"), account, quantity(filled)))
    for years, lpa in gauged.items():
        taken = Taken(gauge(vessel, lpa, name="regauge", role="after"), difference("regauge"))
        write(f"G-{code}-{years}", "regauge", FILLED + years * YEAR, taken)


def only(code: str) -> CaskWatch:
    return next(one for one in cask_watch() if one.code == code)


def test_the_band_is_compounded_over_the_age(staff: Person) -> None:
    cask("A", staff, filled=127.0, gauged={10: 104.0})
    found = only("A")
    # 127 x 0.97^10 = 93.65 and 127 x 0.99^10 = 114.86, by hand.
    assert (found.low_lpa, found.high_lpa) == (pytest.approx(93.65, abs=0.01), pytest.approx(114.86, abs=0.01))
    assert found.years == pytest.approx(10)
    assert (found.verdict, found.outside_lpa) == (Verdict.USUAL, 0.0)
    # 1 - (104 / 127)^(1/10) = 0.01978 a year, compounded as the band is, by hand.
    assert found.rate_percent == pytest.approx(1.978, abs=0.001)


def test_page_csv_and_print_show_the_yearly_loss_that_the_band_is_made_of(
    staff: Person, manager: Person, client: Client
) -> None:
    """Excise reference, worked check 6: 127.000 filled, 112.054 five years on, 2.47 % a year compound."""
    cask("A", staff, filled=127.0, gauged={5: 112.054})
    assert only("A").rate_percent == pytest.approx(2.47, abs=0.005)
    assert 127.0 * kept_share(only("A").rate_percent / 100, 5) == pytest.approx(112.054)
    client.force_login(manager)
    assert ">2.47<" in client.get("/warehouse/expected/").content.decode()
    text = b"".join(client.get("/warehouse/expected/?as=csv").streaming_content).decode()
    [line] = list(csv.DictReader(io.StringIO(text)))
    assert "2.47" in line.values()
    assert _printed(only("A")).rate_percent == pytest.approx(2.47, abs=0.005)


@pytest.mark.parametrize(
    ("measured", "verdict"),
    [(93.0, Verdict.USUAL), (92.6, Verdict.BELOW), (115.8, Verdict.USUAL), (115.9, Verdict.ABOVE)],
)
def test_only_what_the_gauge_can_tell_is_outside(staff: Person, measured: float, verdict: Verdict) -> None:
    # Two standard uncertainties are 1.0 litre of pure alcohol here: the band reaches from 92.65 to 115.86.
    cask("A", staff, filled=127.0, gauged={10: measured})
    assert only("A").verdict == verdict


def test_a_rate_is_since_the_last_gauge_and_not_over_weeks(staff: Person) -> None:
    cask("A", staff, filled=127.0, gauged={5: 115.0, 6: 112.7})
    # 1 - 112.7 / 115 = 0.0200 in one year, by hand.
    assert only("A").rate_percent == pytest.approx(2.00, abs=0.001)
    cask("B", staff, filled=127.0, gauged={0.1: 126.5})
    assert only("B").rate_percent is None


def test_a_median_is_silent_until_it_has_enough(staff: Person) -> None:
    for number in range(FEWEST - 1):
        cask(f"A{number}", staff, filled=127.0, gauged={10: 104.0})
    assert {one.median_percent for one in cask_watch()} == {None}
    cask("B", staff, filled=127.0, gauged={10: 104.0}, warehouse="2")
    assert {one.median_percent for one in cask_watch()} == {None}, "another warehouse does not help"


def test_a_cask_that_loses_far_more_than_its_warehouse_is_marked_inside_its_band_too(staff: Person) -> None:
    for number in range(FEWEST):
        cask(f"A{number}", staff, filled=127.0, gauged={9: 106.0, 10: 105.0})
    # It kept nearly all for nine years and lost 4 % in the tenth: inside the band, four times its warehouse's rate.
    cask("Z", staff, filled=127.0, gauged={9: 110.0, 10: 105.7})
    found = only("Z")
    assert found.median_percent == pytest.approx(0.95, abs=0.01)
    assert found.verdict == Verdict.FAST
    # Measured 40 % over the rest, one bad cask does not move the median.
    assert {one.verdict for one in cask_watch() if one.code != "Z"} == {Verdict.USUAL}


def test_the_furthest_below_comes_first_and_a_warehouse_can_be_asked_for(staff: Person) -> None:
    cask("A", staff, filled=127.0, gauged={10: 104.0})
    cask("B", staff, filled=127.0, gauged={10: 80.0})
    cask("C", staff, filled=127.0, gauged={10: 85.0}, warehouse="2")
    assert [one.code for one in cask_watch("1")] == ["B", "A"]
    assert [one.code for one in cask_watch()][:2] == ["B", "C"]
    assert only("B").outside_lpa == pytest.approx(80 - 92.65, abs=0.01)


def test_casks_not_gauged_yet_are_only_counted(staff: Person) -> None:
    cask("A", staff, filled=127.0, gauged={10: 104.0})
    cask("B", staff, filled=127.0, gauged={})
    watched = cask_watch()
    assert [one.code for one in watched] == ["A"]
    assert not_gauged(watched) == 1


def test_only_the_casks_gauged_last_are_looked_through_however_many_there_are(staff: Person) -> None:
    for number in range(4):
        cask(f"A{number}", staff, filled=127.0, gauged={5: 116.0, 6 + number: 112.0})
    cask("B", staff, filled=127.0, gauged={5.5: 60.0})
    assert {one.code for one in cask_watch(most=2)} == {"A2", "A3"}
    assert len(cask_watch(most=5)) == 5
    assert cask_watch(most=5)[0].code == "B"


def test_the_casks_as_they_were_gauged_up_to_a_day(staff: Person) -> None:
    cask("A", staff, filled=127.0, gauged={5: 116.0, 8: 60.0})
    cask("B", staff, filled=127.0, gauged={8: 110.0})
    [then] = cask_watch(until=FILLED + 6 * YEAR)
    assert (then.code, then.measured_lpa, then.verdict) == ("A", 116.0, Verdict.USUAL)
    assert [one.verdict for one in cask_watch()] == [Verdict.BELOW, Verdict.USUAL]


def test_the_page_of_an_earlier_day(staff: Person, manager: Person, client: Client) -> None:
    cask("A", staff, filled=127.0, gauged={2: 123.0, 5: 60.0})
    client.force_login(manager)
    assert "below its band: look for a leak" in client.get("/warehouse/expected/").content.decode()
    earlier = client.get(f"/warehouse/expected/?until={FILLED + 3 * YEAR:%Y-%m-%d}").content.decode()
    table = earlier[earlier.index("<table") :]
    assert "123.0" in table
    assert "look for a leak" not in table
    assert "is not a day" in client.get("/warehouse/expected/?until=yesterday").content.decode()


def test_a_band_holds_on_every_day_since_it_began_and_an_earlier_one_before(staff: Person) -> None:
    for day, low, high in ((date(2026, 1, 1), 0, 1_000), (date(2023, 1, 1), 0, 500_000)):
        CaskBand.objects.create(
            from_day=day, warehouse="1", low_millionths_a_year=low, high_millionths_a_year=high, source="invented"
        )
    # Filled in 2020, each below the narrow bands of its day or not: 2021 under 3 %, 2024 under 50 %, 2027 under 0.1 %.
    cask("A", staff, filled=127.0, gauged={1.5: 100.0})
    cask("B", staff, filled=127.0, gauged={4: 100.0})
    cask("C", staff, filled=127.0, gauged={6.5: 100.0})
    cask("D", staff, filled=127.0, gauged={6.6: 126.9})
    verdicts = {one.code: one.verdict for one in cask_watch()}
    assert verdicts == {"A": Verdict.BELOW, "B": Verdict.USUAL, "C": Verdict.BELOW, "D": Verdict.USUAL}


def test_it_asks_as_often_with_many_casks_as_with_few(staff: Person) -> None:
    counts = []
    for number in (3, 30):
        for one in range(number):
            cask(f"{number}/{one}", staff, filled=127.0, gauged={5 + one / 30: 116.0})
        cask_watch()
        with CaptureQueriesContext(connection) as asked:
            cask_watch()
        counts.append(len(asked))
    assert counts[0] == counts[1]
