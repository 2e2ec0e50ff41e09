"""What signs asks for the PIN again at a shared PC, and a second person signs in place with a PIN of their own."""

from __future__ import annotations

import re

import pytest
from small_site import CHARGE, FINISH, charged_run
from test_times_on_the_page import transfer

from batches.models import Reading, Record, Signature
from batches.records import recording
from batches.records.readings import add_reading
from distillery.pen.models import Try
from distillery.pen.trying import pins
from tests.signing import seen_on

pytestmark = pytest.mark.django_db
STAFF_PIN, MANAGER_PIN, OTHER_PIN = "402917", "730158", "583026"
STOCK = {"product": "first release", "bottle_centilitres": "70", "label_percent": "46", "bottles": "120"}


@pytest.fixture
def shared(site, manager, browser_of):
    """An enrolled PC at which the staff has the pen."""
    here = browser_of(manager)
    here.post("/site/pc/enrol/", {"name": "Still house PC", "place": "Still house"})
    pins.choose(site, STAFF_PIN, STAFF_PIN, present=manager)
    pins.choose(manager, MANAGER_PIN, MANAGER_PIN, present=manager)
    here.post("/sign-on/", {"username": site.username, "password": STAFF_PIN})
    return here


def test_ordinary_figures_need_no_pin_again(shared):
    assert "Your PIN again" not in shared.get("/records/transfer/new/").content.decode()
    assert shared.post("/records/transfer/new/", transfer("now")).status_code == 302


@pytest.mark.parametrize("given", ["", "402918", MANAGER_PIN])
def test_a_strike_needs_the_pin_again(given, shared, site):
    record = charged_run(site)
    reading = add_reading(record, record.happened_from, "distillate_percent", "70.1", site, sure=True)
    address = f"/records/spirit_run/{record.number}/reading/{reading.pk}/strike/"
    assert "Your PIN again" in shared.get(address).content.decode()
    asked = {"reason": "misread", "value": "70.4"}
    refused = shared.post(address, asked | {"again_password": given}).content.decode()
    assert ("does not match" if given else "type your PIN again") in refused
    assert 'value="misread"' in refused, "what was typed is lost"
    assert Reading.objects.count() == 1
    assert shared.post(address, asked | {"again_password": STAFF_PIN}).status_code == 302
    struck = Reading.objects.get(strikes=reading)
    assert (struck.person, struck.pc) == (site, "Still house PC")


def test_a_void_needs_the_pin_again(shared, site):
    shared.post("/records/transfer/new/", transfer("now"))
    record = Record.objects.get(kind="transfer")
    address = f"/records/transfer/{record.number}/void/"
    shared.post(address, {"reason": "never happened"})
    record.refresh_from_db()
    assert record.state == "complete"
    shared.post(address, {"reason": "never happened", "again_password": STAFF_PIN})
    record.refresh_from_db()
    assert record.state == "void"


def test_goods_are_sent_out_with_the_pin_again(shared, site):
    recording.save("opening_bottled_stock", None, STOCK | {"at": "2027-03-01 06:00"}, person=site)
    left = STOCK | {"at": "2027-03-05 09:00", "bottles": "20", "kind": "destroyed under witness"}
    left |= {"authority": "HM-D-4", "witness": "the officer of the day"}
    page = shared.post("/records/removal/new/", left).content.decode()
    assert 'href="#id_again"' in page
    assert not Record.objects.filter(kind="removal").exists()
    answer = shared.post("/records/removal/new/", left | {"again_password": STAFF_PIN})
    assert Record.objects.filter(kind="removal").count() == 1, answer.content.decode()


def test_a_pc_of_one_person_asks_nobody_again(site, browser_of):
    recording.save("opening_bottled_stock", None, STOCK | {"at": "2027-03-01 06:00"}, person=site)
    assert "Your PIN again" not in browser_of(site).get("/records/removal/new/").content.decode()


@pytest.fixture
def waiting(shared, site):
    take = {"at": "2027-03-31 18:00"}
    line = {"vessel": "V1", "gauge_dip_mm": "1000", "gauge_celsius": "20.0", "gauge_hydrometer_percent": "63.5"}
    return recording.save("stock_take", None, take, [line], person=site)


def test_the_second_signs_in_place_and_the_first_keeps_the_pen(shared, waiting, site, manager):
    address = f"/records/stock_take/{waiting.number}/"
    seen = seen_on(shared.get(address))
    shared.post(f"{address}countersign/", seen | {"second_name": manager.username, "second_password": MANAGER_PIN})
    waiting.refresh_from_db()
    assert (waiting.state, waiting.second) == ("complete", manager)
    assert shared.get("/pen/now/", headers={"Accept": "application/json"}).json()["username"] == site.username


@pytest.mark.parametrize(
    ("who", "secret", "said"),
    [
        ("test-staff", STAFF_PIN, "someone else has to agree"),
        ("test-manager", "730159", "does not match"),
        ("test-manager", "", "let them type their own PIN"),
        ("", MANAGER_PIN, "Name the second person"),
        ("nobody-here", MANAGER_PIN, "do not belong together"),
    ],
)
def test_nobody_else_s_name_and_no_wrong_pin_countersigns(who, secret, said, shared, waiting):
    address = f"/records/stock_take/{waiting.number}/"
    seen = seen_on(shared.get(address))
    asked = seen | {"second_name": who, "second_password": secret}
    assert said in shared.post(f"{address}countersign/", asked, follow=True).content.decode()
    waiting.refresh_from_db()
    assert waiting.state != "complete"
    assert not Signature.objects.exists()


def test_an_officer_countersigns_nothing(shared, waiting, officer):
    address = f"/records/stock_take/{waiting.number}/"
    asked = seen_on(shared.get(address)) | {"second_name": officer.username, "second_password": "of-tests-only"}
    assert "may not write" in shared.post(f"{address}countersign/", asked, follow=True).content.decode()
    assert not Signature.objects.exists()


