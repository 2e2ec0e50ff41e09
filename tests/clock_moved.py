"""Runs a command of the site at another time: ``python -m tests.clock_moved FILE serve --port 0``.

FILE holds how many seconds that time is away from real time, and may be written anew while the command runs. Only what
the program asks of `django.utils.timezone` is moved, which is whatever it writes or shows; processes that it starts of
itself stay in real time.
"""

from __future__ import annotations

import os
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

from django.utils import timezone


def move(file: Path) -> None:
    """Moves the time of this process by what the file says, from now on."""

    def now() -> datetime:
        return datetime.now(tz=UTC) + timedelta(seconds=float(file.read_text(encoding="ascii")))

    timezone.now = now


def main() -> None:
    move(Path(sys.argv[1]))
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "distillery.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(["manage.py", *sys.argv[2:]])


if __name__ == "__main__":
    main()
