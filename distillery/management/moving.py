"""The whole database copied into an empty one of the other engine, and both proved equal.

Tables, sequences and triggers of the new database are made by `migrate`, as for any site; then every row is copied as
it is, with its key, while no trigger listens, since sums and trail come with the rows. Nobody writes to the old
database meanwhile. The new one counts only when each row has been read back from both and the proof of the books holds
in it; until then it is nothing, and whatever goes wrong leaves it empty.
"""

from __future__ import annotations

import os
import subprocess
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from itertools import islice, zip_longest
from typing import Any, Final

from django.apps import apps
from django.core.management.color import no_style
from django.db import DatabaseError, connections, models, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.recorder import MigrationRecorder
from django.db.models.functions import Collate

from distillery.database import guards
from distillery.database.full_disk import is_full
from distillery.database.guard_checks import migrations_wait
from distillery.starting.where import own_command
from distillery.trail.checks import all_guards

OTHER: Final = "moved"
BATCH: Final = 2000
# How long a writer may hold the old database up before the move gives way to it.
LONGEST_WAIT_S: Final = 20
ENGINES: Final = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}

Row = tuple[Any, ...]


class MoveRefused(Exception):
    """Nothing was moved, and nothing was changed; the sentence says why."""


@dataclass(frozen=True, slots=True)
class Moved:
    """What was copied: tables, rows, and one digest over every value of every row, the same of both databases."""

    tables: int
    rows: int
    digest: str


def opened(config: dict[str, Any]) -> BaseDatabaseWrapper:
    """A connection to another database than the site's own. Raises MoveRefused where there is none to be had."""
    own = connections["default"].settings_dict
    connections.settings[OTHER] = {**own, **config, "ATOMIC_REQUESTS": False, "CONN_MAX_AGE": 0, "TEST": own["TEST"]}
    other = connections[OTHER]
    try:
        other.ensure_connection()
        tables = other.introspection.table_names()
        if other.vendor == "postgresql":
            with other.cursor() as cursor:
                cursor.execute("SHOW server_encoding")
                encoding = cursor.fetchone()[0]
                if encoding != "UTF8":
                    raise MoveRefused(f"The database {own_name(other)} keeps text as {encoding}; make one with UTF8.")
    except DatabaseError as error:
        raise MoveRefused(f"The database {own_name(other)} cannot be opened: {said(error)}.") from error
    if tables:
        raise MoveRefused(
            f"The database {own_name(other)} is not empty (it has a table {tables[0]}). A site is moved into an empty "
            "one only; name another."
        )
    return other


def own_name(connection: BaseDatabaseWrapper) -> str:
    """What a database is called: its file, or its name on the server."""
    return str(connection.settings_dict["NAME"])


def said(error: BaseException) -> str:
    """The first line of what an engine says of an error, without the full stop."""
    if is_full(error):
        return "its disk is full"
    return (str(error).strip() or type(error).__name__).splitlines()[0].rstrip(".")


def move(source: BaseDatabaseWrapper, target: BaseDatabaseWrapper, url: str, tell: Callable[[str], None]) -> Moved:
    """Copies everything from one database into the other, which is empty, and reads both back.

    `url` names the target for `migrate`, a process of its own. Raises MoveRefused; the target is then empty as before.
    """
    if migrations_wait(source):
        raise MoveRefused(f"{own_name(source)} is not brought to this version of the program; run `migrate` first.")
    kept = every_model()
    _all_tables_known(source, kept)
    with _nobody_writes(source, kept):
        try:
            tell(f"Making the tables in {own_name(target)} ...")
            _migrate(url)
            target.close()
            with transaction.atomic(using=target.alias):
                _let_in(target, kept)
                for done, model in enumerate(kept):
                    tell(f"Copying {model._meta.db_table} ({done + 1} of {len(kept)})")
                    _copy(model, source, target)
                _go_on_counting(target, kept)
                _close_again(target)
            tell("Reading every row back from both ...")
            return _equal(source, target, kept)
        except (DatabaseError, MoveRefused, KeyboardInterrupt) as error:
            empty_again(target)
            if isinstance(error, DatabaseError):
                raise MoveRefused(f"{own_name(target)} took not everything: {said(error)}.") from error
            raise


def every_model() -> list[type[models.Model]]:
    """All that has a table: the program's own, Django's, and the list of migrations, whose days are copied too."""
    found = [
        model
        for model in apps.get_models(include_auto_created=True)
        if model._meta.managed and not model._meta.proxy and not model._meta.swapped
    ]
    return [*found, MigrationRecorder.Migration]


def _all_tables_known(source: BaseDatabaseWrapper, kept: Sequence[type[models.Model]]) -> None:
    unknown = set(source.introspection.table_names()) - {model._meta.db_table for model in kept}
    if unknown:
        raise MoveRefused(
            f"{own_name(source)} has a table {min(unknown)}, which this program did not make. Take it away first, "
            "with whoever made it."
        )


@contextmanager
def _nobody_writes(source: BaseDatabaseWrapper, kept: Sequence[type[models.Model]]) -> Iterator[None]:
    """Holds every table of the old database against writing; reading goes on. Raises MoveRefused where somebody is."""
    try:
        with transaction.atomic(using=source.alias):
            if source.vendor == "postgresql":
                tables = ", ".join(source.ops.quote_name(model._meta.db_table) for model in kept)
                with source.cursor() as cursor:
                    cursor.execute(f"SET LOCAL lock_timeout = '{LONGEST_WAIT_S}s'")
                    cursor.execute(f"LOCK TABLE {tables} IN SHARE MODE")
            yield
    except DatabaseError as error:
        raise MoveRefused(
            f"{own_name(source)} is being written to ({said(error)}). Stop the site, and move it again."
        ) from error


