"""The boxes of a form: one for each declared field, with what it can offer to choose from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from django import forms
from django.forms import BoundField
from django.urls import reverse

from batches.models import Record
from batches.sheets.sheet import Field, Kind
from batches.sheets.site import Site
from batches.sheets.typed.parsing import plain
from distillery.plant.models import Kind as VesselKind
from distillery.plant.models import Vessel

LATEST_RECORDS = 3


class Typed(forms.CharField):
    """A box whose text goes to the recording service as it was typed. `unit`, `width` and
    what stands `beside` it (what is usual, the last records) are for the page."""

    def __init__(self, *, unit: str, width: int | None, beside: str = "", **more: Any) -> None:
        super().__init__(**more)
        self.unit = unit
        self.beside = beside
        if width:
            self.width = width

    def validate(self, value: Any) -> None:
        """Nothing is refused here: what is needed at which moment, the recording service knows."""


class KeepingSelect(forms.Select):
    """A list that also keeps what was typed elsewhere: a code in small letters, a vessel no longer offered."""

    def optgroups(self, name: str, value: list[str], attrs: dict[str, Any] | None = None) -> list[Any]:
        """The options, the present value among them."""
        known = {str(code).casefold(): str(code) for code, _ in self.choices}
        shown = [known.get(one.casefold(), one) for one in value if one]
        if not isinstance(self.choices, list):
            self.choices = list(self.choices)
        extra = [(one, one) for one in shown if one.casefold() not in known]
        offered, self.choices = self.choices, [*self.choices, *extra]
        try:
            return super().optgroups(name, shown or [""], attrs)
        finally:
            self.choices = offered


class Offers:
    """What a box can offer to choose from: vessels that fit, the latest records of a kind. Looked up once."""

    def __init__(self, site: Site) -> None:
        self._site = site
        self._latest: dict[str, str] = {}

    def vessels(self, field: Field) -> list[tuple[str, str]]:
        """Codes and names of the vessels a field can name: those kept for it, then those kept for nothing at all."""
        found = self._kept_for(field)
        if field.purposes:
            found = [*found, *self._site.vessels(kinds=field.vessel_kinds, stages=field.stages, purposes=("",))]
        return [
            (vessel.code, vessel.code if vessel.name == vessel.code else f"{vessel.code}, {vessel.name}")
            for vessel in found
        ]

    def only(self, field: Field) -> str:
        """The vessel that is taken where none is named, if just one fits."""
        fitting = self._kept_for(field) if field.assumed else []
        return fitting[0].code if len(fitting) == 1 else ""

    def _kept_for(self, field: Field) -> list[Vessel]:
        return self._site.vessels(kinds=field.vessel_kinds, stages=field.stages, purposes=field.purposes)

    def latest(self, kind: str) -> str:
        """Numbers of the newest records of a kind, or nothing."""
        if kind not in self._latest:
            newest = Record.objects.filter(kind=kind).order_by("-happened_from", "-id")
            self._latest[kind] = ", ".join(newest.values_list("number", flat=True)[:LATEST_RECORDS])
        return self._latest[kind]


# A text of no more, such as the row and tier of a cask, has a box as narrow as it is.
A_FEW_CHARACTERS: Final = 20


def usual_range(field: Field) -> str:
    """'Usual 5 to 30.' or nothing."""
    low, high = field.usual_low, field.usual_high
    if low is not None and high is not None:
        return f"Usual {plain(low)} to {plain(high)}."
    if low is not None or high is not None:
        return f"Usual from {plain(low)}." if low is not None else f"Usual up to {plain(high or 0)}."
    return ""


def box(field: Field, offers: Offers) -> Typed:
    """The box of one field, with what it offers and what is usual or came last beside it."""
    hints = [field.help] if field.help else []
    beside = usual_range(field)
    attrs = {"autocomplete": "off", "spellcheck": "false"}
    widget: forms.Widget
    width: int | None = 12
    if field.kind in (Kind.NUMBER, Kind.WHOLE):
        attrs["inputmode"] = "numeric" if field.kind == Kind.WHOLE else "decimal"
        width = 8
        widget = forms.TextInput(attrs)
    elif field.kind == Kind.MOMENT:
        width = 20
        widget = forms.TextInput(attrs)
    elif field.kind == Kind.CHOICE:
        width = None
        widget = KeepingSelect(choices=[("", ""), *((choice, choice) for choice in field.choices)])
    elif field.kind == Kind.VESSEL and VesselKind.CASK.value not in field.vessel_kinds:
        width = None
        widget = KeepingSelect(choices=[("", ""), *offers.vessels(field)])
    else:
        if field.kind == Kind.RECORD and (latest := offers.latest(field.record_kind)):
            beside = f"Last: {latest}."
        if field.kind == Kind.TEXT:
            width = 20 if field.longest > A_FEW_CHARACTERS else 4
            if field.choices:
                hints.append(f"Such as: {', '.join(field.choices)}.")
        else:
            attrs["autocapitalize"] = "characters"
        if field.kind == Kind.VESSEL:
            # Too many to choose from in a list: the script beside the page offers those that fit what is typed.
            attrs["data-offers"] = reverse("cask_numbers")
        widget = forms.TextInput(attrs)
    return Typed(
        label=field.label,
        required=field.required,
        help_text=" ".join(hint for hint in hints if hint),
        widget=widget,
        unit="" if field.unit == "relative density" else field.unit,
        width=width,
        beside=beside,
    )


@dataclass(frozen=True, slots=True)
class ShownBox:
    """A box with what is said under it."""

    bound: BoundField
    echo: str = ""

    @property
    def value(self) -> str:
        """What stands in it."""
        return str(self.bound.value() or "")

    @property
    def assumed(self) -> str:
        """What the page put into it by itself."""
        return str(self.bound.field.initial or "")

    @property
    def typed(self) -> Typed:
        """Its box as it was declared. Raises TypeError for a box of another kind."""
        if not isinstance(self.bound.field, Typed):
            raise TypeError(f"{self.bound.name} is not a box of a sheet.")
        return self.bound.field
