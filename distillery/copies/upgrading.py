"""Bringing the books to this version of the program: copied first, tried on the copy, and only then done.

A migration that fails on the copy, or after which the copy's books are not proved or have another last seal, leaves the
books as they were.
"""

from __future__ import annotations

from collections.abc import Callable

from django.core.management import call_command
from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.copies.beside import place_beside
from distillery.copies.keeping import keep_copy
from distillery.database.guard_checks import migrations_wait
from distillery.management.copies import CopyRefused
from distillery.management.moving import at_the_other
from distillery.seals.lookup import last_seal_if_any


class NotUpgraded(Exception):
    """The books are as they were; the sentence says why, and what to do."""


def bring_up_to_date(connection: BaseDatabaseWrapper, tell: Callable[[str], object]) -> None:
    """Runs `migrate`; books in which something is written are copied before, and tried. Raises NotUpgraded."""
    last = last_seal_if_any()
    if last is not None and migrations_wait(connection):
        tell("This version of the program keeps its books in another form. They are copied, and the change is tried.")
        try:
            taken = keep_copy(connection)
            tell(f"Copied to {taken.file}.")
            with place_beside(connection) as url:
                # Puts it back, migrates it and proves it.
                done = at_the_other(url, "restore", str(taken.file), SEALS_FILE="")
                if not done.returncode:
                    done = at_the_other(url, "verify_ledger", "--expect", last.seal, SEALS_FILE="")
        except (CopyRefused, OSError) as refused:
            raise NotUpgraded(f"The books were not brought to this version. {refused}") from refused
        if done.returncode:
            said = (done.stderr.strip() or "it gave no reason").splitlines()[-1]
            raise NotUpgraded(
                f"The change to this version was tried on a copy and did not hold: {said} The books are as they were: "
                "go on with the version you had, and keep the copy."
            )
        tell("It held on the copy and its books are proved. Now the books themselves.")
    call_command("migrate", interactive=False, verbosity=0)
