"""Filters that several lists of the ledger have: a vessel by its code, a person by name, an operation."""

from __future__ import annotations

from typing import Any

from django import forms

from distillery.lists.filters import TextFilter
from distillery.people.models import Person
from distillery.plant.lookup import Plant
from distillery.plant.models import Vessel
from ledger.models import Movement


class VesselField(forms.CharField):
    """The code of a vessel or cask that there is, in any case and without its noughts."""

    def clean(self, value: Any) -> Any:
        text = str(value or "").strip()
        if not text:
            return None
        found = Plant().vessel_meant(text)
        if found is None:
            raise forms.ValidationError(f"There is no vessel or cask '{text[:40]}'; those of all are shown.")
        return found


class AboutVesselFilter(TextFilter):
    """Rows about one vessel or cask; what 'about' is, each list says in `narrowed`."""

    field_class = VesselField

    def narrowed(self, rows: Any, vessel: Vessel) -> Any:
        """The rows about a vessel."""
        raise NotImplementedError

    def filter(self, rows: Any, value: Any) -> Any:
        return rows if value is None else self.narrowed(rows, value)


def people() -> list[tuple[str, str]]:
    """Everybody, by sign-on name."""
    return [(person.username, person.shown_name) for person in Person.objects.order_by("username")]


def operations() -> list[tuple[str, str]]:
    """The operations that movements were written for: one step along the index for each."""
    found: list[tuple[str, str]] = []
    last = ""
    while (following := _operation_after(last)) is not None:
        found.append((following, following.capitalize()))
        last = following
    return found


def _operation_after(name: str) -> str | None:
    later = Movement.objects.filter(operation__gt=name).order_by("operation")
    return later.values_list("operation", flat=True).first()
