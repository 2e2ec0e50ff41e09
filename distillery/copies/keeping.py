"""Takes a copy, brings it to a second place, and lets those go that are no longer kept."""

from __future__ import annotations

import hashlib
import os
import shutil
import tempfile
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from django.db.backends.base.base import BaseDatabaseWrapper
from django.utils import timezone

from distillery.copies.places import KeptCopy, copies_in, first_place, named, no_longer_kept, second_place
from distillery.database.full_disk import is_full
from distillery.management.copies import UNFINISHED, CopyRefused, take
from distillery.seals.lookup import file_part, last_seal_if_any

AT_ONCE: Final = 1 << 20


@dataclass(frozen=True, slots=True)
class Taken:
    """A copy that was taken, and in a sentence why it is not in the second place too; blank where nothing is wrong."""

    file: Path
    second_missing: str


def keep_copy(connection: BaseDatabaseWrapper) -> Taken:
    """Takes a copy of the whole database into the folder of copies and the second place. Raises CopyRefused.

    Only once it is there and has been read back do older ones go.
    """
    folder = first_place(connection)
    _made(folder)
    now = timezone.now()
    # Whatever is written from here on may or may not be in the copy; all before it is.
    file = folder / named(now, file_part(last_seal_if_any()), connection.vendor)
    take(connection, file)
    _let_go(folder)
    return Taken(file, _brought_to_second(file))


def kept_copies(connection: BaseDatabaseWrapper) -> list[KeptCopy]:
    """The copies in the first place, newest first; none where the folder cannot be read."""
    try:
        return copies_in(first_place(connection))
    except OSError:
        return []


def newest(connection: BaseDatabaseWrapper) -> KeptCopy | None:
    """The newest of them; None where there is none."""
    return next(iter(kept_copies(connection)), None)


def _brought_to_second(file: Path) -> str:
    """Why a copy is not in the second place; blank where it is."""
    second = second_place()
    if second is None:
        return ""
    if not second.is_dir():
        return f"There is no folder {second} for second copies: is its disk there?"
    unfinished: Path | None = None
    try:
        handle, made = tempfile.mkstemp(prefix=f"{file.name}.", suffix=UNFINISHED, dir=second)
        unfinished = Path(made)
        with os.fdopen(handle, "wb") as target, file.open("rb") as source:
            shutil.copyfileobj(source, target, AT_ONCE)
            target.flush()
            os.fsync(target.fileno())
        if _digest(unfinished) != _digest(file):
            return f"The second copy in {second} reads back otherwise than it was written: look at that disk."
        unfinished.replace(second / file.name)
        _let_go(second)
    except OSError as error:
        said = "its disk is full" if is_full(error) else error.strerror or error
        return f"The second copy cannot be written in {second}: {said}."
    finally:
        if unfinished is not None:
            with suppress(OSError):
                unfinished.unlink(missing_ok=True)
    return ""


def _made(folder: Path) -> None:
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise CopyRefused(f"The folder of copies {folder} cannot be made: {error.strerror}.") from error


def _let_go(folder: Path) -> None:
    with suppress(OSError):
        for old in no_longer_kept(copies_in(folder), timezone.now()):
            old.file.unlink(missing_ok=True)


def _digest(file: Path) -> str:
    with file.open("rb") as held:
        return hashlib.file_digest(held, "sha256").hexdigest()
