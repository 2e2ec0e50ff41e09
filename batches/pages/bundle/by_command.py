"""What a command that writes documents into a folder says and hands on, whichever documents they are."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone

from batches.pages.bundle.months import NoSuchMonths


def by_command() -> dict[str, Any]:
    """Who prints and when, and that nobody is told how far it is."""
    return {
        "printed_at": timezone.now(),
        "printed_by": "the command line",
        "told": lambda said, done, total: None,
    }


@contextmanager
def written_into(folder: Path) -> Iterator[None]:
    """Makes a sentence of what refuses the months or the folder. Raises CommandError."""
    from ledger.proof.exporting import FolderNotEmpty

    try:
        yield
    except (NoSuchMonths, FolderNotEmpty) as refused:
        raise CommandError(str(refused)) from refused
    except OSError as error:
        said = error.strerror or error
        raise CommandError(f"{folder} cannot be written: {said}. Name another folder.") from error
