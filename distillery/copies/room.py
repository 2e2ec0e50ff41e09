"""How much room is left where the books and their copies lie, said before there is none."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Final

from django.db.backends.base.base import BaseDatabaseWrapper

from distillery import figures
from distillery.copies.places import first_place, second_place
from distillery.database.owner_only import database_files

# A copy needs as much as the books, while they grow and a file beside them does; our own bound.
TIMES_THE_BOOKS: Final = 3
LEAST_BYTES: Final = 500_000_000
MEGABYTE: Final = 1_000_000


def short_of_room(connection: BaseDatabaseWrapper) -> list[str]:
    """One sentence for each disk on which less is free than three times the books, and than 500 MB at least."""
    files = database_files(str(connection.settings_dict["NAME"])) if connection.vendor == "sqlite" else []
    books = sum(file.stat().st_size for file in files if file.exists())
    wanted = max(LEAST_BYTES, TIMES_THE_BOOKS * books)
    said = {}
    for folder in (*(file.absolute().parent for file in files[:1]), first_place(connection), second_place()):
        there = _nearest(folder) if folder is not None else None
        if there is None:
            continue
        free = shutil.disk_usage(there).free
        if free < wanted:
            said[there.stat().st_dev] = (
                f"The disk of {there} has {figures.count(free // MEGABYTE)} MB left, and {wanted // MEGABYTE} MB are "
                "wanted for the books and a copy. Make room on it."
            )
    return list(said.values())


def _nearest(folder: Path) -> Path | None:
    """The folder, or the next one above it that is there."""
    return next((one for one in (folder, *folder.parents) if one.is_dir()), None)
