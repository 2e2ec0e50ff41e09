"""Filters of lists: what cannot be read is left out with a word on the page, and never an error."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from datetime import date, datetime, time, timedelta
from functools import cache
from typing import Any

import django_filters
from django import forms
from django.utils import timezone

from distillery.years import is_of_a_site

# What says which page of a list is asked for, or which file; another filter begins at its first page.
PAGING = ("after", "before", "page", "as")
NOT_A_DAY = "'{}' is not a day; write it as 2027-03-31. It is left out."


def month_bounds(text: str) -> tuple[datetime, datetime] | None:
    """The first moment of a month written '2027-03' and of the next one; None for anything else."""
    try:
        first = timezone.make_aware(datetime.strptime(text, "%Y-%m"))
    except (ValueError, OverflowError):
        return None
    if not is_of_a_site(first):
        return None
    later = timezone.localtime(first + timedelta(days=32))
    return first, timezone.make_aware(datetime(later.year, later.month, 1))


def begin_of(day: date) -> datetime:
    """The first moment of a day on the site's clock."""
    return timezone.make_aware(datetime.combine(day, time()))


class MonthField(forms.CharField):
    """A month as 2027-03."""

    def clean(self, value: Any) -> Any:
        text = str(value or "").strip()
        if not text:
            return None
        if (bounds := month_bounds(text)) is None:
            raise forms.ValidationError(f"'{text}' is not a month; write it as 2027-03. All months are shown.")
        return bounds


class SiteDayField(forms.DateField):
    """A day, in years that a site can write of."""

    def clean(self, value: Any) -> Any:
        try:
            day = super().clean(value)
        except forms.ValidationError as wrong:
            raise forms.ValidationError(NOT_A_DAY.format(value)) from wrong
        if day is not None and not is_of_a_site(day.year):
            raise forms.ValidationError(NOT_A_DAY.format(value))
        return day


class OneOfField(forms.ChoiceField):
    """One of a few; another is said to be none of them. `choices` is asked once for a page, which reads them twice."""

    def __init__(self, *, choices: Callable[[], Iterable[tuple[str, str]]], **more: Any) -> None:
        # A set of filters makes fields of its own for each page, so nothing of this outlives it.
        super().__init__(choices=cache(lambda: [*choices()]), **more)

    def validate(self, value: Any) -> None:
        if value and not self.valid_value(value):
            raise forms.ValidationError(f"There is no '{value}' under {self.label}; all are shown.")


class MonthFilter(django_filters.Filter):  # type: ignore[misc]
    """Rows of one month by a field of time; bounds the list in time."""

    field_class = MonthField
    bounds_time = True

    def __init__(self, field_name: str, *, label: str = "Month") -> None:
        attributes = {"class": "width-8", "placeholder": "2027-03", "autocomplete": "off"}
        super().__init__(field_name, label=label, widget=forms.TextInput(attributes))

    def filter(self, rows: Any, value: Any) -> Any:
        if value is None:
            return rows
        return rows.filter(**{f"{self.field_name}__gte": value[0], f"{self.field_name}__lt": value[1]})


class DayFilter(django_filters.Filter):  # type: ignore[misc]
    """Rows from a day on, or up to its end, by a field of time on the site's clock."""

    field_class = SiteDayField

    def __init__(self, field_name: str, *, label: str, until: bool = False) -> None:
        widget = forms.DateInput({"type": "date"}, format="%Y-%m-%d")
        super().__init__(field_name, label=label, widget=widget)
        self.until = until

    def filter(self, rows: Any, value: Any) -> Any:
        if value is None:
            return rows
        if self.until:
            return rows.filter(**{f"{self.field_name}__lt": begin_of(value + timedelta(days=1))})
        return rows.filter(**{f"{self.field_name}__gte": begin_of(value)})


class OneOfFilter(django_filters.Filter):  # type: ignore[misc]
    """Rows whose field is one of a few values; `choices` is a function that gives them with their words."""

    field_class = OneOfField

    def __init__(self, field_name: str, *, label: str, choices: Callable[[], Iterable[tuple[str, str]]]) -> None:
        super().__init__(field_name, label=label, choices=lambda: [("", "any"), *choices()])


class TextFilter(django_filters.Filter):  # type: ignore[misc]
    """Rows whose field has a text in it, capitals and small letters alike."""

    field_class = forms.CharField

    def __init__(self, field_name: str, *, label: str, lookup: str = "icontains") -> None:
        attributes = {"class": "width-8", "autocomplete": "off", "spellcheck": "false"}
        super().__init__(
            field_name, label=label, lookup_expr=lookup, widget=forms.TextInput(attributes), max_length=120
        )

    def filter(self, rows: Any, value: Any) -> Any:
        return super().filter(rows, (value or "").strip())


class RowFilter(OneOfFilter):
    """Rows held in memory whose value, as `read` gives it, is the one chosen."""

    def __init__(
        self, *, label: str, read: Callable[[Any], str], choices: Callable[[], Iterable[tuple[str, str]]]
    ) -> None:
        super().__init__("", label=label, choices=choices)
        self._read = read

    def filter(self, rows: Any, value: Any) -> Any:
        return Rows(row for row in rows if self._read(row) == value) if value else rows


class Rows(list[Any]):
    """Rows held in memory, which filters take like a query."""

    model = None

    def all(self) -> Rows:
        """Themselves."""
        return self


class HouseFilters(django_filters.FilterSet):  # type: ignore[misc]
    """The filters of one list. What its form could not read is not applied, and said in `words`."""

    def filter_queryset(self, queryset: Any) -> Any:
        """The rows that fit, a query or Rows."""
        for name, value in self.form.cleaned_data.items():
            queryset = self.filters[name].filter(queryset, value)
        return queryset

    def kept(self) -> Iterator[tuple[str, str]]:
        """What the address of the page asks for besides, which its form has to send again: name and value."""
        own = {self.form.add_prefix(name) for name in self.filters}
        paging = {self.form.add_prefix(name) for name in PAGING}
        for name, value in self.data.items():
            if name not in own | paging and value:
                yield name, str(value)

    @property
    def words(self) -> list[str]:
        """What was left out, and why, one sentence for each."""
        return [str(sentence) for errors in self.form.errors.values() for sentence in errors] if self.is_bound else []

    @property
    def chosen(self) -> dict[str, Any]:
        """What was chosen and could be read, by name."""
        if not self.is_bound:
            return {}
        self.form.is_valid()
        return {name: value for name, value in self.form.cleaned_data.items() if value not in (None, "")}

    @property
    def bounds_time(self) -> bool:
        """True where a month, or a first and a last day, bound the list in time."""
        chosen = self.chosen
        if any(getattr(self.filters[name], "bounds_time", False) for name in chosen):
            return True
        days = [self.filters[name].until for name in chosen if isinstance(self.filters[name], DayFilter)]
        return True in days and False in days

    @property
    def asked(self) -> bool:
        """True where anything was typed or chosen, readable or not."""
        return any(self.data.get(self.form.add_prefix(name)) for name in self.filters)
