"""Questions and rows in fixed SQL, for what every writing asks and adds: there an object for each row, and a query put
together anew each time, would take longer than the database does.

A statement has one text, written plainly for both engines or composed once from its model, so that a driver knows it
again and keeps it prepared: SQLite's by itself, PostgreSQL's once it has been used a few times (`prepare_threshold` in
the settings). Values go beside the text, never into it. Rows added here are checked by the database alone, its
constraints and its triggers, as are all others.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any, Final

from django.db import DEFAULT_DB_ALIAS, connections, models
from django.db.backends.utils import CursorWrapper

Row = tuple[Any, ...]

# Behind every position: no whole number of a table is higher.
LAST: Final = (1 << 63) - 1
# Fields whose value is kept just as it stands on the object.
_PLAIN: Final = (models.CharField, models.TextField, models.IntegerField, models.BooleanField, models.ForeignKey)


def ask(sql: str, values: Sequence[Any] = (), *, using: str = DEFAULT_DB_ALIAS) -> list[Row]:
    """All rows that answer a question."""
    with _cursor(using) as cursor:
        cursor.execute(sql, values)
        rows: list[Row] = cursor.fetchall()
        return rows


def ask_one(sql: str, values: Sequence[Any] = (), *, using: str = DEFAULT_DB_ALIAS) -> Row | None:
    """The first row that answers a question; None where there is none."""
    with _cursor(using) as cursor:
        cursor.execute(sql, values)
        row: Row | None = cursor.fetchone()
        return row


def tell(sql: str, values: Sequence[Any] = (), *, using: str = DEFAULT_DB_ALIAS) -> None:
    """Says something that has no answer: an update."""
    with _cursor(using) as cursor:
        cursor.execute(sql, values)


def marks(values: Collection[object]) -> str:
    """The places of some values in a statement, as a list: a text for each number of them."""
    return f"({', '.join(['%s'] * len(values))})"


def until_commit() -> str:
    """What ends a question whose row is to be held until commit; SQLite's transaction holds everything anyway."""
    return " FOR UPDATE" if connections[DEFAULT_DB_ALIAS].features.has_select_for_update else ""


def as_kept(moment: datetime) -> Any:
    """A moment as the engine keeps it, to be given with a question."""
    return connections[DEFAULT_DB_ALIAS].ops.adapt_datetimefield_value(moment)


def as_read(moment: datetime) -> datetime:
    """A moment as a question gave it, with its zone: SQLite keeps UTC and does not say so."""
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def add(rows: Sequence[models.Model], *, using: str = DEFAULT_DB_ALIAS) -> None:
    """Puts rows of one table in, in their order, by one statement. Keys the database makes are not looked up."""
    if not rows:
        return
    sql, values = _insert(type(rows[0]), using), [_values(row, using) for row in rows]
    with _cursor(using) as cursor:
        if len(values) == 1:
            cursor.execute(sql, values[0])
        else:
            cursor.executemany(sql, values)
    for row in rows:
        _is_kept(row, using)


def add_one(row: models.Model, *, using: str = DEFAULT_DB_ALIAS) -> None:
    """Puts one row in and gives it the key that the database makes."""
    key = connections[using].ops.quote_name(str(row._meta.pk.column))
    sql = f"{_insert(type(row), using)} RETURNING {key}"
    answer = ask_one(sql, _values(row, using), using=using)
    assert answer is not None
    row.pk = answer[0]
    _is_kept(row, using)


@contextmanager
def together() -> Iterator[None]:
    """What is added inside goes to the server in one go, in its order, where the engine has one.

    A refusal is raised at the end at the latest, and nothing after what was refused is written.
    """
    connection = connections[DEFAULT_DB_ALIAS]
    if connection.vendor != "postgresql" or connection.queries_logged:
        yield
        return
    connection.ensure_connection()
    with connection.wrap_database_errors, connection.connection.pipeline():
        yield


def change(row: models.Model, columns: tuple[str, ...]) -> None:
    """Writes these columns (attribute names, 'account_id') of a row that is there already."""
    using = DEFAULT_DB_ALIAS
    values = [
        value
        for (field, _), value in zip(_fields(type(row)), _values(row, using), strict=True)
        if field.attname in columns
    ]
    tell(_update(type(row), columns, using), [*values, row.pk])


@lru_cache(maxsize=64)
def _update(model: type[models.Model], columns: tuple[str, ...], using: str) -> str:
    quote = connections[using].ops.quote_name
    changed = ", ".join(f"{quote(str(field.column))} = %s" for field, _ in _fields(model) if field.attname in columns)
    return f"UPDATE {quote(model._meta.db_table)} SET {changed} WHERE {quote(str(model._meta.pk.column))} = %s"


def _cursor(using: str) -> CursorWrapper:
    connection = connections[using]
    # On PostgreSQL the usual cursor writes the values into the text, and no text comes twice; but where queries are
    # logged, it alone can say what it asked.
    if connection.vendor != "postgresql" or connection.queries_logged:
        return connection.cursor()
    from django.db.backends.postgresql.base import ServerBindingCursor

    beside_the_text: Any = ServerBindingCursor
    connection.ensure_connection()
    return connection.make_cursor(beside_the_text(connection.connection))


def _is_kept(row: models.Model, using: str) -> None:
    row._state.adding, row._state.db = False, using


@lru_cache(maxsize=64)
def _insert(model: type[models.Model], using: str) -> str:
    quote = connections[using].ops.quote_name
    fields = _fields(model)
    names = ", ".join(quote(str(field.column)) for field, _ in fields)
    return f"INSERT INTO {quote(model._meta.db_table)} ({names}) VALUES {marks(fields)}"


@lru_cache(maxsize=64)
def _fields(model: type[models.Model]) -> tuple[tuple[models.Field[Any, Any], bool], ...]:
    """Every column but a key that the database makes, and whether its value is kept just as it stands."""
    return tuple(
        (field, isinstance(field, _PLAIN))
        for field in model._meta.concrete_fields
        if not isinstance(field, models.AutoField)
    )


def _values(row: models.Model, using: str) -> list[Any]:
    connection = connections[using]
    return [
        getattr(row, field.attname) if plain else field.get_db_prep_save(getattr(row, field.attname), connection)
        for field, plain in _fields(type(row))
    ]
