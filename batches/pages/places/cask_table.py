"""The lists of the warehouse: every cask with its book, the gauges of one, and what was written about it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Any

import django_filters
from django import forms
from django.db.models import Exists, OuterRef, QuerySet, Sum
from django.urls import reverse

from batches.casks.standing import gone_by, is_gone
from batches.tracing.ages import youngest_in_casks
from distillery.clock.reading import books_now, site_day
from distillery.lists.columns import (
    DayColumn,
    DifferenceColumn,
    FigureColumn,
    ListColumn,
    LitresColumn,
    LpaColumn,
    MomentColumn,
    Plain,
    StrengthColumn,
)
from distillery.lists.filters import DayFilter, HouseFilters, OneOfFilter, TextFilter, begin_of
from distillery.lists.tables import HouseTable
from distillery.pages import Kind, State
from distillery.plant.lookup import values_of_casks
from distillery.plant.models import MICRO, Cask
from distillery.rules import cask_loss
from distillery.rules.names import largest_that_counts
from distillery.years import LATEST_YEAR, is_of_a_site
from ledger.models import Account, Balance
from ledger.statements.balances import holdings

FULL, EMPTY, GONE = "full", "empty", "gone"
REGAUGE = State(Kind.WATCH, "Seen leaking")
NOT_AGE = "'{}' is no number of years; write it as 10. It is left out."
MOST_YEARS = 100
SHORT = {"class": "width-8", "autocomplete": "off", "inputmode": "numeric"}


def years_between(start: datetime, end: datetime | None = None) -> float:
    """Years from one moment to another, or to now."""
    return cask_loss.years_between(start, end or books_now())


def note_ages(casks: Sequence[Any], accounts: Mapping[int, int] | None = None) -> None:
    """Puts on each of these casks, as `age`, how old what it holds is: the time in wood of the youngest, which goes on
    where it was re-racked. Where nothing is known of that, the time since it was filled; None while it is not.
    `accounts` are the vessels of their accounts by the accounts' keys, where they are at hand.
    """
    now = books_now()
    most = largest_that_counts(site_day(now))
    known = {} if most is None else youngest_in_casks(casks, now, most_litres=most, accounts=accounts)
    for cask in casks:
        began = known[cask.pk].began(now) if cask.pk in known else cask.filled_at
        cask.age = None if began is None or began > now else years_between(began, now)


def _filled_at(row: Any) -> datetime | None:
    return row.filled_at if row.held is not None else None


def _empty_said(row: Any) -> str:
    """What is said of a cask that has no day of filling: that it left, or that it is empty."""
    if row.held is not None:
        return ""
    return "Gone" if row.gone else "Empty"


class FilledColumn(DayColumn):
    """The day a cask was filled; a word where it holds nothing."""

    def written(self, value: Any) -> str:
        return value if isinstance(value, str) else super().written(value)

    def plain_value(self, value: Any) -> Plain:
        return value if isinstance(value, str) else super().plain_value(value)


class CaskTable(HouseTable):
    """Casks with what the book says is in them."""

    number = ListColumn(
        "Cask",
        "vessel__code",
        order=("vessel__code",),
        href=lambda row: reverse("cask", args=[row.vessel.code]),
        state=lambda row: row.asks,
    )
    kind = ListColumn("Kind", "kind", order=("kind", "pk"))
    place = ListColumn("Place", "place", order=("warehouse", "row", "tier", "pk"))
    filled = FilledColumn("Filled", lambda row: _filled_at(row) or _empty_said(row))
    age = FigureColumn("Age", lambda row: row.age if row.held is not None else None, places=1, unit="years")
    book = LpaColumn("Book", lambda row: row.held.pure_ul if row.held else None)
    litres = FigureColumn("Litres", lambda row: row.held.litres20 if row.held else None, places=1, unit="L at 20 °C")
    percent = FigureColumn("Strength", lambda row: row.held.percent20 if row.held else None, places=1, unit="% vol")
    regauged = DayColumn(
        "Last regauge", lambda row: row.held.last_gauge.happened_at if row.held and row.held.last_gauge else None
    )

    wood = ListColumn("Wood", "wood", order=("wood", "pk"))
    fill = FigureColumn("Fill", "fill_number")
    size = FigureColumn("Size", lambda row: row.nominal_ul / MICRO, places=0, unit="L")
    owner = ListColumn("Owner", "owner", order=("owner", "pk"))
    head = ListColumn("On the head", lambda row: head_of(row))

    name = "casks"
    caption = "Casks"
    nothing = "No casks yet. They come with the plant that is loaded."
    nothing_fits = "No casks match. Clear the filter."
    adds_up_filtered = True

    class Meta(HouseTable.Meta):
        order_by = ("number",)

    def prepare(self, rows: Sequence[Any]) -> None:
        accounts = Account.objects.filter(vessel__in=[row.pk for row in rows])
        held = {one.account.vessel_id: one for one in holdings(accounts)}
        note_ages(rows, {one.account.pk: vessel for vessel, one in held.items() if vessel is not None})
        for row in rows:
            found = held.get(row.pk)
            row.held = found if found is not None and found.pure_ul else None
            gauged = found.last_gauge.happened_at if found is not None and found.last_gauge else None
            leaks = row.seen_leaking_at
            row.asks = REGAUGE if leaks is not None and (gauged is None or gauged < leaks) else None
        gone = gone_by(row for row in rows if row.held is None)
        for row in rows:
            row.gone = row.pk in gone

    def totals(self, rows: Iterable[Any]) -> Mapping[str, Any]:
        assert isinstance(rows, QuerySet)
        held = Balance.objects.filter(account__vessel__in=rows.order_by().values("pk"))
        return {"book": held.aggregate(all=Sum("balance_ul"))["all"] or 0}


def head_of(cask: Cask) -> str:
    """What is painted on its head: number, year, distillery."""
    return ", ".join(one for one in (cask.head_number, str(cask.head_year or ""), cask.head_distillery) if one)


class FullFilter(OneOfFilter):
    """Casks that hold something by their book, that hold nothing, or that left the site and were not filled since."""

    def filter(self, rows: Any, value: Any) -> Any:
        if not value:
            return rows
        holds = Exists(Balance.objects.filter(account__vessel=OuterRef("pk"), balance_ul__gt=0))
        if value == FULL:
            return rows.filter(holds)
        return rows.filter(~holds, is_gone() if value == GONE else ~is_gone())


class SameTextFilter(TextFilter):
    """Casks whose field is this text, capitals and small letters alike."""

    def __init__(self, field_name: str, *, label: str) -> None:
        super().__init__(field_name, label=label, lookup="iexact")


class YearsField(forms.CharField):
    """A whole number of years, or a year."""

    def clean(self, value: Any) -> Any:
        text = str(value or "").strip()
        if not text:
            return None
        if not (text.isascii() and text.isdigit() and int(text[:6]) <= self.most):
            raise forms.ValidationError(NOT_AGE.format(text[:20]))
        return int(text)

    most = MOST_YEARS


class FillYearField(YearsField):
    """A year in which casks were filled."""

    most = LATEST_YEAR

    def clean(self, value: Any) -> Any:
        year = super().clean(value)
        if year is not None and not is_of_a_site(year):
            raise forms.ValidationError(f"'{year}' is not a year; write it as 2022. It is left out.")
        return year


class FillYearFilter(django_filters.Filter):  # type: ignore[misc]
    """Casks that were filled in a year by the site's clock."""

    field_class = FillYearField

    def filter(self, rows: Any, value: Any) -> Any:
        if value is None:
            return rows
        first, following = begin_of(date(value, 1, 1)), begin_of(date(value + 1, 1, 1))
        return rows.filter(filled_at__gte=first, filled_at__lt=following)


