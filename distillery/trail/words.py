"""An entry of the trail in words that a person knows: which row, which of its columns, from what to what.

Names of things come from the models; whole numbers of small units are written in the unit people use.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from django.db import models

from distillery import figures
from distillery.people.models import Person
from distillery.trail.meaning import Content

# End of a column's name: how many places the figure is moved, and the unit it then has.
_UNITS: tuple[tuple[str, int, str], ...] = (
    ("_pence_hundredths_per_lpa", 4, "£ per LPA"),
    ("_millionths_a_year", 6, "a year"),
    ("_per_celsius_billionths", 9, "per °C"),
    ("_millicelsius", 3, "°C"),
    ("_millionths", 6, ""),
    ("_thousandths", 3, ""),
    ("_ul", 6, "L"),
    ("_um", 3, "mm"),
    ("_g", 3, "kg"),
)
_IN_CODE = re.compile(r"[a-z]+[0-9]*(?:_[a-z0-9]+)+")


class Names:
    """What rows that others name are called, looked up together and kept."""

    def __init__(self) -> None:
        self._known: dict[type[models.Model], dict[Any, str]] = {}

    def learn(self, rows: Iterable[tuple[type[models.Model], Content]]) -> None:
        """Looks up everything that these rows name, table by table."""
        wanted: dict[type[models.Model], set[Any]] = {}
        for model, content in rows:
            for field in model._meta.concrete_fields:
                key = content.get(str(field.column))
                if isinstance(field, models.ForeignKey) and key is not None:
                    wanted.setdefault(field.related_model, set()).add(key)
        for model, keys in wanted.items():
            known = self._known.setdefault(model, {})
            found = model._base_manager.in_bulk(keys - known.keys())
            known.update({key: one.shown_name if isinstance(one, Person) else str(one) for key, one in found.items()})

    def of(self, model: type[models.Model], key: Any) -> str:
        """What a row is called; its key where it is gone."""
        return self._known.get(model, {}).get(key) or f"{model._meta.verbose_name} {key}"


def kind_of(model: type[models.Model], *, several: bool = False) -> str:
    """What a row of a table is: 'vessel', 'calibration points'."""
    if model._meta.auto_created:
        return "roles" if several else "role"
    one, many = str(model._meta.verbose_name), str(model._meta.verbose_name_plural)
    if several and many == f"{one}s" and one.endswith("y"):
        many = f"{one[:-1]}ies"
    return many if several else one


def which(model: type[models.Model], content: Content, row: str, names: Names) -> str:
    """A row as it is known: 'Vessel LWR', 'Calibration point LWR, 1054 mm', 'Reading SR0007, celsius'."""
    kind = kind_of(model)
    parts = [text for field in _telling(model) if (text := shown(field, content.get(str(field.column)), names))]
    return f"{kind[:1].upper()}{kind[1:]} {', '.join(parts) or row}"


def _telling(model: type[models.Model]) -> Sequence[models.Field[Any, Any]]:
    """The columns that tell one row from another."""
    fields = list(model._meta.concrete_fields)
    unique = [one for one in fields if one.unique and isinstance(one, models.CharField)]
    if unique:
        return unique[:1]
    by_name = {one.name: one for one in fields}
    told: list[models.Field[Any, Any]] = [
        one
        for one in fields
        if isinstance(one, models.ForeignKey) and (model._meta.auto_created or one.related_model is not Person)
    ]
    ordering = [by_name.get(str(name).lstrip("-")) for name in model._meta.ordering or ()]
    own = [one for one in ordering if one is not None and not one.primary_key and one not in told]
    return [*told, *(own or [one for one in fields if isinstance(one, models.CharField)][:1])]


def column(field: models.Field[Any, Any]) -> str:
    """What a column is called: 'name', 'capacity'."""
    name = str(field.verbose_name)
    for end, _, _ in _UNITS:
        if field.name.endswith(end):
            return name.removesuffix(end.replace("_", " ")) or "rate"
    return "rate" if field.name == "pence_hundredths_per_lpa" else name


def shown(field: models.Field[Any, Any], value: Any, names: Names) -> str:
    """A value as people write it; nothing for a blank one."""
    if value is None or value == "":
        return ""
    if isinstance(field, models.ForeignKey):
        return names.of(field.related_model, value)
    if isinstance(field, models.BooleanField):
        return "yes" if value else "no"
    if isinstance(field, models.DateTimeField):
        moment = datetime.fromisoformat(str(value))
        return figures.moment(moment if moment.tzinfo else moment.replace(tzinfo=UTC), year=True)
    if isinstance(field, models.DateField):
        return figures.day(date.fromisoformat(str(value)), year=True)
    if field.choices:
        return str(dict(field.flatchoices).get(value, value))
    if isinstance(value, int):
        return _figure(field, value)
    text = str(value)
    return text.replace("_", " ") if _IN_CODE.fullmatch(text) else text


def _figure(field: models.Field[Any, Any], value: int) -> str:
    for end, places, unit in _UNITS:
        if f"_{field.name}".endswith(end):
            # A model names its columns that hold a difference, missing positive; those are said as everywhere else.
            is_difference = field.name in getattr(field.model, "DIFFERENCES", ())
            amount = abs(value) if is_difference else value
            figure = f"{Decimal(amount).scaleb(-places).normalize():f}"
            return f"{figure} {unit} {figures.way(value) if is_difference else ''}".strip()
    return str(value)
