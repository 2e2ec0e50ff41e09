"""Databases that another form of the program has made: each is refused as soon as it is opened, in one sentence.

Migrations only go forward from the ones this program has. A database that went through others is either of a newer
version, or of the time before the first release, whose tables are not carried on.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any, Final

from django.apps import apps
from django.core.exceptions import ImproperlyConfigured
from django.db import DEFAULT_DB_ALIAS
from django.db.backends.base.base import BaseDatabaseWrapper

TABLE: Final = "django_migrations"
ROOTS: Final = ("distillery", "ledger", "batches")

# Databases that were looked at and are this program's, by their names.
_known: set[str] = set()


class AnotherHistory(ImproperlyConfigured):
    """The database went through migrations that this program does not have; the sentence says what to do."""


def look(*, connection: BaseDatabaseWrapper, **signal: Any) -> None:
    """Refuses a database just opened that is not this program's. Raises AnotherHistory; asked once of each."""
    name = str(connection.settings_dict["NAME"])
    if connection.alias != DEFAULT_DB_ALIAS or name in _known:
        return
    with connection.cursor() as cursor:
        if TABLE not in connection.introspection.table_names(cursor):
            return
        cursor.execute(f"SELECT app, name FROM {TABLE}")
        said = refusal(f"The database {name}", cursor.fetchall())
    if said:
        # The next attempt must be refused too, so the connection is closed.
        connection.close()
        raise AnotherHistory(said)
    _known.add(name)


def forget() -> None:
    """Looks at every database again when it is next opened: another may lie in its place."""
    _known.clear()


def refusal(what: str, applied: Iterable[tuple[str, str]]) -> str:
    """Why `what`, which went through these migrations of these apps, is not taken; '' where it is this program's."""
    ours = _migrations()
    there = set(applied)
    unknown = sorted((app, name) for app, name in there if app in ours and name not in ours[app])
    if not unknown:
        return ""
    app, name = unknown[0]
    # A newer version has all that this one has; the time before the first release had other first migrations.
    if all((label, one) in there for label, names in ours.items() for one in names):
        return (
            f"{what} was made by a newer version of this program (it has {app} {name}). Bring the program up to date."
        )
    return (
        f"{what} was made by an earlier form of this program, whose tables are not carried on (it has "
        f"{app} {name}). Name a new database in DATABASE_URL, and load the months into it anew "
        "with `load_month`."
    )


def _migrations() -> dict[str, set[str]]:
    """The names of the migrations of each of the site's own apps."""
    found = {}
    for config in apps.get_app_configs():
        folder = Path(config.path) / "migrations"
        if config.name.partition(".")[0] in ROOTS and folder.is_dir():
            found[config.label] = {file.stem for file in folder.glob("[0-9]*.py")}
    return found
