"""A process that does long work of a kind that only counts, slowly enough to be killed meanwhile.

Run by tests as `python -m tests.faults.counting` on the database in DATABASE_URL. Each number is written on a line of
the file that the job names, so that a test sees what was done, by whom, and how often.
"""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from distillery.jobs.progress import Progress

KIND = "count"
PAUSE_S = 0.05


def main() -> None:
    import django

    django.setup()
    from distillery.jobs.progress import Beating
    from distillery.jobs.working import work_off

    register()
    for job in work_off(beats=lambda progress: Beating(progress, every_s=0.1)):
        print(f"job {job.pk} {job.state}", flush=True)


def register() -> None:
    """Makes the kind known."""
    from distillery.jobs import kinds

    kinds.register(kinds.Kind(KIND, "Counting", _count, "It counts from the beginning."))


def _count(progress: Progress) -> str:
    most = int(progress.arguments["most"])
    with Path(progress.arguments["beside"]).open("a", encoding="utf-8") as beside:
        for number in range(1, most + 1):
            beside.write(f"{os.getpid()} {number}\n")
            beside.flush()
            time.sleep(PAUSE_S)
            progress.tell(f"Counted to {number}", number, most)
    progress.path.write_text(f"counted to {most}", encoding="utf-8")
    return "counted.txt"


if __name__ == "__main__":
    main()
