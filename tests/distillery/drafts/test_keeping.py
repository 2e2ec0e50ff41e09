"""What is drafted is given back, to the PC it was typed at and to no other; bounds hold, and old drafts go."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from distillery.drafts import keeping
from distillery.drafts.keeping import Form, TooMuch, Which
from distillery.drafts.models import Draft
from distillery.people.models import Person

pytestmark = pytest.mark.django_db

KEY = "complete/spirit_run/SR0023"
FORM = Form(KEY, token="t1", serial=1, title="SR0023, finish", address="/records/spirit_run/SR0023/complete/")

TEXTS = st.text(st.characters(blacklist_characters="\0", blacklist_categories=("Cs",)), max_size=30)
NAMES = st.sampled_from(["spirit_after_dip_mm", "ended_at", "line-0-gross_kg", "line-35-gross_kg", "note"])
LEAVINGS = st.lists(st.tuples(st.sampled_from(["north", "south"]), NAMES, TEXTS), max_size=12)


# Each example begins with no draft at all, so that it does not matter that the people stay.
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(leavings=LEAVINGS)
def test_what_is_drafted_is_given_back_to_its_own_pc(staff, leavings):
    Draft.objects.all().delete()
    told: dict[str, dict[str, str]] = {}
    for pc, name, text in leavings:
        keeping.keep(pc, FORM, {name: text}, person=staff)
        told.setdefault(pc, {})[name] = text
    for pc in ("north", "south", "elsewhere"):
        found = keeping.kept(Which(pc, KEY))
        assert (found.values if found else {}) == told.get(pc, {})
        assert [one.form.key for one in keeping.drafts_of(pc)] == ([KEY] if pc in told else [])


def test_each_box_says_whose_it_is_and_since_when(staff: Person, manager: Person):
    first = timezone.now().replace(microsecond=0) - timedelta(minutes=5)
    second = first + timedelta(minutes=2)
    keeping.keep("pc", FORM, {"dip": "1054", "celsius": "19.9"}, person=staff, now=first)
    keeping.keep("pc", FORM, {"celsius": "19.8"}, person=manager, now=second)
    found = keeping.kept(Which("pc", KEY))
    assert found is not None
    assert (found.boxes["dip"].text, found.boxes["dip"].by, found.boxes["dip"].at) == ("1054", staff.shown_name, first)
    assert (found.boxes["celsius"].text, found.boxes["celsius"].by) == ("19.8", manager.shown_name)
    assert found.said == f"Draft kept {timezone.localtime(second):%H:%M:%S}, {manager.shown_name}"
    assert (found.title, found.address) == (FORM.title, FORM.address)


def test_the_version_stays_that_of_the_first_box(staff: Person):
    keeping.keep("pc", FORM, {"dip": "1"}, person=staff)
    keeping.keep("pc", Form(KEY, serial=7), {"dip": "2"}, person=staff)
    found = keeping.kept(Which("pc", KEY))
    assert found is not None
    assert found.form.serial == 1
    assert found.form.token == "t1"


def test_a_draft_is_kept_for_three_days_and_then_goes(staff: Person):
    written = timezone.now() - timedelta(hours=72)
    keeping.keep("pc", FORM, {"dip": "1"}, person=staff, now=written)
    assert keeping.kept(Which("pc", KEY), now=written + timedelta(hours=71, minutes=59)) is not None
    assert keeping.kept(Which("pc", KEY), now=written + timedelta(hours=72, seconds=1)) is None
    keeping.keep("other", FORM, {"dip": "1"}, person=staff, now=written + timedelta(hours=72, seconds=1))
    assert not Draft.objects.filter(pc="pc").exists()


def test_a_form_that_is_saved_takes_no_more_and_shows_none(staff: Person, monkeypatch: pytest.MonkeyPatch):
    saved: set[str] = set()
    monkeypatch.setattr(keeping, "WRITTEN", [lambda tokens: saved & set(tokens)])
    assert keeping.keep("pc", FORM, {"dip": "1"}, person=staff) is not None
    saved.add("t1")
    assert keeping.kept(Which("pc", KEY)) is None
    assert keeping.drafts_of("pc") == []
    assert keeping.keep("pc", FORM, {"dip": "2"}, person=staff) is None
    # Another page of the same record begins a draft of its own.
    keeping.keep("pc", Form(KEY, token="t2", serial=2), {"celsius": "3"}, person=staff)
    found = keeping.kept(Which("pc", KEY))
    assert found is not None
    assert (found.values, found.form.serial) == ({"celsius": "3"}, 2)


@pytest.mark.parametrize(
    ("form", "boxes"),
    [
        (FORM, {"dip": "x" * (keeping.LONGEST_TEXT + 1)}),
        (FORM, {"n" * (keeping.LONGEST_NAME + 1): "1"}),
        (FORM, {"": "1"}),
        (FORM, {"password": "1"}),
        (FORM, {"second_password": "1"}),
        (FORM, {f"line-{n}-kg": "1" for n in range(keeping.MOST_BOXES + 1)}),
        (FORM, {f"line-{n}-note": "x" * 3000 for n in range(90)}),
        (Form("no key at all"), {"dip": "1"}),
        (Form("complete"), {"dip": "1"}),
        (Form(KEY, token="t" * 65), {"dip": "1"}),
        (Form(KEY, title="t" * 121), {"dip": "1"}),
        (Form(KEY, address="/" * 401), {"dip": "1"}),
    ],
)
def test_what_is_beyond_a_bound_is_refused_whole(staff: Person, form: Form, boxes: dict[str, str]):
    keeping.keep("pc", FORM, {"kept": "before"}, person=staff)
    with pytest.raises(TooMuch):
        keeping.keep("pc", form, boxes, person=staff)
    found = keeping.kept(Which("pc", KEY))
    assert found is not None
    assert found.values == {"kept": "before"}


def test_a_pc_keeps_so_many_and_no_more(staff: Person, monkeypatch: pytest.MonkeyPatch):
    for number in range(keeping.MOST_OF_A_PC):
        keeping.keep("pc", Form(f"complete/mash/MA{number:04}"), {"dip": "1"}, person=staff)
    with pytest.raises(TooMuch, match="This PC keeps 40 drafts"):
        keeping.keep("pc", FORM, {"dip": "1"}, person=staff)
    # One that is there already still grows, and another PC has room.
    keeping.keep("pc", Form("complete/mash/MA0000"), {"dip": "2"}, person=staff)
    keeping.keep("other", FORM, {"dip": "1"}, person=staff)
    monkeypatch.setattr(keeping, "MOST", 41)
    with pytest.raises(TooMuch, match="as many drafts as it can"):
        keeping.keep("third", FORM, {"dip": "1"}, person=staff)


def test_the_newest_of_a_kind_is_found_by_how_its_key_begins(staff: Person):
    now = timezone.now()
    for minutes, token in ((3, "a"), (1, "b"), (2, "c")):
        form = Form(f"new/mash/{token}", token=token)
        keeping.keep("pc", form, {"note": token}, person=staff, now=now - timedelta(minutes=minutes))
    keeping.keep("pc", Form("new/mashing/z", token="z"), {"note": "z"}, person=staff, now=now)
    found = keeping.newest("pc", "new/mash/")
    assert found is not None
    assert found.form.token == "b"
    assert keeping.newest("other", "new/mash/") is None
