"""A trigger is known by what it does, not by its name: one made otherwise is named, and nothing heals it unseen."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.core.checks import run_checks
from django.core.management import CommandError, call_command
from django.db import connection

from distillery.database.guard_faults import faults, silenced, strangers
from distillery.database.guards import Guard
from distillery.trail.checks import all_guards
from ledger.proof.proving import prove

pytestmark = pytest.mark.django_db

SQLITE = connection.vendor == "sqlite"
FLOORS = (
    "ledger_leg_no_update",
    "batches_version_no_delete",
    "plant_certificate_no_update",
    "plant_vessel_trail_update",
)


def tell(*statements: str) -> None:
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)


def guard(name: str) -> Guard:
    return next(one for one in all_guards(connection) if one.name == name)


def emptied(name: str) -> None:
    """The same name on the same table, and nothing in it."""
    one = guard(name)
    if SQLITE:
        act = one.statements[-1].split(" ON ")[0].split()[-1]
        tell(f"DROP TRIGGER {name}", f"CREATE TRIGGER {name} BEFORE {act} ON {one.table} BEGIN SELECT 1; END")
        return
    definition = one.statements[-1].partition("EXECUTE FUNCTION")[0]
    tell(
        "CREATE FUNCTION lets_all_pass() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RETURN NEW; END $$",
        f"DROP TRIGGER {name} ON {one.table}",
        f"{definition} EXECUTE FUNCTION lets_all_pass()",
    )


def check_says() -> list[str]:
    return [str(message.msg) for message in run_checks(databases=["default"])]


def test_every_guard_of_the_site_stands_as_it_was_made() -> None:
    assert [one.sentence for one in faults(connection, all_guards(connection))] == []
    assert strangers(connection, all_guards(connection)) == []
    assert silenced(connection) == ""
    assert prove().holds


@pytest.mark.parametrize("name", FLOORS)
def test_an_empty_trigger_of_the_right_name_is_named_by_check_and_proof(name: str) -> None:
    emptied(name)
    [said] = [one for one in check_says() if name in one]
    assert "not as this program makes it" in said
    proof = prove()
    assert (proof.broken, proof.holds) == ([], False)
    assert any(name in one for one in proof.unguarded)
    with pytest.raises(CommandError, match=name):
        call_command("verify_ledger")


def test_a_missing_trigger_is_named_by_the_proof_alone() -> None:
    tell(f"DROP TRIGGER ledger_leg_no_update{'' if SQLITE else ' ON ledger_leg'}")
    with pytest.raises(CommandError, match="The trigger ledger_leg_no_update is missing from ledger_leg"):
        call_command("verify_ledger")


def test_what_was_changed_is_named_before_it_is_made_anew(capsys: pytest.CaptureFixture[str]) -> None:
    emptied("ledger_leg_no_update")
    call_command("restore_triggers")
    said = capsys.readouterr().out
    assert "ledger_leg_no_update on ledger_leg is not as this program makes it. It is made anew." in said
    assert "find out who did this" in said
    assert prove().holds
    call_command("restore_triggers")
    assert "Every trigger stands as the program makes it." in capsys.readouterr().out


def test_a_trigger_that_is_not_the_programs_is_named_and_taken_away(capsys: pytest.CaptureFixture[str]) -> None:
    if SQLITE:
        tell("CREATE TRIGGER swallows BEFORE INSERT ON ledger_leg BEGIN SELECT RAISE(IGNORE); END")
    else:
        tell(
            "CREATE FUNCTION swallows() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RETURN NULL; END $$",
            "CREATE TRIGGER swallows BEFORE INSERT ON ledger_leg FOR EACH ROW EXECUTE FUNCTION swallows()",
        )
    assert any("The trigger swallows on ledger_leg is not the program's" in one for one in check_says())
    assert not prove().holds
    call_command("restore_triggers")
    assert "swallows on ledger_leg is not the program's. It is taken away." in capsys.readouterr().out
    assert prove().holds


def test_a_row_left_in_the_hand_is_named_and_emptied(capsys: pytest.CaptureFixture[str]) -> None:
    """On SQLite it lets anybody write the sums; it has no business there on either engine."""
    tell("INSERT INTO ledger_hand (id) VALUES (1)")
    assert any("ledger_hand is not empty" in one for one in check_says())
    with pytest.raises(CommandError, match="ledger_hand is not empty"):
        call_command("verify_ledger")
    call_command("restore_triggers")
    assert "ledger_hand is not empty (1)" in capsys.readouterr().out
    assert prove().holds


def _replaced_function() -> None:
    tell(
        "CREATE OR REPLACE FUNCTION ledger_leg_keeps() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RETURN NEW; END $$"
    )


def _replaced_helper() -> None:
    declared = "trail_content(of jsonb, columns text) RETURNS text LANGUAGE sql"
    tell(f"CREATE OR REPLACE FUNCTION {declared} AS $$ SELECT '' $$")


def _other_setting() -> None:
    tell("ALTER FUNCTION trail_writes() SET session_replication_role = 'replica'")


def _only_for_replicas() -> None:
    tell("ALTER TABLE ledger_leg ENABLE REPLICA TRIGGER ledger_leg_no_update")


def _switched_off() -> None:
    tell("ALTER TABLE ledger_leg DISABLE TRIGGER ledger_leg_no_update")


def _only_sometimes() -> None:
    tell(
        "DROP TRIGGER ledger_leg_no_update ON ledger_leg",
        "CREATE TRIGGER ledger_leg_no_update BEFORE UPDATE ON ledger_leg FOR EACH ROW WHEN (OLD.id < 0) "
        "EXECUTE FUNCTION ledger_leg_keeps()",
    )


def _rule() -> None:
    tell("CREATE RULE swallows AS ON INSERT TO ledger_leg DO INSTEAD NOTHING")


def _quiet_session() -> None:
    tell("SET LOCAL session_replication_role = replica")


@pytest.mark.postgresql
@pytest.mark.parametrize(
    ("act", "named"),
    [
        (_replaced_function, "its function ledger_leg_keeps is another"),
        (_replaced_helper, "its function trail_content is another"),
        (_other_setting, "its function trail_writes is another"),
        (_only_for_replicas, "ledger_leg_no_update on ledger_leg is not switched on"),
        (_switched_off, "ledger_leg_no_update on ledger_leg is not switched on"),
        (_only_sometimes, "ledger_leg_no_update on ledger_leg is not as this program makes it"),
        (_rule, "The rule swallows on ledger_leg is not the program's"),
    ],
)
def test_each_way_past_a_trigger_of_postgresql_is_named_and_put_right(
    act: Callable[[], None], named: str, capsys: pytest.CaptureFixture[str]
) -> None:
    act()
    assert any(named in one for one in check_says())
    assert any(named in one for one in prove().unguarded)
    call_command("restore_triggers")
    assert named in capsys.readouterr().out
    assert prove().holds


@pytest.mark.postgresql
def test_a_session_that_fires_no_triggers_is_named() -> None:
    _quiet_session()
    assert any("session_replication_role is replica" in one for one in check_says())
    assert not prove().holds


@pytest.mark.sqlite
def test_a_condition_slipped_in_is_named_on_sqlite() -> None:
    [made] = guard("ledger_leg_no_update").statements
    tell("DROP TRIGGER ledger_leg_no_update", made.replace("BEGIN", "WHEN OLD.id < 0 BEGIN"))
    assert any("ledger_leg_no_update" in one for one in prove().unguarded)
