"""All changes to one cask, vessel or record: everything that was written of it stands on one page and one print."""

from __future__ import annotations

import json
from collections.abc import Callable
from io import BytesIO
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from batches.models import Mention, Record, Version
from batches.pages.changed.gathering import is_about, thing_of, written_of
from batches.pages.records.shown import Change
from distillery.people.models import Person
from ledger.models import Gauge, Leg, Movement

Browser = Callable[[Person], Client]


def texts(pdf: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(pdf)).pages]


@pytest.mark.usefixtures("small_books")
class TestOfARecord:
    def test_what_was_put_right_stands_with_both_values_and_what_it_posted_with_its_opposite(self) -> None:
        thing = thing_of("tr0001")
        assert thing is not None
        rows, goes_on = written_of(thing)
        assert not goes_on
        right = next(one for one in rows if one.why == "read one mark short")
        assert (right.what, right.now) == ("Put right", "281")
        assert right.was not in ("", "281")
        posted = Movement.objects.filter(record_number="TR0001")
        assert {one.of for one in rows if "in the books" in one.what} == {f"Movement {one.pk}" for one in posted}
        assert any(one.what == "Taken back in the books" and one.was for one in rows)
        assert [one.written for one in rows] == sorted(one.written for one in rows)

    def test_a_reading_that_was_struck(self) -> None:
        thing = thing_of("SR0001")
        assert thing is not None
        [struck] = [one for one in written_of(thing)[0] if one.what == "Reading struck"]
        assert (struck.now, struck.why) == ("73.5", "misread")

    def test_of_a_vessel_every_version_movement_and_gauge_that_touches_it(self) -> None:
        record = Record.objects.get(number="TR0001")
        code = record.mentions.filter(what=Mention.What.VESSEL).values_list("code", flat=True).first()
        thing = thing_of(str(code).lower())
        assert thing is not None
        assert thing.vessel is not None
        rows, _ = written_of(thing)
        legs = Leg.objects.filter(account__vessel=thing.vessel).values_list("movement_id", flat=True)
        assert {one.of for one in rows if "in the books" in one.what} == {f"Movement {number}" for number in legs}
        gauges = Gauge.objects.get_queryset().filter(account__vessel=thing.vessel)
        assert len([one for one in rows if one.what == "Gauged"]) == gauges.count()
        named = Mention.objects.filter(what=Mention.What.VESSEL, code=thing.code).values("record")
        said = {one.of.split()[-1] for one in rows if one.href.startswith("/records/")}
        assert said == set(Record.objects.filter(pk__in=named).values_list("number", flat=True))

    def test_a_number_that_is_none_says_so(self, officer: Person, browser_of: Browser) -> None:
        here = browser_of(officer)
        assert "Type the number of a cask" in here.get(reverse("all_changes")).content.decode()
        answer = here.get(reverse("all_changes"), {"of": "<b>9"})
        assert answer.status_code == 404
        assert "There is no cask, vessel or record &lt;b&gt;9" in answer.content.decode()


class TestOfACask:
    @pytest.fixture
    def here(self, loaded_month: Any, officer: Person, browser_of: Browser) -> Client:
        return browser_of(officer)

    def test_page_and_print_say_the_same_under_the_same_digest(self, here: Client) -> None:
        fill = Version.objects.filter(record__kind="cask_fill").order_by("pk").first()
        assert fill is not None
        code = fill.record.mentions.filter(what=Mention.What.VESSEL, field="cask").values_list("code", flat=True)[0]
        page = here.get(reverse("all_changes"), {"of": code}).content.decode()
        assert fill.record.number in page
        printed = texts(here.get(reverse("all_changes"), {"of": code, "as": "pdf"}).content)
        digest = page.split('<span class="figure">')[-1].split("</span>")[0]
        for number, text in enumerate(printed, 1):
            assert digest in text
            assert f"Page {number} of {len(printed)}" in text
        assert fill.record.number in " ".join(printed)
        assert f"{reverse('all_changes')}?of=" in here.get(reverse("cask", args=[code])).content.decode()

    def test_a_line_about_another_cask_of_the_same_record_is_left_out(self, here: Client, manager: Person) -> None:
        record = Record.objects.filter(kind="cask_fill").latest("pk")
        version = record.versions.latest("serial")
        first, second = (one["cask"] for one in json.loads(version.rows)[:2])
        rows = json.loads(version.rows)
        rows[0]["gross_kg"] = "1"
        after = Version(record=record, serial=version.serial + 1, rows=json.dumps(rows), values=version.values)
        change = Change("a", "gross_kg", 0, "Gross, cask 1", "2", "1", after)
        for code, about in ((first, True), (second, False)):
            thing = thing_of(code)
            assert thing is not None
            assert is_about(thing, change, [version, after]) is about
