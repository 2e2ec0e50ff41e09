"""Which tables have a trail, and which of their columns. The floors above add theirs when the site starts."""

from __future__ import annotations

from dataclasses import dataclass

from django.apps import apps
from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper

_kept: dict[str, tuple[str, ...]] = {}
_not_told: set[str] = set()
_whole_apps: list[str] = []


@dataclass(frozen=True, slots=True)
class Kept:
    """A table with a trail: its name, its key, and the columns that are kept, in the order of the table."""

    table: str
    key: str
    columns: tuple[str, ...]


def keep(label: str, *, only: tuple[str, ...] = (), told: bool = True) -> None:
    """Gives a model a trail ('plant.Vessel'); `only` names the columns kept, all of them if left out.

    Not `told` is what has a trail only so that a row taken away is missed: the page and the command leave it out.
    """
    _kept[label] = only
    if not told:
        _not_told.add(label)


def keep_all_of(app_label: str) -> None:
    """Gives every model of an app a trail, those added later too."""
    _whole_apps.append(app_label)


def kept_tables(connection: BaseDatabaseWrapper) -> list[Kept]:
    """The tables with a trail that the database has now, with the columns it has now."""
    found: list[Kept] = []
    with connection.cursor() as cursor:
        tables = set(connection.introspection.table_names(cursor))
        for model, only in _models():
            table = model._meta.db_table
            if table not in tables:
                continue
            key = model._meta.pk.column
            assert key is not None
            cursor.execute(f"SELECT * FROM {table} LIMIT 0")
            there = [column[0] for column in cursor.description]
            columns = tuple(name for name in there if not only or name in only or name == key)
            found.append(Kept(table, key, columns))
    return found


def _models() -> list[tuple[type[models.Model], tuple[str, ...]]]:
    named = [(apps.get_model(label), only) for label, only in _kept.items()]
    whole = [(model, ()) for label in _whole_apps for model in apps.get_app_config(label).get_models()]
    seen: dict[type[models.Model], tuple[str, ...]] = {}
    for model, only in (*named, *whole):
        seen.setdefault(model, only)
    return list(seen.items())


def told_models() -> dict[str, type[models.Model]]:
    """The models whose trail people are shown, by their tables."""
    hidden = {apps.get_model(label) for label in _not_told}
    return {model._meta.db_table: model for model, _ in _models() if model not in hidden}
