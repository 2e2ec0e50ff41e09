"""What a site says of itself, dated: name and approval, intervals, reports; who entered what and why."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.db import DatabaseError, transaction

from distillery.people.models import Person
from distillery.printing.house import site
from distillery.rules import names, stating
from distillery.rules.models import CaskBand, LossCause, ReportingDuty, ReviewThreshold
from distillery.rules.setting import entering
from distillery.rules.setting import figures as setting
from distillery.rules.setting.entering import Unsettable
from distillery.rules.site_facts import Entered, Interval, SiteDetails, Statement

pytestmark = pytest.mark.django_db

DAY = date(2027, 5, 1)
DETAILS: dict[str, Any] = {
    "name": "Underhill Stillhouse",
    "address": "2 Weir Lane, Underhill",
    "approval_number": "HX 0007",
    "from_day": DAY,
    "source": "approval letter, invented",
}


def test_until_a_name_is_entered_that_of_the_settings_stands(settings: Any) -> None:
    settings.SITE_NAME = "Weir Lane Distillery"
    assert stating.details(DAY).name == "Weir Lane Distillery"
    stating.set_details(**DETAILS)
    assert stating.details(date(2027, 4, 30)).name == "Weir Lane Distillery"
    assert stating.details(DAY).name == "Underhill Stillhouse"
    # The books of the tests stand in May 2027.
    assert (site().name, site().approval_number) == ("Underhill Stillhouse", "HX 0007")


def test_a_site_that_nobody_named_says_so_and_bears_no_other_name(monkeypatch: pytest.MonkeyPatch) -> None:
    assert stating.details(DAY).name == "Harrowmere Distillery", "these books are for practice"
    monkeypatch.setattr(stating, "offset_days", lambda: 0)
    assert (stating.details(DAY).name, stating.details(DAY).address) == ("Site not named yet", "")
    assert site().name == "Site not named yet"


def test_of_two_names_of_a_day_the_one_entered_last_holds_and_both_stay() -> None:
    stating.set_details(**DETAILS)
    stating.set_details(**DETAILS | {"name": "Underhill Distillery"})
    assert stating.details(DAY).name == "Underhill Distillery"
    assert SiteDetails.objects.count() == 2


@pytest.mark.parametrize("field", ["name", "address", "source"])
def test_a_name_without_its_parts_is_refused(field: str) -> None:
    with pytest.raises(Unsettable) as refused:
        stating.set_details(**DETAILS | {field: "  "})
    assert refused.value.field == field
    assert not SiteDetails.objects.exists()


def test_records_are_kept_six_years_as_the_regulations_say() -> None:
    """SI 1992/3150 reg 8, as HMRC manual HCOTEG33600 restates it: six years."""
    kept = stating.intervals(DAY)[stating.RECORDS]
    assert kept.months == 6 * 12
    assert "1992/3150" in kept.source


def test_an_interval_holds_from_its_day_and_only_what_is_known_has_one() -> None:
    stating.set_interval(what="certificate, temperature", months=12, from_day=DAY, source="site")
    assert stating.intervals(date(2027, 4, 30))["certificate, temperature"].months == 24
    assert stating.intervals(DAY)["certificate, temperature"].months == 12
    for what, months, field in (("certificate, smell", 12, "what"), ("records are kept", -1, "months")):
        with pytest.raises(Unsettable) as refused:
            stating.set_interval(what=what, months=months, from_day=DAY, source="site")
        assert refused.value.field == field


def test_a_later_report_takes_the_place_of_the_same_before_it() -> None:
    old = ReportingDuty.objects.get(operation="receipt under bond", within_days=1)
    given: dict[str, Any] = {
        "operation": old.operation,
        "occasion": old.occasion,
        "report": old.said,
        "by_whom": old.by_whom,
        "until": "the end of the next open day",
        "within_days": 2,
        "business_days": True,
    }
    stating.set_reporting_duty(**given, from_day=DAY, source="invented")
    on_the_day = [one for one in names.duties(old.operation, DAY, old.occasion) if one.said == old.said]
    before = [one for one in names.duties(old.operation, date(2027, 4, 30), old.occasion) if one.said == old.said]
    assert [one.within_days for one in on_the_day] == [2]
    assert [one.within_days for one in before] == [1]


THRESHOLD: dict[str, Any] = {
    "operation": "transfer",
    "usual_percent": Decimal("0.1"),
    "usual_half_width_percent": Decimal("0.1"),
    "spread_percent": Decimal("0.1"),
    "threshold_percent": Decimal("0.9"),
    "floor_lpa": Decimal(5),
    "source": "the site's transfers of a year",
}
BAND: dict[str, Any] = {
    "low_percent_a_year": Decimal(1),
    "high_percent_a_year": Decimal(3),
    "source": "the site's regauges",
}


class TestClosedToTheEndOfMarch:
    @pytest.fixture(autouse=True)
    def _closed(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(entering, "last_closed_day", [lambda: date(2027, 3, 31)])

    def test_a_figure_for_a_closed_day_is_refused_with_what_to_do_instead(self) -> None:
        models = (ReviewThreshold, CaskBand, LossCause, Interval, SiteDetails)
        before = [model._default_manager.count() for model in models]
        closed = date(2027, 3, 31)
        for set_it in (
            lambda: setting.set_threshold(**THRESHOLD, from_day=closed),
            lambda: setting.set_cask_band(**BAND, from_day=closed),
            lambda: setting.add_loss_cause(name="frost", source="invented", from_day=closed),
            lambda: stating.set_interval(what="records are kept", months=84, from_day=closed, source="site"),
            lambda: stating.set_details(**DETAILS | {"from_day": closed}),
        ):
            with pytest.raises(Unsettable) as refused:
                set_it()
            assert refused.value.field == "from_day"
            assert "Everything to Wed 31 Mar 2027 is closed" in refused.value.sentence
            assert "Set it from Thu 1 Apr 2027 on" in refused.value.sentence
        assert [model._default_manager.count() for model in models] == before

    def test_the_first_open_day_is_taken(self) -> None:
        assert setting.set_threshold(**THRESHOLD, from_day=date(2027, 4, 1)).pk


def test_a_year_of_no_site_is_refused() -> None:
    with pytest.raises(Unsettable, match="1027 is no year of a site"):
        setting.set_threshold(**THRESHOLD, from_day=date(1027, 4, 1))


def test_who_entered_a_figure_when_and_why_is_kept_and_cannot_be_changed(manager: Person) -> None:
    row = setting.set_threshold(**THRESHOLD, from_day=DAY, person=manager, reason=" a year of transfers ")
    entered = Entered.objects.get(table="rules_reviewthreshold", row=row.pk)
    assert (entered.person, entered.reason) == (manager, "a year of transfers")
    stating.set_details(**DETAILS, person=manager, reason="the site begins")
    stating.state(Statement.What.MONTHS, person=manager)
    for model, change in ((Entered, {"reason": "x"}), (SiteDetails, {"name": "x"}), (Statement, {"said": "x"})):
        with pytest.raises(DatabaseError), transaction.atomic():
            model._default_manager.update(**change)
        with pytest.raises(DatabaseError), transaction.atomic():
            model._default_manager.all()._raw_delete("default")
