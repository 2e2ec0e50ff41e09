"""The log of the site in files of bounded size, by Python's own handlers; each process writes one of its own."""

from __future__ import annotations

import logging
import time
from logging.handlers import RotatingFileHandler
from pathlib import Path
from typing import Final

from distillery.starting.console import InsidesOfFaultsOnly

LARGEST_BYTES: Final = 2_000_000
KEPT_BEFORE: Final = 5

log = logging.getLogger(__name__)


class _Plain(logging.Formatter):
    converter = staticmethod(time.gmtime)
    default_time_format = "%Y-%m-%d %H:%M:%S"
    default_msec_format = "%s.%03dZ"


def keep_log(folder: Path, name: str) -> None:
    """From now on what this process logs also goes to `name`.log in a folder; six files of 2 MB at most are kept.

    A folder that cannot be written is said in the log that there is, and nothing else changes.
    """
    file = folder / f"{name}.log"
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        handler = RotatingFileHandler(file, maxBytes=LARGEST_BYTES, backupCount=KEPT_BEFORE, encoding="utf-8")
    except OSError as error:
        log.warning("No log is kept in %s: %s.", file, error.strerror or error)
        return
    handler.setFormatter(_Plain("%(asctime)s %(levelname)s %(name)s: %(message)s"))
    handler.addFilter(InsidesOfFaultsOnly())
    logging.getLogger().addHandler(handler)
