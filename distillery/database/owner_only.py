"""Files of the site are their owner's alone: database, copies, logs and key hold what nobody else is to read.

New files get no rights for others from the first byte (umask); what was there before loses them at the start. Windows
keeps rights in another way and is left alone.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, Final

from django.core.checks import CheckMessage, Error

OTHERS: Final = stat.S_IRWXG | stat.S_IRWXO
# SQLite keeps the newest changes in files beside the database (sqlite.org/tempfiles.html).
BESIDE: Final = ("", "-wal", "-shm", "-journal")


def close_to_others(folder: Path, database: str) -> None:
    """Takes the rights of everybody but the owner from the site's folder, what is in it, and an SQLite database."""
    if os.name == "nt":
        return
    os.umask(OTHERS)
    for path in open_to_others([folder, *_inside(folder), *database_files(database)]):
        try:
            path.chmod(stat.S_IMODE(path.stat().st_mode) & ~OTHERS)
        except OSError:
            # Somebody else's file; the check says so before anything is served.
            continue


def database_files(database: str) -> list[Path]:
    """An SQLite database with the files beside it; none for one in memory or on a server."""
    if not database or database == ":memory:" or database.startswith("file:"):
        return []
    return [Path(f"{database}{ending}") for ending in BESIDE]


def open_to_others(paths: Iterable[Path]) -> Iterator[Path]:
    """Those that somebody but their owner may read, write or enter."""
    for path in paths:
        try:
            mode = path.lstat().st_mode
        except OSError:
            continue
        if not stat.S_ISLNK(mode) and mode & OTHERS:
            yield path


def rights(**kwargs: Any) -> list[CheckMessage]:
    """A system check: an error for each file of the site that others can still read."""
    from django.conf import settings

    if os.name == "nt":
        return []
    default = settings.DATABASES["default"]
    database = str(default["NAME"]) if default["ENGINE"].endswith("sqlite3") else ""
    folder = Path(settings.SITE_DIR)
    return [
        Error(
            f"{path} can be read by others on this computer, and its rights could not be taken away.",
            hint=f"As its owner: chmod go-rwx {path}",
            id="distillery.E010",
        )
        for path in open_to_others([folder, *_inside(folder), *database_files(database)])
    ]


def _inside(folder: Path) -> list[Path]:
    """What stands in the site's folder. Style sheets and scripts, which everybody gets, need no look one by one."""
    try:
        return [path for path in folder.iterdir() if path.name != "static"]
    except OSError:
        return []
