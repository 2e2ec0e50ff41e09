"""The triggers that write the trail, those that keep it, and the one that keeps a signed name.

On SQLite a trigger names the columns it writes down, so these are made anew whenever the tables have changed.
"""

from __future__ import annotations

from django.apps import apps
from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.database.guards import Guard, append_only, no_replacing
from distillery.trail.kept import Kept, kept_tables

TABLE = "trail_entry"
CLAIMS = "trail_claim"

# One function for every table: arguments are the key and the columns kept, by commas.
_CONTENT = """CREATE OR REPLACE FUNCTION trail_content(of jsonb, columns text) RETURNS text
LANGUAGE sql IMMUTABLE AS $$
  SELECT jsonb_object_agg(key, value)::text FROM jsonb_each(of) WHERE key = ANY(string_to_array(columns, ','))
$$"""
_WRITES = """CREATE OR REPLACE FUNCTION trail_writes() RETURNS trigger LANGUAGE plpgsql SET timezone = 'UTC' AS $$
DECLARE
  content text;
BEGIN
  IF TG_OP = 'DELETE' THEN
    INSERT INTO trail_entry ("table", "row", act, "at", content)
    VALUES (TG_TABLE_NAME, to_jsonb(OLD) ->> TG_ARGV[0], 'removed', clock_timestamp(), '');
    RETURN NULL;
  END IF;
  content := trail_content(to_jsonb(NEW), TG_ARGV[1]);
  IF TG_OP = 'UPDATE' AND content = trail_content(to_jsonb(OLD), TG_ARGV[1]) THEN
    RETURN NULL;
  END IF;
  INSERT INTO trail_entry ("table", "row", act, "at", content)
  VALUES (TG_TABLE_NAME, to_jsonb(NEW) ->> TG_ARGV[0], 'written', clock_timestamp(), content);
  RETURN NULL;
END $$"""


def content_sql(vendor: str, kept: Kept, of: str) -> str:
    """SQL for what the trail would say of a row (`of`: NEW, OLD or the alias of the table)."""
    if vendor == "sqlite":
        return "json_object(" + ", ".join(f"'{name}', {of}.\"{name}\"" for name in kept.columns) + ")"
    return f"trail_content(to_jsonb({of}), '{','.join(kept.columns)}')"


def trail_guards(connection: BaseDatabaseWrapper) -> list[Guard]:
    """All triggers of the trail, for the tables the database has now."""
    vendor = connection.vendor
    tables = kept_tables(connection)
    kept_as_written = [guard for table in (TABLE, CLAIMS) for guard in append_only(table, vendor=vendor)]
    return [*kept_as_written, *(guard for kept in tables for guard in _writing(vendor, kept))]


def _writing(vendor: str, kept: Kept) -> list[Guard]:
    guards = []
    for act in ("insert", "update", "delete"):
        name = f"{kept.table}_trail_{act}"
        if vendor == "sqlite":
            statements: tuple[str, ...] = (_sqlite(kept, name, act),)
        else:
            statements = (
                _CONTENT,
                _WRITES,
                f"CREATE TRIGGER {name} AFTER {act.upper()} ON {kept.table} FOR EACH ROW "
                f"EXECUTE FUNCTION trail_writes('{kept.key}', '{','.join(kept.columns)}')",
            )
        guards.append(Guard(kept.table, name, statements, (TABLE,)))
    # A row that another takes the place of would go without an entry.
    return [*guards, *no_replacing(kept.table, vendor=vendor, on_update=True)]


def _sqlite(kept: Kept, name: str, act: str) -> str:
    row = "OLD" if act == "delete" else "NEW"
    content = "''" if act == "delete" else content_sql("sqlite", kept, "NEW")
    done = "removed" if act == "delete" else "written"
    changed = ""
    if act == "update":
        changed = f"WHEN {content_sql('sqlite', kept, 'OLD')} <> {content_sql('sqlite', kept, 'NEW')} "
    return (
        f"CREATE TRIGGER {name} AFTER {act.upper()} ON {kept.table} {changed}BEGIN "
        f'INSERT INTO trail_entry ("table", "row", act, "at", content) VALUES (\'{kept.table}\', '
        f"CAST({row}.\"{kept.key}\" AS TEXT), '{done}', strftime('%Y-%m-%d %H:%M:%f000', 'now'), {content}); END"
    )


def signed_columns(connection: BaseDatabaseWrapper) -> list[tuple[str, str]]:
    """Tables and columns in which a person signs: whatever may not lose the person it names."""
    there = set(connection.introspection.table_names())
    found = []
    for model in apps.get_models():
        for field in model._meta.concrete_fields:
            if (
                isinstance(field, models.ForeignKey)
                and field.related_model is apps.get_model("people", "Person")
                and field.remote_field.on_delete is models.PROTECT
                and model._meta.db_table in there
            ):
                found.append((model._meta.db_table, field.column))
    return sorted(found)


def name_guards(connection: BaseDatabaseWrapper) -> list[Guard]:
    """The trigger that keeps the sign-on name of a person who has signed anything: the seals carry it."""
    signed = signed_columns(connection)
    if not signed:
        return []
    name = "people_person_keeps_its_name"
    message = "a person who has signed anything keeps the sign-on name; the name shown may change"
    anything = " OR ".join(f'EXISTS (SELECT 1 FROM {table} WHERE "{column}" = OLD.id)' for table, column in signed)
    if connection.vendor == "sqlite":
        made: tuple[str, ...] = (
            f"CREATE TRIGGER {name} BEFORE UPDATE OF username ON people_person "
            f"WHEN NEW.username <> OLD.username AND ({anything}) BEGIN SELECT RAISE(ABORT, '{message}'); END",
        )
    else:
        made = (
            f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
            f"IF NEW.username <> OLD.username AND ({anything}) THEN RAISE EXCEPTION '{message}' "
            f"USING ERRCODE = 'restrict_violation'; END IF; RETURN NEW; END $$",
            f"CREATE TRIGGER {name} BEFORE UPDATE ON people_person FOR EACH ROW EXECUTE FUNCTION {name}()",
        )
    return [Guard("people_person", name, made, (TABLE,))]
