"""Every trigger stands after every migration there is, and after one to come that rebuilds any table.

Each test runs in a process of its own, on a database of its own.
"""

from __future__ import annotations

import json

from tests.running_site import Databases, run

SETTING_UP = """
import json
from django.core.management import call_command
from django.db import connection
from distillery.database.guards import missing, present
from distillery.trail.checks import all_guards
"""

STEP_BY_STEP = """
from django.db.migrations.executor import MigrationExecutor
ours = {"people", "plant", "rules", "trail", "ledger", "batches"}
graph = MigrationExecutor(connection).loader.graph
plan = MigrationExecutor(connection).migration_plan(graph.leaf_nodes())
states = []
for migration, _ in plan:
    if migration.app_label in ours:
        call_command("migrate", migration.app_label, migration.name, verbosity=0)
        guards = all_guards(connection)
        states.append([f"{migration.app_label}.{migration.name}", len(guards), missing(connection, guards)])
call_command("migrate", verbosity=0)
states.append(["the end", len(all_guards(connection)), missing(connection, all_guards(connection))])
print(json.dumps(states))
"""

REBUILT = """
from django.apps import apps
from django.core.management.sql import emit_post_migrate_signal, emit_pre_migrate_signal
from django.db import migrations, models
from ledger.proof.proving import prove
before = present(connection)
assert before and not prove().broken
to_come = [(migrations.Migration("to_come", "ledger"), False)]
emit_pre_migrate_signal(0, False, "default", plan=to_come)
rebuilt = 0
for label in ("people", "plant", "rules", "trail", "ledger", "batches"):
    for model in apps.get_app_config(label).get_models():
        if model._meta.proxy:
            # Two of them share one table, which is rebuilt by its own model.
            continue
        # A column that may not be empty makes SQLite rebuild the whole table.
        column = models.IntegerField(db_default=0)
        column.set_attributes_from_name("column_to_come")
        column.model = model
        with connection.schema_editor() as editor:
            editor.add_field(model, column)
        rebuilt += 1
during = present(connection)
emit_post_migrate_signal(0, False, "default", plan=to_come)
guards = all_guards(connection)
print(json.dumps({
    "rebuilt": rebuilt, "during": len(during), "lost": sorted(before - present(connection)),
    "missing": missing(connection, guards), "broken": prove().broken,
}))
"""

DROPPED = """
from distillery.database.guards import remove
guards = all_guards(connection)
remove(connection, guards[-1:])
print(json.dumps(missing(connection, guards)))
"""

MADE_GOOD = """
from distillery.database.guards import remove
from django.core.management.sql import emit_post_migrate_signal, emit_pre_migrate_signal
from django.db import migrations
from ledger.proof.proving import prove
remove(connection, all_guards(connection))
with connection.cursor() as cursor:
    cursor.execute("UPDATE plant_vessel SET name = 'another name' WHERE id = (SELECT MIN(id) FROM plant_vessel)")
to_come = [(migrations.Migration("to_come", "ledger"), False)]
emit_pre_migrate_signal(0, False, "default", plan=to_come)
with connection.cursor() as cursor:
    cursor.execute("UPDATE rules_losscause SET source = 'said anew' WHERE id = (SELECT MIN(id) FROM rules_losscause)")
emit_post_migrate_signal(0, False, "default", plan=to_come)
print(json.dumps(prove().broken))
"""


CHANGED_BY_HAND = """
from distillery.database.guards import install, remove
remove(connection, all_guards(connection))
with connection.cursor() as cursor:
    cursor.execute("UPDATE plant_vessel SET name = 'another name' WHERE id = (SELECT MIN(id) FROM plant_vessel)")
print(json.dumps([]))
"""


EMPTIED = """
from distillery.database.guards import Guard, renew
on = "ON ledger_leg"
if connection.vendor == "sqlite":
    empty = (f"CREATE TRIGGER ledger_leg_no_update BEFORE UPDATE {on} BEGIN SELECT 1; END",)
else:
    empty = (
        "CREATE FUNCTION lets_all_pass() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RETURN NEW; END $$",
        f"CREATE TRIGGER ledger_leg_no_update BEFORE UPDATE {on} FOR EACH ROW EXECUTE FUNCTION lets_all_pass()",
    )
renew(connection, [Guard("ledger_leg", "ledger_leg_no_update", empty)])
print(json.dumps([]))
"""

WAITS = """
from django.db.migrations.recorder import MigrationRecorder
# The last of an app that no other waits for; its table holds no fact and is made anew.
with connection.cursor() as cursor:
    cursor.execute("DROP TABLE drafts_draft")
MigrationRecorder(connection).record_unapplied("drafts", "0001_initial")
print(json.dumps([]))
"""

