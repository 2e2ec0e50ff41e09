"""A still that is charged already: the page that refuses has a button that ends the record in the way."""

from __future__ import annotations

import re

import pytest
from small_site import CHARGE

from batches.models import State
from batches.records.recording import save

pytestmark = pytest.mark.django_db


def test_a_button_ends_it_with_what_was_typed_kept(site, browser_of):
    here = browser_of(site)
    first = save("spirit_run", None, CHARGE, person=site, sure=True)
    later = CHARGE | {"charged_at": "2027-03-04 06:00"}
    page = here.post("/records/spirit_run/new/", later).content.decode()
    assert f"SS holds spirit run {first.number}" in page
    assert re.search(r'name="low_wines_before_dip_mm"[^>]*value="900"', page)
    button = re.search(r'<button class="plain" name="end_first" value="([^"]*)">([^<]*)</button>', page)
    assert button is not None
    assert button[1] == first.number
    # The receiver that the first run emptied is full again: that is asked about, and the answer still ends the first.
    page = here.post("/records/spirit_run/new/", later | {"end_first": button[1]}).content.decode()
    assert "Is the gauge right?" in page
    keep = re.search(r'name="answered" value="([^"]*)">Keep all', page)
    assert keep is not None
    assert f'<input type="hidden" name="end_first" value="{first.number}">' in page
    here.post("/records/spirit_run/new/", later | {"end_first": first.number, "answered": keep[1]})
    first.refresh_from_db()
    assert first.state == State.COMPLETE
    shown = here.get(f"/records/spirit_run/{first.number}/").content.decode()
    assert "missing mm" not in shown
    assert "missing" in shown
