"""A workbook tried or brought in beside the pages: where it is kept meanwhile, and how the job is done."""

from __future__ import annotations

import hashlib
import re
import secrets
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from typing import Final

from distillery.jobs.asking import ask
from distillery.jobs.files import folder
from distillery.jobs.kinds import Kind
from distillery.jobs.models import Job
from distillery.jobs.progress import NotDone, Progress
from distillery.people.models import Person

TRIED_CODE: Final = "try_workbook"
BROUGHT_CODE: Final = "bring_in_workbook"
GONE: Final = "The workbook is no longer kept here, or is not the one that was looked at. Choose it again."
_TOKEN: Final = re.compile(r"[0-9a-f]{32}")
# As the loader says how far it is.
_OF: Final = re.compile(r"([0-9]+) of ([0-9]+) ")


def keep_workbook(pieces: Iterable[bytes]) -> tuple[str, str]:
    """Keeps a workbook for as long as results of long work are kept; gives its token and its SHA-256."""
    token, digest = secrets.token_hex(16), hashlib.sha256()
    path = _path(token)
    try:
        with path.open("xb") as file:
            for piece in pieces:
                digest.update(piece)
                file.write(piece)
    except BaseException:
        with suppress(OSError):
            path.unlink()
        raise
    return token, digest.hexdigest()


def ask_to_try(token: str, digest: str, name: str, *, by: Person) -> Job:
    """Asks for a trial of a workbook that is kept. Raises Busy."""
    return ask(TRIED_CODE, {"workbook": token, "digest": digest, "name": name}, by=by)


def ask_to_write(tried: dict[str, str], *, by: Person) -> Job:
    """Asks for a workbook that was tried to be brought in. Raises Busy."""
    return ask(BROUGHT_CODE, {name: tried[name] for name in ("workbook", "digest", "name")}, by=by)


def _path(token: str) -> Path:
    return folder() / f"{token}.xlsx"


def _through(progress: Progress, *, write: bool) -> str:
    from batches.loading.workbook.bringing import bring_in
    from batches.loading.workbook.report import REPORT_NAME, keep_report

    token, digest = str(progress.arguments["workbook"]), str(progress.arguments["digest"])
    path = _path(token)
    if not _TOKEN.fullmatch(token) or not path.is_file() or _digest(path) != digest:
        raise NotDone(GONE)

    def say(line: str) -> None:
        counted = _OF.match(line)
        done, total = (int(counted[1]), int(counted[2])) if counted else (0, 0)
        progress.tell(line, done, total)

    with progress.holding_the_books():
        report = bring_in(path, write=write, person=progress.asked_by, say=say)
    keep_report(report, progress.path)
    return REPORT_NAME


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


TRYING: Final = Kind(
    TRIED_CODE, "Looking at a workbook", lambda progress: _through(progress, write=False), "It was begun again."
)
BRINGING: Final = Kind(
    BROUGHT_CODE,
    "Bringing a workbook in",
    lambda progress: _through(progress, write=True),
    "It was begun again; rows that were brought in already are passed over.",
)
