"""How far a job has come that holds the books: told in a file beside its result, where nobody can write in them.

On SQLite one long transaction keeps everybody else from writing, the thread that writes progress down among them.
"""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from distillery.jobs.files import folder
from distillery.jobs.models import Job

SAID = ".said"


@dataclass(frozen=True, slots=True)
class Heard:
    """What one run of a job told last, and when it gave that sign of life."""

    said: str
    done: int
    total: int
    at: datetime


def tell(job: Job, said: str, done: int, total: int) -> None:
    """Writes down how far one run of a job has come."""
    path = _path(job)
    fresh = path.with_suffix(f"{SAID}.part")
    fresh.write_text(json.dumps([said, done, total]), encoding="utf-8")
    fresh.replace(path)


def heard(job: Job) -> Heard | None:
    """What this run of a job told last; None where it tells nothing here."""
    try:
        said, done, total = json.loads(_path(job).read_text(encoding="utf-8"))
        return Heard(said, done, total, datetime.fromtimestamp(_path(job).stat().st_mtime, tz=UTC))
    except (OSError, ValueError):
        return None


def hush(job: Job) -> None:
    """Removes what this run told here."""
    with suppress(OSError):
        _path(job).unlink()


def _path(job: Job) -> Path:
    return folder() / f"{job.file}-{job.run}{SAID}"