NEWLY_KEPT = """
from distillery.database.guards import remove
from distillery.people.models import Person
from distillery.trail import kept
from distillery.trail.migrating import take_in
from django.core.management.sql import emit_post_migrate_signal, emit_pre_migrate_signal
from django.db import migrations
from ledger.proof.proving import prove
remove(connection, all_guards(connection))
with connection.cursor() as cursor:
    cursor.execute("DELETE FROM trail_entry WHERE \\"table\\" IN ('auth_group', 'people_person')")
# As an older version kept them: no groups, and less of a person.
now = dict(kept._kept)
kept._kept.update({"people.Person": ("username", "first_name", "last_name")})
del kept._kept["auth.Group"]
take_in(connection)
kept._kept.update(now)
changed = Person.objects.order_by("pk").first()
Person.objects.filter(pk=changed.pk).update(first_name="Another")
to_come = [(migrations.Migration("to_come", "trail"), False)]
emit_pre_migrate_signal(0, False, "default", plan=to_come)
emit_post_migrate_signal(0, False, "default", plan=to_come)
proof = prove()
print(json.dumps([proof.broken, proof.unguarded, changed.pk]))
"""


def said(database: str, code: str) -> object:
    done = run(database, "shell", "--no-imports", "-c", SETTING_UP + code)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.splitlines()[-1])


def test_every_migration_leaves_every_trigger_standing(new_database: str) -> None:
    states = said(new_database, STEP_BY_STEP)
    assert isinstance(states, list)
    assert [state for state in states if state[2]] == []
    named = [state[0] for state in states]
    assert "ledger.0001_initial" in named
    assert "batches.0001_initial" in named
    # At the end there are triggers on every floor: some seventy on the ledger alone.
    assert states[-1][1] > 100


def test_a_later_migration_that_rebuilds_every_table_leaves_every_trigger_standing(
    demo_database: str, databases: Databases
) -> None:
    told = said(databases.copy_of(demo_database), REBUILT)
    assert isinstance(told, dict)
    assert told["rebuilt"] > 30
    if databases.on_sqlite:
        assert told["during"] == 0
    assert told["lost"] == told["missing"] == told["broken"] == []


def test_a_site_with_a_missing_trigger_is_not_served_until_it_is_put_back(
    demo_database: str, databases: Databases
) -> None:
    database = databases.copy_of(demo_database)
    [gone] = said(database, DROPPED)  # type: ignore[misc]
    refused = run(database, "serve", "--port", "0")
    assert refused.returncode != 0
    assert gone in refused.stdout + refused.stderr
    put_back = run(database, "restore_triggers")
    assert (put_back.returncode, gone in put_back.stdout) == (0, True)
    assert "every seal holds" in put_back.stdout
    assert run(database, "check", "--database", "default").returncode == 0


def test_a_migration_makes_no_change_behind_the_trails_back_good(demo_database: str, databases: Databases) -> None:
    """What the migration itself writes is taken in; what was written by hand before it stays apart."""
    broken = said(databases.copy_of(demo_database), MADE_GOOD)
    assert isinstance(broken, list)
    assert len(broken) >= 1
    assert all("plant_vessel" in place for place in broken)


def test_rows_apart_are_taken_in_only_when_somebody_says_so(demo_database: str, databases: Databases) -> None:
    database = databases.copy_of(demo_database)
    said(database, CHANGED_BY_HAND)
    refused = run(database, "restore_triggers")
    assert refused.returncode != 0
    assert "plant_vessel" in refused.stderr
    taken = run(database, "restore_triggers", "--take-in")
    assert (taken.returncode, "Noted as it stands: plant_vessel" in taken.stdout) == (0, True)
    assert run(database, "verify_ledger").returncode == 0


def test_a_trigger_made_otherwise_is_served_by_nobody_and_named_as_migrate_makes_it_anew(
    demo_database: str, databases: Databases
) -> None:
    """An existing site gets a changed trigger with the next migration, whatever brings it; without one, it is named."""
    database = databases.copy_of(demo_database)
    said(database, EMPTIED)
    refused = run(database, "serve", "--port", "0")
    assert (refused.returncode, "ledger_leg_no_update on ledger_leg is not as" in refused.stderr) == (1, True)
    said(database, WAITS)
    migrated = run(database, "migrate")
    assert migrated.returncode == 0, migrated.stderr
    assert "ledger_leg_no_update on ledger_leg is not as this program makes it" in migrated.stdout + migrated.stderr
    assert "It was made anew." in migrated.stdout + migrated.stderr
    assert run(database, "check", "--database", "default").returncode == 0
    assert run(database, "verify_ledger").returncode == 0


def test_what_only_now_gets_a_trail_is_taken_in_and_what_was_changed_stays_apart(
    demo_database: str, databases: Databases
) -> None:
    told = said(databases.copy_of(demo_database), NEWLY_KEPT)
    assert isinstance(told, list)
    broken, open_to, changed = told
    # Seals and claims know what was done here by hand; what is asked is which rows are apart from the trail.
    apart = [place for place in broken if place.endswith("it is not what the trail says was written")]
    assert apart == [f"people_person {changed}: it is not what the trail says was written"]
    assert open_to == []