def at_the_other(url: str, *command: str, **settings: str) -> subprocess.CompletedProcess[str]:
    """A command of the program's own at the database that `url` names, by a process that knows nothing of this one.

    `settings` are further ones of its environment.
    """
    return subprocess.run(
        own_command(*command),
        env={**os.environ, "DATABASE_URL": url, **settings},
        capture_output=True,
        text=True,
        check=False,
    )


def _migrate(url: str) -> None:
    done = at_the_other(url, "migrate", "--no-input", "--verbosity", "0")
    if done.returncode:
        last = (done.stderr.strip() or "it gave no reason").splitlines()[-1]
        raise MoveRefused(f"The tables could not be made: {last}")


def _let_in(target: BaseDatabaseWrapper, kept: Sequence[type[models.Model]]) -> None:
    """Takes the triggers down and away what `migrate` wrote itself, so that rows can come as they are."""
    guards.remove(target, all_guards(target))
    with target.cursor() as cursor:
        for table in (model._meta.db_table for model in kept):
            cursor.execute(f"DELETE FROM {target.ops.quote_name(table)}")


def _close_again(target: BaseDatabaseWrapper) -> None:
    """Every reference is looked at now, and every trigger stands again."""
    if target.vendor == "postgresql":
        with target.cursor() as cursor:
            # A table cannot be changed while references to it wait to be looked at.
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
    else:
        target.check_constraints()
    guards.install(target, all_guards(target))


def _copy(model: type[models.Model], source: BaseDatabaseWrapper, target: BaseDatabaseWrapper) -> None:
    fields = [field for field in model._meta.concrete_fields if not field.generated]
    rows = model._base_manager.using(source.alias).order_by("pk").iterator(chunk_size=BATCH)
    while batch := list(islice(rows, BATCH)):
        for start in range(0, len(batch), _at_once(target, fields, batch)):
            some = batch[start : start + _at_once(target, fields, batch)]
            query = models.sql.InsertQuery(model)
            # As they are: no default, no moment of now, no key of its own.
            query.insert_values(fields, some, raw=True)
            query.get_compiler(using=target.alias).execute_sql()


def _at_once(target: BaseDatabaseWrapper, fields: Sequence[Any], batch: Sequence[Any]) -> int:
    return max(1, min(len(batch), target.ops.bulk_batch_size(fields, batch)))


def _go_on_counting(target: BaseDatabaseWrapper, kept: Sequence[type[models.Model]]) -> None:
    """The next row of each table gets the number after the last. SQLite sees to it by itself."""
    with target.cursor() as cursor:
        for statement in target.ops.sequence_reset_sql(no_style(), list(kept)):
            cursor.execute(statement)


def _equal(source: BaseDatabaseWrapper, target: BaseDatabaseWrapper, kept: Sequence[type[models.Model]]) -> Moved:
    """Every value of every row read from both. Raises MoveRefused with the first row that differs."""
    digest, number = sha256(), 0
    for model in kept:
        table = model._meta.db_table
        digest.update(table.encode())
        for old, new in zip_longest(_values(model, source), _values(model, target)):
            if old != new:
                key = (old or new or ("?",))[0]
                raise MoveRefused(f"Row {key} of {table} is not the same in both databases.")
            digest.update(repr(old).encode())
            number += 1
    return Moved(len(kept), number, digest.hexdigest())


def _values(model: type[models.Model], connection: BaseDatabaseWrapper) -> Iterator[Row]:
    """Every row of a table, its key first, in the order of the key: of text by its bytes, on either engine."""
    key = model._meta.pk
    names = [key.attname, *(field.attname for field in model._meta.concrete_fields if field is not key)]
    order: Any = key.attname
    if key.get_internal_type() in ("CharField", "TextField"):
        order = Collate(key.attname, "BINARY" if connection.vendor == "sqlite" else "C")
    rows = model._base_manager.using(connection.alias).order_by(order).values_list(*names)
    for row in rows.iterator(chunk_size=BATCH):
        yield tuple(bytes(value) if isinstance(value, memoryview) else value for value in row)


def empty_again(target: BaseDatabaseWrapper) -> None:
    """Takes away whatever was made in a database that was empty."""
    target.close()
    if target.vendor == "sqlite":
        # Its file is nobody's yet; whoever named it takes it away.
        return
    with target.cursor() as cursor:
        for table in target.introspection.table_names(cursor):
            cursor.execute(f"DROP TABLE IF EXISTS {target.ops.quote_name(table)} CASCADE")
        cursor.execute(
            "SELECT p.oid::regprocedure::text FROM pg_proc p JOIN pg_namespace n ON n.oid = p.pronamespace "
            "WHERE n.nspname = current_schema() AND NOT EXISTS (SELECT 1 FROM pg_depend d WHERE d.objid = p.oid "
            "AND d.deptype = 'e')"
        )
        for (function,) in cursor.fetchall():
            cursor.execute(f"DROP FUNCTION IF EXISTS {function} CASCADE")
