"""PINs: what may be one, who is there as it is chosen, where it works, and what is kept of it."""

from __future__ import annotations

from itertools import pairwise

import pytest
from django.conf import settings
from django.contrib.auth.hashers import check_password
from django.core import signing
from django.test import Client
from hypothesis import given
from hypothesis import strategies as st

from distillery.pen import pcs
from distillery.pen.models import PinChosen, PinHash
from distillery.pen.trying import pins
from distillery.trail.models import Entry
from tests.distillery.pen.conftest import OTHER_PIN, PIN, who

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    "pin", ["111111", "121212", "123456", "987654", "890123", "123123", "787878", "159753", "112233", "000001"]
)
def test_what_would_be_guessed_first_is_refused(pin, staff, manager):
    with pytest.raises(pins.NotChosen) as refused:
        pins.choose(staff, pin, pin, present=manager)
    assert refused.value.field == "pin"
    assert not pins.has_pin(staff)


@given(st.text("0123456789", min_size=6, max_size=6))
def test_plain_ones_are_few_and_all_others_may_be_chosen(pin):
    plain = len(set(pin)) < 3 or pin[:3] == pin[3:] or pin[:2] * 3 == pin or pin in pins.COMMON
    counts = {(int(b) - int(a)) % 10 for a, b in pairwise(pin)} in ({1}, {9})
    assert bool(pins.too_plain(pin)) == (plain or counts)


@pytest.mark.parametrize("pin", ["40291", "4029170", "40291x", "", "٤٠٢٩١٧"])
def test_a_pin_is_six_figures(pin, staff, manager):
    with pytest.raises(pins.NotChosen, match=r"is 6 figures"):
        pins.choose(staff, pin, pin, present=manager)


def test_it_is_typed_twice(staff, manager):
    with pytest.raises(pins.NotChosen, match="not the same"):
        pins.choose(staff, PIN, OTHER_PIN, present=manager)


def test_a_pin_pasted_with_spaces_is_the_same(staff, manager):
    pins.choose(staff, "402 917", PIN, present=manager)
    assert pins.is_pin_of(staff, "40 29 17")


def test_staff_alone_let_nobody_choose(staff, person_of):
    another = person_of("test-another", "staff")
    with pytest.raises(pins.NotChosen, match="manager has to be there"):
        pins.choose(another, PIN, PIN, present=staff)
    with pytest.raises(pins.NotChosen, match="two"):
        pins.choose(another, PIN, PIN, present=staff, also_present=staff)
    with pytest.raises(pins.NotChosen, match="two"):
        pins.choose(staff, PIN, PIN, present=staff, also_present=another)
    assert not PinHash.objects.exists()


def test_an_officer_is_no_second(staff, officer, person_of):
    with pytest.raises(pins.NotChosen):
        pins.choose(person_of("test-another", "staff"), PIN, PIN, present=staff, also_present=officer)


def test_two_others_let_one_choose_and_both_stand_on_record(staff, administrator, person_of):
    chooses, second = person_of("test-another", "staff"), person_of("test-second", "staff")
    pins.choose(chooses, PIN, PIN, present=staff, also_present=second)
    chosen = PinChosen.objects.get()
    assert (chosen.person, chosen.present, chosen.also_present) == (chooses, staff, second)


def test_the_hash_needs_what_stands_outside_the_database(with_pins, staff, settings):
    encoded = PinHash.objects.get(person=staff).encoded
    assert PIN not in encoded
    assert not check_password(PIN, encoded), "the pepper is left out"
    assert pins.is_pin_of(staff, PIN)
    settings.PIN_PEPPER = "another-secret-altogether-0123456789"
    assert not pins.is_pin_of(staff, PIN)


def test_no_hash_of_a_pin_is_in_the_trail(with_pins):
    tables = set(Entry.objects.values_list("table", flat=True))
    assert "pen_pinchosen" in tables
    assert "pen_pinhash" not in tables


def test_a_pin_takes_the_pen_at_an_enrolled_pc_and_nowhere_else(enrolled, with_pins, take, staff):
    assert take(Client(), staff, PIN).status_code == 403
    assert take(enrolled, staff, PIN).status_code == 200
    assert who(enrolled) == staff.username


def test_a_pin_works_no_longer_once_the_pc_is_ended(enrolled, with_pins, take, staff, manager, browser_of):
    from distillery.pen.models import EnrolledPC

    assert take(enrolled, staff, PIN).status_code == 200
    browser_of(manager).post("/site/pc/end/", {"pc": EnrolledPC.objects.get().pk})
    assert who(enrolled) == "", "a session of an ended PC goes on"
    assert take(enrolled, staff, PIN).status_code == 403


def test_a_cookie_that_the_site_did_not_sign_is_no_pc(with_pins, take, staff):
    here = Client()
    here.cookies["gaugebook_pc"] = "Still house PC"
    assert take(here, staff, PIN).status_code == 403


def test_the_number_of_a_pc_signed_with_another_key_is_no_pc(enrolled, with_pins, take, staff):
    number = signing.loads(enrolled.cookies["gaugebook_pc"].value, salt=pcs.SALT)
    for key, status in (("of-somebody-elses-making", 403), (settings.SECRET_KEY, 200)):
        here = Client()
        here.cookies["gaugebook_pc"] = signing.dumps(number, key=key, salt=pcs.SALT)
        assert take(here, staff, PIN).status_code == status, key


def test_the_page_lets_a_person_choose(enrolled, staff, take):
    page = enrolled.get("/site/pin/", {"name": staff.username}).content.decode()
    assert "chooses a PIN" in page
    assert 'maxlength="6"' not in page, "a longer paste would be cut and still be taken"
    answer = enrolled.post("/site/pin/", {"name": staff.username, "pin": PIN, "again": PIN})
    assert answer.status_code == 302
    assert take(enrolled, staff, PIN).status_code == 200


def test_staff_need_a_second_on_the_page(enrolled, with_pins, take, staff, manager, person_of):
    another = person_of("test-another", "staff")
    take(enrolled, staff, PIN)
    asked = {"name": another.username, "pin": "583026", "again": "583026"}
    assert "manager has to be there" in enrolled.post("/site/pin/", asked).content.decode()
    wrong = asked | {"second_name": manager.username, "second_password": "583027"}
    assert "does not match" in enrolled.post("/site/pin/", wrong).content.decode()
    right = asked | {"second_name": manager.username, "second_password": OTHER_PIN}
    assert enrolled.post("/site/pin/", right).status_code == 302
    assert pins.is_pin_of(another, "583026")
