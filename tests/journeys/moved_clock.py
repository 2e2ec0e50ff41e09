"""A site whose clock a journey moves, so that everything is written at the minute at which it happens."""

from __future__ import annotations

import subprocess
import sys
from datetime import datetime
from pathlib import Path

from tests.journeys.week import SITE_ZONE
from tests.running_site import LONGEST_COMMAND_S, ROOT, environment

PEOPLE = (("brodie", "staff", "low-wines-24"), ("isla", "manager", "middle-cut-70"))


class Clock:
    """How far the server's time is from real time, kept in the file that it reads."""

    def __init__(self, file: Path) -> None:
        self.file = file

    @property
    def command(self) -> list[str]:
        """What runs the site's commands by this clock."""
        return [sys.executable, "-m", "tests.clock_moved", str(self.file)]

    def move(self, to: datetime) -> None:
        ahead = (to - datetime.now(tz=SITE_ZONE)).total_seconds()
        # Put in place whole, since the server may be reading it.
        new = self.file.with_suffix(".new")
        new.write_text(str(ahead), encoding="ascii")
        new.replace(self.file)

    def tell(self, database: str, *arguments: str, typed: str = "") -> str:
        """Runs one command of the site by this clock and gives what it printed."""
        done = subprocess.run(
            [*self.command, *arguments],
            env=environment(database),
            cwd=ROOT,
            input=typed,
            capture_output=True,
            text=True,
            timeout=LONGEST_COMMAND_S,
            check=False,
        )
        assert not done.returncode, done.stdout + done.stderr
        return done.stdout

    def invite(self, database: str) -> None:
        """Puts the people of the journeys on the site."""
        for name, role, password in PEOPLE:
            self.tell(database, "person", name, "--role", role, "--password", "--first-name", name, typed=password)
