"""No migration is taken back while the site holds facts: what it made would be removed with all that is written in it.

A migration forward keeps what is there. The way back to an older version of the program is a copy that it made.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from django.apps import apps
from django.core.management.base import CommandError
from django.db.backends.base.base import BaseDatabaseWrapper

# Tables that hold nothing on a fresh site. Figures of law are put there by the program itself, so they do not count.
FACTS: Final = (
    ("ledger_movement", "movements"),
    ("ledger_enquiry", "enquiries"),
    ("ledger_stockperiod", "stock periods"),
    ("batches_record", "records"),
    ("plant_vessel", "vessels"),
    ("plant_instrument", "instruments"),
    ("people_person", "people"),
)


def refuse_to_go_back(connection: BaseDatabaseWrapper, plan: Iterable[tuple[Any, bool]]) -> None:
    """Raises CommandError where a plan takes back one of the site's migrations while it holds anything."""
    roots = ("distillery", "ledger", "batches")
    ours = {config.label for config in apps.get_app_configs() if config.name.partition(".")[0] in roots}
    taken_back = [migration for migration, backwards in plan if backwards and migration.app_label in ours]
    held = _held(connection) if taken_back else []
    if held:
        raise CommandError(
            f"The database holds {', '.join(held)}, and taking back {taken_back[0].app_label} {taken_back[0].name} "
            "would remove what is written there, so nothing was changed. To go back to an older version of the "
            "program, `backup` this database, and let that version `restore` a copy of its own into an empty one."
        )


def _held(connection: BaseDatabaseWrapper) -> list[str]:
    there = set(connection.introspection.table_names())
    held = []
    with connection.cursor() as cursor:
        for table, name in FACTS:
            if table not in there:
                continue
            cursor.execute(f"SELECT count(*) FROM {connection.ops.quote_name(table)}")
            (count,) = cursor.fetchone()
            held += [f"{count} {name}"] if count else []
    return held
