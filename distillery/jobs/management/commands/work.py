"""Does the long work that waits, in this process: exports, catching up with comparisons."""

from __future__ import annotations

import os
from typing import Any, Final

from django.core.management.base import BaseCommand, CommandParser

from distillery.figures import moment
from distillery.jobs.files import forget_old, remove_old
from distillery.jobs.kinds import name_of
from distillery.jobs.models import JobState
from distillery.jobs.working import work_off

# The pages come first where processors are few (nice(1): 0 is usual, 19 the most patient).
PATIENCE: Final = 10


class Command(BaseCommand):
    help = "Does the long work that waits, one job after another, then ends. `serve` starts it by itself."
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--once", action="store_true", help="do one job at most")

    def handle(self, *args: Any, **options: Any) -> None:
        if hasattr(os, "nice"):
            os.nice(PATIENCE)
        done = 0
        for job in work_off(most=1 if options["once"] else None):
            done += 1
            when = f", {moment(job.ended_at, year=True)}" if job.ended_at is not None else ""
            why = f": {job.fault}" if job.state == JobState.FAILED else "."
            self.stdout.write(f"Job {job.pk}, {name_of(job.kind)}: {job.get_state_display().lower()}{when}{why}")
        removed = remove_old()
        if removed:
            self.stdout.write(f"{removed} results were past their time and are removed.")
        forgotten = forget_old()
        if forgotten:
            self.stdout.write(f"{forgotten} jobs ended long ago and are listed no more.")
        if not done:
            self.stdout.write("No long work waits, or another process does it.")
