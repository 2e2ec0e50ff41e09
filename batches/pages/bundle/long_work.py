"""A bundle made beside the pages, as long work: asked for here, its result one archive."""

from __future__ import annotations

import shutil
import time
import zipfile
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from django.utils import timezone

from batches.pages.bundle.months import Months, NoSuchMonths, months_of
from distillery.jobs.asking import ask
from distillery.jobs.files import folder
from distillery.jobs.kinds import Kind
from distillery.jobs.models import Job
from distillery.jobs.progress import NotDone, Progress
from distillery.people.models import Person

BUNDLE_CODE: Final = "officer_bundle"
_PREFIX: Final = "bundle-"
_LEFT_AFTER_S: Final = 24 * 60 * 60


def ask_for_bundle(months: Months, person: Person) -> Job:
    """Asks for the bundle of some months, as the books stand when it is made. Raises Busy."""
    return ask(
        BUNDLE_CODE, {"first": months.first.code, "last": months.last.code, "parts": list(months.parts)}, by=person
    )


def _bundle(progress: Progress) -> str:
    # Here and not above: every command registers this kind, and few of them print.
    from batches.pages.bundle.making import make_bundle

    try:
        months = months_of(**progress.arguments)
    except NoSuchMonths as unknown:
        raise NotDone(str(unknown)) from unknown
    _remove_left()
    asked_by = progress.asked_by
    with TemporaryDirectory(prefix=_PREFIX, dir=folder()) as made:
        made_in = Path(made) / months.file_name
        printed_by = asked_by.shown_name if asked_by is not None else "the program"
        make_bundle(
            months, made_in, printed_at=timezone.now(), printed_by=printed_by, told=progress.tell, person=asked_by
        )
        progress.tell("Putting it into one archive")
        with zipfile.ZipFile(progress.path, "w", zipfile.ZIP_DEFLATED) as archive:
            for path in sorted(made_in.rglob("*")):
                if path.is_file():
                    archive.write(path, Path(months.file_name) / path.relative_to(made_in))
    return f"{months.file_name}.zip"


def _remove_left() -> None:
    """Removes what runs left that were broken off a day ago or earlier; a younger one may be another site's."""
    for left in folder().glob(f"{_PREFIX}*"):
        if left.is_dir() and left.stat().st_mtime < time.time() - _LEFT_AFTER_S:
            shutil.rmtree(left, ignore_errors=True)


BUNDLE: Final = Kind(BUNDLE_CODE, "Officer's bundle", _bundle, "It was begun again from the first document.")
