"""What both commands that move a site to the other engine do, say and refuse."""

from __future__ import annotations

from typing import ClassVar

from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from distillery import figures
from distillery.management.moving import ENGINES, Moved, MoveRefused, at_the_other, empty_again, move, opened, own_name
from distillery.seals.lookup import last_seal_if_any, named
from distillery.starting.given_settings import SettingRefused, database


class MovingCommand(BaseCommand):
    """Moves the site's database to the engine `into`, proves both equal, and leaves the old one as it was."""

    requires_system_checks = []
    into: ClassVar[str]

    def move_to(self, url: str, name: str) -> None:
        """Copies everything to the database that `url` names, `name` on screens. Raises CommandError."""
        if connection.vendor == self.into:
            raise CommandError(
                f"The site is kept on {ENGINES[self.into]} already: DATABASE_URL names {own_name(connection)}."
            )
        last = last_seal_if_any()
        try:
            target = opened(database(url))
            moved = move(connection, target, url, self._tell)
        except (MoveRefused, SettingRefused) as refused:
            raise CommandError(str(refused).replace("DATABASE_URL", "What was given")) from refused
        target.close()
        said = self._proof(url, last.seal if last is not None else "")
        if said:
            empty_again(target)
            raise CommandError(
                f"The proof of what was copied does not hold, so it was taken away again: {said} The site is where it "
                "was."
            )
        now = last_seal_if_any()
        if now != last:
            empty_again(target)
            raise CommandError(
                f"Somebody wrote in {own_name(connection)} meanwhile, so what was copied lacks it and was taken away "
                "again. Stop the site, and move it again."
            )
        self._say(moved, name)
        if last is not None:
            self.stdout.write(f"Seal {named(last)} is the last in both.")

    def _say(self, moved: Moved, name: str) -> None:
        self.stdout.write(
            f"All is in {name}: {figures.count(moved.rows)} rows of {moved.tables} tables, each the same in both "
            f"(digest {moved.digest[:16]})."
        )

    def _proof(self, url: str, expected: str) -> str:
        """Proves the books in the new database, by a process that knows nothing of the old one; '' where they hold."""
        self.stdout.write("Its ledger is proved now:")
        self.stdout.flush()
        done = at_the_other(url, "verify_ledger", *(("--expect", expected) if expected else ()))
        self.stdout.write(done.stdout.rstrip())
        return (done.stderr.strip() or "see above.").splitlines()[-1] if done.returncode else ""

    def _tell(self, sentence: str) -> None:
        self.stdout.write(sentence)
        self.stdout.flush()

    def after(self, setting: str) -> None:
        """What is left to do, in order."""
        self.stdout.write(
            f"To go on there: stop the site, set DATABASE_URL to {setting}, and start it. {own_name(connection)} is as "
            "it was: keep it as a copy, and write nothing more in it."
        )
