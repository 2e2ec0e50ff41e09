"""The pages of stock takes: books hidden until counted, errors beside the box, roles, paper, few questions."""

from __future__ import annotations

import io

import pytest
from pypdf import PdfReader

from batches.counting import counting, planning
from batches.counting.models import Count, StockTake
from batches.counting.walking import casks_lying
from batches.records import recording
from distillery.clock.reading import books_today
from distillery.people.models import Person

pytestmark = pytest.mark.django_db
SV = {"at": "2027-03-31T15:00", "gauge_dip_mm": "1000", "gauge_celsius": "16.8", "gauge_hydrometer_percent": "67.2"}


@pytest.fixture
def take(loaded_month, staff: Person) -> StockTake:
    warehouse = planning.warehouses_to_count()[0]
    stocks = [one.code for one in planning.stocks_to_count()]
    planned = planning.Planned(books_today(), ["SV", "WB1", "WB3"], {warehouse: []}, stocks, weigh_one_in=40)
    return planning.plan(planned, person=staff)


def paper(answer) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages)


def test_a_vat_is_counted_again_before_a_reason_is_asked(take: StockTake, staff: Person, browser_of) -> None:
    here, page = browser_of(staff), "/stock-takes/1/vessels/SV/"
    blank = here.get(page).content.decode()
    assert "3,998.26" not in blank
    assert "3,998.26" not in here.get("/stock-takes/1/vessels/").content.decode()
    wrong = here.post(page, {**SV, "gauge_dip_mm": "dry", "counted_before": "0"}).content.decode()
    assert 'value="dry"' in wrong
    assert "Error: " in wrong
    assert not Count.objects.exists()

    first = here.post(page, {**SV, "counted_before": "0"}, follow=True).content.decode()
    assert "Count again" in first
    assert "3,998.26 LPA" in first
    assert 'name="reason"' not in first
    # The same press sent twice is one count; another page that was open before it keeps nothing.
    here.post(page, {**SV, "counted_before": "0"})
    other = here.post(page, {**SV, "gauge_dip_mm": "999", "counted_before": "0"}).content.decode()
    assert "after your page was opened" in other
    assert Count.objects.count() == 1
    second = here.post(page, {**SV, "counted_before": "1"}, follow=True).content.decode()
    assert 'name="reason"' in second
    assert "Reason is blank" in here.post(page, {"reason": " "}).content.decode()
    here.post(page, {"reason": "a hose was left open"})
    assert "a hose was left open" in here.get("/stock-takes/1/").content.decode()


def test_a_washback_that_ferments_is_noted_and_asks_for_no_hydrometer(
    take: StockTake, staff: Person, browser_of
) -> None:
    here, page = browser_of(staff), "/stock-takes/1/vessels/WB1/"
    assert 'name="present_gravity"' in here.get(page).content.decode()
    assert 'name="present_gravity"' not in here.get("/stock-takes/1/vessels/SV/").content.decode()
    typed = {"at": SV["at"], "gauge_dip_mm": "1500", "gauge_celsius": "30", "present_gravity": "1.010"}
    here.post(page, {**typed, "counted_before": "0"})
    [count] = Count.objects.all()
    assert (count.how, count.pure_ul, count.apart) == ("noted", None, False)
    assert "ferments" in count.remark


