"""Where copies lie and what they are called: the moment in the name says when, the seal what is in it.

How many are kept is ours: the newest of each of the last 7 days, 5 weeks and 12 months that have one, of every year,
and all of the last two days.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

from django.conf import settings
from django.db.backends.base.base import BaseDatabaseWrapper

from distillery.clock.reading import site_day
from distillery.database.owner_only import database_files
from distillery.management.copies import ENDINGS

ALL_OF: Final = timedelta(days=2)
DAYS, WEEKS, MONTHS, YEARS = 7, 5, 12, 1000
# The moment is UTC, so that no hour of it comes twice.
NAME: Final = re.compile(
    r"gaugebook-(?P<at>\d{8}T\d{6})Z-(?P<seal>(?:empty|\d{4}-\d\d-\d\d-seal-(?P<number>\d{1,18}))-[0-9a-f]{8})"
    rf"\.(?:{'|'.join(ENDINGS.values())})"
)
MOMENT: Final = "%Y%m%dT%H%M%S"


@dataclass(frozen=True, slots=True)
class KeptCopy:
    """One copy: its file, when it was taken, the number of the last seal in it (0 for none), and its size in bytes."""

    file: Path
    at: datetime
    number: int
    size: int


def first_place(connection: BaseDatabaseWrapper) -> Path:
    """The folder of copies: what COPIES_FOLDER names, else one beside an SQLite database or in the site's folder."""
    if settings.COPIES_FOLDER:
        return Path(settings.COPIES_FOLDER)
    files = database_files(str(connection.settings_dict["NAME"])) if connection.vendor == "sqlite" else []
    return (files[0].absolute().parent if files else Path(settings.SITE_DIR)) / "copies"


def second_place() -> Path | None:
    """The folder on another disk or computer that COPIES_SECOND_FOLDER names; None where it names none."""
    return Path(settings.COPIES_SECOND_FOLDER) if settings.COPIES_SECOND_FOLDER else None


def named(at: datetime, seal: str, vendor: str) -> str:
    """The name of a copy taken at a moment, whose last seal stands as `seals.lookup.file_part` writes it."""
    return f"gaugebook-{at.astimezone(UTC).strftime(MOMENT)}Z-{seal}.{ENDINGS[vendor]}"


def copies_in(folder: Path) -> list[KeptCopy]:
    """The copies in a folder, newest first; files of other names are passed over. Raises OSError but for no folder."""
    found = []
    try:
        for file in folder.iterdir():
            said = NAME.fullmatch(file.name)
            if said is not None and file.is_file():
                at = datetime.strptime(said["at"], MOMENT).replace(tzinfo=UTC)
                found.append(KeptCopy(file, at, int(said["number"] or 0), file.stat().st_size))
    except FileNotFoundError:
        return []
    return sorted(found, key=lambda one: one.at, reverse=True)


def no_longer_kept(copies: Iterable[KeptCopy], now: datetime) -> list[KeptCopy]:
    """Those of them that may go."""
    newest_first = sorted(copies, key=lambda one: one.at, reverse=True)
    kept = {one.file for one in newest_first if one.at > now - ALL_OF}
    spans: list[tuple[Callable[[datetime], object], int]] = [
        (site_day, DAYS),
        (lambda at: site_day(at).isocalendar()[:2], WEEKS),
        (lambda at: (site_day(at).year, site_day(at).month), MONTHS),
        (lambda at: site_day(at).year, YEARS),
    ]
    for span, most in spans:
        newest_of: dict[object, KeptCopy] = {}
        for one in newest_first:
            newest_of.setdefault(span(one.at), one)
        kept |= {one.file for one in list(newest_of.values())[:most]}
    return [one for one in newest_first if one.file not in kept]
