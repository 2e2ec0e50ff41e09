"""Stock periods the site was allowed instead of calendar months: the list, and the form that enters the next one."""

from __future__ import annotations

from datetime import date, timedelta

from django import forms
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect, render

from distillery.database.retrying import Busy
from distillery.lists.showing import listed
from distillery.people.models import Person
from distillery.people.roles import CLOSERS, PLANT_KEEPERS, holds
from ledger.periods.models import StockPeriod
from ledger.periods.service import CannotClose, enter_stock_period
from ledger.views.lists.periods import StockPeriodTable
from ledger.views.ways import books_places


class StockPeriodForm(forms.Form):
    """The next stock period; what does not fit the ones before, the service says."""

    use_required_attribute = False
    code = forms.CharField(
        label="Code",
        max_length=7,
        help_text="Year and number, such as 2027-05; it comes after the code of the period before.",
        widget=forms.TextInput({"autocomplete": "off"}),
    )
    first_day = forms.DateField(label="First day", widget=forms.DateInput({"type": "date"}, format="%Y-%m-%d"))
    last_day = forms.DateField(
        label="Last day",
        help_text="It belongs to the period, which has at most 35 days.",
        widget=forms.DateInput({"type": "date"}, format="%Y-%m-%d"),
    )
    source = forms.CharField(
        label="Who allowed it, and where that is written", widget=forms.TextInput({"autocomplete": "off"})
    )


def stock_periods(request: HttpRequest) -> HttpResponseBase:
    """The stock periods entered so far, and for those who may, the form for the next."""
    person = request.user
    assert isinstance(person, Person)
    may_enter = holds(person, CLOSERS | PLANT_KEEPERS)
    entered = list(StockPeriod.objects.order_by("-first_day"))
    form = StockPeriodForm(request.POST if request.method == "POST" else None, initial=_next_day(entered))
    if request.method == "POST":
        if not may_enter:
            raise PermissionDenied("A manager or an administrator enters stock periods; ask one of them.")
        if form.is_valid():
            try:
                made = enter_stock_period(**form.cleaned_data, person=person)
            except (CannotClose, Busy) as error:
                field = getattr(error, "field", "")
                form.add_error(field if field in form.fields else None, error.sentence)
            else:
                messages.success(request, f"Stock period {made.code} is entered.")
                return redirect("stock_periods")
    periods = listed(request, StockPeriodTable, StockPeriod.objects.select_related("person"))
    if periods.file is not None:
        return periods.file
    return render(
        request,
        "ledger/stock_periods.html",
        {
            "area": "books",
            "density": "paper",
            "places": books_places("books"),
            "periods": periods.table,
            "form": form,
            "may_enter": may_enter,
        },
    )


def _next_day(entered: list[StockPeriod]) -> dict[str, date]:
    return {"first_day": entered[0].last_day + timedelta(days=1)} if entered else {}