class AgeFilter(django_filters.Filter):  # type: ignore[misc]
    """Casks filled so many years ago, or longer ago."""

    field_class = YearsField

    def filter(self, rows: Any, value: Any) -> Any:
        if value is None:
            return rows
        return rows.filter(filled_at__lte=books_now() - timedelta(days=value * cask_loss.DAYS_A_YEAR))


class CaskFilters(HouseFilters):
    """By place, owner, kind, wood, whether they hold anything, when they were filled, age, and number."""

    warehouse = OneOfFilter("warehouse", label="Warehouse", choices=lambda: values_of_casks("warehouse"))
    row = SameTextFilter("row", label="Row")
    tier = SameTextFilter("tier", label="Tier")
    # There may be as many owners as casks, so they are typed.
    owner = TextFilter("owner", label="Owner has")
    wood = TextFilter("wood", label="Wood has")
    kind = OneOfFilter("kind", label="Kind of cask", choices=lambda: values_of_casks("kind"))
    state = FullFilter("pk", label="Now", choices=lambda: [(FULL, "Full"), (EMPTY, "Empty"), (GONE, "Gone")])
    year = FillYearFilter("filled_at", label="Fill year", widget=forms.TextInput(SHORT))
    age = AgeFilter("filled_at", label="Years since filled, at least", widget=forms.TextInput(SHORT))
    since = DayFilter("filled_at", label="Filled from")
    until = DayFilter("filled_at", label="Filled to", until=True)
    q = TextFilter("vessel__code", label="Number has")


class CaskGaugeTable(HouseTable):
    """What a cask was measured to hold, newest first."""

    taken = MomentColumn("Taken", "happened_at", order=("happened_at", "position", "pk"))
    record = ListColumn(
        "Record",
        "movement__record_number",
        href=lambda row: reverse("record", args=[row.movement.record_kind, row.movement.record_number]),
    )
    measured = LpaColumn("Measured", "pure_ul")
    book = LpaColumn("Book before", "book_ul")
    difference = DifferenceColumn("Difference", lambda row: row.book_ul - row.pure_ul)
    percent = StrengthColumn("Strength", "percent20_millionths")
    litres = LitresColumn("Litres", "litres20_ul")

    name = "gauges"
    caption = "Regauges"
    nothing = "Not regauged yet. Write a regauge to see what it has lost."

    class Meta(HouseTable.Meta):
        order_by = ("-taken",)
