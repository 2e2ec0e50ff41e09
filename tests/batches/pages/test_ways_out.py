"""A refusal has its way out as a button: what was typed stays, the button puts another figure in its box, and without
script the Enter key checks a sheet and never posts it. The site is invented."""

from __future__ import annotations

import json
import re
from html import unescape

import pytest
from small_site import CHARGE, FINISH, charged_run

from batches.models import Reading, Record, Version

pytestmark = pytest.mark.django_db

NEW = "/records/spirit_run/new/"


def ways(page: str) -> dict[str, tuple[str, str]]:
    """The buttons at what must be put right: what each says, and what it sends."""
    summary = page[page.index('class="error-summary"') :].partition("</ul>")[0]
    buttons = re.findall(r'<button class="plain"[^>]* name="(\w+)" value="([^"]*)">([^<]*)<', summary)
    return {unescape(text): (name, unescape(value)) for name, value, text in buttons}


def first_button(page: str, form: str) -> str:
    """The first button of a form as the page lies: what the Enter key presses in a box of it."""
    before, _, inside = page.partition(form)
    outside = [one for one in re.findall(r"<button[^>]*>", before) if 'form="sheet"' in one]
    found = [*outside, *re.findall(r"<button[^>]*>", inside.partition("</form>")[0])]
    return found[0]


def test_a_figure_that_can_mean_two_has_a_button_for_each(site, browser_of):
    here = browser_of(site)
    typed = CHARGE | {"low_wines_before_dip_mm": "1,200"}
    page = here.post(NEW, typed).content.decode()
    offered = ways(page)
    assert list(offered) == ["It was 1200 mm", "It was 1.200 mm"]
    assert re.search(r'name="low_wines_before_dip_mm"[^>]*value="1,200"', page)
    assert not Record.objects.filter(kind="spirit_run").exists()
    name, value = offered["It was 1200 mm"]
    page = here.post(NEW, typed | {name: value}).content.decode()
    assert 'class="error-summary"' not in page
    assert re.search(r'name="low_wines_before_dip_mm"[^>]*value="1200"', page), "it goes on to what is asked besides"


def test_what_is_ten_times_too_much_has_a_button_on_the_page_of_a_run(site, browser_of):
    here = browser_of(site)
    run = charged_run(site)
    address = f"/records/spirit_run/{run.number}/reading/"
    page = here.post(address, {"at": "2027-03-03 07:00", "distillate_percent": "741"}).content.decode()
    name, value = ways(page)["It was 74.1 % vol"]
    assert first_button(page, 'class="section"') == '<button class="visually-hidden" tabindex="-1" aria-hidden="true">'
    here.post(address, {"at": "2027-03-03 07:00", "distillate_percent": "741", "late_reason": "other", name: value})
    assert [one.value for one in Reading.objects.filter(record=run)] == ["74.1"]


def test_a_reading_that_nobody_took_is_marked_missing_by_a_button(site, browser_of):
    here = browser_of(site)
    run = charged_run(site)
    typed = FINISH | {"spent_lees_litres": "", "version": "1"}
    page = here.post(f"/records/spirit_run/{run.number}/complete/", typed).content.decode()
    name, value = ways(page)["Spent lees: not taken"]
    here.post(f"/records/spirit_run/{run.number}/complete/", typed | {name: value})
    assert json.loads(Version.objects.filter(record=run).latest("serial").values)["spent_lees_litres"] == "missing"


def test_the_record_that_stands_in_the_way_is_a_press_away(site, browser_of):
    here = browser_of(site)
    first = charged_run(site)
    # Begun before the one that is on, so that ending that is no way out.
    page = here.post(NEW, CHARGE | {"charged_at": "2027-03-02 06:00"}).content.decode()
    assert f'<a class="button plain" href="/records/spirit_run/{first.number}/">Open {first.number}</a>' in page


def test_without_script_enter_checks_a_sheet_and_never_posts_it(site, browser_of):
    here = browser_of(site)
    checks = 'name="work_out" value="1">'
    typed = CHARGE | {"low_wines_before_dip_mm": "1,200"}
    for page in (here.get(NEW), here.post(NEW, typed), here.post(NEW, CHARGE | {"low_wines_before_dip_mm": "1195"})):
        assert first_button(page.content.decode(), 'id="sheet"').endswith(checks)
    page = here.post(NEW, typed | {"work_out": "1"}).content.decode()
    assert "can mean 1200 or 1.200" in page, "what cannot be read is said"
    assert not Record.objects.filter(kind="spirit_run").exists()
    here.post(NEW, CHARGE | {"work_out": "1"})
    assert not Record.objects.filter(kind="spirit_run").exists()