def test_casks_are_seen_by_scan_and_by_ticks_and_the_walk_asks_little(
    take: StockTake, staff: Person, browser_of, django_assert_max_num_queries
) -> None:
    here, [place] = browser_of(staff), take.planned["warehouses"]
    walk = f"/stock-takes/1/casks/?in={place['warehouse']}"
    see = f"/stock-takes/1/casks/seen/?in={place['warehouse']}"
    codes = [one.vessel.code for one in casks_lying(place["warehouse"])[:5]]
    here.get(walk)
    with django_assert_max_num_queries(15):
        here.get(walk)
    assert "There is no cask 77/7" in here.post(see, {"cask": "77/7"}).content.decode()
    here.post(see, {"cask": codes[0]})
    here.post(see, {"seen": codes[1:], "at": "2027-03-31 14:05"})
    assert Count.objects.filter(how="seen").count() == 5
    assert "Nothing was ticked" in here.post(see, {}, follow=True).content.decode()
    here.post(see, {"seen": codes, "at": "tea"})
    assert Count.objects.count() == 5
    assert here.get("/stock-takes/1/casks/?in=Elsewhere").status_code == 404
    assert here.get("/stock-takes/77/").status_code == 404


def test_who_only_reads_sees_and_cannot_count(take: StockTake, officer: Person, browser_of) -> None:
    here = browser_of(officer)
    for page in ("", "vessels/", "bottles/", "casks/"):
        assert here.get(f"/stock-takes/1/{page}").status_code == 200
    assert "Start a stock take" not in here.get("/stock-takes/").content.decode()
    for page in ("vessels/SV/", "give-up/"):
        assert here.get(f"/stock-takes/1/{page}").status_code == 403
    for page in ("ready/", "agree/", "casks/seen/"):
        assert here.post(f"/stock-takes/1/{page}").status_code == 403
    assert here.get("/stock-takes/new/").status_code == 403


def test_blank_sheets_have_no_book_and_the_result_says_what_is_apart(
    take: StockTake, staff: Person, officer: Person, browser_of
) -> None:
    here = browser_of(officer)
    sheets = paper(here.get("/stock-takes/1/counting-sheets.pdf"))
    assert "Spirit vat" in sheets
    assert "3,998" not in sheets
    [place] = take.planned["warehouses"]
    assert casks_lying(place["warehouse"])[0].vessel.code in sheets
    for _ in range(2):
        count = counting.count_vessel(take, "SV", SV, person=staff)
    counting.give_reason(take, count, "a hose was left open", person=staff)
    result = paper(here.get("/stock-takes/1/stock-take.pdf"))
    assert "a hose was left open" in result
    assert "missing" in result
    answer = here.get("/stock-takes/1/?counts-as=csv")
    text = b"".join(answer.streaming_content).decode("utf-8-sig")
    assert len(text.strip().splitlines()) == 3


def test_a_stock_take_is_found_by_its_number(take: StockTake, staff: Person, browser_of) -> None:
    assert browser_of(staff).get("/find/?q=tk1")["Location"] == "/stock-takes/1/"


def test_a_plan_says_what_is_wrong_beside_its_box(loaded_month, manager: Person, browser_of) -> None:
    here = browser_of(manager)
    page = here.post(
        "/stock-takes/new/", {"day": "soon", "weigh_one_in": "x", "rows": "4", "note": "n"}
    ).content.decode()
    for sentence in ("&#x27;soon&#x27; is not a day", "is no number of casks", "Rows are of one warehouse"):
        assert sentence in page
    assert 'value="soon"' in page
    here.post("/stock-takes/new/", {"day": "2027-03-31", "vessels": ["SV"], "weigh_one_in": ""})
    assert StockTake.objects.get().planned["vessels"] == ["SV"]


def test_who_puts_a_second_name_to_a_stock_take_sees_book_and_difference(
    loaded_month, staff: Person, manager: Person, browser_of
) -> None:
    line = {"vessel": "SV", **{name: text for name, text in SV.items() if name != "at"}}
    record = recording.save("stock_take", None, {"at": SV["at"]}, [line], person=staff, sure=True)
    page = browser_of(manager).get(f"/records/stock_take/{record.number}/").content.decode()
    assert "Beside the book" in page
    # By the sample month the vat holds 3,998.26 at its stock take; at 1,000 mm it is 633.89 short.
    assert "633.89 missing" in page
    assert "Beside the book" not in browser_of(staff).get("/records/stock_take/new/").content.decode()
