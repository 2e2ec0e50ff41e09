"""The boxes of the site's dated figures, each handed to the service that keeps it."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms
from django.db import models

from batches.pages.setting_up.declared import Choice, DatedForm
from batches.sheets.register import all_sheets
from distillery import figures
from distillery.people.models import Person
from distillery.plant.forms.boxes import Figure, Words
from distillery.plant.models import Cask, Kind, Vessel
from distillery.process.product_names import Way
from distillery.rules import names, stating
from distillery.rules.models import (
    ONE,
    CaskBand,
    LossCause,
    NameRequirement,
    ReportingDuty,
    ReviewThreshold,
    UsualFigure,
)
from distillery.rules.setting import figures as setting
from distillery.rules.site_facts import Interval, SiteDetails
from distillery.rules.units import MICROLITRES_A_LITRE, MILLIONTHS_A_PERCENT

WHOLE = "This is not a whole number: type digits, such as 24."


def plain(parts: int | None, of: int) -> str:
    """A figure as it would be typed: 0.35; blank where there is none."""
    return "" if parts is None else f"{(Decimal(parts) / of).normalize():f}"


def _whole(label: str, unit: str = "", **more: Any) -> forms.IntegerField:
    field = forms.IntegerField(
        label=label,
        widget=forms.TextInput({"inputmode": "numeric", "autocomplete": "off"}),
        error_messages={"invalid": WHOLE, "required": "This is blank: fill it in."},
        **more,
    )
    field.unit, field.width = unit, 4  # type: ignore[attr-defined]
    return field


def _holds(row: Any) -> str:
    return f"holds from {figures.day(row.from_day, year=True)}"


def _judged() -> list[tuple[str, str]]:
    """What the steps call themselves in the books, and whatever else has a review threshold."""
    return _operations(ReviewThreshold)


def _reported() -> list[tuple[str, str]]:
    """The same, with whatever has to be reported, such as a return, which no difference is judged of."""
    return _operations(ReviewThreshold, ReportingDuty)


def _operations(*models: type[ReviewThreshold | ReportingDuty]) -> list[tuple[str, str]]:
    found = {sheet.operation for sheet in all_sheets() if sheet.operation}
    for model in models:
        found |= set(model._default_manager.values_list("operation", flat=True))
    return [(operation, operation[:1].upper() + operation[1:]) for operation in sorted(found)]


def _vessels() -> list[tuple[str, str]]:
    codes = Vessel.objects.exclude(kind=Kind.CASK).values_list("code", "name")
    return [("", "Any"), *((code, f"{code}, {name}") for code, name in codes)]


def _of_casks(column: str) -> list[tuple[str, str]]:
    known = Cask.objects.order_by(column).values_list(column, flat=True).distinct()
    return [("", "Any"), *((one, one) for one in known if one)]


class DetailsForm(DatedForm):
    """Name, address and approval."""

    title = "Enter the name and approval of the site"
    lead = "As the approval letter has them. Pages and prints bear them from the day they are in force."
    submit = "Save name and approval"
    model, two_hands = SiteDetails, False

    name = Words("Name of the site", longest=120)
    address = Words("Postal address", longest=300, help_text="In one line.")
    approval_number = Words("Approval number of the producer", longest=60, required=False)
    warehouse_approval = Words("Approval number of the warehouse", longest=60, required=False)

    def put(self, person: Person | None) -> models.Model:
        return stating.set_details(**self.cleaned_data, person=person)

    def done(self, row: Any) -> str:
        return f"{row.name} {_holds(row)}."

    @classmethod
    def as_it_stands(cls, row: Any) -> Mapping[str, Any]:
        return {name: getattr(row, name) for name in ("name", "address", "approval_number", "warehouse_approval")}


class ThresholdForm(DatedForm):
    """A review threshold of an operation."""

    title = "Set a review threshold"
    lead = (
        "From which size on the difference of an operation is looked into, gains like losses. It is the site's own "
        "review threshold and never an allowance."
    )
    submit = "Save review threshold"
    model, group = ReviewThreshold, ("operation", "vessel")

    operation = Choice("Operation", _judged)
    vessel = Choice("At vessel", _vessels, required=False, help_text="A vessel's own goes before that of any.")
    usual_percent = Figure("Usual loss", "% of alcohol in", help_text="0 where it usually loses nothing.")
    usual_half_width_percent = Figure("Give or take", "% of alcohol in")
    spread_percent = Figure("Spread", "% of alcohol in", help_text="One standard deviation from run to run.")
    threshold_percent = Figure("Review threshold", "% of alcohol in")
    floor_lpa = Figure("At least", "LPA", help_text="Below it nothing is looked into, however large its share.")

    def put(self, person: Person | None) -> models.Model:
        return setting.set_threshold(**self.cleaned_data, person=person)

    def done(self, row: Any) -> str:
        return f"Review threshold of {row.operation} set; it {_holds(row)}."

    @classmethod
    def as_it_stands(cls, row: Any) -> Mapping[str, Any]:
        return {
            "operation": row.operation,
            "vessel": row.vessel,
            "usual_percent": plain(row.usual_millionths, MILLIONTHS_A_PERCENT),
            "usual_half_width_percent": plain(row.usual_half_width_millionths, MILLIONTHS_A_PERCENT),
            "spread_percent": plain(row.spread_millionths, MILLIONTHS_A_PERCENT),
            "threshold_percent": plain(row.threshold_millionths, MILLIONTHS_A_PERCENT),
            "floor_lpa": plain(row.floor_ul, MICROLITRES_A_LITRE),
        }


class BandForm(DatedForm):
    """What casks are expected to lose a year."""

    title = "Set an expected loss in cask"
    lead = "The least and the most a cask is expected to lose in a year. A cask outside it is looked into."
    submit = "Save expected loss"
    model, group = CaskBand, ("warehouse", "cask_kind")

    warehouse = Choice("Warehouse", lambda: _of_casks("warehouse"), required=False)
    cask_kind = Choice("Kind of cask", lambda: _of_casks("kind"), required=False)
    low_percent_a_year = Figure("Least", "% a year")
    high_percent_a_year = Figure("Most", "% a year")

    def put(self, person: Person | None) -> models.Model:
        return setting.set_cask_band(**self.cleaned_data, person=person)

    def done(self, row: Any) -> str:
        return f"Expected loss in cask set; it {_holds(row)}."

    @classmethod
    def as_it_stands(cls, row: Any) -> Mapping[str, Any]:
        return {
            "warehouse": row.warehouse,
            "cask_kind": row.cask_kind,
            "low_percent_a_year": plain(row.low_millionths_a_year, MILLIONTHS_A_PERCENT),
            "high_percent_a_year": plain(row.high_millionths_a_year, MILLIONTHS_A_PERCENT),
        }


def _figures() -> list[tuple[str, str]]:
    known = dict(UsualFigure.objects.order_by("name", "pk").values_list("name", "unit"))
    return [(name, f"{name[:1].upper()}{name[1:]}{f', {unit}' if unit else ''}") for name, unit in known.items()]


class UsualForm(DatedForm):
    """What a figure usually is."""

    title = "Set a usual figure"
    lead = "What a figure of an operation usually is, and how far it strays. The site's own history goes before it."
    submit = "Save usual figure"
    model, group = UsualFigure, ("name",)

    name = Choice("Figure", _figures)
    expected = Figure("Usual", required=False, help_text="In its own unit. Blank: learnt from the site's history.")
    spread = Figure("Strays by", help_text="One standard deviation, in its own unit.")

    def put(self, person: Person | None) -> models.Model:
        return setting.set_usual_figure(**self.cleaned_data, person=person)

    def done(self, row: Any) -> str:
        return f"Usual figure of {row.name} set; it {_holds(row)}."

    @classmethod
    def as_it_stands(cls, row: Any) -> Mapping[str, Any]:
        return {
            "name": row.name,
            "expected": plain(row.expected_millionths, ONE),
            "spread": plain(row.spread_millionths, ONE),
        }


def _measures() -> list[tuple[str, str]]:
    known = NameRequirement.objects.order_by("measure").values_list("measure", flat=True).distinct()
    return [(one, one[:1].upper() + one[1:]) for one in known]


class NameForm(DatedForm):
    """What a name asks for."""

    title = "Set what a name needs"
    lead = "One requirement of one name. It takes the place of an earlier one with the same code. The law decides."
    submit = "Save requirement"
    model, group = NameRequirement, ("name", "code")

    name = Words("Name of the spirit", longest=60)
    code = Words("Requirement", longest=10, help_text="Its code in the list, the same for the row it replaces.")
    said = Words("What is asked", longest=120)
    measure = Choice("Measure", _measures)
    way = forms.ChoiceField(label="Held to it", choices=[(one.value, one.value) for one in Way])
    limit = Figure("Limit", required=False, help_text="In the unit of the measure; blank where words are asked.")
    words = Words("Words", longest=200, required=False, help_text="What has to stand there; several parted by |.")
    unit = Words("Unit", longest=20, required=False)

    def put(self, person: Person | None) -> models.Model:
        return names.set_requirement(**self.cleaned_data, person=person)

    def done(self, row: Any) -> str:
        return f"Requirement {row.code} of {row.name} set; it {_holds(row)}."

    @classmethod
    def as_it_stands(cls, row: Any) -> Mapping[str, Any]:
        same = {name: getattr(row, name) for name in ("name", "code", "said", "measure", "way", "words", "unit")}
        return same | {"limit": plain(row.limit_millionths, ONE)}


class ReportingForm(DatedForm):
    """What has to be reported."""

    title = "Set what has to be reported"
    lead = "One report of one operation, by whom and until when. The same words take the place of the row before."
    submit = "Save report"
    model = ReportingDuty
    beside = {"said": "report"}

    operation = Choice("Operation", _reported)
    occasion = Words("When", longest=60, help_text="always, or the case it is due in.")
    report = Words("What is reported")
    by_whom = Words("By whom", longest=80)
    until = Words("Until", longest=120, help_text="In words.")
    within_days = _whole("Within", "days", required=False, help_text="Blank where it goes by no number of days.")
    business_days = forms.BooleanField(label="Business days alone count", required=False)

    def put(self, person: Person | None) -> models.Model:
        return stating.set_reporting_duty(**self.cleaned_data, person=person)

    def done(self, row: Any) -> str:
        return f"What is reported of {row.operation} set; it {_holds(row)}."

    def before(self) -> Any:
        given = self.cleaned_data
        same = {"operation": given["operation"], "occasion": given["occasion"], "said": given["report"]}
        rows = ReportingDuty.objects.filter(**same, from_day__lte=given["from_day"])
        return rows.order_by("from_day", "pk").last()

    @classmethod
    def as_it_stands(cls, row: Any) -> Mapping[str, Any]:
        same = ("operation", "occasion", "by_whom", "until", "within_days", "business_days")
        return {"report": row.said} | {name: getattr(row, name) for name in same}


def _lasting() -> list[tuple[str, str]]:
    known = Interval.objects.order_by("what").values_list("what", flat=True).distinct()
    return [(one, one[:1].upper() + one[1:]) for one in known]


class IntervalForm(DatedForm):
    """How long something lasts."""

    title = "Set how long something lasts"
    lead = (
        "How many months from one certificate or calibration to the next, and how long records are kept. Nothing is "
        "taken out of the books when the time is over."
    )
    submit = "Save interval"
    model, group = Interval, ("what",)

    what = Choice("What", _lasting)
    months = _whole("Every", "months", help_text="0 where nothing is due.")

    def put(self, person: Person | None) -> models.Model:
        return stating.set_interval(**self.cleaned_data, person=person)

    def done(self, row: Any) -> str:
        return f"{row.what[:1].upper()}{row.what[1:]}: {row.months} months; it {_holds(row)}."

    @classmethod
    def as_it_stands(cls, row: Any) -> Mapping[str, Any]:
        return {"what": row.what, "months": row.months}


class CauseForm(DatedForm):
    """A cause of loss."""

    title = "Add a cause of loss"
    lead = "A cause that can be named when a loss is explained. One that is on the list stays on it."
    submit = "Save cause"
    model, two_hands = LossCause, False

    name = Words("Cause", longest=60)

    def put(self, person: Person | None) -> models.Model:
        return setting.add_loss_cause(**self.cleaned_data, person=person)

    def done(self, row: Any) -> str:
        return f"{row.name[:1].upper()}{row.name[1:]} is on the list; it {_holds(row)}."
