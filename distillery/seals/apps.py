"""The seals of the books: one digest over the heads of all chains, made with each piece of writing."""

from typing import Any

from django.apps import AppConfig
from django.db import DEFAULT_DB_ALIAS, connection, transaction
from django.db.models.signals import post_migrate


class SealsConfig(AppConfig):
    name = "distillery.seals"
    label = "seals"

    def ready(self) -> None:
        from distillery.seals.guards import seal_guards
        from distillery.trail.checks import watch
        from distillery.trail.kept import keep

        keep("seals.PutBack")
        keep("seals.SealGap")
        watch(seal_guards)
        # After the trail has taken in what a migration wrote: apps are told in the order of the settings.
        post_migrate.connect(seal_what_migrations_wrote, sender=self)


def seal_what_migrations_wrote(*, using: str, plan: list[Any], **kwargs: Any) -> None:
    """Seals the books once `migrate` has applied its plan, where all that a seal covers has its tables."""
    from distillery.seals.writing import seal_books

    needed = {"seals_booksseal", "trail_entry", "trail_claim", "ledger_head"}
    if using == DEFAULT_DB_ALIAS and plan and needed <= set(connection.introspection.table_names()):
        with transaction.atomic():
            seal_books()