def test_wrong_pins_of_a_second_count_and_stop(shared, waiting, manager):
    address = f"/records/stock_take/{waiting.number}/"
    for _ in range(5):
        shared.post(f"{address}countersign/", {"second_name": manager.username, "second_password": OTHER_PIN})
    wrong = Try.objects.filter(name=manager.username, what=Try.What.TRIED, answer__isnull=True)
    # The fourth and fifth are not looked at, because a wait stands.
    assert wrong.count() == 3


def test_a_cut_away_from_its_plan_needs_the_pin_again_and_one_by_plan_does_not(shared, site):
    recording.save("spirit_run", charged_run(site).number, {"plan_on_percent": "74.0"}, person=site)
    record = Record.objects.get(kind="spirit_run")
    address = f"/records/spirit_run/{record.number}/running/"
    assert "Your PIN again" not in shared.get(f"{address}?event=spirit_on").content.decode()
    cut = {"event": "spirit_on", "spirit_on_at": "2027-03-03 07:20", "cut_on_percent": "70.5"}
    page = shared.post(address, cut).content.decode()
    assert "Spirit on: the cut was made at 70.5 % and is planned at 74.0 %." in page
    assert "type your PIN again" in page
    assert 'value="70.5"' in page, "what was typed is lost"
    assert record.versions.count() == 2
    shared.post(address, cut | {"again_password": MANAGER_PIN})
    assert record.versions.count() == 2
    answer = shared.post(address, cut | {"again_password": STAFF_PIN})
    assert answer.status_code == 302, answer.content.decode()
    assert record.versions.count() == 3
    off = {"event": "spirit_off", "spirit_off_at": "2027-03-03 08:40", "cut_off_percent": "62.0"}
    assert shared.post(address, off).status_code == 302


CUT_ON = {"spirit_on_at": "2027-03-03 07:20", "cut_on_percent": "70.5"}


def test_a_cut_away_from_its_plan_needs_the_pin_again_on_the_sheet_too(shared, site):
    record = charged_run(site)
    recording.save("spirit_run", record.number, {"plan_on_percent": "74.0"}, person=site)
    address = f"/records/spirit_run/{record.number}/complete/"
    form = CUT_ON | {"version": "2"}
    page = shared.post(address, form).content.decode()
    assert "Spirit on: the cut was made at 70.5 % and is planned at 74.0 %." in page
    assert 'href="#id_again"' in page
    assert 'value="70.5"' in page, "what was typed is lost"
    wrong = shared.post(address, form | {"again_password": MANAGER_PIN}).content.decode()
    assert "does not match" in wrong
    assert 'name="again_password"' in wrong, "there is no box for the right one"
    assert record.versions.count() == 2
    assert shared.post(address, form | {"again_password": STAFF_PIN}).status_code == 302
    assert record.versions.count() == 3
    # What was signed for is not asked for again, and what is put right is.
    more = {"end_percent": "1.0", "version": "3"}
    answer = shared.post(address, more)
    assert answer.status_code == 302, answer.content.decode()


def test_a_cut_that_is_put_right_away_from_its_plan_needs_the_pin_again(shared, site):
    values = CHARGE | FINISH | {"plan_on_percent": "74.0"}
    record = recording.save("spirit_run", None, values, person=site, sure=True)
    address = f"/records/spirit_run/{record.number}/correct/"
    form = values | {"version": "1", "reason": "misread"}
    assert 'href="#id_again"' in shared.post(address, form | {"cut_on_percent": "71.9"}).content.decode()
    assert record.versions.count() == 1
    answer = shared.post(address, form | {"cut_on_percent": "71.9", "again_password": STAFF_PIN})
    assert answer.status_code == 302, answer.content.decode()
    # The cut stands as it was signed for; another figure put right asks for nobody's name.
    form |= {"cut_on_percent": "71.9", "version": "2", "spent_lees_percent": "0.06"}
    answer = shared.post(address, form)
    assert answer.status_code == 302, answer.content.decode()


def test_a_new_run_with_its_cut_needs_the_pin_after_what_is_asked_and_answers_stand(shared, site):
    # 66 is below what is usual for spirit on, so that is asked first.
    form = CHARGE | {"plan_on_percent": "74.0"} | CUT_ON | {"cut_on_percent": "66.0"}
    page = shared.post("/records/spirit_run/new/", form).content.decode()
    answered = re.search(r'name="answered" value="(unlikely:cut_on_percent[^"|]*)"', page)
    assert answered, page
    assert "type your PIN again" not in page
    page = shared.post("/records/spirit_run/new/", form | {"answered": answered[1]}).content.decode()
    assert "the cut was made at 66.0 % and is planned at 74.0 %." in page
    assert f'<input type="hidden" name="answered" value="{answered[1]}">' in page, "the answer would be asked for again"
    assert not Record.objects.filter(kind="spirit_run").exists()
    form |= {"answered": answered[1], "again_password": STAFF_PIN}
    answer = shared.post("/records/spirit_run/new/", form)
    assert answer.status_code == 302, answer.content.decode()
    assert Record.objects.filter(kind="spirit_run").count() == 1


def test_where_the_pc_is_one_person_s_a_cut_away_from_its_plan_asks_for_nothing(site, browser_of):
    record = charged_run(site)
    recording.save("spirit_run", record.number, {"plan_on_percent": "74.0"}, person=site)
    cut = {"event": "spirit_on", "spirit_on_at": "2027-03-03 07:20", "cut_on_percent": "70.5"}
    assert browser_of(site).post(f"/records/spirit_run/{record.number}/running/", cut).status_code == 302
